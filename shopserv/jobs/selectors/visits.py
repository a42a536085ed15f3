"""Visits of the actor's shop, and what was found on them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.shortcuts import get_object_or_404

from shopserv.common import clock, formats
from shopserv.jobs.findings import OF_ITS_VISIT, STOP, UNTIL_CHANGED, Standing, heaviest
from shopserv.jobs.models import Complaint, Finding, QuoteVersion, Visit, WorkOrder
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.logbook.models import ServiceRecord
from shopserv.logbook.selectors import OTHER_FLUID, TOP_UP, much_water_in, other_fluid_in
from shopserv.registry.models import PlateRecord, Vehicle
from shopserv.shop.actors import Actor
from shopserv.shop.models import TrailEntry

SAID_CHANGED = "said_fluid_changed"  # on the trail of the intake: the customer says that it was changed before
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
    """How each finding stands now on a visit: its newest entry, by code. One query.

    What was found on an earlier visit and not lifted since stands on the vehicle, whatever the slip says now.
    """
    rows = _entries([visit.vehicle_id])
    if visit.left_at is not None:  # what came later does not change how it stood
        rows = rows.filter(Q(visit=visit) | Q(at__lte=visit.left_at))
    return _standing(rows, visit)


def standing_on(vehicle: Vehicle) -> tuple[Standing, ...]:
    """How each finding stands now on a vehicle that is on no visit, with what its logbook makes suspect."""
    found = _standing(_entries([vehicle.pk]), None)
    more = suspicions_on(vehicle)
    codes = {one.code for one in more}
    return (*(one for one in found if one.code not in codes), *more)


def suspicions_on(vehicle: Vehicle) -> list[Standing]:
    """What the logbook makes suspect and no finding speaks of yet: another fluid topped up, much water in a sample."""
    return [one for one in (other_fluid_on(vehicle), much_water_on(vehicle)) if one]


def much_water_on(vehicle: Vehicle) -> Standing | None:
    """The suspicion that a laboratory's figure above its limit raises and no finding speaks of yet."""
    row = much_water_in(vehicle)
    if row is None:
        return None
    words = f"{formats.number(row.water_ppm)} of {formats.number(row.limit_ppm)} mg/kg, slip {row.reference}"
    return _untold(vehicle, Standing("K-13", "suspected", words, (f"slip {row.reference}",)))


def other_fluid_on(vehicle: Vehicle) -> Standing | None:
    """The suspicion that a top-up with another fluid raises and no finding speaks of yet."""
    record = other_fluid_in(vehicle)
    if record is None:
        return None
    sign = f"top-up of {formats.day(record.done_on)} with {record.fluid_code}, row {record.pk}"
    words = f"{record.fluid_code} was topped up: it {OTHER_FLUID}"
    return _untold(vehicle, Standing("K-06", "suspected", words, (sign,)))


def _untold(vehicle: Vehicle, one: Standing) -> Standing | None:
    told = Finding.objects.filter(visit__vehicle=vehicle, code=one.code).values_list("signs", flat=True)
    return None if any(one.signs[0] in signs for signs in told) else one


def was_diagnosed(visit: Visit, since: datetime | None) -> bool:
    """Whether a diagnosis of the vehicle was done after a moment."""
    rows = WorkOrder.objects.filter(visit__vehicle=visit.vehicle_id, facts__kind__in=("diagnosis", "teardown"))
    done = rows.filter(steps__code="diagnosis", steps__state__in=("done", "redone"))
    return (done if since is None else done.filter(steps__done_at__gt=since)).exists()


def _entries(vehicles: Iterable[int]) -> QuerySet[Finding]:
    """Every entry that may stand on these vehicles, oldest first, each with the number of its visit."""
    changed = WorkOrder.objects.filter(
        visit=OuterRef("visit"), state__in=("second look done", "closed"), facts__kind="work"
    )
    return (
        Finding.objects.filter(visit__vehicle__in=list(vehicles))
        .annotate(fluid_changed=Exists(changed))
        .select_related("visit")
        .order_by("pk")
    )


def _standing(entries: Iterable[Finding], visit: Visit | None) -> tuple[Standing, ...]:
    newest: dict[str, Standing] = {}
    for row in entries:
        is_earlier = visit is None or row.visit_id != visit.pk
        is_over = row.code in UNTIL_CHANGED and row.fluid_changed  # type: ignore[attr-defined]
        if is_earlier and (row.code in OF_ITS_VISIT or is_over):
            newest.pop(row.code, None)
            continue
        number = row.visit.number if is_earlier else ""
        newest[row.code] = Standing(row.code, row.state, row.words, tuple(row.signs), number, row.at)
    # Of an earlier visit only what still stands is told.
    return tuple(newest[code] for code in sorted(newest) if newest[code].stands or not newest[code].visit)


def complaint_of(visit: Visit) -> Complaint | None:
    """What the customer said at the intake; none where nothing was said."""
    return visit.complaints.order_by("pk").first()


def tries_of(visit: Visit) -> list[tuple[datetime, str, str]]:
    """Tries to reach the customer that failed, oldest first: when, number or address, words."""
    rows = TrailEntry.objects.filter(subject_kind="visit", subject_key=str(visit.pk), what=TRIED).order_by("pk")
    return [(row.at, row.after.get("contact", ""), row.after.get("words", "")) for row in rows]


def changed_elsewhere(visit: Visit) -> bool:
    """Whether the customer said that the fluid was changed before, and the file holds no such job: the first counts.

    A top-up changes nothing.
    """
    jobs = ServiceRecord.objects.filter(vehicle=visit.vehicle_id, corrected_by__isnull=True).exclude(method=TOP_UP)
    rows = TrailEntry.objects.filter(subject_kind="visit", subject_key=str(visit.pk), what="vehicle taken in")
    taken = rows.order_by("pk").last()
    return bool(taken and taken.after.get(SAID_CHANGED)) and not jobs.exists()


def counter_desk(actor: Actor) -> Desk:
    """What is happening now at the actor's shop: expected and open visits by promised time. Five queries."""
    actor.must("counter desk")
    visits = list(visits_of(actor).filter(state__in=[*OPEN_VISIT, "expected"]).order_by("pk"))
    keys = [visit.pk for visit in visits]
    found: dict[int, list[Finding]] = defaultdict(list)
    for entry in _entries({visit.vehicle_id for visit in visits}):
        found[entry.visit.vehicle_id].append(entry)
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
        _row(
            visit, found[visit.vehicle_id], quotes.get(visit.pk), orders.get(visit.pk), plates.get(visit.vehicle_id, "")
        )
        for visit in visits
    ]
    far = datetime.max.replace(tzinfo=clock.now().tzinfo)
    rows.sort(key=lambda row: (row.promised_at or row.expected_at or row.came_at or far, row.pk))
    waiting = [row for row in rows if row.state == "waiting on word"]
    return Desk(tuple(rows), min(waiting, key=lambda row: row.state_since, default=None))


def _row(
    visit: Visit, entries: list[Finding], version: QuoteVersion | None, order: WorkOrder | None, plate: str
) -> DeskRow:
    found = _standing(entries, visit)
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
