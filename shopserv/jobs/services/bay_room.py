"""A bay holds one job: asked about at clearing, refused at starting unless the other is on hold and rolled out."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from django.db.models import F

from shopserv.catalog.sheets import Value
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors.bay_room import ROLLED_OUT, standing_in
from shopserv.jobs.services.work_steps import STORED_LEVEL
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Bay

LEAST_WORDS = 3


def ask_about(order: WorkOrder, bay: Bay, values: Mapping[str, Value], confirmed: Collection[str]) -> None:
    """Ask once, at clearing, about what would come out in the bay: it is taken, or stands too far off level.

    raises  Refusal bay.taken, bay.tilt (both may be confirmed)
    """
    there = standing_in(bay, order)
    if there is not None and "bay.taken" not in confirmed:
        raise Refusal(
            f"Bay {bay} is taken: {_who(there)} stands in it, {there.state}. Choose another bay, or clear "
            f"{order} for it: it cannot start before the other is out.",
            code="bay.taken",
            field="bay",
            confirmable=True,
            tick_words=f"Clear it for {bay} all the same.",
        )
    limit, stored = values.get("tilt_limit_mdeg"), (bay.fore_aft_tenths_deg, bay.side_tenths_deg)
    if bay.kind not in STORED_LEVEL or limit is None or limit.low is None or "bay.tilt" in confirmed:
        return
    most = max((abs(one) for one in stored if one is not None), default=0)
    if most * 100 > limit.low:
        raise Refusal(
            f"Bay {bay} stands {most / 10:g}° off level by its stored figure; {order.facts.get('unit')} allows "
            f"{limit.low / 1000:g}° when the level is set. Choose another bay, or level the vehicle there.",
            code="bay.tilt",
            field="bay",
            confirmable=True,
            tick_words=f"Clear it for {bay} all the same.",
        )


def take(order: WorkOrder, bay: Bay, actor: Actor, words: str = "") -> None:
    """Take a bay inside a deed: it is free, or the one in it is on hold and rolled out, with where it stands now.

    words   where the other stands now
    raises  StateRefusal bay.taken, Refusal bay.rolled_out
    """
    # An update takes the row's lock on both engines: of two that start at once, one finds the other there.
    Bay.objects.filter(pk=bay.pk).update(name=F("name"))
    there = standing_in(bay, order)
    if there is None:
        return
    if there.state != "on hold":
        raise StateRefusal(
            f"Bay {bay} is taken: {_who(there)} stands in it, {there.state}. It leaves first: closed out, "
            "or on hold and rolled out.",
            code="bay.taken",
        )
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal(
            f"Bay {bay} is taken: {_who(there)} stands in it, on hold ({there.hold_reason}). Roll it out, "
            "then write where it stands now.",
            code="bay.rolled_out",
            field="words",
            status=409,
        )
    rules = {**there.rules, ROLLED_OUT: words.strip()[:200]}
    WorkOrder.objects.filter(pk=there.pk, state="on hold").update(rules=rules, edition=F("edition") + 1)
    trail.write(actor, "rolled out", there, bay=bay.name, words=words.strip(), makes_room_for=str(order))


def back_in(order: WorkOrder, actor: Actor) -> None:
    """Bring a vehicle that was rolled out back into its bay inside a deed, which leaves the entry.

    raises  StateRefusal bay.taken, Refusal bay.rolled_out
    """
    if order.bay is None or ROLLED_OUT not in order.rules:
        return
    take(order, order.bay, actor)
    rules = {name: value for name, value in order.rules.items() if name != ROLLED_OUT}
    WorkOrder.objects.filter(pk=order.pk).update(rules=rules)
    order.rules = rules


def _who(order: WorkOrder) -> str:
    return f"{order.number} ({order.visit.vehicle.number})"
