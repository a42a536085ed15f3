"""The road strip: a horizontal odometer with services as ticks, today as a notch, the forecast as a widening band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.common import formats
from shopserv.common.drawing.ink import nice_step, px

LEFT, RIGHT = 4.0, 1100.0
WIDTH, HEIGHT, ROAD_Y, SCALE_Y = 1104, 104, 58, 80
LETTER = 6.6  # mean width of a letter at 13 px
NOW_Y, RAISED_Y = 36, 25  # where today's words stand: over their notch; over a tick that stands in their way
NOTCH = 9  # pixels to each side that the notch keeps free

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Label:
    """Words at a place of the strip; anchor is start, middle or end."""

    x: str
    anchor: str
    words: str


@dataclass(frozen=True, slots=True)
class Stop:
    """Something that was done on the road: a tall tick, its words beside it unless they would run into others."""

    x: str
    label: Label | None
    words: str


@dataclass(frozen=True, slots=True)
class RoadStrip:
    """The strip, ready to print.

    now_y         where today's words stand: raised where a tick stands below them
    graduations   (x, label) of the scale below, the last one with the unit
    readings      x of each reading
    due_at        x where the interval by distance ends, with its label; None: not known
    band          path of the forecast; "": none
    """

    now_x: str
    now: Label
    now_y: int
    notch: str
    graduations: tuple[tuple[str, Label], ...]
    readings: tuple[str, ...]
    stops: tuple[Stop, ...]
    due_at: tuple[str, Label] | None
    band: str
    band_above: Label | None
    band_below: Label | None
    words: str


def road_strip(
    now: int,
    *,
    unit: str = "mi",
    now_words: str,
    readings: Sequence[int] = (),
    stops: Sequence[tuple[int, str]] = (),
    due_at: tuple[int, str] | None = None,
    band: tuple[int, int] | None = None,
    band_above: str = "",
    band_below: str = "",
    words: str,
) -> RoadStrip:
    """Geometry of the strip; every distance is a figure of the odometer.

    now        the figure today
    readings   figures of readings that count, oldest first
    stops      (figure, words) of what was done, oldest first
    due_at     (figure, words) where the interval by distance ends
    band       (low, high) of the next due figure
    words      what the drawing says, for those who do not see it
    """
    most = max([now, *readings, *(f for f, _ in stops), *((due_at[0],) if due_at else ()), *(band or ()), 1])
    step = nice_step(most)
    end = -(-most // step) * step

    def x(figure: float) -> float:
        return LEFT + (RIGHT - LEFT) * figure / end

    at = x(now)
    now_label, above = _label(at, now_words), _between(x, band, band_above)
    low, high = _span(now_label)
    is_raised = any(low - 4 < x(figure) < high + 4 for figure, _words in stops)
    taken = [(at - NOTCH, at + NOTCH) if is_raised else (low, high), *([_span(above)] if above else [])]
    return RoadStrip(
        now_x=px(at),
        now=now_label,
        now_y=RAISED_Y if is_raised else NOW_Y,
        notch=f"M{px(at)} {ROAD_Y - 3} l-7 -13 h14 Z",
        graduations=tuple(
            (px(x(f)), _label(x(f), formats.odometer(f, unit) if f == end else formats.number(f), is_at_ends=True))
            for f in range(0, end + 1, step)
        ),
        readings=tuple(px(x(figure)) for figure in readings),
        stops=_stops([(x(figure), text) for figure, text in stops], taken),
        due_at=(px(x(due_at[0])), _label(x(due_at[0]) - 4, due_at[1], anchor="end")) if due_at else None,
        band=_band(at, x(band[0]), x(band[1])) if band else "",
        band_above=above,
        band_below=_between(x, band, band_below),
        words=words,
    )


def _label(x: float, words: str, *, anchor: str = "middle", is_at_ends: bool = False) -> Label:
    """A label that does not run over the edge of the sheet."""
    half = len(words) * LETTER / 2
    if x - half < 0 and anchor == "middle":
        anchor = "start"
    elif x + half > WIDTH and anchor == "middle":
        anchor = "end"
    if anchor == "end" and not is_at_ends and x - 2 * half < 0:
        anchor, x = "start", max(x, LEFT)
    return Label(px(x), anchor, words)


def _span(label: Label) -> Span:
    """From where to where a label reaches."""
    x, wide = float(label.x), len(label.words) * LETTER
    left = {"start": x, "middle": x - wide / 2, "end": x - wide}[label.anchor]
    return left, left + wide


def _stops(stops: Sequence[tuple[float, str]], taken: Sequence[Span]) -> tuple[Stop, ...]:
    """Words stand beside their tick, whole or cut to what stands before their comma, where nothing else stands.

    taken   what stands on the same line already
    """
    filled = [*taken, *((x - 2, x + 2) for x, _words in stops)]
    found = []
    for x, words in stops:
        label = next((one for one in _places(x, words) if _is_free(_span(one), filled)), None)
        if label:
            filled.append(_span(label))
        found.append(Stop(px(x), label, words))
    return tuple(found)


def _places(x: float, words: str) -> list[Label]:
    """Where the words of a tick may stand, the best first."""
    short = words.partition(",")[0]
    beside, clear = 6, NOTCH + 3
    sides = ((x + beside, "start"), (x + clear, "start"), (x - beside, "end"), (x - clear, "end"))
    return [Label(px(at), anchor, text) for text in (words, short) for at, anchor in sides]


def _is_free(span: Span, filled: Sequence[Span]) -> bool:
    left, right = span
    return left >= 0 and right <= WIDTH and all(right + 2 < low or high + 2 < left for low, high in filled)


def _band(now: float, low: float, high: float) -> str:
    """A band that widens from today to its early edge and stays wide to its late edge."""
    low, high = max(low, now), max(high, now)
    return f"M{px(now)} {ROAD_Y}L{px(low)} {ROAD_Y - 9}H{px(high)}V{ROAD_Y + 9}H{px(low)}Z"


def _between(x: object, band: tuple[int, int] | None, words: str) -> Label | None:
    if not band or not words or not callable(x):
        return None
    return _label(x((band[0] + band[1]) / 2), words)
