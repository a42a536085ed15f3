"""Which vehicles the actor's role may open, the matches of a search, and the head of one vehicle's file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, F, FilteredRelation, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.jobs.models import Finding, Visit, WorkOrder
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.logbook.models import OdometerChange, OdometerReading, ServiceRecord
from shopserv.registry import selectors as registry
from shopserv.registry.models import Identification, KeeperRecord, Vehicle
from shopserv.registry.selectors import Match
from shopserv.reminders.models import Forecast
from shopserv.shop.actors import Actor


@dataclass(frozen=True, slots=True)
class Found:
    """A vehicle that was found.

    last_on    when it was last seen by any shop; none: never
    grade      of its forecast; empty: none yet
    """

    match: Match
    last_on: date | None
    grade: str


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the head of a vehicle's file.

    keeper, keeper_since   none for who may not see names, or where nobody is known
    unit_*       the identification that counts or is disputed; empty: not known
    evidence     what was seen of the unit
    odometer_unit, last    unit of the present instrument; its last counted reading as (figure, unit, day)
    forecast     the one that counts, not to be saved; none yet
    visit        (number, state) of the visit that it is on at the actor's shop, or expected for
    """

    vehicle: Vehicle
    plate: str
    keeper: str
    keeper_since: date | None
    unit_code: str
    unit_name: str
    unit_grade: str
    unit_state: str
    evidence: list[dict[str, Any]]
    odometer_unit: str
    last: tuple[int, str, date] | None
    forecast: Forecast | None
    visit: tuple[str, str] | None


def files_of(actor: Actor) -> QuerySet[Vehicle]:
    """The vehicles whose file the actor may open.

    Writer and owner: all of the business's. A technician: those of own work orders. The parts keeper: those that the
    own shop has seen.
    """
    actor.must("open file")
    rows = registry.vehicles_of(actor)
    if actor.may("see people"):
        return rows
    if actor.may("bay work"):
        own = WorkOrder.objects.filter(visit__vehicle=OuterRef("pk"), shop=actor.house, technician=actor.staff)
        return rows.filter(Exists(own))
    at = {"vehicle": OuterRef("pk"), "shop": actor.house}
    return rows.filter(
        Q(first_shop=actor.house)
        | Exists(Visit.objects.filter(**at))
        | Exists(OdometerReading.objects.filter(**at))
        | Exists(ServiceRecord.objects.filter(**at))
    )


def file_for(actor: Actor, number: str) -> Head:
    """The head of one vehicle's file by its own number, in one query.

    raises  Http404 where there is none, NotYours where the role does not reach it
    """
    day = clock.today(actor.house.time_zone)
    rows = registry.with_keeper_and_plate(registry.vehicles_of(actor), day).annotate(
        is_open=Exists(files_of(actor).filter(pk=OuterRef("pk"))),
        now=FilteredRelation("forecasts", condition=Q(forecasts__is_current=True)),
        **{f"now_{name}": F(f"now__{name}") for name in ("pk", *_SHOWN)},
        **_facts(day),
        **_visit(actor),
    )
    row = get_object_or_404(rows.select_related("home_climate", "first_shop", "merged_into"), number=number)
    if not row.is_open:
        raise NotYours("not one of your jobs" if actor.may("bay work") else "not seen by this shop")
    return _head(row, names=actor.may("see people"))


_SHOWN = (
    "due_on", "early_on", "late_on", "distance_due_on", "months_due_on", "governs", "rate_low_m_day", "rate_m_day",
    "rate_high_m_day", "left_m", "worth_cents", "worth_method", "grade", "reason", "working",
)  # fmt: skip


