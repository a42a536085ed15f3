"""Measured values on a line: each a tick, the interval of their middle hatched, what is printed as a notch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.common.drawing.ink import nice_step, px

WIDTH, LEFT, RIGHT = 320, 12.0, 308.0
LEAST_SPAN = 0.02  # of the largest value: ticks a hair apart are not drawn a hand apart


@dataclass(frozen=True, slots=True)
class Spread:
    """x as text in pixels of `WIDTH`.

    ticks      one for each value
    band_from, band_width   of the interval; empty: there is none yet
    printed_from, printed_width   of what is printed, width empty for a single value; both empty: nothing is printed
    notch      path of the notch at the middle of what is printed
    marks      [(x, value)] of the scale
    """

    ticks: tuple[str, ...]
    middle: str
    band_from: str
    band_width: str
    printed_from: str
    printed_width: str
    notch: str
    marks: tuple[tuple[str, int], ...]


def spread(
    values: Sequence[float],
    middle: float,
    interval: tuple[float, float] | None = None,
    printed: tuple[float, float] | None = None,
) -> Spread:
    """Where `values` stand, one at least, with the interval of their middle and what is printed (low, high)."""
    every = [*values, *(printed or ())]
    least, most = min(every), max(every)
    room = max((most - least) * 0.08, LEAST_SPAN * most / 2)
    low, high = least - room, most + room

    def x(value: float) -> float:
        return LEFT + (RIGHT - LEFT) * (value - low) / (high - low)

    step = nice_step(high - low, 4)
    marks = range(int(low // step + 1) * step, int(high) + 1, step)
    at = px(x(sum(printed) / 2)) if printed else ""
    return Spread(
        ticks=tuple(px(x(value)) for value in values),
        middle=px(x(middle)),
        band_from=px(x(interval[0])) if interval else "",
        band_width=px(x(interval[1]) - x(interval[0])) if interval else "",
        printed_from=px(x(printed[0])) if printed else "",
        printed_width=px(x(printed[1]) - x(printed[0])) if printed and printed[1] > printed[0] else "",
        notch=f"M{at} 8 l-5 -7 h10 Z" if printed else "",
        marks=tuple((px(x(mark)), mark) for mark in marks),
    )
