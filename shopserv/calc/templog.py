"""A temperature log read strictly: each line that cannot be is named, the rest is weighed by time into bins."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from shopserv.calc.errors import InsufficientReadings, MissingInput, OutOfRange, UnknownChoice, UnknownUnit
from shopserv.calc.profile import COLDEST_C, HOTTEST_C, Bin

UNITS = ("degC", "degF")
ORDERS = ("mdy", "dmy")
EPOCH, UNIX = datetime(2000, 1, 1, tzinfo=UTC), datetime(1970, 1, 1, tzinfo=UTC)
_WRITTEN = re.compile(
    r"(?:([0-9]{1,2})[/.]([0-9]{1,2})[/.]([0-9]{4})[ T]+)?([0-9]{1,2}):([0-9]{2})(?::([0-9]{2})(?:\.([0-9]{1,9}))?)?"
    r"(?: ?([AaPp][Mm]))?"
)
MOST_ROWS = 50_000  # 14 hours at one a second
LONGEST_GAP = timedelta(minutes=10)
FASTEST_K_S = Fraction(2)  # no sump of liters of fluid warms or cools faster
BIN_K = 5
MICRO = 10**6
LONGEST_NUMBER = 32  # a float written whole has some 18 characters
TIME_WORDS, HEAT_WORDS = ("time", "date", "stamp"), ("temp", "°c", "°f", "degc", "degf")
_HEAT_UNIT = re.compile(
    r"(?:(?:° ?|deg\.? ?|degrees? )([cf])[)\]]?|(c)elsius[)\]]?|(f)ahrenheit[)\]]?|[(\[]([cf])[)\]]|[_ /]([cf]))$"
)
_TIME_UNIT = re.compile(
    r"[ _/(\[](?:(ms|msec|millis|milliseconds?)|(s|secs?|seconds?)|(mins?|minutes?)|(h|hrs?|hours?))[)\]]?$"
)
TICKS = {"ms": Fraction(1, 1000), "s": Fraction(1), "min": Fraction(60), "h": Fraction(3600)}
SINCE_1970 = 10**9  # seconds: no log is 31 years long


@dataclass(frozen=True, slots=True)
class Head:
    """The columns of a log: names as they stand, the places of time and temperature, and the unit that is named.

    time, heat   place of the column, from 0; none: not one alone could be meant
    unit         degC or degF; none: the head does not say
    ticks        unit of a time that is a plain number: ms, s, min or h; none: the head does not say
    """

    names: tuple[str, ...]
    delimiter: str
    time: int | None
    heat: int | None
    unit: str | None
    ticks: str | None = None


@dataclass(frozen=True, slots=True)
class Fault:
    """A line that does not count, and why; `line` as an editor counts them, the head is line 1."""

    line: int
    why: str


@dataclass(frozen=True, slots=True)
class Sample:
    """A temperature at a moment; `line` as in Fault."""

    line: int
    at: datetime
    celsius: Fraction


@dataclass(frozen=True, slots=True)
class Log:
    """What a log says.

    samples   those that count, in the order of time
    faults    lines that do not count
    gaps      (line after it, seconds) of each pause longer than the longest allowed; its time does not count
    """

    samples: tuple[Sample, ...]
    faults: tuple[Fault, ...]
    gaps: tuple[tuple[int, Fraction], ...]


@dataclass(frozen=True, slots=True)
class Strip:
    """A step of the histogram: from `low_c` up to and without `low_c` + 5 K; its time and its mean temperature."""

    low_c: int
    seconds: Fraction
    mean_c: Fraction


def head_of(text: str) -> Head:
    """The columns that the first line names.

    raises   MissingInput for a file without a line of names and a row, or with a single column
    check    "Time;Sump °C": columns 0 and 1, degC
    """
    lines = [line for line in text.lstrip("\ufeff").splitlines() if line.strip()]
    if len(lines) < 2:
        raise MissingInput("The log needs a line of column names and rows below it.")
    delimiter = max(",;\t", key=lines[0].count)
    names = _cells(lines[0], delimiter)
    if len(names) < 2:
        raise MissingInput("The log has one column; it needs the time and the temperature, parted by comma or tab.")
    heat = _only([_spelled(name) for name in names], HEAT_WORDS)
    time = _only(["time" if _is_timed(name) else name for name in names], TIME_WORDS)
    unit, ticks = (None if heat is None else unit_of(names[heat])), (None if time is None else ticks_of(names[time]))
    return Head(names, delimiter, time, heat, unit, ticks)


def unit_of(name: str) -> str | None:
    """The unit of temperature that the name of a column ends with; none: it does not say.

    check   "Trans temp (°C)", "Sump [degC]", "sump_c": degC
    """
    found = _HEAT_UNIT.search(_spelled(name))
    return f"deg{found.group(found.lastindex or 0).upper()}" if found else None


def ticks_of(name: str) -> str | None:
    """The unit of time that the name of a column ends with: ms, s, min or h; none: it does not say.

    check   "Time (ms)": ms; "t/h": h; "Time": none
    """
    found = _TIME_UNIT.search(name.lower())
    return tuple(TICKS)[(found.lastindex or 0) - 1] if found else None


def _is_timed(name: str) -> bool:
    """Whether a column is of time by its sign and unit alone, as "t/h" is."""
    return name.lower().startswith(("t/", "t ", "t_", "t(", "t[", "elapsed")) and ticks_of(name) is not None


def _spelled(name: str) -> str:
    """A name in small letters, its degree signs one and the same."""
    return name.lower().replace("º", "°").replace("˚", "°").replace("℃", "°c").replace("℉", "°f")


def _cells(line: str, delimiter: str) -> tuple[str, ...]:
    return tuple(cell.strip().strip('"').strip() for cell in line.split(delimiter))


def _only(names: Sequence[str], words: Sequence[str]) -> int | None:
    found = [place for place, name in enumerate(names) if any(word in name.lower() for word in words)]
    return found[0] if len(found) == 1 else None


def read(
    text: str,
    head: Head,
    *,
    time: int | None = None,
    heat: int | None = None,
    unit: str | None = None,
    order: str = "mdy",
    ticks: str | None = None,
) -> Log:
    """Every line of a log, those that cannot be with their reason.

    time, heat, unit   what the head does not say, as it was asked; None: the head decides
    order              mdy or dmy: how a day like 11/24/2026 is written where the log comes from
    ticks              ms, s, min or h, of a time that is a plain number; None: the head decides, else seconds
    raises             MissingInput, UnknownUnit, UnknownChoice for a column or an order that is not there,
                       OutOfRange for more than 50,000 rows, InsufficientReadings where no two lines count
    source             -45 to 180 °C, at most 2 K/s, gaps over 10 min: common practice, no source
    """
    at = _column(head, head.time if time is None else time, "time")
    hot = _column(head, head.heat if heat is None else heat, "temperature")
    scale = unit_of(head.names[hot]) if unit is None else unit
    if scale is None:
        raise MissingInput("The head of the log does not say whether it is in °C or in °F.")
    if scale not in UNITS:
        raise UnknownUnit(f"{scale!r} is no unit of a log; it may be {' or '.join(UNITS)}.")
    if order not in ORDERS:
        raise UnknownChoice(f"{order!r} is no order of a day; it may be {' or '.join(ORDERS)}.")
    tick = ticks_of(head.names[at]) if ticks is None else ticks
    if tick is not None and tick not in TICKS:
        raise UnknownUnit(f"{tick!r} is no unit of a time; it may be {', '.join(TICKS)}.")
    samples: list[Sample] = []
    faults: list[Fault] = []
    gaps: list[tuple[int, Fraction]] = []
    rows = [(n, row) for n, row in enumerate(text.lstrip("\ufeff").splitlines(), start=1) if row.strip()]
    if len(rows) > MOST_ROWS + 1:
        raise OutOfRange(f"The log has more than {MOST_ROWS:,} rows. Cut it into parts.")
    for line, row in rows[1:]:
        last = samples[-1] if samples else None
        sample, why = _sample(line, _cells(row, head.delimiter), (at, hot), (scale, order, tick), last)
        if sample is None:
            faults.append(Fault(line, why))
            continue
        if last and sample.at - last.at > LONGEST_GAP:
            gaps.append((line, _seconds(sample.at - last.at)))
        samples.append(sample)
    if len(samples) < 2:
        first = f" Line {faults[0].line}: {faults[0].why}" if faults else ""
        raise InsufficientReadings(
            f"{len(samples)} of {len(samples) + len(faults)} lines count; two are needed.{first}"
        )
    return Log(tuple(samples), tuple(faults), tuple(gaps))


def counted(text: str, head: Head, time: int) -> Fraction | None:
    """How much the times of a log count from the first to the last, where their unit must be asked.

    time      place of the column
    returns   None where the head names the unit, a time is no plain number, or it counts since 1970
    check     "Time" over 0, 500 and 90,000: 90,000
    """
    if not 0 <= time < len(head.names) or ticks_of(head.names[time]):
        return None
    rows = [row for row in text.lstrip("\ufeff").splitlines() if row.strip()][1:]
    ends = [(_cells(row, head.delimiter)[time : time + 1] or ("",))[0] for row in (rows[0], rows[-1])]
    if not all(_is_number(typed) and Fraction(typed) < SINCE_1970 for typed in ends):
        return None
    return Fraction(ends[1]) - Fraction(ends[0])


def _column(head: Head, place: int | None, what: str) -> int:
    if place is None:
        raise MissingInput(f"Which column is the {what} cannot be told from {', '.join(head.names)}.")
    if not 0 <= place < len(head.names):
        raise UnknownChoice(f"The log has {len(head.names)} columns; there is no column {place + 1} for the {what}.")
    return place


def _sample(
    line: int, cells: Sequence[str], places: tuple[int, int], written: tuple[str, str, str | None], last: Sample | None
) -> tuple[Sample | None, str]:
    if len(cells) <= max(places):
        return None, f"it has {len(cells)} values; the columns asked for are not there."
    typed_time, typed_heat = (cells[place] for place in places)
    unit, order, tick = written
    at = _moment(typed_time, order, tick)
    if at is None:
        return (
            None,
            f"“{typed_time[:30]}” is no time; written like 2026-11-24 10:42:00, 11/24/2026 10:42:00 AM or in seconds.",
        )
    celsius = _celsius(typed_heat, unit)
    if celsius is None:
        return None, f"“{typed_heat[:30]}” is no temperature."
    if not COLDEST_C <= celsius <= HOTTEST_C:
        sign = "°C" if unit == "degC" else "°F"
        return None, f"{typed_heat} {sign} cannot be; a sump has {COLDEST_C} to {HOTTEST_C} °C (-49 to 356 °F)."
    if last and at <= last.at:
        return None, f"its time is not later than that of line {last.line}."
    if last and at - last.at <= LONGEST_GAP and abs(celsius - last.celsius) > FASTEST_K_S * _seconds(at - last.at):
        return None, f"{float(celsius - last.celsius):+.1f} K since line {last.line} is faster than fluid can change."
    return Sample(line, at, celsius), ""


def _is_number(typed: str) -> bool:
    return typed.replace(".", "", 1).isdecimal() and typed.isascii() and len(typed) <= LONGEST_NUMBER


def _moment(typed: str, order: str, tick: str | None) -> datetime | None:
    """An ISO time, its zone left out (it is the same in a whole log), a day and a time, a time alone, or a count."""
    try:
        if _is_number(typed):
            return _counted(Fraction(typed), tick)
        found = _WRITTEN.fullmatch(typed)
        if not found:
            return datetime.fromisoformat(typed).replace(tzinfo=UTC)
        one, other, year, hour, minute, second, part, half = found.groups()
        month, day = (one, other) if order == "mdy" else (other, one)
        if half and not 1 <= int(hour) <= 12:
            return None
        hours = int(hour) % 12 + 12 * (half.lower() == "pm") if half else int(hour)
        micro = int(f"{part or 0:0<6}"[:6])
        begin = EPOCH.replace(year=int(year), month=int(month), day=int(day)) if year else EPOCH
        return begin.replace(hour=hours, minute=int(minute), second=int(second or 0), microsecond=micro)
    except (ValueError, OverflowError):
        return None


def _counted(number: Fraction, tick: str | None) -> datetime:
    """What a plain number counts: from the start of the log, or, where no log is as long, since 1970.

    Without a unit it counts seconds, from a million million on milliseconds.
    """
    seconds = number * TICKS[tick or ("ms" if number >= SINCE_1970 * 1000 else "s")]
    begin = UNIX if seconds >= SINCE_1970 else EPOCH
    return begin + timedelta(microseconds=int(seconds * MICRO))


def lasts(log: Log) -> Fraction:
    """Seconds from the first to the last line that counts, pauses among them."""
    return _seconds(log.samples[-1].at - log.samples[0].at)


def length(seconds: Fraction) -> str:
    """A time in words: in seconds up to two minutes, in minutes up to two hours, else in hours.

    check   90: "90 s"; 7,199: "120.0 min"; 7,200: "2.0 h"
    """
    if seconds < 120:
        return f"{float(seconds):g} s"
    return f"{float(seconds / 60):,.1f} min" if seconds < 7_200 else f"{float(seconds / 3_600):,.1f} h"


def said(at: datetime) -> str:
    """A moment of a log in words: "2026-11-24 10:42:05", or "90 s" where it counts from its own start."""
    if at.year == EPOCH.year:
        return f"{float(_seconds(at - EPOCH)):g} s"
    return at.strftime("%Y-%m-%d %H:%M:%S")


def _celsius(typed: str, unit: str) -> Fraction | None:
    plain = typed.replace("−", "-")
    sign, digits = (plain[:1], plain[1:]) if plain[:1] in "+-" else ("", plain)
    whole, point, part = digits.partition("," if "," in digits else ".")
    if not (whole.isdecimal() and digits.isascii()) or (point and not part.isdecimal()) or len(digits) > LONGEST_NUMBER:
        return None
    value = Fraction(f"{sign}{whole}.{part or 0}")
    return value if unit == "degC" else (value - 32) * 5 / 9


def _seconds(span: timedelta) -> Fraction:
    return Fraction(span // timedelta(microseconds=1), MICRO)


def strips(samples: Sequence[Sample]) -> tuple[Strip, ...]:
    """The time spent in each step of 5 K, straight lines between samples, gaps left out; coldest first.

    raises   InsufficientReadings where no time counts
    source   linear between samples: common practice, no source
    check    80 to 100 °C in 80 s: 20 s each in 80, 85, 90 and 95, their means 82.5 to 97.5
    """
    time: dict[int, Fraction] = {}
    heat: dict[int, Fraction] = {}
    for one, other in pairwise(samples):
        span = other.at - one.at
        if span > LONGEST_GAP:
            continue
        for low, seconds, mean in _pieces(one.celsius, other.celsius, _seconds(span)):
            time[low] = time.get(low, Fraction(0)) + seconds
            heat[low] = heat.get(low, Fraction(0)) + seconds * mean
    if not time:
        raise InsufficientReadings("Between all lines of the log lies more than 10 minutes; no time counts.")
    return tuple(Strip(low, time[low], heat[low] / time[low]) for low in sorted(time))


def _pieces(begin: Fraction, end: Fraction, seconds: Fraction) -> list[tuple[int, Fraction, Fraction]]:
    """(low edge, seconds, mean °C) of each step that a straight line from `begin` to `end` runs through.

    The edges are passed at whole microseconds: exact ones would make the sums over a long log numbers without end.
    """
    low, high = sorted((begin, end))
    first = low // BIN_K * BIN_K
    if high <= first + BIN_K:
        return [(int(first), seconds, (low + high) / 2)]
    found = []
    edge, since = low, Fraction(0)
    while edge < high:
        step = edge // BIN_K * BIN_K
        top = min(Fraction(step + BIN_K), high)
        until = Fraction(round(seconds * MICRO * (top - low) / (high - low)), MICRO)
        if until > since:
            found.append((int(step), until - since, (edge + top) / 2))
        edge, since = top, until
    return found


def bins_of(histogram: Sequence[Strip]) -> tuple[Bin, ...]:
    """Shares of the time at the mean temperature of each step; they sum to 1 exactly."""
    whole = duration(histogram)
    if whole <= 0:
        raise InsufficientReadings("The log has no time that counts.")
    return tuple((one.seconds / whole, one.mean_c) for one in histogram)


def duration(histogram: Sequence[Strip]) -> Fraction:
    """Seconds that count."""
    return sum((one.seconds for one in histogram), Fraction(0))


def mean(histogram: Sequence[Strip]) -> Fraction:
    """The mean temperature over the time that counts, in °C.

    raises   InsufficientReadings where no time counts
    """
    return sum((share * celsius for share, celsius in bins_of(histogram)), Fraction(0))


def days_of(log: Log) -> tuple[date, date] | None:
    """First and last day of a log; none where it counts from its own start."""
    first, last = log.samples[0].at, log.samples[-1].at
    return None if EPOCH.year in (first.year, last.year) else (first.date(), last.date())
