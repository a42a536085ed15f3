"""What leaves the sump while the pump runs, and the rest of the unit that takes it in: stirred or in plug flow."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Stream:
    """The fluid that the pump takes from the sump during one stage.

    old     old fraction of the sump before, 0 to 1
    held    volume in the sump before, above 0
    fall    by how much the sump falls; negative when it rises
    poured  new fluid poured meanwhile, 0 or more; fall + poured is above 0
    """

    old: float
    held: Fraction | int
    fall: Fraction | int
    poured: Fraction | int

    @property
    def pumped(self) -> Fraction | int:
        """The volume of the stream."""
        return self.fall + self.poured

    def old_mass_left(self, pumped: float) -> float:
        """Old fluid in the sump after so much was pumped: (held o) (x/held)^(Q/d), or exp(-q/held) at a level sump."""
        held, total = float(self.held), float(self.pumped)
        if self.fall == 0:
            return self.old * held * math.exp(-pumped / held)
        return self.old * held * math.exp(float(self.pumped / self.fall) * self._log_held(total - pumped))

    def old_at(self, still: float) -> float:
        """Old fraction of the sump when `still` has yet to be pumped."""
        if self.poured == 0:
            return self.old
        if self.fall == 0:
            return self.old * math.exp(-(float(self.pumped) - still) / float(self.held))
        return self.old * math.exp(float(self.poured / self.fall) * self._log_held(still))

    def old_at_end(self) -> float:
        """Old fraction of the sump at the end of the stage."""
        return self.old_at(0.0)

    def _log_held(self, still: float) -> float:
        """Logarithm of the volume in the sump as a share of that before; precise near both ends of the stage."""
        total = float(self.pumped)
        gone = (total - still) / total * float(self.fall / self.held)
        if gone < 0.5:
            return math.log1p(-gone)
        left = float((self.held - self.fall) / self.held) + still / total * float(self.fall / self.held)
        return math.log(left) if left > 0 else -math.inf


class Rest(Protocol):
    """The part of the unit outside the sump; always full."""

    volume: float

    def take(self, stream: Stream) -> None:
        """Let the stream in; as much leaves for the bucket."""

    def fill(self, old: float) -> None:
        """Have this composition throughout, after driving."""

    def old_mass(self) -> float:
        """Volume of old fluid in it."""


class StirredRest:
    """One stirred vessel: R dg/dq = o(q) - g."""

    def __init__(self, volume: float) -> None:
        self.volume, self.old = volume, 1.0

    def take(self, stream: Stream) -> None:
        """Let the stream in.

        The integral of o(q) exp(-(Q - q)/R)/R is closed where o is constant, and quadrature otherwise.
        """
        if not self.volume:
            return
        turns = float(stream.pumped) / self.volume
        if stream.poured == 0:
            self.old = stream.old + (self.old - stream.old) * math.exp(-turns)
            return
        # beyond 60 turns nothing is left that a float could show
        taken = integral(lambda y: stream.old_at(y * self.volume) * math.exp(-y), min(turns, 60.0))
        self.old = self.old * math.exp(-turns) + taken

    def fill(self, old: float) -> None:
        """Have this composition throughout."""
        self.old = old

    def old_mass(self) -> float:
        """Volume of old fluid in it."""
        return self.old * self.volume


class PlugRest:
    """A pipe: it holds the last R that left the sump, and before that what it held at the start or after driving."""

    def __init__(self, volume: float) -> None:
        self.volume = volume
        self.first = 1.0  # composition of what stood there before the streams
        self.streams: deque[Stream] = deque()

    def take(self, stream: Stream) -> None:
        """Let the stream in."""
        if self.volume:
            self.streams.append(stream)

    def fill(self, old: float) -> None:
        """Have this composition throughout."""
        self.first = old
        self.streams.clear()

    def old_mass(self) -> float:
        """Volume of old fluid in it: the streams from the newest back until the pipe is full, then what was first."""
        room: Fraction | int = int(self.volume) if self.volume.is_integer() else Fraction(self.volume)
        parts = []
        for stream in reversed(self.streams):
            inside = min(room, stream.pumped)
            total = float(stream.pumped)
            start = float(stream.pumped - inside)
            parts.append(stream.old_mass_left(start) - stream.old_mass_left(total))
            room -= inside
            if not room:
                break
        return math.fsum([*parts, self.first * float(room)])


def integral(function: Callable[[float], float], end: float) -> float:
    """Integral from 0 to `end` by the double exponential rule, which bears a steep or singular end.

    returns   to about 1e-14 of the largest value
    source    Takahasi and Mori 1974 (from memory); checked against closed forms and another library in the tests
    """
    sum_, step, previous = function(end / 2) * math.pi / 4, 1.0, math.inf
    sum_ += _pairs(function, end, 1.0, 1.0)
    found = sum_ * step * end
    while abs(found - previous) > 1e-15 * max(1.0, abs(found)) and step > 2**-8:
        previous = found
        sum_ += _pairs(function, end, step, step / 2)
        step /= 2
        found = sum_ * step * end
    return found


def _pairs(function: Callable[[float], float], end: float, stride: float, first: float) -> float:
    """Weighted values at +t and -t for t = first, first + stride ... until the weight is next to nothing."""
    terms, t = [], first
    while t < 6.1:
        q = math.exp(-math.pi * math.sinh(t))
        weight = math.pi * math.cosh(t) * q / (1 + q) ** 2
        near = end * q / (1 + q)
        terms.append(weight * (function(near) + function(end - near)))
        t += stride
    return math.fsum(terms)


def _gauss_points(count: int) -> tuple[tuple[float, float], ...]:
    """Places between 0 and 1 and their weights: roots of the Legendre polynomial, by Newton's method."""
    found = []
    for number in range(count):
        x = math.cos(math.pi * (number + 0.75) / (count + 0.5))
        for _ in range(6):
            before, here = 1.0, x
            for n in range(2, count + 1):
                before, here = here, ((2 * n - 1) * x * here - (n - 1) * before) / n
            slope = count * (x * here - before) / (x * x - 1)
            x -= here / slope
        found.append(((1 + x) / 2, 1 / ((1 - x * x) * slope * slope)))
    return tuple(found)


GAUSS = _gauss_points(20)


def smooth_integral(function: Callable[[float], float], end: float) -> float:
    """Integral from 0 to `end` of a function that is smooth there, ends included: many times quicker than `integral`.

    source   Gauss-Legendre rule with 20 points (Abramowitz and Stegun, table 25.4); exact for degree 39
    """
    return end * math.fsum([weight * function(end * place) for place, weight in GAUSS])
