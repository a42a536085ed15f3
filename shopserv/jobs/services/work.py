"""Work orders from clearing to the bay, on hold and on again, or cut short. The bay sheet itself is in services.bay."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.db import transaction

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs.findings import DECISION, GRADES, STOP, WATCH
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.services import bay_room, flow_again, put_together, work_steps
from shopserv.jobs.services.bay_rules import (
    come_up,
    coolant_on,
    keep_still,
    moved,
    must_be,
    own_job,
    own_shop,
    ready_visit,
)
from shopserv.jobs.services.work_checks import (
    covered,
    fluid_check,
    refuse_assumed,
    refuse_bay,
    refuse_findings,
    refuse_technician,
)
from shopserv.jobs.states import VISIT_MOVES, WORK_MOVES
from shopserv.shop import terms, trail
from shopserv.shop.actors import Actor, roles_of
from shopserv.shop.models import Bay, Staff

LEAST_WORDS = 3


def clear(
    order: WorkOrder,
    *,
    actor: Actor,
    bay: Bay | None = None,
    technician: Staff | None = None,
    confirmed: Collection[str] = (),
) -> WorkOrder:
    """Clear a work order for the bay: the yes covers it, the fluid is right, nothing found speaks against it.

    The house rules of today are kept with it, its steps are built, its procedure sheet is filed, and the visit is in
    work from now on.

    bay, technician   none: whoever opens it from the bay line
    confirmed         codes that were asked and answered: bay.taken, bay.tilt
    raises            StateRefusal work.not_authorized, work.not_covered, work.not_here; Refusal work.stop,
                      work.decision, bay.coolant, work.assumed, work.other_unit, work.unlikely_unit,
                      work.specification, work.no_sheet,
                      bay.*, technician.*; NotYours, Http404
    """
    actor.must("clear work")
    own_shop(order, actor)
    must_be(order, "written up")
    if order.visit.state not in ("here", "waiting on word", "in work"):
        raise StateRefusal(
            f"{order.visit} is {order.visit.state}: the vehicle is not here. Take it in again, and write a new quote.",
            code="work.not_here",
        )
    covered(order)
    values = work_steps.values_for(order)
    refuse_assumed(order, actor)
    pump = values.get("electric_pump")
    refuse_findings(order, actor, "clear", names_pump=pump is not None and pump.text == "yes")
    return _clear(order, actor, bay, technician, confirmed)


@transaction.atomic
def _clear(
    order: WorkOrder, actor: Actor, bay: Bay | None, technician: Staff | None, confirmed: Collection[str]
) -> WorkOrder:
    day = clock.today(actor.house.time_zone)
    counted = covered(order)
    notes = fluid_check(order, day)
    if bay is not None:
        refuse_bay(bay, actor)
    if technician is not None:
        refuse_technician(order, technician, roles_of(technician, actor.house) if technician.is_active else frozenset())
    values = work_steps.values_for(order)
    if bay is not None:
        bay_room.ask_about(order, bay, values, confirmed)
    rules = work_steps.house_part(order, terms.house_rules(actor.house, day), values)
    steps = work_steps.built(order, bay, rules, values)
    rules["close_out_items"] = work_steps.items_of(steps)
    if notes:
        rules["fluid_notes"] = notes
    moved(
        order,
        "clear",
        WORK_MOVES,
        actor,
        rules=rules,
        bay=bay,
        technician=technician,
        cleared_at=clock.now(),
        hold_reason="",
        hold_grade="",
    )
    work_steps.keep(order, steps)
    visit = order.visit
    if visit.state != "in work":
        move(visit, "begin work", VISIT_MOVES, actor, state_since=clock.now(), whose_move="ours")
    work_steps.file_procedure(order)
    trail.write(
        actor,
        "work cleared",
        order,
        authorization=counted.pk,
        method=order.facts.get("method", ""),
        bay=str(bay or ""),
        technician=technician.name if technician else "",
        steps=len(steps),
        second_look="asked" if rules["look_asked"] else "not asked",
        fluid_notes=notes,
    )
    return order


def start(
    order: WorkOrder, *, actor: Actor, bay: Bay | None = None, tablet: str = "", rolled_out: str = ""
) -> WorkOrder:
    """Open a cleared work order in the bay; who opens one that nobody has takes it.

    bay          none: the one it was cleared for
    rolled_out   where the vehicle on hold stands now that stood in this bay
    raises       Refusal bay.none, bay.*, technician.*, work.stop, work.decision, bay.coolant; StateRefusal bay.taken,
                 work.not_authorized, state.changed; NotYours, Http404
    """
    actor.must("bay work")
    own_shop(order, actor)
    must_be(order, "cleared")
    refuse_findings(order, actor, "start", names_pump=_names_pump(order))
    return _start(order, actor, bay, tablet, rolled_out)


@transaction.atomic
def _start(order: WorkOrder, actor: Actor, bay: Bay | None, tablet: str, rolled_out: str) -> WorkOrder:
    covered(order)
    changes: dict[str, Any] = {}
    if order.technician_id is None:
        assert actor.staff is not None
        changes["technician"] = actor.staff
        refuse_technician(order, actor.staff, actor.roles)
    else:
        refuse_technician(order, own_job(order, actor), actor.roles)
    where = bay or order.bay
    if where is None:
        raise Refusal("In which bay? Choose one.", code="bay.none", field="bay")
    refuse_bay(where, actor)
    bay_room.take(order, where, actor, rolled_out)
    if order.rules["built_for"] != work_steps.built_for(order):
        changes["rules"] = work_steps.build_anew(order)
    moved(order, "start", WORK_MOVES, actor, bay=where, in_bay_at=clock.now(), hold_reason="", hold_grade="", **changes)
    if changes.get("rules"):
        work_steps.file_procedure(order)
    come_up(order)
    trail.write(actor, "into the bay", order, bay=where.name, technician=str(order.technician), tablet=tablet)
    return order


@transaction.atomic
def hold(order: WorkOrder, *, actor: Actor, reason: str, grade: str = WATCH) -> WorkOrder:
    """Put a work order on hold.

    grade    watch: the technician goes on when it is mended; needs your decision, or stop: the shop owner decides
    raises   Refusal hold.reason, hold.grade; StateRefusal, NotYours, Http404
    """
    own_job(order, actor)
    if grade not in GRADES[1:]:
        raise Refusal(f"A hold is not of grade “{grade}”.", code="hold.grade", field="grade")
    hold_now(order, actor, reason, grade)
    trail.write(actor, "put on hold", order, before={"state": "in the bay"}, reason=reason, grade=grade)
    return order


def hold_now(order: WorkOrder, actor: Actor, reason: str, grade: str) -> None:
    """Move to on hold inside another deed, which leaves the entry."""
    if len(reason.strip()) < LEAST_WORDS:
        raise Refusal("Why is it put on hold? A few words.", code="hold.reason", field="reason")
    moved(order, "hold", WORK_MOVES, actor, hold_reason=reason.strip()[:300], hold_grade=grade)


def resume(order: WorkOrder, *, actor: Actor, words: str = "") -> WorkOrder:
    """Go on with a work order that was on hold; with another option agreed meanwhile, by its steps.

    Where the last flow proof showed too little, it is done once more before anything is pumped, whoever decided.

    words    what was decided; needed where a decision was
    raises   Refusal bay.coolant (the try is on the trail), work.stop, work.decision, hold.words; StateRefusal
             work.not_authorized, work.not_covered; NotYours where the grade asks for the shop owner
    """
    if not (actor.may("bay work") or actor.may("cut short")):
        raise NotYours(f"resume: not for {actor.role_words or actor.name}")
    own_shop(order, actor)
    if not put_together.is_ended(order):  # no finding stops what puts it together again
        refuse_findings(order, actor, "resume", names_pump=_names_pump(order))
    return _resume(order, actor, words)


@transaction.atomic
def _resume(order: WorkOrder, actor: Actor, words: str) -> WorkOrder:
    must_be(order, "on hold")
    is_ended = put_together.is_ended(order)
    if not is_ended:
        covered(order)
    if order.hold_grade in (DECISION, STOP):
        if "owner" not in actor.roles:
            raise NotYours(f"{order} is on hold: {order.hold_reason}. The shop owner decides.")
        if len(words.strip()) < LEAST_WORDS:
            raise Refusal("What was decided? A few words.", code="hold.words", field="words")
    elif "owner" not in actor.roles:
        own_job(order, actor)
    before = {"reason": order.hold_reason, "grade": order.hold_grade}
    bay_room.back_in(order, actor)
    changes: dict[str, Any] = {}
    if not is_ended and order.rules["built_for"] != work_steps.built_for(order):
        refuse_assumed(order, actor)
        fluid_check(order, clock.today(actor.house.time_zone))
        changes["rules"] = work_steps.build_anew(order)
    moved(order, "resume", WORK_MOVES, actor, hold_reason="", hold_grade="", **changes)
    if changes:
        work_steps.file_procedure(order)
    elif not is_ended:
        flow_again.bring_up(order, actor)
    if not order.steps.filter(state="now").exists():
        come_up(order)
    visit = order.visit
    visit.refresh_from_db()
    if visit.state == "waiting on word":
        move(visit, "begin work", VISIT_MOVES, actor, state_since=clock.now(), whose_move="ours")
    trail.write(actor, "work resumed", order, before=before, words=words, new_steps=bool(changes))
    return order


@transaction.atomic
def cut_short(order: WorkOrder, *, actor: Actor, words: str) -> WorkOrder:
    """End work that will not be done, with the note in which state the vehicle is put together again.

    Where nothing was opened yet it is cut short at once. Else it stays in the bay with the steps that shut, fill and
    check what was opened, and is cut short by the second look, or by its close-out where no look is asked for; with
    coolant in it, which lets no fluid go in, by saying so once more when those steps are done.

    raises  Refusal cut_short.words, cut_short.steps; StateRefusal, NotYours, Http404
    """
    actor.must("cut short")
    own_shop(order, actor)
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal(
            "In which state is it put together again? Write the reassembly note.", code="cut_short.words", field="words"
        )
    before = order.state
    if order.state in ("in the bay", "on hold"):
        if not put_together.is_ended(order) and put_together.is_opened(order):
            return _put_together(order, actor, words.strip())
        if put_together.is_ended(order) and (put_together.has_open_steps(order) or coolant_on(order) is None):
            raise Refusal(
                f"{order} is being put together again: its steps in the bay are done first, "
                "then the close-out and the second look.",
                code="cut_short.steps",
                status=409,
            )
    close_out = {**order.close_out, "cut_short": words.strip()}
    moved(order, "cut short", WORK_MOVES, actor, close_out=close_out)
    is_ready = ready_visit(order.visit, actor)
    trail.write(actor, "work cut short", order, before={"state": before}, words=words, visit_ready=is_ready)
    return order


def _put_together(order: WorkOrder, actor: Actor, words: str) -> WorkOrder:
    """Bring up the steps that put together again what was opened; the visit stays in work."""
    before = {"state": order.state, "reason": order.hold_reason}
    if order.state == "on hold":
        moved(order, "resume", WORK_MOVES, actor, hold_reason="", hold_grade="")
    else:
        keep_still(order, "in the bay")
    WorkOrder.objects.filter(pk=order.pk).update(rules=put_together.begin(order, actor, words))
    order.refresh_from_db()
    work_steps.file_procedure(order)
    come_up(order)
    ahead = order.steps.filter(state__in=("ahead", "now")).count()
    trail.write(actor, "ended early", order, before=before, words=words, steps=ahead)
    return order


def _names_pump(order: WorkOrder) -> bool:
    return bool(order.rules.get("names_electric_pump"))
