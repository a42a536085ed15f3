"""What every deed in the bay asks before it is done: whose job, which state, and that no coolant was found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db.models import F
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs.findings import Standing
from shopserv.jobs.models import BayStep, Visit, WorkOrder
from shopserv.jobs.selectors import visits as visit_selectors
from shopserv.jobs.states import VISIT_MOVES, WORK_MOVES
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Staff

COOLANT = "K-01"
COOLANT_STOPS = (
    "Coolant {state} in the fluid of {order}: no fluid step may follow, for anybody. "
    "The vehicle is not to be driven; after the repair a new work order is written."
)


def own_shop(order: WorkOrder, actor: Actor) -> None:
    """Refuse another shop's work order as one that there is not."""
    if order.shop_id != actor.house.pk:
        raise Http404("no such work order")


def person(actor: Actor) -> Staff:
    """Who presses: bay events carry a person's name.

    raises  NotYours
    """
    if actor.staff is None:
        raise NotYours("bay work: for a person of the shop")
    return actor.staff


def own_job(order: WorkOrder, actor: Actor) -> Staff:
    """The technician whose job it is.

    raises  NotYours for anybody else, Http404 for another shop's
    """
    actor.must("bay work")
    own_shop(order, actor)
    staff = person(actor)
    if order.technician_id != staff.pk:
        whose = order.technician.first_name if order.technician else "nobody yet"
        raise NotYours(f"{order} is the job of {whose}")
    return staff


def found_on(order: WorkOrder) -> tuple[Standing, ...]:
    """How the findings of its visit stand now."""
    return visit_selectors.standing(order.visit)


def coolant_on(order: WorkOrder) -> Standing | None:
    """The suspicion or certainty of coolant, if there is one."""
    return next((one for one in found_on(order) if one.code == COOLANT and one.stands), None)


def refuse_coolant(order: WorkOrder, actor: Actor, tried: str) -> None:
    """Refuse what would move fluid after coolant was found; the try is on the trail. Call it before the transaction.

    raises  Refusal bay.coolant
    """
    found = coolant_on(order)
    if found is None:
        return
    trail.refused(actor, "refused: coolant found", order, tried=tried, state=found.state)
    raise Refusal(COOLANT_STOPS.format(state=found.state, order=order), code="bay.coolant", status=409)


def must_be(order: WorkOrder, *states: str) -> None:
    """Refuse a work order that stands elsewhere.

    raises  StateRefusal
    """
    if order.state not in states:
        held = f" ({order.hold_reason})" if order.state == "on hold" and order.hold_reason else ""
        raise StateRefusal(
            f"{order} is {order.state}{held}; this needs {' or '.join(states)}.",
            code="state.changed",
        )


def keep_still(order: WorkOrder, *states: str) -> None:
    """Keep a work order where it stands to the end of the deed: nobody can put it on hold in between.

    raises  StateRefusal
    """
    # An update takes the row's lock on both engines; a deed that waited for it finds the new state.
    WorkOrder.objects.filter(pk=order.pk, state__in=states).update(edition=F("edition") + 1)
    order.refresh_from_db()
    must_be(order, *states)


def come_up(order: WorkOrder) -> BayStep | None:
    """Bring the next step up; none: all are done or skipped."""
    following = order.steps.filter(state="ahead").order_by("order").first()
    if following is not None:
        BayStep.objects.filter(pk=following.pk, state="ahead").update(state="now")
        following.refresh_from_db()
    return following


def asks_for_look(order: WorkOrder) -> bool:
    """Whether a second look has to say yes: by the house rule at clearing, or for what the close-out left open."""
    return bool(order.rules.get("look_asked")) or bool(order.close_out.get("look_reason"))


def is_through(order: WorkOrder) -> bool:
    """Whether nothing is left to be done in the bay."""
    if order.state == "level set":
        return order.closed_out_at is not None and not asks_for_look(order)
    return order.state in ("second look done", "cut short", "closed")


def ready_visit(visit: Visit, actor: Actor) -> bool:
    """Make the visit ready when all of its work is through; whether it is."""
    orders: Sequence[WorkOrder] = list(visit.work_orders.all())
    for order in orders:
        _end_what_was_ended_early(order, actor)
    visit.refresh_from_db()
    if visit.state != "in work" or not orders or not all(is_through(order) for order in orders):
        return False
    move(visit, "be ready", VISIT_MOVES, actor, state_since=clock.now(), whose_move="ours")
    return True


def _end_what_was_ended_early(order: WorkOrder, actor: Actor) -> None:
    """Cut short what was ended early, once it is put together again, closed out and looked at."""
    ended = order.rules.get("ended_early")
    if not ended or order.state not in ("level set", "second look done") or not is_through(order):
        return
    before = order.state
    close_out = {**order.close_out, "cut_short": ended["words"]}
    moved(order, "be put together", WORK_MOVES, actor, close_out=close_out)
    trail.write(actor, "work cut short", order, before={"state": before}, words=ended["words"])


def moved(order: WorkOrder, act: str, moves: Sequence[Any], actor: Actor, **changes: Any) -> None:
    """Move a work order and note since when."""
    move(order, act, moves, actor, state_since=clock.now(), **changes)
