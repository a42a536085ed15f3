"""The drift strip of a scale: both running sums over the packages weighed, between the two lines of the alarm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.common.drawing.ink import px

WIDTH, HEIGHT = 270, 132  # what a phone shows without making its words smaller
LEFT, RIGHT, MIDDLE, REACH = 18.0, 264.0, 64.0, 52.0
FULL = 1.3  # of the limit: what the strip reaches up to


@dataclass(frozen=True, slots=True)
class DriftStrip:
    """The strip, ready to print.

    high, low   paths of the two sums, the one that grows when the scale weighs too much above the middle
    ticks       (x, y) of each weighing by its own deviation; aside: (x, y) of those that are not counted
    limits      y of the two lines of the alarm
    alarm_x     where the alarm began; none: there is none
    """

    high: str
    low: str
    ticks: tuple[tuple[str, str], ...]
    aside: tuple[tuple[str, str], ...]
    limits: tuple[str, str]
    alarm_x: str | None
    words: str


def drift_strip(
    points: Sequence[tuple[float, float, float, bool]], *, limit: float, alarm_at: int | None, words: str
) -> DriftStrip:
    """Geometry of the strip; a weighing is as far from the next as any.

    points     (deviations off, upper sum, lower sum, is counted), oldest first, at least one
    alarm_at   index of the weighing that gave the alarm
    words      what the drawing says, for those who do not see it
    """
    step = (RIGHT - LEFT) / max(len(points), 6)

    def x(index: float) -> float:
        return LEFT + step * index

    def y(value: float) -> float:
        most = limit * FULL
        return MIDDLE - REACH * max(-most, min(most, value)) / most

    def path(sums: Sequence[float]) -> str:
        return f"M{px(LEFT)} {px(y(0))}" + "".join(f"L{px(x(n))} {px(y(one))}" for n, one in enumerate(sums, start=1))

    spots = [((px(x(n)), px(y(z))), counted) for n, (z, _, _, counted) in enumerate(points, start=1)]
    return DriftStrip(
        high=path([up for _, up, _, _ in points]),
        low=path([-down for _, _, down, _ in points]),
        ticks=tuple(spot for spot, counted in spots if counted),
        aside=tuple(spot for spot, counted in spots if not counted),
        limits=(px(y(limit)), px(y(-limit))),
        alarm_x=None if alarm_at is None else px(x(alarm_at + 1)),
        words=words,
    )
