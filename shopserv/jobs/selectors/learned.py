"""What the closed work of the house has shown: measured fills beside the unit sheet, needed beside sold time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction

from django.db.models import QuerySet

from shopserv.calc import learns
from shopserv.calc.errors import CalcError
from shopserv.catalog.models import FluidProduct, LaborOperation, Unit
from shopserv.catalog.price_list import PriceList
from shopserv.catalog.seen import sheet_values
from shopserv.catalog.sheets import WHAT, Value
from shopserv.common import clock
from shopserv.jobs import bay_events
from shopserv.jobs.models import BayEvent, LevelRecord, WorkOrder
from shopserv.shop.actors import Actor
from shopserv.shop.models import TrailEntry

NEWEST = 200  # closed work orders that are looked at: of one unit, of one shop, of the house
DRAINS = {"drain": "drain_ml", "drain_pan": "pan_ml"}  # step of the bay sheet -> what of the sheet its volume is
ANEW = ("pump",)  # a step that moves fluid out again: no fill can be told after it
HOLD, RESUME = "put on hold", "work resumed"
RULE = (
    "poured since the last drain until the level stood right, less what ran out again; at 20 °C; closed work orders "
    "whose level passed"
)


@dataclass(frozen=True, slots=True)
class Fills:
    """The measured fills of one value of the sheet, newest work first, beside what is printed."""

    what: str
    values: tuple[Fraction, ...]
    judged: learns.Judged


def measured_fills(actor: Actor, unit: Unit, printed: dict[str, Value]) -> list[Fills]:
    """The drained volumes of `unit` as the work of the whole business has shown them (B-14). Six queries.

    printed   the values of the sheet to compare with
    """
    actor.must("unit sheet")
    found = _shown(WorkOrder.objects.filter(facts__unit=unit.code))[unit.code]
    return [_fills(what, found[what], printed.get(what)) for what in DRAINS.values() if found[what] or what in printed]


def sheets_to_decide(actor: Actor) -> list[tuple[Unit, Fills]]:
    """The values of unit sheets that do not agree with what was measured, by unit. Nine queries."""
    actor.must("house rules")
    by_unit = _shown(WorkOrder.objects.all())
    units = list(Unit.objects.filter(code__in=by_unit).order_by("code"))
    sheets = sheet_values(units, clock.today(actor.house.time_zone))
    found = [
        (unit, _fills(what, values, sheets.get(unit.code, {}).get(what)))
        for unit in units
        for what, values in by_unit[unit.code].items()
    ]
    return [(unit, fills) for unit, fills in found if fills.judged.needs_decision]


def _shown(orders: QuerySet[WorkOrder]) -> dict[str, dict[str, list[Fraction]]]:
    """Code of the unit -> what of its sheet -> the volumes that the newest closed of `orders` have shown."""
    rows = orders.filter(state="closed", facts__kind="work").order_by("-pk")
    density = {one.code: Fraction(one.density_15_g_m3, 1000) for one in FluidProduct.objects.all()}
    found: dict[str, dict[str, list[Fraction]]] = defaultdict(lambda: defaultdict(list))
    for order in rows.prefetch_related("events__step", "steps", "level_records")[:NEWEST]:
        if fill := _fill(order, density):
            found[str(order.facts.get("unit", ""))][fill[0]].append(fill[1])
    return found


def _fills(what: str, values: Sequence[Fraction], value: Value | None) -> Fills:
    band = None if value is None or value.low is None or value.high is None else (value.low, value.high)
    source = value.source if value else ""
    judged = learns.against(values, band, what=WHAT[what].words, unit="mL", source=source, rule=RULE)
    return Fills(what, tuple(values), judged)


def _fill(order: WorkOrder, density: dict[str, Fraction]) -> tuple[str, Fraction] | None:
    """(what, mL) that a work order shows; none where its course cannot tell it."""
    steps = sorted(order.steps.all(), key=lambda step: step.order)
    fluids = order.facts.get("fluids", [])
    drains = [step for step in steps if step.code in DRAINS and step.state == "done"]
    level = max(order.level_records.all(), key=lambda record: record.attempt, default=None)
    if len(fluids) != 1 or not drains or level is None or not level.passes:
        return None
    last = drains[-1]
    after = [step for step in steps if step.order > last.order]
    if any(step.code in ANEW and step.state == "done" for step in after):
        return None
    events = [event for event in order.events.all() if event.step_id in {step.pk for step in after}]
    new = density.get(fluids[0]["code"])
    try:
        if new is None or any(event.is_from_paper for event in events):
            return None
        ml = learns.fill_to_level(bay_events.amounts(events), new, _level_c(level))
    except CalcError:  # nothing was poured, or more taken off than poured: no measure of a fill
        return None
    return DRAINS[last.code], ml


def _level_c(level: LevelRecord) -> Fraction:
    return Fraction(level.temp_mdegc, 1000)


@dataclass(frozen=True, slots=True)
class Operation:
    """One row of the price list: needed by sold time over its closed jobs. Nobody's name is in it."""

    words: str
    method: str
    units_pattern: str
    tenths: int
    learned: learns.Learned
    ratios: tuple[Fraction, ...]


