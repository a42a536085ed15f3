"""Visits of the actor's shop, and what was found on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q, QuerySet
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.jobs.findings import STOP, Standing, heaviest
from shopserv.jobs.models import Finding, QuoteVersion, Visit, WorkOrder
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.registry.models import PlateRecord
from shopserv.shop.actors import Actor
from shopserv.shop.models import TrailEntry

TRIED = "tried and not reached"


@dataclass(frozen=True, slots=True)
class DeskRow:
    """One line of the counter desk.

    came_at       none: expected
    going_on      one sentence
    whose_move    ours, customer's, parts'
    """

    pk: int
    number: str
    promised_from: datetime | None
    promised_at: datetime | None
    expected_at: datetime | None
    came_at: datetime | None
    vehicle_number: str
    vehicle: str
    plate: str
    fleet_number: str
    owner: str
    state: str
    state_since: datetime
    going_on: str
    grade: str
    whose_move: str
    key_tag: str
    quote: str
    work_order: str


@dataclass(frozen=True, slots=True)
class Desk:
    """The counter desk: rows by promised time, and the row of the vehicle that has waited longest for a word."""

    rows: tuple[DeskRow, ...]
    longest: DeskRow | None


def visits_of(actor: Actor) -> QuerySet[Visit]:
    """The visits of the actor's shop; none for a link."""
    actor.must("open file")
    return Visit.objects.filter(shop=actor.house).select_related("vehicle", "customer", "reading", "shop")


def visit_for(actor: Actor, number: str) -> Visit:
    """One visit of the actor's shop by its number; Http404 for any other."""
    return get_object_or_404(visits_of(actor).prefetch_related("complaints"), number=number)


def open_visit_of(actor: Actor, vehicle_pk: int) -> Visit | None:
    """The visit at the actor's shop that a vehicle is on now, or expected for; none where there is none."""
    states = [*OPEN_VISIT, "expected"]
    rows = visits_of(actor).filter(vehicle=vehicle_pk, state__in=states)
    return min(rows, key=lambda row: (row.state == "expected", row.pk), default=None)


def findings_of(visit: Visit) -> QuerySet[Finding]:
    """Every entry, oldest first."""
    return visit.findings.order_by("pk")


def standing(visit: Visit) -> tuple[Standing, ...]:
    """How each finding of a visit stands now: its newest entry, by code. One query."""
    return _standing(findings_of(visit))


def _standing(entries: Iterable[Finding]) -> tuple[Standing, ...]:
    newest = {row.code: Standing(row.code, row.state, row.words, tuple(row.signs)) for row in entries}
    return tuple(newest[code] for code in sorted(newest))


def tries_of(visit: Visit) -> list[tuple[datetime, str, str]]:
    """Tries to reach the customer that failed, oldest first: when, number or address, words."""
    rows = TrailEntry.objects.filter(subject_kind="visit", subject_key=str(visit.pk), what=TRIED).order_by("pk")
    return [(row.at, row.after.get("contact", ""), row.after.get("words", "")) for row in rows]


def counter_desk(actor: Actor) -> Desk:
    """What is happening now at the actor's shop: expected and open visits by promised time. Five queries."""
    actor.must("counter desk")
    visits = list(visits_of(actor).filter(state__in=[*OPEN_VISIT, "expected"]).order_by("pk"))
    keys = [visit.pk for visit in visits]
    found: dict[int, list[Finding]] = defaultdict(list)
    for entry in Finding.objects.filter(visit__in=keys).order_by("pk"):
        found[entry.visit_id].append(entry)
    versions = QuoteVersion.objects.filter(quote__visit__in=keys).select_related("quote").order_by("version", "pk")
    quotes = {version.quote.visit_id: version for version in versions}
    orders = {order.visit_id: order for order in WorkOrder.objects.filter(visit__in=keys).order_by("pk")}
    plates = {
        row.vehicle_id: row.as_typed
        for row in PlateRecord.objects.filter(
            Q(from_on__lte=clock.today(actor.house.time_zone)), vehicle__in=[v.vehicle_id for v in visits]
        ).order_by("from_on")
    }
    rows = [
        _row(visit, found[visit.pk], quotes.get(visit.pk), orders.get(visit.pk), plates.get(visit.vehicle_id, ""))
        for visit in visits
    ]
    far = datetime.max.replace(tzinfo=clock.now().tzinfo)
    rows.sort(key=lambda row: (row.promised_at or row.expected_at or row.came_at or far, row.pk))
    waiting = [row for row in rows if row.state == "waiting on word"]
    return Desk(tuple(rows), min(waiting, key=lambda row: row.state_since, default=None))


def _row(
    visit: Visit, entries: list[Finding], version: QuoteVersion | None, order: WorkOrder | None, plate: str
) -> DeskRow:
    found = _standing(entries)
    return DeskRow(
        pk=visit.pk,
        number=visit.number,
        promised_from=visit.promised_from,
        promised_at=visit.promised_at,
        expected_at=visit.expected_at,
        came_at=visit.came_at,
        vehicle_number=visit.vehicle.number,
        vehicle=visit.vehicle.words,
        plate=plate,
        fleet_number=visit.vehicle.fleet_number,
        owner=visit.customer.name,
        state=visit.state,
        state_since=visit.state_since,
        going_on=_going_on(visit, found, version, order),
        grade=heaviest(found),
        whose_move=_whose_move(visit, version, order),
        key_tag=visit.key_tag,
        quote=str(version.quote) if version else "",
        work_order=order.number if order else "",
    )


def _going_on(visit: Visit, found: tuple[Standing, ...], version: QuoteVersion | None, order: WorkOrder | None) -> str:
    stop = next((one for one in found if one.stands and one.grade == STOP), None)
    if stop:
        return f"{stop.kind.words}: {stop.kind.effect}"
    if order:
        held = f": {order.hold_reason}" if order.state == "on hold" and order.hold_reason else ""
        return f"work order {order.number} {order.state}{held}"
    if version:
        return f"quote {version.quote.number} version {version.version} {version.state}"
    return "expected" if visit.state == "expected" else "no quote yet"


def _whose_move(visit: Visit, version: QuoteVersion | None, order: WorkOrder | None) -> str:
    if version and version.state == "offered":
        return "customer's"
    return visit.whose_move if order is None else "ours"
