"""The staged exchange: a stirred sump, a rest that is always full, and what each stage does to both.

The rest is followed in two variants, stirred and plug flow; the two fresh shares together are the band to show. The
model has never been compared with a real unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.errors import BadUnitLayout, DrainBelowEmpty, OutOfRange, PumpCannotReach
from shopserv.calc.measures import Real, lean
from shopserv.calc.rest import PlugRest, Rest, StirredRest, Stream


@dataclass(frozen=True, slots=True)
class Add:
    """New fluid into the sump, mixed at once."""

    volume_ml: Real


@dataclass(frozen=True, slots=True)
class Drain:
    """Through standpipe or drain hole, down to a level against full (negative: below)."""

    to_ml: Real


@dataclass(frozen=True, slots=True)
class Pump:
    """The engine runs while `add_ml` is poured; it ends at `stop_margin_ml` above the pickup level."""

    add_ml: Real = 0
    stop_margin_ml: Real = 0


@dataclass(frozen=True, slots=True)
class Batches:
    """`count` times: add the volume, then pump down to the margin."""

    count: int
    volume_ml: Real
    stop_margin_ml: Real = 0


@dataclass(frozen=True, slots=True)
class Mix:
    """Driven until everything has one composition."""


Stage = Add | Drain | Pump | Batches | Mix


@dataclass(frozen=True, slots=True)
class UnitLayout:
    """Where the fluid of a unit stands.

    dry_capacity_ml   all fluid with the sump at full
    sump_capacity_ml  the part of it that stands in the sump at full
    pickup_level_ml   level of the sump, as volume against full (0 or negative), at which the pump draws air
    """

    dry_capacity_ml: Real
    sump_capacity_ml: Real
    pickup_level_ml: Real


@dataclass(frozen=True, slots=True)
class StagedExchange:
    """What came of the stages.

    levels_ml       level against full after each single stage
    new_used_ml     new fluid poured
    over_at_end_ml  level after the last stage (negative: below full)
    removed_ml      drained plus pumped
    fresh_stirred, fresh_plug   share of new fluid at the end, 0 to 1, in the two variants
    """

    levels_ml: tuple[Fraction, ...]
    new_used_ml: Fraction
    over_at_end_ml: Fraction
    removed_ml: Fraction
    fresh_stirred: float
    fresh_plug: float


def staged_exchange(layout: UnitLayout, stages: Sequence[Stage]) -> StagedExchange:
    """Replay the stages on a unit with level 0 and all fluid old.

    layout    see UnitLayout
    stages    in order; a batch counts as two single stages
    returns   levels, volumes, and the fresh share in both variants
    raises    BadUnitLayout; OutOfRange for a negative volume, margin or count; DrainBelowEmpty, PumpCannotReach
    source    mass balance, own model; never compared with a real unit
    check     7.4 L with a sump of 3.4 L, pickup at -1.6 L; 3.4 L added, 3.2 L pumped through, 3.4 L added:
              0.7803 stirred, 0.8297 plug
    """
    capacity, sump, pickup = (
        lean(one) for one in (layout.dry_capacity_ml, layout.sump_capacity_ml, layout.pickup_level_ml)
    )
    if not (capacity > 0 and 0 < sump <= capacity and pickup <= 0 and sump + pickup >= 0):
        raise BadUnitLayout(
            f"A unit of {float(capacity):g} mL cannot have a sump of {float(sump):g} mL and a pickup at "
            f"{float(pickup):g} mL: the sump is part of the unit, the pickup stands in the sump."
        )
    single = [one for stage in stages for one in singles(stage)]
    stirred = Replay(sump, pickup, StirredRest(float(capacity - sump)))
    plug = Replay(sump, pickup, PlugRest(float(capacity - sump)))
    for one in single:
        stirred.run(one)
        plug.run(one)
    return StagedExchange(
        levels_ml=tuple(map(Fraction, stirred.levels)),
        new_used_ml=Fraction(stirred.new_used),
        over_at_end_ml=Fraction(stirred.held - sump),
        removed_ml=Fraction(stirred.removed),
        fresh_stirred=1 - stirred.mean_old(),
        fresh_plug=1 - plug.mean_old(),
    )


Single = Add | Drain | Pump | Mix
Exact = Fraction | int


def singles(stage: Stage) -> list[Single]:
    """A stage as single ones: a batch is an add and a pump."""
    if not isinstance(stage, Batches):
        return [stage]
    if stage.count < 0:
        raise OutOfRange(f"{stage.count} batches cannot be run; it must be 0 or more.")
    return [Add(stage.volume_ml), Pump(0, stage.stop_margin_ml)] * stage.count


class Replay:
    """The unit while the stages run, in one of the two variants."""

    def __init__(self, sump: Exact, pickup: Exact, rest: Rest, start: Exact = 0) -> None:
        self.sump, self.pickup, self.rest = sump, pickup, rest
        self.held: Exact = sump + start  # in the sump now
        self.old = 1.0  # old fraction of the sump
        self.new_used: Exact = 0
        self.removed: Exact = 0
        self.levels: list[Exact] = []

    def run(self, stage: Single) -> None:
        match stage:
            case Add():
                self.add(_not_negative(stage.volume_ml, "The added volume"))
            case Drain():
                self.drain(lean(stage.to_ml))
            case Pump():
                poured = _not_negative(stage.add_ml, "The poured volume")
                self.pump(poured, self.pickup + _not_negative(stage.stop_margin_ml, "The stop margin"))
            case _:  # Mix
                self.mix()
        self.levels.append(self.held - self.sump)

    def add(self, volume: Exact) -> None:
        if volume:
            self.old *= float(self.held / (self.held + volume))
        self.held += volume
        self.new_used += volume

    def drain(self, to: Exact) -> None:
        left = self.sump + to
        if left < 0:
            raise DrainBelowEmpty(f"{float(-to):g} mL below full is below the bottom of the sump.")
        self.removed += max(0, self.held - left)
        self.held = min(self.held, left)

    def pump(self, poured: Exact, end_level: Exact) -> None:
        fall = self.held - (self.sump + end_level)
        pumped = fall + poured
        if pumped < 0 or (pumped > 0 and self.held == 0):
            raise PumpCannotReach("The pump cannot bring the sump to this level: it stands too low, or is empty.")
        if pumped == 0:  # nothing happens, by definition of the model
            return
        stream = Stream(self.old, self.held, fall, poured)
        self.rest.take(stream)
        self.old = stream.old_at_end()
        self.held -= fall
        self.removed += pumped
        self.new_used += poured

    def mix(self) -> None:
        self.old = self.mean_old()
        self.rest.fill(self.old)

    def mean_old(self) -> float:
        held, rest = float(self.held), self.rest.volume
        if held + rest == 0:  # a unit without a rest, drained to the last drop
            return self.old
        return min(1.0, max(0.0, (self.old * held + self.rest.old_mass()) / (held + rest)))


def _not_negative(value: Real, what: str) -> Exact:
    number = lean(value)
    if number < 0:
        raise OutOfRange(f"{what} is {float(number):g} mL; it must not be negative.")
    return number
