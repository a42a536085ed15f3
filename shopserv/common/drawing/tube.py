"""The sight tube: fluid level as a vertical tube, one a stage, with one "full" line through all of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shopserv.common.drawing.ink import px

TOP, BOTTOM, HEIGHT = 6.0, 126.0, 148.0
PITCH, TUBE_WIDTH, FIRST_X = 18.6, 10.0, 2.0
ROOM = 204  # pixels of a column, where four options stand on a sheet of 1,280
ABOVE_ML, BELOW_ML = 350, 300  # room beyond the highest and the lowest level that is drawn
TICK, LONG_TICK = 2.5, 4.5
QUART_ML, HALF_LITER_ML = 946.352946, 500.0


@dataclass(frozen=True, slots=True)
class TubeScale:
    """What the tubes of one drawing share, mL against full, upwards positive.

    high_ml, low_ml   ends of the scale
    pickup_ml, dips_ml   where the pump draws air (negative), where turning parts dip (positive); None: not known
    stop_margin_ml    how far above the pickup a pumped stage must stop
    """

    high_ml: int
    low_ml: int
    pickup_ml: int | None = None
    dips_ml: int | None = None
    stop_margin_ml: int = 0

    def y(self, level_ml: float, top: float = TOP, bottom: float = BOTTOM) -> float:
        """Where a level stands, in pixels from above; levels outside are drawn at the end of the tube."""
        level = min(max(level_ml, self.low_ml), self.high_ml)
        return top + (self.high_ml - level) / (self.high_ml - self.low_ml) * (bottom - top)


@dataclass(frozen=True, slots=True)
class Marks:
    """Where the lines through all tubes stand; "" where a line is not known."""

    full: str
    dips: str
    pickup: str
    stop_top: str
    stop_height: str


@dataclass(frozen=True, slots=True)
class Tube:
    """One tube: its glass with graduations, the fluid in it, the heavy line of its level, its number and dot.

    ticks                    path of the graduations: one each quart or half liter from full, a longer one at full
    band_top, band_height    between which levels the fluid may stand; "" where that is certain
    """

    x: str
    width: str
    top: str
    height: str
    fluid_top: str
    fluid_height: str
    glass: str
    cap_left: str
    cap_right: str
    middle: str
    label: str
    runs_engine: bool
    ticks: str = ""
    band_top: str = ""
    band_height: str = ""


@dataclass(frozen=True, slots=True)
class TubeRow:
    """Tubes side by side, ready to print."""

    width: str
    height: str
    marks: Marks
    tubes: tuple[Tube, ...]
    number_y: str
    dot_y: str
    levels: int


def tube_scale(
    levels_ml: Iterable[int],
    *,
    pickup_below_full_ml: int | None,
    dips_above_full_ml: int | None,
    stop_margin_ml: int = 0,
) -> TubeScale:
    """The scale that holds every level of every option, and the marks of the unit.

    levels_ml   against full, of all the options that stand side by side
    """
    pickup = None if pickup_below_full_ml is None else -pickup_below_full_ml
    shown = [0, *levels_ml, *(mark for mark in (pickup, dips_above_full_ml) if mark is not None)]
    return TubeScale(max(shown) + ABOVE_ML, min(shown) - BELOW_ML, pickup, dips_above_full_ml, stop_margin_ml)


def tube_row(
    levels_ml: Sequence[int],
    scale: TubeScale,
    *,
    engine: Sequence[bool] = (),
    bands: Sequence[tuple[int, int]] = (),
    room: float = ROOM,
    pitch: float = PITCH,
    units_first: str = "us",
) -> TubeRow:
    """The tubes of one course: full before, then the level after each stage.

    levels_ml   after each stage, against full
    engine      for each stage whether the engine runs in it (a dot under its tube)
    bands       for each stage between which levels it may end, hatched; none: the levels are certain
    room        pixels that the tubes may take; many stand closer
    """
    pitch = min(pitch, (room - 2 * FIRST_X - TUBE_WIDTH) / max(len(levels_ml), 1))
    rest = len(levels_ml) - len(engine)
    runs = [False, *engine, *([False] * rest)]
    ends = [(0, 0), *bands, *((level, level) for level in levels_ml[len(bands) :])]
    tubes = tuple(
        _tube(FIRST_X + n * pitch, level, scale, str(n) if n else "", runs[n], ends[n], units_first)
        for n, level in enumerate([0, *levels_ml])
    )
    return TubeRow(
        width=px(FIRST_X * 2 + len(levels_ml) * pitch + TUBE_WIDTH),
        height=px(HEIGHT),
        marks=marks(scale),
        tubes=tubes,
        number_y=px(HEIGHT - 4),
        dot_y=px(BOTTOM + 4.5),
        levels=len(tubes),
    )


def graduations(scale: TubeScale, units_first: str = "us") -> tuple[int, ...]:
    """Levels of the graduations: each quart, or half liter in metric shops, from full up and down within the scale."""
    step = QUART_ML if units_first == "us" else HALF_LITER_ML
    return tuple(round(n * step) for n in range(int(scale.low_ml / step), int(scale.high_ml / step) + 1))


def _ticks(left: float, scale: TubeScale, units_first: str, top: float = TOP, bottom: float = BOTTOM) -> str:
    return "".join(
        f"M{px(left)} {px(scale.y(level, top, bottom))}h{px(TICK if level else LONG_TICK)}"
        for level in graduations(scale, units_first)
    )


def marks(scale: TubeScale, top: float = TOP, bottom: float = BOTTOM) -> Marks:
    """Where the lines of the unit stand."""
    pickup = "" if scale.pickup_ml is None else px(scale.y(scale.pickup_ml, top, bottom))
    stop_top = stop_height = ""
    if scale.pickup_ml is not None and scale.stop_margin_ml:
        high = scale.y(scale.pickup_ml + scale.stop_margin_ml, top, bottom)
        stop_top, stop_height = px(high), px(scale.y(scale.pickup_ml, top, bottom) - high)
    dips = "" if scale.dips_ml is None else px(scale.y(scale.dips_ml, top, bottom))
    return Marks(px(scale.y(0, top, bottom)), dips, pickup, stop_top, stop_height)


def _tube(
    x: float,
    level_ml: int,
    scale: TubeScale,
    label: str,
    runs_engine: bool,
    ends: tuple[int, int],
    units_first: str,
) -> Tube:
    level, high, low = scale.y(level_ml), scale.y(ends[1]), scale.y(ends[0])
    left, right = px(x + 0.5), px(x + TUBE_WIDTH - 0.5)
    return Tube(
        x=px(x),
        width=px(TUBE_WIDTH),
        top=px(TOP),
        height=px(BOTTOM - TOP),
        fluid_top=px(level),
        fluid_height=px(BOTTOM - level),
        glass=f"M{left} {px(TOP)}V{px(BOTTOM)}H{right}V{px(TOP)}",
        cap_left=px(x - 2),
        cap_right=px(x + TUBE_WIDTH + 2),
        middle=px(x + TUBE_WIDTH / 2),
        label=label,
        runs_engine=runs_engine,
        ticks=_ticks(x + 0.5, scale, units_first),
        band_top=px(high) if low > high else "",
        band_height=px(low - high) if low > high else "",
    )


@dataclass(frozen=True, slots=True)
class LevelTube:
    """One large tube with its level and what is not certain about it."""

    marks: Marks
    level_y: str
    fluid_height: str
    band_top: str
    band_height: str
    ticks: str = ""


LEVEL_TOP, LEVEL_BOTTOM = 6.0, 150.0


def level_tube(level_ml: int, scale: TubeScale, *, within_ml: int = 0, units_first: str = "us") -> LevelTube:
    """The level of one moment, with `within_ml` up and down hatched, on graduations of a quart or half a liter."""
    level = scale.y(level_ml, LEVEL_TOP, LEVEL_BOTTOM)
    high = scale.y(level_ml + within_ml, LEVEL_TOP, LEVEL_BOTTOM)
    low = scale.y(level_ml - within_ml, LEVEL_TOP, LEVEL_BOTTOM)
    drawn = marks(scale, LEVEL_TOP, LEVEL_BOTTOM)
    ticks = _ticks(4.5, scale, units_first, LEVEL_TOP, LEVEL_BOTTOM)
    return LevelTube(drawn, px(level), px(LEVEL_BOTTOM - level), px(high), px(low - high) if within_ml else "", ticks)


@dataclass(frozen=True, slots=True)
class ShareTube:
    """How much of the fluid is new: filled is certain, hatched is not."""

    fluid_top: str
    fluid_height: str
    band_top: str
    band_height: str


SHARE_TOP, SHARE_BOTTOM = 2.0, 60.0


def share_tube(low_ppm: int, high_ppm: int | None = None) -> ShareTube:
    """The small tube of one option on the customer's page."""
    high_ppm = low_ppm if high_ppm is None else high_ppm
    low, high = (SHARE_BOTTOM - (SHARE_BOTTOM - SHARE_TOP) * ppm / 1_000_000 for ppm in (low_ppm, high_ppm))
    return ShareTube(px(low), px(SHARE_BOTTOM - low), px(high), px(low - high) if high < low else "")
