"""What a forecast needs of many vehicles, read in a fixed number of queries however many they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc.readings import Verdict
from shopserv.catalog.models import FluidProduct, SheetValue, UnitSheet
from shopserv.logbook.doubts import judged
from shopserv.logbook.models import LaboratoryResult, OdometerChange, OdometerReading, ServiceRecord
from shopserv.logbook.selectors import METERS, OTHER_FLUID, TOP_UP, counting_result, distance_m
from shopserv.registry.models import Identification, KeeperRecord, UsePattern, Vehicle
from shopserv.registry.selectors import is_superseded
from shopserv.shop.models import Shop


@dataclass(slots=True)
class Done:
    """A service as the fluid's age needs it: the day, the distance run (exact, in the vehicle's unit), the share."""

    on: date
    distance: Fraction
    fraction: Fraction
    fluid_is_known: bool


@dataclass(frozen=True, slots=True)
class Doubted:
    """A counted reading that is likely wrong; distance in the vehicle's unit."""

    on: date
    distance: Fraction
    shown: str
    verdict: Verdict


@dataclass(slots=True)
class Facts:
    """All that is known of one vehicle for its forecast, as plain values.

    base_distance    the unit's interval in the vehicle's own unit of distance, exact; none: not known
    readings         (day, distance run in that unit), oldest first, counted ones alone
    doubt            what makes the unit or the record doubtful, in words; empty: nothing
    unexplained      readings set aside of which nobody can tell whether they are wrong
    doubted          counted readings more likely wrong than right, left out of `readings` until a person decides
    water            what a laboratory found in the fluid that is in now; none: the estimate of moisture counts
    """

    vehicle: Vehicle
    keeper_pk: int | None = None
    shop_pk: int = 0
    unit_code: str = ""
    base_distance: Fraction | None = None
    base_months: int | None = None
    use: UsePattern | None = None
    readings: list[tuple[date, Fraction]] = field(default_factory=list)
    jobs: list[Done] = field(default_factory=list)
    doubt: str = ""
    unexplained: int = 0
    doubted: list[Doubted] = field(default_factory=list)
    water: LaboratoryResult | None = None

    @property
    def unit(self) -> str:
        """mi or km: the unit that the vehicle is kept in."""
        return self.vehicle.distance_unit


def facts_of(vehicles: Sequence[Vehicle], *, on: date) -> list[Facts]:
    """What was known of each of `vehicles` on a day, in their order; eleven queries."""
    keys = [vehicle.pk for vehicle in vehicles]
    changes = _grouped(OdometerChange.objects.filter(vehicle__in=keys, on__lte=on).order_by("on"))
    readings = _grouped(OdometerReading.objects.filter(vehicle__in=keys, read_on__lte=on).order_by("read_at", "pk"))
    services = _grouped(
        ServiceRecord.objects.filter(vehicle__in=keys, done_on__lte=on, corrected_by=None).order_by("done_on", "pk")
    )
    results = _grouped(LaboratoryResult.objects.filter(vehicle__in=keys, sampled_on__lte=on).order_by("pk"))
    uses = _newest(UsePattern.objects.filter(vehicle__in=keys, from_on__lte=on).order_by("from_on"))
    keepers = _newest(KeeperRecord.objects.filter(vehicle__in=keys, from_on__lte=on).order_by("from_on"))
    units = _newest(
        Identification.objects.filter(vehicle__in=keys, state__in=["counted", "disputed"]).select_related(
            "unit__successor"
        )
    )
    intervals = _intervals({row.unit_id for row in units.values()}, on)
    # A vehicle that no shop has seen stands on the list of the first one rather than on none.
    first_shop = Shop.objects.order_by("pk").values_list("pk", flat=True)[0]
    products = set(FluidProduct.objects.values_list("code", flat=True))
    found = []
    for vehicle in vehicles:
        facts = Facts(vehicle, use=uses.get(vehicle.pk))
        keeper = keepers.get(vehicle.pk)
        facts.keeper_pk = keeper.customer_id if keeper else None
        _add_unit(facts, units.get(vehicle.pk), intervals)
        _add_readings(facts, readings[vehicle.pk], changes[vehicle.pk])
        _add_jobs(facts, services[vehicle.pk], changes[vehicle.pk], products)
        last = max((row.done_on for row in services[vehicle.pk] if row.method != TOP_UP), default=None)
        facts.water = counting_result(results[vehicle.pk], last, on)
        facts.shop_pk = _seen_last(readings[vehicle.pk], services[vehicle.pk]) or vehicle.first_shop_id or first_shop
        found.append(facts)
    return found


