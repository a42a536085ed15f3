"""Second looks as the other person sees them: the technician's figures stay hidden until the own ones are in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404

from shopserv.common import clock
from shopserv.jobs import bay_events, bay_looks, bay_readings
from shopserv.jobs.models import SecondLook, WorkOrder
from shopserv.logbook.selectors import unit_of_instrument
from shopserv.shop.actors import Actor, roles_of
from shopserv.shop.models import Staff


@dataclass(frozen=True, slots=True)
class LookItem:
    """One number or thing to look at.

    kind          figure, or seen
    runs          it can only be seen while the engine runs
    is_risk       one of the two largest shares of the level budget
    unit, step    of the keys; empty for what is seen
    own           base units; for what is seen 1 or 0; none: not given, or could not be seen
    first         the technician's; none as long as the own ones are not in
    is_far        both are shown, and a yes is refused
    by            who gave the own one
    """

    what: str
    words: str
    kind: str
    runs: bool
    is_risk: bool
    unit: str
    step: int
    own: int | None
    own_shown: str
    first: int | None
    first_shown: str
    is_far: bool
    by: str


@dataclass(frozen=True, slots=True)
class LookSheet:
    """A second look to be filled in.

    look          none: the level is set, it is not closed out; only what is seen while it runs may be given
    is_given      the own figures are in, both are shown
    is_answerable the answer may be given now
    lookers       who may look: granted, active here, no press on this job
    may_own       nobody else is entitled: the technician may look, marked as own
    reason        why one is asked for beyond the house rule; empty: the rule asks
    earlier       looks before, with their answers
    advice        which number makes the level least sure
    """

    order: WorkOrder
    look: SecondLook | None
    attempt: int
    items: tuple[LookItem, ...]
    is_given: bool
    is_answerable: bool
    lookers: tuple[Staff, ...]
    may_own: bool
    reason: str
    earlier: tuple[SecondLook, ...]
    given_by: str = ""
    advice: str = ""
    reasons: tuple[str, ...] = bay_looks.REASONS


@dataclass(frozen=True, slots=True)
class LookRow:
    """One job that waits for a second look, or where it runs and may be looked at now."""

    number: str
    vehicle_number: str
    vehicle: str
    bay: str
    technician: str
    is_running: bool
    state: str
    mine: bool


def look_orders_of(actor: Actor) -> QuerySet[WorkOrder]:
    """The work orders of the actor's shop that a second look is about.

    Whoever stands in the bay may open it: the one who looks gives name and PIN.
    """
    if not actor.may("second look"):
        actor.must("bay line")
    rows = WorkOrder.objects.filter(shop=actor.house, state__in=("level set", "second look done"))
    return rows.select_related("visit__vehicle", "visit__reading", "bay", "technician", "shop")


def looks_waiting(actor: Actor) -> tuple[LookRow, ...]:
    """Jobs at level set whose second look is asked for, or which still run, longest first. One query."""
    rows = look_orders_of(actor).filter(state="level set")
    rows = rows.filter(Q(second_looks__state="asked for") | Q(closed_out_at=None)).distinct()
    found = []
    for order in rows.order_by("state_since", "pk"):
        running = order.closed_out_at is None
        if running and not order.rules.get("look_asked"):
            continue
        found.append(
            LookRow(
                number=order.number,
                vehicle_number=order.visit.vehicle.number,
                vehicle=order.visit.vehicle.words,
                bay=order.bay.name if order.bay else "",
                technician=order.technician.first_name if order.technician else "",
                is_running=running,
                state="" if running else "asked for",
                mine=actor.staff is not None and order.technician_id == actor.staff.pk,
            )
        )
    return tuple(found)


def second_look_for(actor: Actor, number: str) -> LookSheet:
    """What the second person fills in for one job of the actor's shop; Http404 for any other.

    The first figures are in no field of the answer as long as the own ones are not given.
    """
    order = look_orders_of(actor).filter(number=number).first()
    if order is None:
        raise Http404("no second look there")
    looks = list(order.second_looks.select_related("by").order_by("attempt"))
    look = looks[-1] if looks and looks[-1].state == "asked for" else None
    running = order.close_out.get("seen_while_running", {}) if look is None else look.seen_while_running
    rows = [dict(row) for row in look.items] if look else running_items(order)
    for row in rows:
        if row["own"] is None and row["what"] in running.get("own", {}):
            row.update(own=running["own"][row["what"]], by=running.get("name", ""))
    given = look is not None and look.by_id is not None
    if look is not None and not given:
        look.items = [{**row, "first": None} for row in look.items]  # of this copy alone
    others = entitled(order)
    return LookSheet(
        order=order,
        look=look,
        attempt=look.attempt if look else len(looks) + 1,
        items=tuple(_item(order, row, given) for row in rows),
        is_given=given,
        is_answerable=given and order.state == "level set",
        lookers=others,
        may_own=not others,
        reason=order.close_out.get("look_reason", ""),
        earlier=tuple(one for one in looks if one is not look),
        given_by=look.by.name if look and look.by else running.get("name", ""),
        advice=_advice(order),
    )


def _advice(order: WorkOrder) -> str:
    """Which number has the largest share of the level budget; no figure of the technician's."""
    level = order.level_records.filter(passes=True).order_by("-attempt").first()
    return str(level.budget.get("advice", "")) if level else ""


