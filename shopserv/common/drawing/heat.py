"""The histogram of how hot the fluid runs, and the bars of what moves a day."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.common.drawing.ink import nice_step, px

BASE, TALLEST, WIDEST = 84.0, 62.0, 26.0
LEFT, RIGHT = 14.0, 326.0
NARROWEST = 40.0  # degrees that the line shows at least
ROOM = 34.0  # pixels between two bars that both take their words


@dataclass(frozen=True, slots=True)
class HeatBar:
    """One temperature: its bar and the share of the time above it; no words where the next bar is too near."""

    x: str
    y: str
    width: str
    height: str
    middle: str
    words: str
    words_y: str


@dataclass(frozen=True, slots=True)
class HeatStrip:
    """Bars over a line of temperatures; the mark is where wear is counted from."""

    bars: tuple[HeatBar, ...]
    graduations: tuple[tuple[str, str], ...]
    mark: str


def heat_strip(bins: Sequence[tuple[float, float, str]], *, mark: float) -> HeatStrip:
    """The shares of the time at each temperature.

    bins   (share of the time, temperature, words of the share), in the unit that is shown
    mark   the temperature from which wear is counted
    """
    degrees = [at for _share, at, _words in bins] + [mark]
    step = nice_step(max(max(degrees) - min(degrees), NARROWEST), 5)
    low = (int(min(degrees)) // step - 1) * step
    high = (int(max(degrees)) // step + 2) * step

    def x(at: float) -> float:
        return LEFT + (RIGHT - LEFT) * (at - low) / (high - low)

    most = max((share for share, _at, _words in bins), default=1) or 1
    wide = min(WIDEST, max(2.0, min(_gaps([x(at) for _share, at, _words in bins]), default=WIDEST) - 2))
    bars = []
    for share, at, words in bins:
        tall, middle = TALLEST * share / most, x(at)
        spoken = words if wide >= WIDEST or wide + 2 >= ROOM or share == most else ""
        bars.append(
            HeatBar(px(middle - wide / 2), px(BASE - tall), px(wide), px(tall), px(middle), spoken, px(BASE - tall - 4))
        )
    marks = tuple((px(x(at)), str(at)) for at in range(low, high + 1, step))
    return HeatStrip(tuple(bars), marks, px(x(mark)))


def _gaps(places: Sequence[float]) -> list[float]:
    ordered = sorted(places)
    return [after - before for before, after in itertools.pairwise(ordered)]


def part_of(value: float, most: float) -> str:
    """The length of a bar in a column, in percent of it."""
    return f"{px(100 * value / most)}%" if most > 0 else "0%"
