"""Which odometer readings of a vehicle can be wrong, what each was likely meant to be, and how likely that is.

The whole series is judged at once: the likeliest chain of readings that follow each other at the vehicle's own rate,
then for each reading beside it the ways in which a figure goes wrong, weighed by how well each would fit between its
neighbors. Nothing is changed here and nothing dropped: a person decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import comb, exp, log, pi
from statistics import median

from shopserv.calc.bands import AVERAGE_A_DAY
from shopserv.calc.errors import OutOfRange, UnknownUnit
from shopserv.calc.mileage import KM_PER_MI

# Shares and spreads of this model: common practice, no source; tried on simulated series, see the help page.
FAULTS = {
    "two digits exchanged": 0.006,
    "a digit missing": 0.004,
    "a digit twice": 0.004,
    "one digit wrong": 0.006,
    "other unit": 0.006,
    "trip meter": 0.003,
    "unknown": 0.004,
}
BREAKS = {"instrument replaced": 0.004, "instrument rolled over": 0.004, "set back": 0.0015}
RIGHT = "right"
SPREAD = 0.45  # standard deviation of a stretch, of what the rate lets expect
STEADY_MI = 150.0  # and at least so much
LUMP_MI = 60.0  # a variance that grows by so much for each mile expected
TAIL, TAIL_TIMES, TAIL_MI = 0.03, 12.0, 2_500.0  # a share of stretches may be so many times the expected, and more
ANY_FIGURE = log(1e6)  # a figure of which nothing is known is one of a million
TRIP_MI = 2_000.0
LEAST_RATE, MOST_RATE = 1.0, 600.0  # mi a day, of the rate that a series is judged by
IMPOSSIBLE = -1e3
QUIET = 5.0  # a stretch less likely than the likeliest of its length by more than e to this power is looked at
ROUNDING_MI = 2.0
MOST_JUDGED = 60  # the newest readings; an older one was seen by everyone who noted these, and counts as right
DOUBT = 0.5  # a reading is doubted where it is more likely wrong than right


@dataclass(frozen=True, slots=True)
class Typed:
    """A reading as it was written down.

    figure    what the instrument is said to have shown, in the unit of the series
    before    distance run on other instruments: figure + before is the distance run
    is_sure   a person looked again and found it right
    """

    on: date
    figure: Fraction
    before: Fraction = Fraction(0)
    is_sure: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a reading likely is.

    kind       RIGHT, a kind of FAULTS, or of BREAKS where it and all after it count from another beginning
    meant      the figure that was likely meant; None: it is right, or nobody can tell
    odds       how likely this kind is, 0 to 1
    right      how likely it is that the reading is right as it stands, 0 to 1
    """

    kind: str
    meant: int | None
    odds: float
    right: float

    @property
    def is_doubted(self) -> bool:
        """Whether it is more likely wrong than right, or begins a new count."""
        return self.right < DOUBT


def verdicts(typed: Sequence[Typed], unit: str, *, digits: int = 6) -> tuple[Verdict, ...]:
    """A verdict for each reading of one vehicle, in their order.

    typed     in any order of days
    unit      mi or km, of every figure
    digits    of the instrument
    returns   of more than MOST_JUDGED readings the older ones are taken as right
    raises    UnknownUnit, OutOfRange for a figure below zero or no digit
    source    common practice, no source: shares of faults and spreads of this module; detection and false alarms are
              measured on simulated series
    check     10,000, 13,000, 61,000 and 19,000 mi a hundred days apart: the third is 16,000 with one digit wrong
    """
    if unit not in ("mi", "km"):
        raise UnknownUnit(f"{unit!r} is no unit of distance here: mi or km.")
    if digits < 1:
        raise OutOfRange(f"An instrument of {digits} digits shows nothing; it has 1 or more.")
    for one in typed:
        if one.figure < 0:
            raise OutOfRange(f"A reading of {float(one.figure):g} is below zero.")
    order = sorted(range(len(typed)), key=lambda i: (typed[i].on, typed[i].figure + typed[i].before))
    looked_at = order[-MOST_JUDGED:]
    found = _judged([typed[i] for i in looked_at], 1.0 if unit == "mi" else float(KM_PER_MI), digits)
    by_place = dict(zip(looked_at, found, strict=True))
    return tuple(by_place[i] if i in by_place else _certain() for i in range(len(typed)))