def _item(order: WorkOrder, row: dict[str, Any], given: bool) -> LookItem:
    units, odometer = order.shop.units_first, unit_of_instrument(order.visit.vehicle)
    figure = row["kind"] == "figure"
    first = row["first"] if given else None
    unit = bay_readings.unit_for(bay_readings.WHATS[row["what"]], units, odometer) if figure else ""
    return LookItem(
        what=row["what"],
        words=row["words"],
        kind=row["kind"],
        runs=row["runs"],
        is_risk=row["is_risk"],
        unit=unit,
        step=5 if unit == "g" else 1,
        own=row["own"],
        own_shown=bay_looks.shown(row, row["own"], units, odometer),
        first=first,
        first_shown=bay_looks.shown(row, first, units, odometer),
        is_far=given and bay_looks.is_far(row),
        by=row["by"],
    )


def all_items(order: WorkOrder) -> list[dict[str, Any]]:
    """Everything a second look is about, with the technician's figures."""
    level = order.level_records.filter(passes=True).order_by("-attempt").first()
    events = list(order.events.select_related("step").order_by("pk"))
    firsts: dict[str, int | None] = {"odometer": order.odometer_out}
    for what in bay_looks.LEFT:
        left = [event.value or 0 for event in bay_events.counted(events) if event.what == what]
        firsts[what] = sum(left) if left else None
    riskiest: list[str] = []
    if level is not None:
        firsts |= {
            "temp_mdegc": level.temp_mdegc,
            "tilt_fore_aft": level.tilt_fore_aft_tenths_deg,
            "tilt_side": level.tilt_side_tenths_deg,
        }
        riskiest = list(level.budget.get("riskiest", ()))
    codes = [code for code, _ in order.rules.get("close_out_items", ())]
    return bay_looks.look_items(riskiest, codes, firsts)


def running_items(order: WorkOrder) -> list[dict[str, Any]]:
    """The numbers with the largest shares of the level budget, to be read while it runs."""
    return [row for row in all_items(order) if row["is_risk"]]


def entitled(order: WorkOrder) -> tuple[Staff, ...]:
    """Who may look at a work order: granted and active at its shop, not its technician, no press on it."""
    today = clock.today(order.shop.time_zone)
    pressed = set(order.events.values_list("person_id", flat=True)) | {order.technician_id}
    rows = Staff.objects.filter(
        state="active", grants__shop=order.shop_id, grants__grant="second look", grants__from_on__lte=today
    )
    return tuple(
        one
        for one in rows.distinct().order_by("name")
        if one.pk not in pressed and "second look" in roles_of(one, order.shop)
    )
