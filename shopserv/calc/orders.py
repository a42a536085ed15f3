"""The best order of stages: the same new fluid, poured in the order that leaves the least old fluid behind.

The search runs through every order of the grammar in `best_orders` with two savings that lose nothing. A state that
is in no respect better than another at the same level, with the same fluid poured, is dropped: what follows is linear
in the old fluid with no negative factor, so it stays behind. A state that could not win even if all that may still
leave did so in the best way that the laws of mixing leave is dropped, too.

Only the stirred rest is searched, as it is never above plug flow: what enters the rest grows fresher from pour to pour,
so first in, first out always sends away the oldest there is, a stirred rest its mean.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from shopserv.calc.errors import BadUnitLayout, OutOfRange
from shopserv.calc.measures import within
from shopserv.calc.rest import Stream, integral, smooth_integral
from shopserv.calc.stages import Add, Drain, Mix, Pump, Stage, UnitLayout, staged_exchange

MOST_STAGES = 30
WORTH_A_STAGE = 0.005
TIE = 1e-9  # shares closer than this are alike
SMOOTH_TURNS = 12  # of the rest in one stage, up to which 20 points show what a float can


@dataclass(frozen=True, slots=True)
class LevelLimits:
    """Between which levels an order has to stay, mL against full.

    low_ml     where a pumped stage stops: pickup level and stop margin, 0 or negative
    start_ml   from which level on the engine is started
    stand_ml   how high the fluid may stand with the engine off, 0 or more
    dips_ml    how high with the engine running, before turning parts dip; none: not known
    """

    low_ml: int
    start_ml: int = 0
    stand_ml: int = 0
    dips_ml: int | None = None


@dataclass(frozen=True, slots=True)
class AllowedStages:
    """What method and unit sheet let an order be made of.

    sizes_ml      what may be poured at once with the engine off; besides, what fills to full
    drain_ml      what leaves through plug or pan from full, engine off; 0: no drain
    most_drains   how often
    drain_first   whether the method begins with the drain
    pumps, pours_while_pumping, mixes   which further stages there may be; what is poured while it pumps is all but the
                  last filling, or one of `pump_sizes_ml`
    most_stages   single stages in all
    """

    sizes_ml: tuple[int, ...]
    drain_ml: int = 0
    most_drains: int = 1
    drain_first: bool = False
    pumps: bool = True
    pours_while_pumping: bool = False
    mixes: bool = False
    pump_sizes_ml: tuple[int, ...] = ()
    most_stages: int = 14


@dataclass(frozen=True, slots=True)
class Order:
    """One order of stages and what comes of it.

    stages                    single stages, from full and all old to full
    new_ml                    new fluid poured
    fresh_stirred, fresh_plug   share of new fluid, 0 to 1; the first is what is sure
    """

    stages: tuple[Stage, ...]
    new_ml: int
    fresh_stirred: float
    fresh_plug: float


def best_orders(
    layout: UnitLayout,
    new_ml: int,
    limits: LevelLimits,
    allowed: AllowedStages,
    *,
    worth: float = WORTH_A_STAGE,
    at_least: float = 0.0,
) -> tuple[Order, ...]:
    """The orders of at most `new_ml` of new fluid with the highest sure share, the best first, then shorter ones.

    The grammar: from full, drain down to the drain (not twice running); add one of the sizes, or up to full, so that
    the engine may start and the fluid may stand (not twice running); pump down to `low_ml`, pouring nothing, all but
    the last filling, or one of the sizes for it (not twice running); mix at full (not at the start, not twice running).
    It ends at full.

    layout    of a banded fill the high end, which is the worst for liters that are given
    new_ml    whole, 0 or more
    worth     what a longer order must add to the share to be taken before a shorter one, 0 or more; within 1e-9 shares
              are alike
    at_least  share that an order must reach to count, 0 to 1; what is sought beyond a known one is found sooner
    returns   none where no order ends within the limits
    raises    BadUnitLayout, OutOfRange
    source    own model (see `staged_exchange`), searched in full; agrees with plain enumeration in the tests
    check     7.4 L with a sump of 3.4 L, pickup 1.6 L below full, 0.3 L margin, 10 L, drain of 2.9 L, poured while it
              pumps: drain 2.9, add 2.9, pump 5.8, add 1.3 for 0.8800 to 0.9713
    """
    _check(layout, new_ml, limits, allowed, worth)
    within(at_least, 0, 1, "The share to be reached")
    search = _Search(layout, new_ml, limits, allowed, worth)
    return tuple(search.order(state) for state in reversed(search.run(1 - at_least + TIE)))


def _check(layout: UnitLayout, new_ml: int, limits: LevelLimits, allowed: AllowedStages, worth: float) -> None:
    staged_exchange(layout, [])  # a layout that cannot be is named there
    if not layout.pickup_level_ml <= limits.low_ml <= 0:
        raise BadUnitLayout(
            f"A pumped stage cannot stop at {limits.low_ml} mL: it is between the pickup, "
            f"{float(layout.pickup_level_ml):g} mL, and full."
        )
    if not 0 <= allowed.drain_ml <= layout.sump_capacity_ml:
        raise BadUnitLayout(f"A drain of {allowed.drain_ml} mL does not fit a sump of {layout.sump_capacity_ml} mL.")
    for value, what in (
        (new_ml, "The new fluid, mL,"),
        (limits.stand_ml, "The highest level with the engine off"),
        (limits.start_ml - limits.low_ml, "From the stop to the level at which the engine starts it"),
        (allowed.most_drains, "The number of drains"),
        (min((*allowed.sizes_ml, *allowed.pump_sizes_ml), default=1) - 1, "The smallest pour less 1 mL"),
        (worth, "What a longer order must add"),
    ):
        if value < 0:
            raise OutOfRange(f"{what} is {value:g}; it must not be negative.")
    if not 0 <= allowed.most_stages <= MOST_STAGES:
        raise OutOfRange(f"An order of {allowed.most_stages} stages; it may be 0 to {MOST_STAGES}.")


class _State(NamedTuple):
    """The unit after some stages: old shares of sump and rest, what was poured, and how it came here."""

    level: int
    used: int
    sump: float
    rest: float
    drains: int = 0
    stage: Stage | None = None
    before: _State | None = None

    @property
    def key(self) -> Key:
        """States with the same key go on alike."""
        return self.level, self.used, type(self.stage)

    def is_no_better_than(self, other: _State) -> bool:
        return other.sump <= self.sump and other.rest <= self.rest and other.drains <= self.drains


Key = tuple[int, int, type]


class _Search:
    """All orders, one stage longer each round."""

    def __init__(
        self, layout: UnitLayout, new_ml: int, limits: LevelLimits, allowed: AllowedStages, worth: float
    ) -> None:
        self.layout, self.new_ml, self.limits, self.allowed, self.worth = layout, new_ml, limits, allowed, worth
        self.held = float(layout.sump_capacity_ml)
        self.room = float(layout.dry_capacity_ml - layout.sump_capacity_ml)
        self.margin = limits.low_ml - Fraction(layout.pickup_level_ml)
        self.sizes = sorted(set(allowed.sizes_ml))
        self.pump_sizes = sorted(set(allowed.pump_sizes_ml))
        self.dips = math.inf if limits.dips_ml is None else limits.dips_ml
        self.pumped: dict[tuple[int, int], tuple[float, float, float]] = {}

    def run(self, least: float) -> list[_State]:
        """Ends of the orders worth their stages, the shortest first; `least` is the old share that they stay below."""
        won: list[_State] = []
        kept: dict[Key, list[_State]] = {}
        layer = [_State(0, 0, 1.0, 1.0)]
        for _ in range(self.allowed.most_stages):
            found: dict[Key, list[_State]] = {}
            for state in layer:
                for after in self.after(state):
                    if self.least_old(after) < least:
                        _keep(after, kept.get(after.key, ()), found.setdefault(after.key, []))
            fresh = [state for states in found.values() for state in states]
            best = min((state for state in fresh if state.level == 0), key=self.old, default=None)
            if best is not None and self.old(best) < least:
                won.append(best)
                least = self.old(best) - max(self.worth, TIE)
            for key, states in found.items():
                kept.setdefault(key, []).extend(states)
            layer = [state for state in fresh if self.least_old(state) < least]
        return won

    def old(self, state: _State) -> float:
        """Old share of the whole unit, at full."""
        return (state.sump * self.held + state.rest * self.room) / (self.held + self.room)

    def least_old(self, state: _State) -> float:
        """Below this no order that goes on from here can bring the old share at the end, at full.

        Nothing that leaves is older than the rest. What stands in the rest stays at least as long as in a stirred
        vessel through which all flows that can still flow. So does what stands in the sump; and where it can only leave
        through the rest, it first has to leave the sump, which is never emptier than where the pump stops.
        """
        sump, rest = state.sump * (self.held + state.level), state.rest * self.room
        still = self.new_ml - state.used + state.level
        left = sump + rest - state.rest * still
        if self.room:
            stays = math.exp(-still / self.room)
            left = max(left, rest * stays + sump * (self.in_line(still, stays) if self.is_line(state) else stays))
        return left / (self.held + self.room)

    def is_line(self, state: _State) -> bool:
        """Whether what is in the sump can from here on only leave through the rest."""
        return not self.allowed.mixes and (not self.allowed.drain_ml or state.drains >= self.allowed.most_drains)

    def in_line(self, still: float, stays: float) -> float:
        """Share of what is in the sump that is still in the unit after so much left: two stirred vessels in line."""
        sump = (self.held + self.limits.low_ml) * 0.999  # a shade less, so that the two are never quite alike
        if sump <= 0 or abs(self.room - sump) < 1e-6 * sump:
            return stays
        return (self.room * stays - sump * math.exp(-still / sump)) / (self.room - sump)

    def after(self, state: _State) -> Iterator[_State]:
        """Every state that one more stage leads to."""
        allowed, drain = self.allowed, self.allowed.drain_ml
        if drain and state.drains < allowed.most_drains and state.level > -drain:
            yield _State(-drain, state.used, state.sump, state.rest, state.drains + 1, Drain(-drain), state)
        if state.before is None and allowed.drain_first:
            return
        if not isinstance(state.stage, Add):
            yield from self.added(state)
        if not self.limits.start_ml <= state.level <= self.dips:
            return
        if allowed.pumps and not isinstance(state.stage, Pump) and self.held + state.level > 0:
            yield from self.pumped_down(state)
        if allowed.mixes and state.level == 0 and state.before and not isinstance(state.stage, Mix):
            mean = self.old(state)
            yield _State(0, state.used, mean, mean, state.drains, Mix(), state)

    def added(self, state: _State) -> Iterator[_State]:
        held = self.held + state.level
        least = max(1, self.limits.start_ml - state.level)
        most = min(self.new_ml - state.used, self.limits.stand_ml - state.level)
        for size in {*self.sizes, -state.level}:
            if least <= size <= most:
                sump = state.sump * (held / (held + size))
                yield _State(state.level + size, state.used + size, sump, state.rest, state.drains, Add(size), state)

    def pumped_down(self, state: _State) -> Iterator[_State]:
        low = self.limits.low_ml
        left = self.new_ml - state.used
        sizes = {0}
        if self.allowed.pours_while_pumping:
            sizes.update(size for size in (*self.pump_sizes, left + low) if 0 < size <= left)
        for size in sizes:
            if state.level - low + size > 0:
                out, into, stays = self.pump(state.level, size)
                sump, rest = out * state.sump, into * state.sump + stays * state.rest
                yield _State(low, state.used + size, sump, rest, state.drains, Pump(size, self.margin), state)

    def pump(self, level: int, poured: int) -> tuple[float, float, float]:
        """What a pumped stage makes of the old shares: sump from sump; rest from sump and from rest."""
        known = self.pumped.get((level, poured))
        if known is None:
            held = Fraction(self.layout.sump_capacity_ml) + level
            stream = Stream(1.0, held, Fraction(level - self.limits.low_ml), Fraction(poured))
            out, turns = stream.old_at_end(), float(stream.pumped) / self.room if self.room else math.inf
            into = 1.0
            if poured and self.room:
                is_smooth = 10 * (held - stream.fall) > held and turns < SMOOTH_TURNS
                into = self.taken(stream, turns, smooth_integral if is_smooth else integral)
            elif self.room:
                into = -math.expm1(-turns)
            known = self.pumped[level, poured] = (out, into, math.exp(-turns))
        return known

    def taken(self, stream: Stream, turns: float, rule: Callable[[Callable[[float], float], float], float]) -> float:
        """Old share of the rest after it took this stream of wholly old fluid, itself fresh before."""
        room = self.room
        return rule(lambda turn: stream.old_at(turn * room) * math.exp(-turn), min(turns, 60.0))

    def order(self, state: _State) -> Order:
        """The order that ends here, replayed."""
        stages: list[Stage] = []
        at: _State | None = state
        while at is not None and at.stage is not None:
            stages.append(at.stage)
            at = at.before
        run = staged_exchange(self.layout, stages[::-1])
        return Order(tuple(stages[::-1]), state.used, run.fresh_stirred, run.fresh_plug)


def _keep(state: _State, earlier: Sequence[_State], same: list[_State]) -> None:
    """Keep a state unless another is in every respect as good."""
    for other in same:
        if state.is_no_better_than(other):
            return
    for other in earlier:
        if state.is_no_better_than(other):
            return
    same[:] = [other for other in same if not other.is_no_better_than(state)]
    same.append(state)