@dataclass(frozen=True, slots=True)
class SoldNeeded:
    """left_out: why closed jobs were not counted, in words, with how many."""

    rows: tuple[Operation, ...]
    left_out: tuple[tuple[str, int], ...]
    looked_at: int


def sold_and_needed(actor: Actor) -> SoldNeeded:
    """Needed beside sold time of the shop's closed work, by row of the price list (B-20), the least sure last.

    Needed is the time from the first press in the bay to the last; holds are taken out, and so is every stretch longer
    than `learns.PAUSE_MIN` without a press.
    """
    actor.must("house rules")
    orders = list(
        WorkOrder.objects.filter(shop=actor.house, state="closed", facts__kind="work").order_by("-pk")[:NEWEST]
    )
    presses = _presses(orders)
    holds = _holds(orders)
    found: dict[tuple[str, str, str, int], list[Fraction]] = defaultdict(list)
    out: Counter[str] = Counter()
    labor = _Labor(clock.today(actor.house.time_zone))
    for order in orders:
        ratio = _ratio(order, presses.get(order.pk, []), holds.get(order.pk))
        operation = labor.of(order)
        if isinstance(ratio, str):
            out[ratio] += 1
        elif operation is None:
            out["sold by no row of the price list"] += 1
        else:
            found[(operation.operation, operation.method, operation.units_pattern, operation.tenths)].append(ratio)
    rows = [Operation(*key, learns.middle(ratios), tuple(ratios)) for key, ratios in found.items()]
    rows.sort(key=lambda row: (-row.learned.count, row.words, row.units_pattern))
    return SoldNeeded(tuple(rows), tuple(sorted(out.items())), len(orders))


class _Labor:
    """The row of the price list by which an order was sold; each unit's list is read once."""

    def __init__(self, day: date) -> None:
        self.lists = {unit.code: PriceList(unit, None, day) for unit in Unit.objects.all()}

    def of(self, order: WorkOrder) -> LaborOperation | None:
        """None where it was sold by none."""
        prices = self.lists.get(str(order.facts.get("unit", "")))
        return prices.labor(str(order.facts.get("method", ""))) if prices else None


def _ratio(
    order: WorkOrder, presses: Sequence[tuple[datetime, bool]], holds: list[tuple[datetime, datetime]] | None
) -> Fraction | str:
    """Needed by sold time of one order; why not, in words, where it cannot be told."""
    if order.facts.get("added") or order.facts.get("earlier"):
        return "with work added or another option on the way"
    if any(is_from_paper for _, is_from_paper in presses):
        return "typed in from paper: the times are those of typing"
    if holds is None:
        return "on hold with no beginning or end on the trail"
    try:
        return learns.ratio(learns.worked_time([at for at, _ in presses], holds).work, order.facts.get("tenths") or 0)
    except CalcError:
        return "without time at work, or without sold time"


def _presses(orders: Iterable[WorkOrder]) -> dict[int, list[tuple[datetime, bool]]]:
    """Of each order when its keys were pressed, by our clock: that of a tablet may be wrong by hours."""
    rows = BayEvent.objects.filter(work_order__in=[order.pk for order in orders])
    found: dict[int, list[tuple[datetime, bool]]] = defaultdict(list)
    for key, at, is_from_paper in rows.values_list("work_order_id", "received_at", "is_from_paper"):
        found[key].append((at, is_from_paper))
    return found


def _holds(orders: Iterable[WorkOrder]) -> dict[int, list[tuple[datetime, datetime]] | None]:
    """Of each order its holds from the trail; none where one has no beginning or no end."""
    keys = [str(order.pk) for order in orders]
    rows = TrailEntry.objects.filter(subject_kind="workorder", subject_key__in=keys, what__in=[HOLD, RESUME])
    found: dict[int, list[tuple[datetime, datetime]] | None] = {int(key): [] for key in keys}
    begun: dict[int, datetime] = {}
    for key, what, at in rows.order_by("pk").values_list("subject_key", "what", "at"):
        order, spans = int(key), found[int(key)]
        if what == HOLD:
            begun.setdefault(order, at)  # a second reason on the way does not begin it anew
        elif order in begun and spans is not None:
            spans.append((begun.pop(order), at))
        else:
            found[order] = None
    for order in begun:
        found[order] = None
    return found
