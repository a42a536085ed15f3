"""What was read on the odometer and done to a vehicle; distances across instruments."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from django.db.models import Count, QuerySet

from shopserv.logbook.models import LaboratoryResult, OdometerChange, OdometerReading, ServiceRecord
from shopserv.registry.models import Vehicle
from shopserv.registry.selectors import vehicles_of
from shopserv.shop.actors import Actor

TOP_UP = "top-up"  # method of a service that added fluid for what was missing and exchanged none
BESIDE = timedelta(seconds=1)  # so much later stands the figure that was meant
MUCH_WATER = 5  # so many times the limit is asked about before it is taken: common practice, no source
OTHER_FLUID = "does not meet what the unit asks for; no share is counted"  # note of such a top-up
SAYS = ", says "  # stands in the reason of a reading that a person found wrong, before the name
METERS = {"mi": Fraction(1_609_344, 1000), "km": Fraction(1000)}


@dataclass(frozen=True, slots=True)
class Stand:
    """What a vehicle had run on a day, across all its instruments.

    distance_m   meters since the first instrument began, exact
    """

    on: date
    distance_m: Fraction
    figure: int
    unit: str
    instrument: int


def readings_of(actor: Actor, vehicle: Vehicle) -> QuerySet[OdometerReading]:
    """Every reading, those set aside too, oldest first."""
    return OdometerReading.objects.filter(vehicle=vehicle, vehicle__in=vehicles_of(actor)).order_by("read_at", "pk")


def services_of(actor: Actor, vehicle: Vehicle) -> QuerySet[ServiceRecord]:
    """Every service, those corrected later too, oldest first."""
    rows = ServiceRecord.objects.filter(vehicle=vehicle, vehicle__in=vehicles_of(actor))
    return rows.select_related("shop", "corrects").prefetch_related("corrected_by").order_by("done_on", "pk")


def laboratory_results_of(actor: Actor, vehicle: Vehicle) -> QuerySet[LaboratoryResult]:
    """Every laboratory result, the newest sample first; one that counts no more or was withdrawn stays readable."""
    rows = LaboratoryResult.objects.filter(vehicle=vehicle, vehicle__in=vehicles_of(actor))
    return rows.order_by("-sampled_on", "-pk")


def counting_result(results: Iterable[LaboratoryResult], last_job: date | None, on: date) -> LaboratoryResult | None:
    """The newest result that says something of the fluid that is in on a day; none: no sample since the last job.

    One that was withdrawn says nothing.

    last_job   the day of the last exchange or top-up. A sample of that very day is of the fluid before it
    """
    said = [row for row in results if row.withdrawn_at is None and row.sampled_on <= on]
    rows = [row for row in said if last_job is None or row.sampled_on > last_job]
    return max(rows, key=lambda row: (row.sampled_on, row.pk), default=None)


def much_water_in(vehicle: Vehicle) -> LaboratoryResult | None:
    """The counting laboratory result, where it lies above its limit. Two queries."""
    jobs = vehicle.services.filter(corrected_by=None).exclude(method=TOP_UP).order_by("-done_on")
    last = jobs.values_list("done_on", flat=True).first()
    row = counting_result(vehicle.laboratory_results.all(), last, date.max)
    return row if row and row.water_ppm > row.limit_ppm else None


def other_fluid_in(vehicle: Vehicle) -> ServiceRecord | None:
    """The newest top-up with another fluid than the unit asks for, where nothing was exchanged since. One query."""
    rows = vehicle.services.filter(corrected_by=None).order_by("done_on", "pk")
    since: ServiceRecord | None = None
    for row in rows:
        if row.method != TOP_UP:
            since = None
        elif row.note == OTHER_FLUID:
            since = row
    return since


def services_by_sheet(actor: Actor, unit_code: str) -> dict[int, int]:
    """How many services of the business were done by each version of a unit's sheet; corrected ones count once."""
    actor.must("unit sheet")
    rows = ServiceRecord.objects.filter(unit_code=unit_code, sheet_version__isnull=False, corrected_by__isnull=True)
    counted = rows.order_by().values_list("sheet_version").annotate(Count("pk"))
    return {version: count for version, count in counted if version is not None}


def changes_of(vehicle: Vehicle) -> list[OdometerChange]:
    """Every changed instrument, oldest first."""
    return list(vehicle.odometer_changes.order_by("on"))


def instrument_of(vehicle: Vehicle) -> int:
    """The number of the instrument that is in the vehicle now; the first is 1."""
    changed = vehicle.odometer_changes.order_by("-on").first()
    return changed.new_instrument if changed else 1


def unit_of_instrument(vehicle: Vehicle) -> str:
    """Whether the present instrument shows mi or km."""
    changed = vehicle.odometer_changes.order_by("-on").first()
    return changed.new_unit if changed else vehicle.distance_unit


def last_counted(vehicle: Vehicle, instrument: int | None = None) -> OdometerReading | None:
    """The newest reading that counts, of the present instrument unless another is asked for."""
    rows = vehicle.readings.filter(state="counted", instrument=instrument or instrument_of(vehicle))
    return rows.order_by("-read_on", "-figure").first()  # on one day the higher figure is the later one


def standing(reading: OdometerReading | None) -> OdometerReading | None:
    """The reading that stands in the place of this one: itself, or, once a person has found it wrong, the one meant.

    returns   of a reading set aside without another figure the newest that counts; an estimate stands as one
    """
    if reading is None or reading.state == "counted" or SAYS not in reading.reason:
        return reading
    counted = reading.vehicle.readings.filter(state="counted")
    meant = counted.filter(read_at=reading.read_at + BESIDE, source=reading.source).first()
    return meant or last_counted(reading.vehicle)


def distance_m(figure: int, unit: str, instrument: int, changes: list[OdometerChange]) -> Fraction:
    """Meters run when `instrument` showed `figure`: what earlier instruments ran and what this one has since."""
    before = Fraction(0)
    begins = Fraction(0)
    for change in changes:
        if change.new_instrument > instrument:
            break
        before += change.old_last_figure * METERS[change.old_unit] - begins
        begins = change.new_first_figure * METERS[change.new_unit]
    return before + figure * METERS[unit] - begins


def stands(readings: list[OdometerReading], changes: list[OdometerChange], *, until: date | None = None) -> list[Stand]:
    """The counted ones of `readings` (not after `until`) as distances across instruments, oldest first."""
    rows = [
        Stand(
            row.read_on, distance_m(row.figure, row.unit, row.instrument, changes), row.figure, row.unit, row.instrument
        )
        for row in readings
        if row.state == "counted" and (until is None or row.read_on <= until)
    ]
    return sorted(rows, key=lambda stand: (stand.on, stand.distance_m))
