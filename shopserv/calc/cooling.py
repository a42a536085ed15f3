"""The cool-down clock with its band: two readings or more, one falling curve, and how far each error moves the hand."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shopserv.calc import errors, oil
from shopserv.calc.measures import Real, exact, within
from shopserv.calc.working import Change, From, Given, Step, Working

SCATTER_K = 0.5  # of one reading beside the next on the same instrument; common practice, no source
AMBIENT_DOUBT_K = 2  # of the air around the unit over the whole wait; common practice, no source
COVERAGE = 2  # about 95 %: JCGM 100:2008 (GUM), 6.3.3
POINTS = 24
MOST_DOUBT = 0.2  # of the rate, beyond which there is no clock; common practice, no source
NUDGE = 1_000  # a derivative takes this part of what an input may move


class TooFlat(errors.InsufficientReadings):
    """Readings that fell too little to tell how fast the fluid cools.

    further_k   K below the last reading at which a further one would tell; none: the air is too near for any to
    """

    def __init__(self, doubt: float, further_k: int | None) -> None:
        self.further_k = further_k
        mend = "the air is too near" if further_k is None else f"read once more at least {further_k} K lower"
        most = f"{100 * MOST_DOUBT:.0f} %"
        super().__init__(f"The rate of cooling is in doubt by {100 * doubt:.0f} %, of which {most} would do: {mend}.")


@dataclass(frozen=True, slots=True)
class Reading:
    """A fluid temperature and its minute."""

    minutes: Real
    celsius: Real


@dataclass(frozen=True, slots=True)
class Share:
    """What one error alone moves the hand, in minutes."""

    words: str
    minutes: float


@dataclass(frozen=True, slots=True)
class Moment:
    """When the fluid is down at a temperature, in minutes from the last reading; 0: it is there.

    error       combined standard uncertainty
    low, high   the band at twice the uncertainty, longer to the late side, as the rate stands below the line; low not
                before now; high none: with air that warm it may never be reached
    shares      largest first
    """

    celsius: float
    minutes: float
    error: float
    low: float
    high: float | None
    shares: tuple[Share, ...]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """The curve at a minute, and twice its error either way."""

    minutes: float
    celsius: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class CoolClock:
    """When the window opens and closes, and when to start the engine.

    time_constant_min   of the fitted curve, with its standard uncertainty beside it
    opens, closes       high and low edge of the window; none: the air is too warm for the fluid to cool so far
    start               low edge less the idle rise
    residual_k          how far the readings lie off the curve, root of the mean square over count - 2; none: of two
    fits                the residual is no more than twice the scatter of the readings
    """

    time_constant_min: float
    time_constant_error: float
    opens: Moment | None
    closes: Moment | None
    start: Moment | None
    start_c: float
    residual_k: float | None
    fits: bool
    curve: tuple[CurvePoint, ...]
    verdict: str
    working: Working


@dataclass(frozen=True, slots=True)
class Errors:
    """How far the instruments are trusted, each as one standard uncertainty in K.

    thermometer   stated error, the same way in every reading
    scatter       of one reading beside the next
    ambient       of the air, over the whole wait
    """

    thermometer: Real
    scatter: Real = SCATTER_K
    ambient: Real = AMBIENT_DOUBT_K


def fit(readings: Sequence[tuple[float, float]], ambient_c: float) -> tuple[float, float]:
    """(K above the air at the last reading, 1/min) of the curve through readings.

    readings   (minutes, °C), all above the air
    source     straight line through ln(T - Ta) by least squares, each reading weighed by (T - Ta)², which makes equal
               errors of T count alike (Bevington and Robinson, Data Reduction and Error Analysis, weighting of
               transformed values; memory). Two readings: the line through both, as oil.cool_down_time
    check      78 and 70 °C nine minutes apart in 18 °C: 52 K, 0.0159001 a minute
    """
    last = readings[-1][0]
    rows = [
        (minutes - last, math.log(celsius - ambient_c), (celsius - ambient_c) ** 2) for minutes, celsius in readings
    ]
    weight = math.fsum(w for _, _, w in rows)
    mean_t = math.fsum(w * t for t, _, w in rows) / weight
    mean_y = math.fsum(w * y for _, y, w in rows) / weight
    slope = math.fsum(w * (t - mean_t) * (y - mean_y) for t, y, w in rows) / math.fsum(
        w * (t - mean_t) ** 2 for t, _, w in rows
    )
    return math.exp(mean_y - slope * mean_t), -slope


def cool_clock(
    readings: Sequence[Reading],
    *,
    ambient_c: Real,
    window_c: tuple[Real, Real],
    idle_rise_k: Real,
    trust: Errors,
) -> CoolClock:
    """When to be back, with the band that thermometer, readings and air leave.

    readings      oldest first, at least 2, °C from -50 to 150
    idle_rise_k   by how much the fluid warms from starting the engine to the check: the shop's own figure, 0 or more
    raises        InsufficientReadings, DateOrder, OutOfRange, NotCooling; TooFlat where the rate is in doubt by more
                  than a fifth and the fluid still has to wait
    source        Newton's law of cooling; the uncertainty by the law of propagation, JCGM 100:2008 (GUM), 5.1.2,
                  derivatives by central differences; the band of the ratio ln(A / (T - Ta)) / rate by Fieller's theorem
                  (E. C. Fieller, J. R. Stat. Soc. B 16, 1954, 175; memory). A fifth of doubt, "start at low edge less
                  idle rise" and the scatter of 0.5 K are common practice, no source
    check         78 and 70 °C nine minutes apart in 18 °C, 40 to 45 °C, 4 K: constant 62.89 min, window after 41.2 to
                  54.1 min, start at 36.0 °C after 66.7 min
    """
    rows, air = _checked(readings, ambient_c)
    low, high = exact(window_c[0]), exact(window_c[1])
    if low >= high:
        raise errors.OutOfRange(
            f"The window's low end {float(low):g} °C must be under its high end {float(high):g} °C."
        )
    rise = exact(idle_rise_k)
    spreads = _spreads(trust, len(rows))
    if rise < 0:
        raise errors.OutOfRange(f"The idle rise is {float(rise):g} K: while it idles the fluid does not cool.")
    above, rate = fit(rows, air)
    if rate <= 0:
        raise errors.NotCooling("The readings do not fall: the fluid is not cooling.")

    start_c = float(low - rise)
    doubt = _doubt(rows, air, spreads)
    if doubt > MOST_DOUBT and any(air < goal < air + above for goal in (high, low, start_c)):
        raise TooFlat(doubt, _further(rows, air, trust))

    def moment(goal: float) -> Moment | None:
        return _moment(rows, air, goal, spreads)

    opens, closes, start = moment(float(high)), moment(float(low)), moment(start_c)
    residual = _residual(rows, air, above, rate)
    fits = residual is None or residual <= COVERAGE * max(float(trust.scatter), 1e-9)
    constant = 1 / rate
    constant_error = _error(lambda shifted, warm: 1 / fit(shifted, warm)[1], rows, air, spreads)[0]
    farthest = max((m.high or m.minutes for m in (opens, closes, start) if m is not None), default=constant)
    verdict = _verdict(start, start_c, fits)
    return CoolClock(
        time_constant_min=constant,
        time_constant_error=constant_error,
        opens=opens,
        closes=closes,
        start=start,
        start_c=start_c,
        residual_k=residual,
        fits=fits,
        curve=_curve(rows, air, spreads, max(farthest, 1.0)),
        verdict=verdict,
        working=_working(rows, air, (low, high), rise, trust, start, opens, closes, (above, constant), residual),
    )


def _checked(readings: Sequence[Reading], ambient_c: Real) -> tuple[list[tuple[float, float]], float]:
    if len(readings) < 2:
        raise errors.InsufficientReadings(f"{len(readings)} temperature read; the clock needs two, some minutes apart.")
    minutes = [exact(one.minutes) for one in readings]
    if any(later <= earlier for earlier, later in itertools.pairwise(minutes)):
        raise errors.DateOrder("Each temperature must be read after the one before.")
    bounds = oil.TEMPERATURE_LOW_C, oil.TEMPERATURE_HIGH_C
    warm = [within(one.celsius, *bounds, "The fluid temperature in °C") for one in readings]
    air = within(ambient_c, *bounds, "The temperature of the air in °C")
    if min(warm) <= air:
        raise errors.OutOfRange(
            f"The fluid reads {float(min(warm)):g} °C in air of {float(air):g} °C: it must be above that of the air."
        )
    if warm[-1] >= warm[0]:
        raise errors.NotCooling(
            f"{float(warm[-1]):g} °C after {float(warm[0]):g} °C: the last temperature is not below the first."
        )
    return [(float(t), float(c)) for t, c in zip(minutes, warm, strict=True)], float(air)


@dataclass(frozen=True, slots=True)
class _Spread:
    """One error: its words, its size in K, and which readings (or the air) it moves; like words make one share."""

    words: str
    kelvin: float
    moves: Callable[[int], bool]
    is_air: bool = False


def _spreads(trust: Errors, count: int) -> list[_Spread]:
    sizes = {"thermometer": trust.thermometer, "scatter of the readings": trust.scatter, "air": trust.ambient}
    for words, size in sizes.items():
        if exact(size) < 0:
            raise errors.OutOfRange(f"The error of {words} is {float(size):g} K; it must not be negative.")
    found = [_Spread("scatter of the readings", float(trust.scatter), n.__eq__) for n in range(count)]
    found.append(_Spread("thermometer", float(trust.thermometer), lambda at: True))
    found.append(_Spread("air around the unit", float(trust.ambient), lambda at: False, is_air=True))
    return found


Estimate = Callable[[list[tuple[float, float]], float], float]


def _error(
    estimate: Estimate, rows: list[tuple[float, float]], air: float, spreads: Sequence[_Spread], room: float = math.inf
) -> tuple[float, tuple[Share, ...]]:
    """(combined standard uncertainty, shares largest first) of an estimate.

    room   K by which an input may move before the estimate has no answer
    """
    shares: dict[str, float] = {}
    for spread, part in zip(spreads, _each(estimate, rows, air, spreads, room), strict=True):
        shares[spread.words] = math.hypot(shares.get(spread.words, 0.0), part)
    ordered = sorted((Share(words, size) for words, size in shares.items()), key=lambda share: -share.minutes)
    return math.hypot(*shares.values()), tuple(ordered)


def _each(
    estimate: Estimate, rows: list[tuple[float, float]], air: float, spreads: Sequence[_Spread], room: float = math.inf
) -> list[float]:
    """What each error moves an estimate by, with its sign."""
    drop, left = rows[0][1] - rows[-1][1], min(celsius for _, celsius in rows) - air
    nudge = min(drop, left, room) / NUDGE
    found = []
    for spread in spreads:
        ends = []
        for way in (nudge, -nudge):
            shifted = [(t, c + way if spread.moves(n) else c) for n, (t, c) in enumerate(rows)]
            ends.append(estimate(shifted, air + way if spread.is_air else air))
        found.append((ends[0] - ends[1]) / (2 * nudge) * spread.kelvin)
    return found


def _rate(rows: list[tuple[float, float]], air: float) -> float:
    return fit(rows, air)[1]


def _doubt(rows: list[tuple[float, float]], air: float, spreads: Sequence[_Spread]) -> float:
    """The standard uncertainty of the rate, as a share of it: that of ln(rate)."""
    return math.hypot(*_each(_rate, rows, air, spreads)) / _rate(rows, air)


def _further(rows: list[tuple[float, float]], air: float, trust: Errors) -> int | None:
    """K below the last reading, whole, at which one more on the curve leaves no more doubt than the most."""
    above, rate = fit(rows, air)
    last, spreads = rows[-1], _spreads(trust, len(rows) + 1)
    for lower in range(1, int(above)):  # no nearer the air than 1 K
        at = last[0] + math.log(above / (above - lower)) / rate
        if _doubt([*rows, (at, air + above - lower)], air, spreads) <= MOST_DOUBT:
            return lower
    return None


def _band_of_ratio(top: float, rate: float, tops: Sequence[float], rates: Sequence[float]) -> tuple[float, float]:
    """The band at twice the uncertainty of top / rate, whose errors are given one by one; rate is well off 0."""
    square = COVERAGE**2
    a = rate**2 - square * math.fsum(one**2 for one in rates)
    b = top * rate - square * math.fsum(one * other for one, other in zip(tops, rates, strict=True))
    c = top**2 - square * math.fsum(one**2 for one in tops)
    wide = math.sqrt(max(0.0, b * b - a * c))
    return (b - wide) / a, (b + wide) / a


def _moment(rows: list[tuple[float, float]], air: float, goal: float, spreads: Sequence[_Spread]) -> Moment | None:
    if goal <= air:
        return None
    above, rate = fit(rows, air)
    if goal >= air + above:
        return Moment(goal, 0.0, 0.0, 0.0, 0.0, ())

    def until(shifted: list[tuple[float, float]], warm: float) -> float:
        there, falls = fit(shifted, warm)
        return math.log(there / (goal - warm)) / falls

    def falls_by(shifted: list[tuple[float, float]], warm: float) -> float:
        return math.log(fit(shifted, warm)[0] / (goal - warm))

    room = goal - air
    minutes = math.log(above / room) / rate
    error, shares = _error(until, rows, air, spreads, room)
    low, high = _band_of_ratio(
        minutes * rate, rate, _each(falls_by, rows, air, spreads, room), _each(_rate, rows, air, spreads)
    )
    warmest = air + COVERAGE * next(spread.kelvin for spread in spreads if spread.is_air)
    return Moment(goal, minutes, error, max(0.0, low), high if goal > warmest else None, shares)


def _residual(rows: list[tuple[float, float]], air: float, above: float, rate: float) -> float | None:
    if len(rows) == 2:
        return None
    last = rows[-1][0]
    off = [celsius - air - above * math.exp(-rate * (minutes - last)) for minutes, celsius in rows]
    return math.sqrt(math.fsum(one * one for one in off) / (len(rows) - 2))


def _curve(
    rows: list[tuple[float, float]], air: float, spreads: Sequence[_Spread], until: float
) -> tuple[CurvePoint, ...]:
    first = rows[0][0] - rows[-1][0]
    found = []
    for n in range(POINTS + 1):
        minute = first + (until - first) * n / POINTS

        def at(shifted: list[tuple[float, float]], warm: float, minute: float = minute) -> float:
            above, rate = fit(shifted, warm)
            return warm + above * math.exp(-rate * minute)

        celsius = at(rows, air)
        wide = COVERAGE * _error(at, rows, air, spreads)[0]
        found.append(CurvePoint(minute, celsius, celsius - wide, celsius + wide))
    return tuple(found)


def _verdict(start: Moment | None, start_c: float, fits: bool) -> str:
    if start is None:
        words = f"the air is too warm to wait for {start_c:g} °C"
    elif start.minutes == 0:
        words = f"start the engine now: the fluid is at or below {start_c:g} °C"
    else:
        latest = "no end" if start.high is None else f"{start.high:.0f}"
        words = f"start the engine at {start_c:g} °C, in {start.minutes:.0f} min ({start.low:.0f} to {latest})"
    if fits:
        return words
    return f"{words}; the readings do not lie on one curve: a fan, an open door or a warm engine changed the air"


def _working(
    rows: list[tuple[float, float]],
    air: float,
    window: tuple[Real, Real],
    rise: Real,
    trust: Errors,
    start: Moment | None,
    opens: Moment | None,
    closes: Moment | None,
    curve: tuple[float, float],
    residual: float | None,
) -> Working:
    above, constant = curve
    given = [
        Given(f"T_{{{n + 1}}}", f"reading {n + 1}, at {minutes:g} min", celsius, "°C", From.READ,
              low=celsius - float(trust.scatter), high=celsius + float(trust.scatter))
        for n, (minutes, celsius) in enumerate(rows)
    ]  # fmt: skip
    doubt = float(trust.ambient)
    given += [
        Given("T_a", "air around the unit", air, "°C", From.READ, low=air - doubt, high=air + doubt),
        Given("e", "stated error of the thermometer", float(trust.thermometer), "K", From.INSTRUMENT),
        Given("T_{low}", "low edge of the window", float(window[0]), "°C", From.UNIT_SHEET),
        Given("T_{high}", "high edge of the window", float(window[1]), "°C", From.UNIT_SHEET),
        Given("\\Delta T", "idle rise", float(rise), "K", From.HOUSE_RULES, "the shop's own figure"),
    ]
    steps = [
        Step("time constant", r"\tau = -1 / \mathrm{slope}(\ln(T_i - T_a), t_i)", constant, "min"),
        Step("above the air at the last reading", r"A = T(0) - T_a", above, "K"),
    ]
    for words, moment in (("high edge in", opens), ("low edge in", closes), ("start in", start)):
        if moment is not None:
            steps.append(Step(words, r"t = \tau \ln\frac{A}{T - T_a}", moment.minutes, "min"))
    if residual is not None:
        steps.append(Step("readings off the curve", r"s = \sqrt{\sum r_i^2 / (n - 2)}", residual, "K"))
    shares = () if start is None else start.shares
    steps += [Step(f"start, by {share.words} alone", r"u_i", share.minutes, "min") for share in shares]
    if start is not None:
        steps.append(Step("start, all together", r"u = \sqrt{\sum u_i^2}", start.error, "min"))
    return Working(
        figure="start of the engine",
        value=None if start is None else start.minutes,
        unit="min",
        low=None if start is None else start.low,
        high=None if start is None else start.high,
        formula="T = Ta + A exp(-t/tau), A and tau from the readings; start the engine at the low edge - idle rise",
        formulas=(
            r"T(t) = T_a + A\,e^{-t/\tau}",
            r"t_{start} = \tau \ln\frac{A}{T_{low} - \Delta T - T_a}",
            r"u^2 = \sum_i \left(\frac{\partial t}{\partial x_i} u_i\right)^2",
            r"\ln\frac{A}{T - T_a} - \frac{t}{\tau} = \pm 2\,u(t)",
        ),
        given=tuple(given),
        steps=tuple(steps),
        sources=(
            "Newton's law of cooling",
            "JCGM 100:2008 (GUM), 5.1.2: propagation of uncertainty; 6.3.3: twice the combined uncertainty",
            "the band of a ratio: E. C. Fieller, J. R. Stat. Soc. B 16 (1954), 175; memory",
            "scatter of a reading, doubt of the air, idle rise, a fifth of doubt at most: common practice, no source",
        ),
        assumptions=("the air around the unit keeps its temperature",),
        changes=tuple(
            Change(
                share.words,
                None if start is None else start.minutes - share.minutes,
                None if start is None else start.minutes + share.minutes,
                share.minutes,
                "min",
                "one standard uncertainty either way",
            )
            for share in shares
        ),
    )