def _grouped(rows: Iterable[Any]) -> dict[int, list[Any]]:
    groups: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        groups[row.vehicle_id].append(row)
    return groups


def _newest(rows: Iterable[Any]) -> dict[int, Any]:
    return {row.vehicle_id: row for row in rows}


def _intervals(unit_keys: set[int], on: date) -> dict[int, dict[str, int]]:
    """interval_m and interval_months of each unit by the sheet in force on the day."""
    sheets = UnitSheet.objects.filter(unit__in=unit_keys, state="in force", from_on__lte=on).order_by("from_on")
    in_force = {sheet.unit_id: sheet.pk for sheet in sheets}
    values = SheetValue.objects.filter(sheet__in=in_force.values(), what__in=["interval_m", "interval_months"])
    by_sheet: dict[int, dict[str, int]] = defaultdict(dict)
    for sheet, what, low in values.values_list("sheet_id", "what", "low"):
        if low is not None:
            by_sheet[sheet][what] = low
    return {unit: by_sheet[sheet] for unit, sheet in in_force.items()}


def _add_unit(facts: Facts, row: Identification | None, intervals: dict[int, dict[str, int]]) -> None:
    vehicle = facts.vehicle
    if vehicle.is_disputed:
        facts.doubt = "a second record of a vehicle on file"
    if row is None:
        return
    facts.unit_code = row.unit.code
    known = intervals.get(row.unit_id, {})
    if "interval_m" in known:
        facts.base_distance = known["interval_m"] / METERS[facts.unit]
    facts.base_months = known.get("interval_months")
    if row.state == "disputed":
        facts.doubt = f"the unit is in doubt: {row.unit}"
    elif row.grade != "read from tag" and is_superseded(row, vehicle.build_month):
        successor = row.unit.successor
        facts.doubt = (
            f"built {vehicle.build_month}: {successor} follows {row.unit} from {row.unit.successor_from_build}"
        )


def _add_readings(facts: Facts, rows: list[OdometerReading], changes: list[OdometerChange]) -> None:
    per = METERS[facts.unit]
    counted = [row for row in rows if row.state == "counted"]
    for row, verdict in zip(counted, judged(counted, changes, facts.unit), strict=True):
        distance = distance_m(row.figure, row.unit, row.instrument, changes) / per
        if verdict.is_doubted:
            facts.doubted.append(Doubted(row.read_on, distance, str(row), verdict))
        else:
            facts.readings.append((row.read_on, distance))
    facts.unexplained += sum("cannot tell" in row.reason for row in rows if row.state != "counted")
    facts.readings.sort()


def _add_jobs(facts: Facts, rows: list[ServiceRecord], changes: list[OdometerChange], products: set[str]) -> None:
    per = METERS[facts.unit]
    for row in rows:
        if row.figure is None or row.note == OTHER_FLUID:  # another fluid renews nothing
            continue
        # The lower share counts, as in the quote: the vehicle comes back rather early.
        share = Fraction(row.fraction_low_ppm, 1_000_000)
        known = all(code.strip() in products for code in row.fluid_code.split("+"))
        run = distance_m(row.figure, row.unit, row.instrument, changes) / per
        facts.jobs.append(Done(row.done_on, run, share, known))


def _seen_last(readings: list[OdometerReading], services: list[ServiceRecord]) -> int | None:
    seen = [(row.read_on, row.shop_id) for row in readings if row.shop_id]
    seen += [(row.done_on, row.shop_id) for row in services if row.shop_id]
    return max(seen)[1] if seen else None