@dataclass(frozen=True, slots=True)
class _Series:
    """Readings by day; `days` and `at` (distance run) as floats, in the unit of `per` to the mile; rate a day."""

    typed: list[Typed]
    days: list[float]
    at: list[float]
    per: float
    digits: int
    rate: float

    def step(self, days: float, far: float) -> float:
        """How likely a stretch is, as the logarithm of its density."""
        if far < -ROUNDING_MI * self.per:
            return IMPOSSIBLE
        mean, sd = self._expected(days)
        body = exp(-0.5 * ((far - mean) / sd) ** 2) / (sd * (2 * pi) ** 0.5)
        most = TAIL_TIMES * mean + TAIL_MI * self.per
        tail = 1 / most if far <= most else 0.0
        return log((1 - TAIL) * body + TAIL * tail + 1e-300)

    def likeliest(self, days: float) -> float:
        """The logarithm of the density of a stretch that goes as far as expected."""
        return self.step(days, self.rate * days)

    def between(self, i: int, j: int) -> float:
        """How likely it is to get from reading i to reading j."""
        return self.step(self.days[j] - self.days[i], self.at[j] - self.at[i])

    def _expected(self, days: float) -> tuple[float, float]:
        mean = self.rate * days
        return mean, ((SPREAD * mean) ** 2 + (STEADY_MI * self.per) ** 2 + LUMP_MI * self.per * mean) ** 0.5


def _judged(typed: list[Typed], per: float, digits: int) -> list[Verdict]:
    days = [float(one.on.toordinal()) for one in typed]
    at = [float(one.figure + one.before) for one in typed]
    series = _Series(typed, days, at, per, digits, _rate(days, at, per))
    if _is_quiet(series):
        return [_certain() for _ in typed]
    chain, starts = _chain(series)
    # Once more with the rate of those that stand: the first one was taken of wrong ones too.
    kept = [i for i in chain if i not in starts[1:]]
    rate = _rate([days[i] for i in kept], [at[i] for i in kept], per)
    series = _Series(typed, days, at, per, digits, rate)
    chain, starts = _chain(series)
    return [_verdict(series, i, chain, starts) for i in range(len(typed))]


def _rate(days: Sequence[float], at: Sequence[float], per: float) -> float:
    """Median of the slopes that can be true, held to the average by two more of them."""
    slopes = [
        log((b - a) / (after - before))
        for before, after, a, b in zip(days, days[1:], at, at[1:], strict=False)
        if after > before and LEAST_RATE * per <= (b - a) / (after - before) <= MOST_RATE * per
    ]
    average = log(AVERAGE_A_DAY * per)
    own = median(slopes) if slopes else average
    return exp((2 * average + len(slopes) * own) / (2 + len(slopes)))


def _is_quiet(series: _Series) -> bool:
    """Whether each reading follows well from the one before."""
    return all(_is_usual(series, i, i + 1) for i in range(len(series.at) - 1))


def _is_usual(series: _Series, i: int, j: int) -> bool:
    return series.between(i, j) > series.likeliest(series.days[j] - series.days[i]) - QUIET


def _certain() -> Verdict:
    return Verdict(RIGHT, None, 1.0, 1.0)


def _chain(series: _Series) -> tuple[list[int], list[int]]:
    """The likeliest readings that stand, and which of them begin a count (the first one, and one after a break)."""
    count = len(series.at)
    skip = log(sum(FAULTS.values())) - ANY_FIGURE
    begin = log(BREAKS["set back"]) - ANY_FIGURE + log(10)
    best, came = [0.0] * count, [(-1, True)] * count
    for j in range(count):
        best[j] = _skipped(series, 0, j, skip)
        for i in range(j):
            passed = best[i] + _skipped(series, i + 1, j, skip)
            for value, is_break in ((passed + series.between(i, j), False), (passed + begin, True)):
                if value > best[j]:
                    best[j], came[j] = value, (i, is_break)
    ends = [best[j] + _skipped(series, j + 1, count, skip) for j in range(count)]
    j = max(range(count), key=lambda k: ends[k])
    chain, starts = [], []
    while j >= 0:
        chain.append(j)
        before, is_break = came[j]
        if is_break:
            starts.append(j)
        j = before
    return chain[::-1], starts[::-1]


def _skipped(series: _Series, first: int, end: int, skip: float) -> float:
    """What it costs to leave out the readings from `first` up to `end`; those that are sure cannot be."""
    return sum(IMPOSSIBLE if series.typed[i].is_sure else skip for i in range(first, end))


