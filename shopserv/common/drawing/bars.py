"""Bars: shares, the two clocks, vehicles due week by week, a reading on its scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from shopserv.common.drawing.ink import px


@dataclass(frozen=True, slots=True)
class ShareBar:
    """A bar over the width of its column, in percent: solid is certain, hatched is not, the tick is the low end."""

    solid: str
    band: str
    band_from: str
    graduations: tuple[str, ...] = ("0%", "25%", "50%", "75%", "100%")


def share_bar(low_ppm: int, high_ppm: int | None = None) -> ShareBar:
    """The bar of a share of new fluid in parts per million."""
    high_ppm = low_ppm if high_ppm is None else max(high_ppm, low_ppm)
    band = f"{px((high_ppm - low_ppm) / 10_000)}%" if high_ppm > low_ppm else ""
    return ShareBar(f"{px(low_ppm / 10_000)}%", band, f"{px(low_ppm / 10_000)}%")


@dataclass(frozen=True, slots=True)
class ClockBar:
    """Fluid age against what is allowed here and what the sheet says; x in pixels of 500."""

    age: str
    here: str
    here_words: str
    sheet: str
    sheet_words: str
    here_anchor: str
    sheet_anchor: str
    words: str


ROOM_FOR_WORDS = 110  # pixels that two labels take side by side
LETTER = 5.4  # mean width of a letter of a label, generously


def clock_bar(age: float, *, here: float, here_words: str, sheet: float, sheet_words: str) -> ClockBar:
    """One of the two clocks; all three in the same unit (months, or miles)."""
    most = max(age, here, sheet, 1) * 1.2
    right, right_words = (sheet, sheet_words) if here <= sheet else (here, here_words)
    anchors, room = _anchors(most, here, sheet), len(right_words) * LETTER
    # A scale that ends further out, until the words of the right mark end on the sheet; then closer marks turn away.
    for _again in range(2):
        beyond = room if "start" in anchors else room / 2
        most = max(most, right * 498 / (498 - beyond))
        anchors = _anchors(most, here, sheet)

    def x(value: float) -> str:
        return px(1 + 498 * max(value, 0) / most)

    return ClockBar(x(age), x(here), here_words, x(sheet), sheet_words, *anchors, words=f"{here_words}, {sheet_words}")


def _anchors(most: float, here: float, sheet: float) -> tuple[str, str]:
    """Words in the middle of their marks, turned away from each other where the marks are close."""
    if abs(sheet - here) * 498 / most >= ROOM_FOR_WORDS:
        return "middle", "middle"
    return ("end", "start") if here <= sheet else ("start", "end")


@dataclass(frozen=True, slots=True)
class Weeks:
    """The weeks that due-soon shows: `first` is a Monday, each `WEEK` pixels wide."""

    first: date
    today: date
    count: int

    WEEK = 31

    @property
    def width(self) -> int:
        """In pixels."""
        return self.count * self.WEEK

    def x(self, on: date) -> float:
        """Where a day stands, in pixels, also outside."""
        return (on - self.first).days / 7 * self.WEEK

    @property
    def lines(self) -> tuple[str, ...]:
        """x of the lines between weeks."""
        return tuple(px(n * self.WEEK + 0.5) for n in range(self.count + 1))

    @property
    def today_x(self) -> str:
        """x of the line of today."""
        return px(self.x(self.today))


def weeks_around(today: date, count: int = 12) -> Weeks:
    """`count` weeks from the Monday before last week's end, so that what is just past due stays in sight."""
    monday = today - timedelta(days=today.weekday())
    return Weeks(monday - timedelta(days=7), today, count)


@dataclass(frozen=True, slots=True)
class WeekBar:
    """Vehicles due in one week."""

    x: str
    y: str
    height: str
    middle: str
    figure: str
    figure_y: str
    day: str


BASE_Y, PER_VEHICLE, TALLEST = 34.0, 3.4, 27.2


def week_bars(weeks: Weeks, counts: Sequence[int]) -> tuple[WeekBar, ...]:
    """The bars above due-soon; every second week has its day ("11/30")."""
    scale = min(PER_VEHICLE, TALLEST / max([*counts, 1]))
    found = []
    for n, count in enumerate(counts[: weeks.count]):
        height, left = count * scale, n * Weeks.WEEK
        monday = weeks.first + timedelta(days=7 * n)
        found.append(
            WeekBar(
                x=px(left + 5),
                y=px(BASE_Y - height),
                height=px(height),
                middle=px(left + Weeks.WEEK / 2),
                figure=f"{count:,}" if count else "",
                figure_y=px(BASE_Y - height - 3),
                day=f"{monday.month}/{monday.day}" if n % 2 == 0 else "",
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class DueLine:
    """One vehicle among the weeks: hatched from early to late, barred at the likely day.

    past_days   days past due where the likely day lies before the first week; 0: it is in sight
    tail        x from the likely day to today where it is past due and in sight; "": not
    """

    likely: str
    band_from: str
    band_width: str
    past_days: int
    tail: str
    is_later: bool


def due_line(weeks: Weeks, likely: date, early: date | None = None, late: date | None = None) -> DueLine:
    """Where a vehicle's due day stands among the weeks."""
    today = weeks.x(weeks.today)
    if likely < weeks.first:
        return DueLine("", "", "", (weeks.today - likely).days, "", False)
    if weeks.x(likely) > weeks.width:
        return DueLine("", "", "", 0, "", True)
    at = weeks.x(likely)
    left = min(max(weeks.x(early) if early else at, 0), weeks.width)
    right = min(max(weeks.x(late) if late else weeks.width, left), weeks.width)
    band = px(right - left) if right > left and likely >= weeks.today else ""
    return DueLine(px(at), px(left), band, 0, px(today) if at < today else "", False)


@dataclass(frozen=True, slots=True)
class Scale:
    """A reading on a graduated line, 700 px wide, with the window it must stand in."""

    graduations: tuple[tuple[str, str, str], ...]
    window_from: str
    window_width: str
    reading: str
    notch: str
    words_at: str


SCALE_LEFT, SCALE_RIGHT = 10.0, 690.0


def scale(reading: float | None, *, low: int, high: int, window: tuple[float, float], small: int = 1) -> Scale:
    """Graduations from `low` to `high` every `small`, taller every fifth, labeled every tenth."""

    def x(value: float) -> float:
        return SCALE_LEFT + (SCALE_RIGHT - SCALE_LEFT) * (min(max(value, low), high) - low) / (high - low)

    marks = tuple(
        (px(x(v)), "46" if v % (5 * small) == 0 else "41", str(v) if v % (10 * small) == 0 else "")
        for v in range(low, high + 1, small)
    )
    at = px(x(reading)) if reading is not None else ""
    return Scale(
        graduations=marks,
        window_from=px(x(window[0])),
        window_width=px(x(window[1]) - x(window[0])),
        reading=at,
        notch=f"M{at} 25 l-8 -15 h16 Z" if at else "",
        words_at=px(x(window[1]) + 8),
    )
