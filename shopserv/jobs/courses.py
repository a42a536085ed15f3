"""The fluid course of a method: its template filled from the unit sheet, replayed stage by stage. No tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from fractions import Fraction
from typing import Any, Protocol

from shopserv.calc import course_bands, errors, fluid
from shopserv.calc.money import half_up
from shopserv.common import formats

Stage = Mapping[str, Any]


class CannotPlan(ValueError):
    """A course that cannot be made or may not run; says why in one line."""


@dataclass(frozen=True, slots=True)
class Template:
    """How a method's default course is made.

    kind        drains, batches, one pump, sumps
    first       value of the sheet that is drained and poured back before anything else, or ""
    over_fill   house number poured over the fill by pumped methods, or ""
    """

    words: str
    kind: str
    first: str = ""
    over_fill: str = ""
    is_repeated: bool = False

    @property
    def is_exchange(self) -> bool:
        """Whether the second-look rule "exchanges" means it."""
        return self.kind in ("batches", "one pump")


METHODS: dict[str, Template] = {
    "single drain": Template("drain and fill", "drains", "drain_ml"),
    "repeated drain": Template("drain and fill, 3 rounds", "drains", "drain_ml", is_repeated=True),
    "line exchange": Template("cooler-line fluid exchange", "batches", "", "over_fill_ml"),
    "pan drop with filter": Template("pan removal with filter", "drains", "pan_ml"),
    "pan drop then line exchange": Template(
        "pan removal with filter, then cooler-line fluid exchange", "one pump", "pan_ml", "over_fill_after_pan_drop_ml"
    ),
    "standpipe drain then line exchange": Template(
        "drain, then cooler-line fluid exchange", "one pump", "drain_ml", "over_fill_ml"
    ),
    "line exchange with held-open thermostat": Template(
        "cooler-line fluid exchange, thermostat held open", "batches", "", "over_fill_ml"
    ),
    "warm-open line exchange": Template(
        "cooler-line fluid exchange, thermostat open by heat", "batches", "", "over_fill_ml"
    ),
    "separate sump service": Template("two-sump fluid service", "sumps", "drain_ml"),
}


def left_out(method: str) -> str:
    """What a method leaves in the unit, in words for the quote; empty where nothing is.

    source   common practice, no source: a drain does not reach converter and cooler, only the pan gives up the filter
    """
    template = METHODS[method]
    parts = [] if "pan" in template.first or template.kind == "sumps" else ["filter"]
    if template.kind == "drains":
        parts.append("fluid in converter and cooler")
    return "; ".join(parts)


@dataclass(frozen=True, slots=True)
class Sump:
    """One of several sumps of a unit."""

    name: str
    total_fill_ml: int
    drain_ml: int


@dataclass(frozen=True, slots=True)
class SheetFacts:
    """What a course needs of the unit sheet; none: not known.

    total_fill_ml         (low, high), equal where the sheet gives one figure
    names_electric_pump   whether the sheet gives the steps for an electric pump
    bands                 (low, high) of the other values that the sheet gives as a band; a course is made for their
                          low ends, the careful ones, and `unit_bands` has the whole of them
    """

    total_fill_ml: tuple[int, int] | None = None
    drain_ml: int | None = None
    pan_ml: int | None = None
    sump_ml: int | None = None
    pickup_below_full_ml: int | None = None
    dips_above_full_ml: int | None = None
    sumps: tuple[Sump, ...] = ()
    names_electric_pump: bool = False
    bands: Mapping[str, tuple[int, int]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HouseNumbers:
    """House numbers of the course templates, mL and counts."""

    level_allowance_ml: int
    stop_margin_ml: int
    over_fill_ml: int
    over_fill_after_pan_drop_ml: int
    batch_above_full_ml: int
    rounds: int


@dataclass(frozen=True, slots=True)
class Course:
    """A course that was replayed.

    stages      dicts of op (drain to_ml; add volume_ml; pump add_ml, stop_margin_ml; mix), for sumps with their name
    levels_ml   level against full after each stage
    new_ml      new fluid needed, the allowance poured at the level included
    new_by_sump name of the sump -> mL, where there is more than one
    fraction_low_ppm, fraction_high_ppm   the share of new fluid: stirred where the unit is worst for it, plug where
                it is best, over all that `over` names; none where the sheet does not allow to say
    too_high    stages at which turning parts dip with the engine running, by name
    over        values that the share runs over, by their names in UnitBands; none: as replayed at this fill alone
    """

    method: str
    kind: str
    fill_ml: int | None
    stages: tuple[dict[str, Any], ...]
    levels_ml: tuple[int, ...]
    new_ml: int
    fraction_low_ppm: int | None
    fraction_high_ppm: int | None
    new_by_sump: dict[str, int] = field(default_factory=dict)
    too_high: tuple[str, ...] = ()
    is_edited: bool = False
    over: tuple[str, ...] | None = None

    def as_dict(self) -> dict[str, Any]:
        """As it is kept with an option."""
        over = None if self.over is None else list(self.over)
        return {**asdict(self), "stages": list(self.stages), "levels_ml": list(self.levels_ml), "over": over}


BANDED = ("drain_ml", "sump_ml", "pickup_below_full_ml")


class SheetValue(Protocol):
    """A value of a unit sheet: whole numbers, equal unless it is a band, or a text."""

    @property
    def low(self) -> int | None: ...
    @property
    def high(self) -> int | None: ...
    @property
    def text(self) -> str: ...


def facts_of(values: Mapping[str, SheetValue], sumps: Sequence[Mapping[str, Any]]) -> SheetFacts:
    """The facts of a sheet from its values by name and its sumps {name, total_fill_ml, drain_ml}."""

    def low(what: str) -> int | None:
        return values[what].low if what in values else None

    fill = values.get("total_fill_ml")
    return SheetFacts(
        total_fill_ml=(fill.low, fill.high) if fill and fill.low is not None and fill.high is not None else None,
        drain_ml=low("drain_ml"),
        pan_ml=low("pan_ml"),
        sump_ml=low("sump_ml"),
        pickup_below_full_ml=low("pickup_below_full_ml"),
        dips_above_full_ml=low("dips_above_full_ml"),
        names_electric_pump="electric_pump" in values and values["electric_pump"].text == "yes",
        sumps=tuple(Sump(row["name"], row["total_fill_ml"], row["drain_ml"]) for row in sumps),
        bands={what: ends for what in BANDED if what in values and (ends := _band(values[what]))},
    )


def facts_from(kept: Mapping[str, Any]) -> SheetFacts:
    """The facts as they were kept with a version (`dataclasses.asdict`)."""
    fill = kept["total_fill_ml"]
    return SheetFacts(
        **{
            **kept,
            "total_fill_ml": (fill[0], fill[1]) if fill else None,
            "sumps": tuple(Sump(**row) for row in kept["sumps"]),
        }
    )


def _band(value: SheetValue) -> tuple[int, int] | None:
    if value.low is None or value.high is None or value.low == value.high:
        return None
    return value.low, value.high


def fills(facts: SheetFacts) -> list[int | None]:
    """The fills that a course has to be made for: one, two ends of a band, or none where nothing is known."""
    if facts.total_fill_ml is None:
        return [None]
    return [*sorted({*facts.total_fill_ml})]


def default_course(method: str, facts: SheetFacts, house: HouseNumbers, fill_ml: int | None) -> Course:
    """The course of the method's template.

    fill_ml   of a band the low or the high end; none where it is not known (drains need none)
    raises    CannotPlan naming the value of the sheet that is missing
    source    common practice, no source; house numbers invented (demonstration scenario)
    check     7,400 mL unit: line exchange 10,000 mL in 5 batches of 1,740 mL; drains 3,200 and 9,000 mL
    """
    template = METHODS[method]
    if template.kind == "sumps":
        return _sumps(method, facts, house)
    first = _known(getattr(facts, template.first), template.first) if template.first else 0
    if template.kind == "drains":
        rounds = house.rounds if template.is_repeated else 1
        stages = _rounds(first, rounds)
        return banded(replayed(method, stages, facts, fill_ml, rounds * first + house.level_allowance_ml), facts)
    low = _known(facts.pickup_below_full_ml, "pickup_below_full_ml") - house.stop_margin_ml
    new = _known(fill_ml, "total_fill_ml") + getattr(house, template.over_fill)
    rest = new - first - low
    stages = _drain(first) if first else []
    pump = {"op": "pump", "add_ml": 0, "stop_margin_ml": house.stop_margin_ml}
    if template.kind == "one pump":
        stages.append({**pump, "add_ml": rest})
    else:
        stages.append(dict(pump))
        for poured in _batches(rest, low + house.batch_above_full_ml):
            stages += [{"op": "add", "volume_ml": poured}, dict(pump)]
    stages.append({"op": "add", "volume_ml": low})
    return banded(replayed(method, stages, facts, fill_ml, new), facts)


def replayed(
    method: str,
    stages: Sequence[Stage],
    facts: SheetFacts,
    fill_ml: int | None,
    new_ml: int,
    *,
    is_edited: bool = False,
) -> Course:
    """A course of these stages with its levels, and its share of new fluid at this fill alone; `banded` has the whole.

    raises   CannotPlan where a stage cannot run or lets the pump draw air, with the stage named
    """
    template = METHODS[method]
    rows = tuple(dict(stage) for stage in stages)
    if fill_ml is None or facts.sump_ml is None:
        first = next((-row["to_ml"] for row in rows if row["op"] == "drain"), 0)
        return _drains_of_unknown_fill(method, rows, facts, new_ml, first, is_edited)
    pickup = facts.pickup_below_full_ml
    layout = fluid.UnitLayout(fill_ml, facts.sump_ml, -(pickup if pickup is not None else facts.sump_ml))
    try:
        run = fluid.staged_exchange(layout, [stage_of(row) for row in rows])
    except errors.CalcError as cause:
        raise _cannot_run(method, rows, layout, pickup, cause) from cause
    levels = tuple(int(level) for level in run.levels_ml)
    stirred, plug = ppm(run.fresh_stirred), ppm(run.fresh_plug)
    _refuse_air(method, rows, levels, pickup)
    return Course(
        method,
        template.kind,
        fill_ml,
        rows,
        levels,
        new_ml,
        min(stirred, plug),
        max(stirred, plug),
        too_high=_too_high(rows, levels, facts.dips_above_full_ml),
        is_edited=is_edited,
    )


def _cannot_run(
    method: str, rows: Sequence[Stage], layout: fluid.UnitLayout, pickup: int | None, cause: errors.CalcError
) -> CannotPlan:
    """Which stage cannot run and why; one before it that lets the pump draw air is named first."""
    levels: list[int] = []
    for number, row in enumerate(rows, start=1):
        try:
            run = fluid.staged_exchange(layout, [stage_of(one) for one in rows[:number]])
            levels = [int(level) for level in run.levels_ml]
        except errors.BadUnitLayout:
            break
        except errors.CalcError as own:
            try:
                _refuse_air(method, rows[: number - 1], levels, pickup)
            except CannotPlan as air:
                return air
            return CannotPlan(f"{method}: stage {number} ({STAGE_WORDS[row['op']]}) cannot run: {_why(row, own)}")
    return CannotPlan(f"{method}: {str(cause).removesuffix('.')}")


STAGE_WORDS = {"drain": "drain", "add": "pour", "pump": "pump", "mix": "warm run"}


def _why(row: Stage, cause: errors.CalcError) -> str:
    """Why a stage cannot run, in the words and volumes of the pages."""
    if isinstance(cause, errors.DrainBelowEmpty):
        return f"{formats.volume(-row['to_ml'], 'us')} below full is below the bottom of the sump"
    return str(cause).removesuffix(".")


def edited_course(
    method: str, stages: Sequence[Stage], facts: SheetFacts, house: HouseNumbers, fill_ml: int | None
) -> Course:
    """A course that a person has changed: what is poured is what its stages say, and the allowance of drains."""
    poured = sum(row.get("volume_ml", 0) + row.get("add_ml", 0) for row in stages)
    allowance = house.level_allowance_ml if METHODS[method].kind == "drains" else 0
    if any(row.get("volume_ml", 0) < 0 or row.get("add_ml", 0) < 0 for row in stages):
        raise CannotPlan(f"{method}: a stage pours less than nothing")
    return banded(replayed(method, stages, facts, fill_ml, poured + allowance, is_edited=True), facts)


def banded(course: Course, facts: SheetFacts, off: Fraction = Fraction(0)) -> Course:
    """The course with its one share of new fluid: over all that the unit sheet leaves open, done by liters.

    off   by which share fill and drains may be more or less besides, 0 for none
    """
    if course.kind == "sumps":
        return course
    unit = unit_bands(course, facts, off)
    if unit is None:
        is_wide = facts.total_fill_ml is not None and len({*facts.total_fill_ml}) > 1
        return replace(course, over=("capacity_ml",) if is_wide else ())
    if not unit.open and not course.over:  # as it was replayed
        return replace(course, over=())
    found = course_bands.share_band(unit, [stage_of(row) for row in course.stages])
    return replace(course, fraction_low_ppm=ppm(found.low), fraction_high_ppm=ppm(found.high), over=found.over)


def unit_bands(course: Course, facts: SheetFacts, off: Fraction = Fraction(0)) -> course_bands.UnitBands | None:
    """What the unit of a course may be by its sheet, fill and drains `off` more or less besides.

    returns   none where the course was not replayed on a unit of known fill
    """
    if course.fill_ml is None or facts.sump_ml is None or course.kind == "sumps":
        return None
    low, high = facts.total_fill_ml or (course.fill_ml, course.fill_ml)
    pickup = facts.pickup_below_full_ml if facts.pickup_below_full_ml is not None else facts.sump_ml
    sumps = facts.bands.get("sump_ml", (facts.sump_ml, facts.sump_ml))
    pickups = facts.bands.get("pickup_below_full_ml", (pickup, pickup))
    drains = facts.bands.get("drain_ml", (1, 1))
    return course_bands.UnitBands(
        capacity_ml=course_bands.band(low * (1 - off), high * (1 + off), course.fill_ml),
        sump_ml=course_bands.band(*sumps, facts.sump_ml),
        pickup_ml=course_bands.band(-pickups[1], -pickups[0], -pickup),
        drained=course_bands.band(1 - off, Fraction(drains[1], drains[0]) * (1 + off), 1),
    )


def why_not_taken(course: Course, facts: SheetFacts, house: HouseNumbers) -> str:
    """Why a course that can run may not be taken; empty: it may.

    No stage stands higher above full than the whole unit holds, engine on or off. Where the sheet does not say at which
    height turning parts dip, nothing runs higher than the house's own batches do; where it does, it is warned of.
    At its end the unit is full, within what the house pours or lets out at the level.

    source   common practice, no source; house numbers invented (demonstration scenario)
    """
    before = 0
    for number, (row, level) in enumerate(zip(course.stages, course.levels_ml, strict=True), start=1):
        high = max(before, level)
        if course.fill_ml is not None and level > course.fill_ml:
            return (
                f"{course.method}: at stage {number} the fluid stands {formats.volume(level, 'us')} above full, and "
                f"the whole transmission holds {formats.volume(course.fill_ml, 'us')}: it would run out of the vent. "
                "Pour less at once"
            )
        runs = row["op"] in ("pump", "mix")
        if runs and facts.dips_above_full_ml is None and high > house.batch_above_full_ml:
            return (
                f"{course.method}: at stage {number} the engine runs {formats.volume(high, 'us')} above full; "
                f"the height at which turning parts dip is not on the unit sheet, so no more than "
                f"{formats.volume(house.batch_above_full_ml, 'us')} above full may run"
            )
        before = level
    off = before
    if abs(off) > house.level_allowance_ml:
        side = "above" if off > 0 else "below"
        return (
            f"{course.method}: it ends {formats.volume(abs(off), 'us')} {side} full; a course ends at full, within "
            f"{formats.volume(house.level_allowance_ml, 'us')}: add a stage or change the last amount"
        )
    return ""


def _known(value: int | None, what: str) -> int:
    if not value:
        raise CannotPlan(f"the unit sheet does not give “{what.removesuffix('_ml').replace('_', ' ')}”")
    return value


def _drain(ml: int) -> list[dict[str, Any]]:
    return [{"op": "drain", "to_ml": -ml}, {"op": "add", "volume_ml": ml}]


def _batches(rest: int, most: int) -> list[int]:
    count = -(-rest // most)
    each = rest // count
    return [each] * (count - 1) + [rest - each * (count - 1)]


def _sumps(method: str, facts: SheetFacts, house: HouseNumbers) -> Course:
    if not facts.sumps:
        raise CannotPlan("the unit sheet lists no sumps")
    rows = [{**row, "sump": sump.name} for sump in facts.sumps for row in _drain(sump.drain_ml)]
    shares = [ppm(Fraction(sump.drain_ml, sump.total_fill_ml)) for sump in facts.sumps]
    needed = {sump.name: sump.drain_ml + house.level_allowance_ml for sump in facts.sumps}
    levels = tuple(level for sump in facts.sumps for level in (-sump.drain_ml, 0))
    total = sum(sump.total_fill_ml for sump in facts.sumps)
    new = sum(needed.values())
    return Course(method, "sumps", total, tuple(rows), levels, new, min(shares), max(shares), needed, over=("sumps",))


def _drains_of_unknown_fill(
    method: str, rows: tuple[dict[str, Any], ...], facts: SheetFacts, new_ml: int, first: int, is_edited: bool
) -> Course:
    """Drains need no fill; the share is a band where the fill is one, and cannot be said where it is unknown."""
    if any(row["op"] == "pump" for row in rows):
        raise CannotPlan(f"{method}: the unit sheet gives no fill or no sump")
    rounds = sum(row["op"] == "drain" for row in rows)
    shares: list[int | None] = [None, None]
    if facts.total_fill_ml:
        shares = [ppm(1 - (1 - Fraction(first, fill)) ** rounds) for fill in reversed(facts.total_fill_ml)]
    levels: list[int] = []
    for row in rows:
        before = levels[-1] if levels else 0
        levels.append(min(before, row["to_ml"]) if row["op"] == "drain" else before + row.get("volume_ml", 0))
    return Course(method, "drains", None, rows, tuple(levels), new_ml, shares[0], shares[1], is_edited=is_edited)


def stage_of(row: Stage) -> fluid.Stage:
    """A stage as the calculation takes it; raises CannotPlan for one that there is not."""
    if row["op"] == "drain":
        return fluid.Drain(row["to_ml"])
    if row["op"] == "add":
        return fluid.Add(row["volume_ml"])
    if row["op"] == "pump":
        return fluid.Pump(row.get("add_ml", 0), row.get("stop_margin_ml", 0))
    if row["op"] == "mix":
        return fluid.Mix()
    raise CannotPlan(f"there is no stage “{row['op']}”")


def _refuse_air(method: str, rows: Sequence[Stage], levels: Sequence[int], pickup: int | None) -> None:
    before = 0
    for number, (row, level) in enumerate(zip(rows, levels, strict=True), start=1):
        if row["op"] in ("pump", "mix") and pickup is not None and min(before, level) < -pickup:
            raise CannotPlan(f"{method}: stage {number} ({STAGE_WORDS[row['op']]}) runs the engine below the pickup")
        before = level


def _too_high(rows: Sequence[Stage], levels: Sequence[int], dips: int | None) -> tuple[str, ...]:
    found, before = [], 0
    for row, level in zip(rows, levels, strict=True):
        if row["op"] in ("pump", "mix") and dips is not None and max(before, level) > dips:
            liters = f" {row['add_ml'] / 1000:g}" if row.get("add_ml") else ""
            found.append(f"{row['op']}{liters}")
        before = level
    return tuple(found)


def ppm(share: float | Fraction) -> int:
    numerator, denominator = share.as_integer_ratio()
    return min(1_000_000, max(0, half_up(numerator * 1_000_000, denominator)))


def other_orders(
    course: Course, facts: SheetFacts, house: HouseNumbers, off: Fraction = Fraction(0)
) -> tuple[tuple[str, Course | str], ...]:
    """The same new fluid in other orders, or why an order cannot run; for drains other numbers of rounds.

    off       as of `banded`
    returns   (name of the order, course or reason), at most three, the best lower share first
    """
    if course.kind == "sumps":
        return ()
    found: list[tuple[str, Course | str]] = []
    for name, stages, new_ml in _orders(course, facts, house):
        if [dict(stage) for stage in course.stages] == stages:
            continue
        try:
            other = banded(replayed(course.method, stages, facts, course.fill_ml, new_ml, is_edited=True), facts, off)
            found.append((name, why_not_taken(other, facts, house) or other))
        except CannotPlan as cause:
            found.append((name, str(cause)))
    found.sort(key=lambda row: -(row[1].fraction_low_ppm or 0) if isinstance(row[1], Course) else 1)
    return tuple(found[:3])


def _orders(course: Course, facts: SheetFacts, house: HouseNumbers) -> list[tuple[str, list[dict[str, Any]], int]]:
    if course.kind == "drains":
        first = max((-stage["to_ml"] for stage in course.stages if stage["op"] == "drain"), default=0)
        return [
            (
                f"{rounds} round{'s' if rounds > 1 else ''}",
                _rounds(first, rounds),
                rounds * first + house.level_allowance_ml,
            )
            for rounds in (1, 2, 3, 4)
            if first
        ]
    low = (facts.pickup_below_full_ml or 0) - house.stop_margin_ml
    pump = {"op": "pump", "add_ml": 0, "stop_margin_ml": house.stop_margin_ml}
    last = {"op": "add", "volume_ml": low}
    rest = course.new_ml - low
    over = min(facts.sump_ml or rest, rest // 2)
    rows: list[tuple[str, list[dict[str, Any]], int]] = [
        ("one pour while it pumps", [{**pump, "add_ml": rest}, last], course.new_ml),
        ("overfill first", [{"op": "add", "volume_ml": over}, {**pump, "add_ml": rest - over}, last], course.new_ml),
    ]
    batches = [dict(pump)]
    for poured in _batches(rest, low + house.batch_above_full_ml):
        batches += [{"op": "add", "volume_ml": poured}, dict(pump)]
    rows.append(("pump down, then batches", [*batches, last], course.new_ml))
    drained = facts.drain_ml or 0
    if drained:
        stages = [*_drain(drained), {**pump, "add_ml": rest - drained}, last]
        rows.append(("drain first, then one pump", stages, course.new_ml))
    return rows


def _rounds(first: int, rounds: int) -> list[dict[str, Any]]:
    stages: list[dict[str, Any]] = []
    for count in range(rounds):
        stages += [{"op": "mix"}] if count else []
        stages += _drain(first)
    return stages