def _verdict(series: _Series, i: int, chain: list[int], starts: list[int]) -> Verdict:
    one = series.typed[i]
    earlier = [k for k in chain if k < i]
    later = [k for k in chain if k > i]
    before, after = earlier[-1] if earlier else None, later[0] if later else None
    if one.is_sure or (i in chain and _stands_well(series, before, i, after, starts)):
        return _certain()
    if after in starts[1:]:
        after = None  # what begins anew says nothing of what was before
    weights: dict[tuple[str, int | None], float] = {}
    weights[RIGHT, None] = log(1 - sum(FAULTS.values())) + _fits(series, before, i, series.at[i], after)
    for kind, figure in _candidates(one, series):
        share = log(FAULTS[kind]) - log(_ways(kind, one))
        key: tuple[str, int | None] = (kind, figure)
        fits = share + _fits(series, before, i, figure + float(one.before), after)
        weights[key] = _sum_log(weights[key], fits) if key in weights else fits
    apart = _across(series, before, after)
    weights["unknown", None] = log(FAULTS["unknown"]) - ANY_FIGURE + apart
    if float(one.figure) < TRIP_MI * series.per:
        weights["trip meter", None] = log(FAULTS["trip meter"]) - log(TRIP_MI * series.per) + apart
    if before is not None and (i in starts[1:] or after is None):
        weights.update(_breaks(series, before, i))
    return _likeliest(weights)


def _stands_well(series: _Series, before: int | None, i: int, after: int | None, starts: list[int]) -> bool:
    well = before is None or _is_usual(series, before, i)
    return well and (after is None or after in starts or _is_usual(series, i, after))


def _fits(series: _Series, before: int | None, i: int, at: float, after: int | None) -> float:
    """How likely the distance `at` is on the day of reading i, between its neighbors."""
    total = 0.0
    if before is not None:
        total += series.step(series.days[i] - series.days[before], at - series.at[before])
    if after is not None:
        total += series.step(series.days[after] - series.days[i], series.at[after] - at)
    return total


def _across(series: _Series, before: int | None, after: int | None) -> float:
    """How likely the neighbors are without the reading between them."""
    return series.between(before, after) if before is not None and after is not None else 0.0


def _breaks(series: _Series, before: int, i: int) -> dict[tuple[str, int | None], float]:
    """What a lower reading can be, where those after it follow from it or none comes after."""
    days, figure = series.days[i] - series.days[before], float(series.typed[i].figure)
    turned = series.at[i] + 10.0**series.digits - series.at[before]
    found: dict[tuple[str, int | None], float] = {
        ("instrument rolled over", None): log(BREAKS["instrument rolled over"]) + series.step(days, turned),
        ("instrument replaced", None): log(BREAKS["instrument replaced"]) + series.step(days, figure),
    }
    if series.at[i] < series.at[before]:
        found["set back", None] = log(BREAKS["set back"]) - log(max(series.at[before], 1.0))
    return found


def _candidates(one: Typed, series: _Series) -> Iterator[tuple[str, int]]:
    """Every figure that could have been meant, with the slip that made this one of it."""
    shown = str(round(one.figure))
    for i in range(len(shown)):
        for j in range(i + 1, len(shown)):
            if shown[i] != shown[j]:
                swapped = shown[:i] + shown[j] + shown[i + 1 : j] + shown[i] + shown[j + 1 :]
                yield "two digits exchanged", int(swapped)
        if i and shown[i] == shown[i - 1]:
            yield "a digit twice", int(shown[:i] + shown[i + 1 :])
        for digit in "0123456789":
            if digit != shown[i]:
                yield "one digit wrong", int(shown[:i] + digit + shown[i + 1 :])
    if len(shown) < series.digits:
        for i in range(len(shown) + 1):
            for digit in "0123456789":
                yield "a digit missing", int(shown[:i] + digit + shown[i:])
    yield "other unit", round(one.figure / KM_PER_MI)
    yield "other unit", round(one.figure * KM_PER_MI)


def _ways(kind: str, one: Typed) -> float:
    """How many figures the slip could have been made of."""
    length = len(str(round(one.figure)))
    return {
        "two digits exchanged": comb(length, 2),
        "a digit missing": 10 * (length + 1),
        "a digit twice": 1,
        "one digit wrong": 9 * length,
        "other unit": 2,
    }[kind]


def _likeliest(weights: dict[tuple[str, int | None], float]) -> Verdict:
    most = max(weights.values())
    shares = {key: exp(value - most) for key, value in weights.items()}
    total = sum(shares.values())
    kind, meant = max(shares, key=lambda key: shares[key])
    return Verdict(kind, meant, shares[kind, meant] / total, shares[RIGHT, None] / total)


def _sum_log(one: float, other: float) -> float:
    high, low = max(one, other), min(one, other)
    return high + log(1 + exp(low - high))
