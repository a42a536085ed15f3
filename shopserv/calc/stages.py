"""The staged exchange: a stirred sump, a rest that is always full, and what each stage does to both.

The rest is followed in two variants, stirred and plug flow; the two fresh shares together are the band to show. The
model has never been compared with a real unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.measures import Real


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
