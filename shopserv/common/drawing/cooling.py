"""The cooling curve: what was read, the curve through it with its band, the window, now, when to start the engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.common.drawing.ink import nice_step, px
from shopserv.common.drawing.strip import Label

WIDTH, HEIGHT = 312, 178
LEFT, RIGHT, TOP, BOTTOM = 36.0, 306.0, 16.0, 146.0
Spot = tuple[float, float]  # minutes, temperature


@dataclass(frozen=True, slots=True)
class CoolingCurve:
    """The drawing, ready to print.

    band           path of the curve's band, hatched
    curve          path of the curve
    window         (y, height) of the window; window_at is where its words stand, under it
    hand           (x, y of the curve there) when the engine is started; none: not to be said
    minutes        (x, label) along the foot; degrees (y, label) along the left
    now            (x, path of the notch); none: outside the drawing
    """

    band: str
    curve: str
    window: tuple[str, str]
    window_at: str
    readings: tuple[tuple[str, str], ...]
    hand: tuple[str, str] | None
    hand_label: Label | None
    minutes: tuple[tuple[str, str], ...]
    degrees: tuple[tuple[str, str], ...]
    now: tuple[str, str] | None
    words: str


def cooling_curve(
    points: Sequence[tuple[float, float, float, float]],
    *,
    readings: Sequence[Spot],
    window: tuple[float, float],
    start: Spot | None,
    start_words: str = "",
    now: float | None = None,
    words: str,
) -> CoolingCurve:
    """Geometry of the curve.

    points     (minutes, temperature, low, high), oldest first, at least two; minutes from the last reading
    readings   (minutes, temperature) as they were read
    window     low and high edge, in the unit of the temperatures
    start      where the engine is started
    now        minutes since the last reading
    words      what the drawing says, for those who do not see it
    """
    first, last = points[0][0], points[-1][0]
    low = min(*(point[2] for point in points), window[0], *((start[1],) if start else ()))
    high = max(*(point[3] for point in points), window[1], *(warm for _, warm in readings))

    def x(minutes: float) -> float:
        return LEFT + (RIGHT - LEFT) * (minutes - first) / (last - first)

    def y(degrees: float) -> float:
        return TOP + (BOTTOM - TOP) * (high - degrees) / (high - low)

    upper = [f"{px(x(t))} {px(y(top))}" for t, _, _, top in points]
    lower = [f"{px(x(t))} {px(y(bottom))}" for t, _, bottom, _ in reversed(points)]
    top, foot = y(window[1]), y(window[0])
    return CoolingCurve(
        band=f"M{'L'.join([*upper, *lower])}Z",
        curve="M" + "L".join(f"{px(x(t))} {px(y(warm))}" for t, warm, _, _ in points),
        window=(px(top), px(foot - top)),
        window_at=px(foot + 13),
        readings=tuple((px(x(t)), px(y(warm))) for t, warm in readings),
        hand=(px(x(start[0])), px(y(start[1]))) if start else None,
        hand_label=_hand_label(x(start[0]), start_words) if start else None,
        minutes=tuple((px(x(t)), str(t)) for t in _steps(first, last, 5)),
        degrees=tuple((px(y(t)), str(t)) for t in _steps(low, high, 5)),
        now=(px(x(now)), f"M{px(x(now))} {px(BOTTOM)} l-6 11 h12 Z") if now is not None and now <= last else None,
        words=words,
    )


def _steps(low: float, high: float, most: int) -> list[int]:
    step = nice_step(high - low, most)
    begin = -int(-low // step) * step
    return [value for value in range(begin, int(high) + 1, step) if low <= value <= high]


def _hand_label(x: float, words: str) -> Label:
    return Label(px(x - 6), "end", words) if x > (LEFT + RIGHT) / 2 else Label(px(x + 6), "start", words)