def _facts(day: date) -> dict[str, Any]:
    unit = Identification.objects.filter(vehicle=OuterRef("pk"), state__in=["counted", "disputed"]).order_by("-pk")
    since = KeeperRecord.objects.filter(vehicle=OuterRef("pk"), from_on__lte=day).order_by("-from_on")
    change = OdometerChange.objects.filter(vehicle=OuterRef("pk")).order_by("-on")
    counted = OdometerReading.objects.filter(vehicle=OuterRef("pk"), state="counted")
    last = counted.order_by("-instrument", "-read_at", "-figure")
    return {
        "keeper_since": Subquery(since.values("from_on")[:1]),
        "unit_code": Subquery(unit.values("unit__code")[:1]),
        "unit_name": Subquery(unit.values("unit__name")[:1]),
        "unit_grade": Subquery(unit.values("grade")[:1]),
        "unit_state": Subquery(unit.values("state")[:1]),
        "unit_evidence": Subquery(unit.values("evidence")[:1]),
        "shown_unit": Coalesce(Subquery(change.values("new_unit")[:1]), F("distance_unit")),
        "last_figure": Subquery(last.values("figure")[:1]),
        "last_unit": Subquery(last.values("unit")[:1]),
        "last_on": Subquery(last.values("read_on")[:1]),
    }


def _visit(actor: Actor) -> dict[str, Any]:
    there = Visit.objects.filter(vehicle=OuterRef("pk"), shop=actor.house)
    rows = there.filter(state__in=[*OPEN_VISIT, "expected"]).order_by(F("came_at").asc(nulls_last=True), "pk")
    return {"visit_number": Subquery(rows.values("number")[:1]), "visit_state": Subquery(rows.values("state")[:1])}


def _head(row: Any, *, names: bool) -> Head:
    shown = {name: getattr(row, f"now_{name}") for name in _SHOWN}
    return Head(
        vehicle=row,
        plate=row.plate_typed or "",
        keeper=(row.keeper_name or "") if names else "",
        keeper_since=row.keeper_since if names and row.keeper_name else None,
        unit_code=row.unit_code or "",
        unit_name=row.unit_name or "",
        unit_grade=row.unit_grade or "",
        unit_state=row.unit_state or "",
        evidence=row.unit_evidence or [],
        odometer_unit=row.shown_unit,
        last=(row.last_figure, row.last_unit, row.last_on) if row.last_figure is not None else None,
        forecast=Forecast(vehicle=row, **shown) if row.now_pk else None,
        visit=(row.visit_number, row.visit_state) if row.visit_number else None,
    )


def standing_of(actor: Actor, vehicle: Vehicle) -> list[Finding]:
    """The findings of the actor's shop that stand on a vehicle: the newest of each kind, unless not confirmed."""
    actor.must("open file")
    at = {"visit__vehicle": vehicle, "shop": actor.house}
    later = Finding.objects.filter(**at, code=OuterRef("code"), pk__gt=OuterRef("pk"))
    rows = Finding.objects.filter(~Exists(later), **at).exclude(state="not confirmed")
    return list(rows.select_related("visit").order_by("code"))


def find(actor: Actor, typed: str) -> list[Found]:
    """What `typed` may mean among the files that the actor may open, with last visit and grade; five queries at most.

    raises  Refusal search.too_long
    """
    only = None if actor.may("see people") else files_of(actor)
    matches = registry.find(actor, typed, only=only)
    if not matches:
        return []
    last = OdometerReading.objects.filter(vehicle=OuterRef("pk"), state="counted").order_by("-read_on", "-figure")
    current = Forecast.objects.filter(vehicle=OuterRef("pk"), is_current=True)
    rows = Vehicle.objects.filter(pk__in=[match.pk for match in matches]).annotate(
        last_on=Subquery(last.values("read_on")[:1]), grade=Subquery(current.values("grade")[:1])
    )
    known = {pk: (last_on, grade) for pk, last_on, grade in rows.values_list("pk", "last_on", "grade")}
    return [Found(match, known[match.pk][0], known[match.pk][1] or "") for match in matches]


def expected_today(actor: Actor) -> list[Visit]:
    """The visits that the actor's shop expects today, by their hour, of the files that the actor may open."""
    actor.must("open file")
    today = datetime.combine(clock.today(actor.house.time_zone), datetime.min.time())
    begins = today.replace(tzinfo=ZoneInfo(actor.house.time_zone))
    rows = Visit.objects.filter(shop=actor.house, state="expected", vehicle__in=files_of(actor))
    rows = rows.filter(expected_at__gte=begins, expected_at__lt=begins + timedelta(days=1))
    return list(rows.select_related("vehicle", "customer").order_by("expected_at", "pk")[:50])
