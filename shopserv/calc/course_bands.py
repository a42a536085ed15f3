"""A course on a unit of which not everything is known for certain: levels and fresh share as bands.

A course is carried out by liters or weight, as planned for what is likely. So on a unit that is not as thought the same
liters lead to other levels. Levels move one way with each single value, so their ends stand at corners of the bands. So
does the share with the fill (of the same liters, more rest always leaves more old fluid); with sump and drain it need
not, so the insides of the bands are tried as well.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from fractions import Fraction
from itertools import product

from shopserv.calc.errors import OutOfRange
from shopserv.calc.measures import Real, exact
from shopserv.calc.rest import PlugRest, Rest, StirredRest
from shopserv.calc.stages import Add, Drain, Mix, Pump, Replay, Single, Stage, UnitLayout, singles, staged_exchange

MOST_TRIES = 1_000


@dataclass(frozen=True, slots=True)
class Band:
    """Lowest, likely and highest of a value; all alike where it is certain."""

    low: Fraction
    likely: Fraction
    high: Fraction

    @property
    def is_wide(self) -> bool:
        """Whether there is anything uncertain."""
        return self.low < self.high

    def points(self, inside: int) -> tuple[Fraction, ...]:
        """Both ends, the likely value, and so many in even steps between the ends."""
        step = (self.high - self.low) / (inside + 1)
        return tuple(
            dict.fromkeys((self.low, self.high, self.likely, *(self.low + step * n for n in range(1, inside + 1))))
        )


def band(low: Real, high: Real, likely: Real | None = None) -> Band:
    """A band; without a likely value its middle is taken.

    raises   OutOfRange where they do not stand in order
    """
    ends = exact(low), exact(high)
    middle = sum(ends) / 2 if likely is None else exact(likely)
    if not ends[0] <= middle <= ends[1]:
        raise OutOfRange(f"A band of {float(ends[0]):g}, {float(middle):g}, {float(ends[1]):g} is not in order.")
    return Band(ends[0], Fraction(middle), ends[1])


def certain(value: Real) -> Band:
    """A value that is taken as it is."""
    return band(value, value)


SURE = Band(Fraction(1), Fraction(1), Fraction(1))
FULL = Band(Fraction(0), Fraction(0), Fraction(0))


@dataclass(frozen=True, slots=True)
class UnitBands:
    """What is known of a unit.

    capacity_ml, sump_ml, pickup_ml   as in UnitLayout
    drained    what a drain lets out, as a share of what the stage says
    start_ml   level before the course, against full
    """

    capacity_ml: Band
    sump_ml: Band
    pickup_ml: Band
    drained: Band = SURE
    start_ml: Band = FULL

    @property
    def open(self) -> tuple[str, ...]:
        """The values that are not certain, by their names here."""
        return tuple(one.name for one in fields(self) if getattr(self, one.name).is_wide)


@dataclass(frozen=True, slots=True)
class LevelMarks:
    """Lines besides the pickup, mL against full; none: not known.

    dips_ml      above which turning parts dip with the engine running
    minimum_ml   below which the unit must not be driven, nor left
    """

    dips_ml: Real | None = None
    minimum_ml: Real | None = None


@dataclass(frozen=True, slots=True)
class Breach:
    """A line that a stage may cross.

    stage    number of the single stage, from 1
    line     pickup, dips or minimum
    by_ml    how far beyond the line at worst, above 0
    if_      the values that lead there, by their names in UnitBands; empty: also what is likely leads there
    """

    stage: int
    line: str
    by_ml: Fraction
    if_: Mapping[str, Fraction]


@dataclass(frozen=True, slots=True)
class ShareBand:
    """The one share of new fluid of a course on a unit: stirred where it is worst, plug flow where it is best.

    low, high               share, 0 to 1
    likely_low, likely_high the same for what is likely
    low_if, high_if         values of UnitBands that lead to the ends; of a certain unit none
    over                    values that are not certain, by their names in UnitBands; empty: stirred to plug alone
    is_at_corner            whether both ends were found where every value is at an end of its band
    tries                   how many units were replayed
    """

    low: float
    high: float
    likely_low: float
    likely_high: float
    low_if: Mapping[str, Fraction]
    high_if: Mapping[str, Fraction]
    over: tuple[str, ...]
    is_at_corner: bool
    tries: int


@dataclass(frozen=True, slots=True)
class BandedCourse:
    """What may come of a course.

    stages      single stages
    levels_ml   level after each of them
    share       of new fluid, over all that may be
    breaches    in order of the stages; of one stage and line the worst
    """

    stages: tuple[Single, ...]
    levels_ml: tuple[Band, ...]
    share: ShareBand
    breaches: tuple[Breach, ...]


def share_band(unit: UnitBands, stages: Sequence[Stage], *, inside: int = 3) -> ShareBand:
    """The share of new fluid that a course leaves on a unit, whatever of its bands turns out to be so.

    arguments and raises   as of `banded_course`
    source   mass balance, own model; never compared with a real unit
    check    sump of 3.8 L, pickup at -1.7 L: down to 0.3 L above it, six batches of 1.633 L, 1.4 L: of 8.6 L 0.8449
             stirred to 0.9426 plug flow; where the unit may hold down to 7.2 L, 0.8449 to 0.9559
    """
    return _share(_tried(unit, stages, inside))


def banded_course(
    unit: UnitBands, stages: Sequence[Stage], marks: LevelMarks = LevelMarks(), *, inside: int = 3
) -> BandedCourse:
    """Carry the bands of a unit through a course that is planned for what is likely and done by liters.

    stages    in order; a pumped stage takes out what it takes from the likely unit, and no more once it draws air
    inside    values tried within each band besides its ends, 0 or more
    raises    what `staged_exchange` raises for the likely unit; OutOfRange for too many tries
    source    mass balance, own model; never compared with a real unit
    check     three drains of 2.9 of 7.4 L, each 20 % more or less: 0.6946 to 0.8672 by the fill alone, 0.6665 to 0.8995
              with the drains (2.9 L poured back each time)
    """
    tried = _tried(unit, stages, inside)
    levels = zip(*(run.levels for run in tried.runs.values()), strict=True)
    return BandedCourse(
        stages=tuple(act.stage for act in tried.plan),
        levels_ml=tuple(
            Band(min(ends), middle, max(ends))
            for middle, ends in zip(tried.runs[tried.likely].levels, levels, strict=True)
        ),
        share=_share(tried),
        breaches=_breaches(tried, marks),
    )


@dataclass(frozen=True, slots=True)
class _Tried:
    """A course on every unit that was tried."""

    unit: UnitBands
    likely: _Unit
    plan: Sequence[_Act]
    runs: Mapping[_Unit, _Run]


def _tried(unit: UnitBands, stages: Sequence[Stage], inside: int) -> _Tried:
    likely = _Unit(**{one.name: getattr(unit, one.name).likely for one in fields(unit)})
    single = [one for stage in stages for one in singles(stage)]
    layout = UnitLayout(likely.capacity_ml, likely.sump_ml, likely.pickup_ml)
    plan = _planned(single, staged_exchange(layout, stages).levels_ml, likely.pickup_ml)
    return _Tried(unit, likely, plan, {one: _run(one, plan) for one in _units(unit, likely, inside)})


def _share(tried: _Tried) -> ShareBand:
    runs, base = tried.runs, tried.runs[tried.likely]
    low = min(runs, key=lambda one: runs[one].low)
    high = max(runs, key=lambda one: runs[one].high)
    return ShareBand(
        low=runs[low].low,
        high=runs[high].high,
        likely_low=base.low,
        likely_high=base.high,
        low_if=_told(low, tried.unit),
        high_if=_told(high, tried.unit),
        over=tried.unit.open,
        is_at_corner=all(_is_corner(tried.unit, one) for one in (low, high)),
        tries=len(runs),
    )


@dataclass(frozen=True, slots=True)
class _Unit:
    """One unit that may be."""

    capacity_ml: Fraction
    sump_ml: Fraction
    pickup_ml: Fraction
    drained: Fraction
    start_ml: Fraction

    @property
    def may_be(self) -> bool:
        return 0 < self.sump_ml <= self.capacity_ml and self.pickup_ml <= 0 <= self.sump_ml + self.pickup_ml


def _units(unit: UnitBands, likely: _Unit, inside: int) -> Iterator[_Unit]:
    """The likely unit, then every other that may be."""
    tries = math.prod(len(getattr(unit, one.name).points(max(inside, 0))) for one in fields(unit))
    if inside < 0 or tries > MOST_TRIES:
        raise OutOfRange(f"{inside} values inside each band make {tries} units to try; at most {MOST_TRIES}.")
    yield likely
    points = [getattr(unit, one.name).points(inside) for one in fields(unit)]
    for values in product(*points):
        one = _Unit(*values)
        if one.may_be and one != likely:
            yield one


@dataclass(frozen=True, slots=True)
class _Act:
    """A single stage by liters: what is poured in, what the pump takes out; what a drain drops to."""

    stage: Single
    poured_ml: Fraction = Fraction(0)
    out_ml: Fraction = Fraction(0)


def _planned(single: Sequence[Single], levels: Sequence[Fraction], pickup: Fraction) -> list[_Act]:
    acts, before = [], Fraction(0)
    for stage, level in zip(single, levels, strict=True):
        act = _Act(stage)
        if isinstance(stage, Add):
            act = _Act(stage, exact(stage.volume_ml))
        elif isinstance(stage, Pump):
            poured = exact(stage.add_ml)
            out = before + poured - pickup - exact(stage.stop_margin_ml)
            act = _Act(stage, poured, out) if out else act  # with nothing pumped nothing is poured, by definition
        acts.append(act)
        before = level
    return acts


@dataclass(frozen=True, slots=True)
class _Run:
    """What came of it.

    wanted   level that each stage would have brought, could the pump draw below its pickup
    """

    levels: tuple[Fraction, ...]
    wanted: tuple[Fraction, ...]
    low: float
    high: float


def _run(unit: _Unit, plan: Sequence[_Act]) -> _Run:
    rests: tuple[Rest, Rest] = (
        StirredRest(float(unit.capacity_ml - unit.sump_ml)),
        PlugRest(float(unit.capacity_ml - unit.sump_ml)),
    )
    stirred, plug = (Replay(unit.sump_ml, unit.pickup_ml, rest, unit.start_ml) for rest in rests)
    wanted = [_act(unit, stirred, act) for act in plan]
    for act in plan:
        _act(unit, plug, act)
    shares = 1 - stirred.mean_old(), 1 - plug.mean_old()
    return _Run(tuple(map(exact, stirred.levels)), tuple(map(exact, wanted)), min(shares), max(shares))


def _act(unit: _Unit, replay: Replay, act: _Act) -> Fraction:
    before, stage = replay.held - unit.sump_ml, act.stage
    full = before + act.poured_ml
    wanted = full - act.out_ml
    end = max(wanted, min(unit.pickup_ml, full))
    if isinstance(stage, Drain):
        replay.drain(max(exact(stage.to_ml) * unit.drained, -unit.sump_ml))
    elif isinstance(stage, Mix):
        replay.mix()
    elif end < full and replay.held > 0:
        replay.pump(act.poured_ml, end)
    else:
        replay.add(act.poured_ml)
    replay.levels.append(replay.held - unit.sump_ml)
    return wanted


def _is_corner(unit: UnitBands, one: _Unit) -> bool:
    return all(
        getattr(one, name.name) in (getattr(unit, name.name).low, getattr(unit, name.name).high)
        for name in fields(unit)
    )


def _told(one: _Unit, unit: UnitBands) -> dict[str, Fraction]:
    """The values of a unit that are not certain."""
    return {name: getattr(one, name) for name in unit.open}


def _crossed(unit: _Unit, marks: LevelMarks, single: Sequence[Single], run: _Run) -> dict[tuple[int, str], Fraction]:
    """How far each stage is beyond a line, by number and line."""
    found: dict[tuple[int, str], Fraction] = {}
    before = unit.start_ml
    for number, (stage, level, wanted) in enumerate(zip(single, run.levels, run.wanted, strict=True), 1):
        runs = isinstance(stage, Pump | Mix)
        beyond = {
            "pickup": unit.pickup_ml - min(before, wanted) if runs else 0,
            "dips": max(before, level) - exact(marks.dips_ml) if runs and marks.dips_ml is not None else 0,
        }
        if marks.minimum_ml is not None and (isinstance(stage, Mix) or number == len(single)):
            beyond["minimum"] = exact(marks.minimum_ml) - level
        found.update({(number, line): Fraction(by) for line, by in beyond.items() if by > 0})
        before = level
    return found


def _breaches(tried: _Tried, marks: LevelMarks) -> tuple[Breach, ...]:
    single = [act.stage for act in tried.plan]
    worst: dict[tuple[int, str], tuple[Fraction, _Unit]] = {}
    for one, run in tried.runs.items():
        for key, by in _crossed(one, marks, single, run).items():
            if key not in worst or by > worst[key][0]:
                worst[key] = by, one

    def by_of(one: _Unit, key: tuple[int, str]) -> Fraction:
        return _crossed(one, marks, single, _run(one, tried.plan)).get(key, Fraction(0))

    found = []
    for (number, line), (by, one) in sorted(worst.items()):
        if_ = {}
        for name, value in _told(one, tried.unit).items():
            back = replace(one, **{name: getattr(tried.likely, name)})
            if not back.may_be or by_of(back, (number, line)) < by:
                if_[name] = value
        found.append(Breach(number, line, by, if_))
    return tuple(found)
