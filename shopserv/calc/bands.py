"""How sure a due day is: a band that was tried on simulated vehicles, and held as often as it says.

The likely day goes by one rate, and the band lies around that day: by the middle slope of the readings or, of fewer
than two, by the published average. The widths to both sides grow with how unevenly the vehicle was driven between its
readings, with what of that goes with the time of the year, with what the average still has to say, with few readings
and with a short way ahead. What each counts for is fitted (`bands_fitted`), for either side by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from math import exp, floor, log, log1p

from shopserv.calc import bands_fitted, mileage, yearly
from shopserv.calc.errors import NotMoving, OutOfRange, UnknownUnit
from shopserv.calc.mileage import KM_PER_MI, Reading

# Federal Highway Administration, Highway Statistics 2009, table VM-1M (revised April 2011): average distance a vehicle,
# all light duty vehicles, 18,054 km a year; the years until now differ from it by a few percent (memory).
AVERAGE_KM_A_YEAR = 18_054
AVERAGE_A_DAY = AVERAGE_KM_A_YEAR / float(KM_PER_MI) / 365.25  # mi
LONGEST_PAST = 1400.0  # days: a longer past was not tried and makes nothing surer
EVEN = 5.0  # days of unevenness: below, less of it counts for more
SHORT, LONG = 90.0, 365.0  # days: a way ahead shorter or longer than these has a power of its own
FARTHEST = 2.0  # logarithm of how far the rate of the likely day counts as apart from the drawn one
WIDEST = 3.0  # of the logarithm of the days; readings that say less than the average alone are wrong ones


@dataclass(frozen=True, slots=True)
class Side:
    """What the width to one edge is made of: a factor, and the powers of what it grows or falls with.

    factor        of all
    uneven        of the unevenness over EVEN; even: the same once more, where it is below 1; uneven_far: once more for
                  each power of e that the days ahead are over SHORT
    unknown       of the weight of the average, 1 - own_share
    few           of 1 + 1 / n, n stretches between readings
    ahead         of the days ahead over SHORT; short: once more, where it is below 1
    long          of the days ahead over LONG, where it is above 1
    season        of e, for the share of the unevenness that goes with the time of the year; season_short, season_far:
                  once more for each power of e that the days ahead are under or over SHORT
    drawn         of the rate of the likely day over the drawn one
    """

    factor: float
    uneven: float
    even: float
    uneven_far: float
    unknown: float
    few: float
    ahead: float
    short: float
    long: float
    season: float
    season_short: float
    season_far: float
    drawn: float


@dataclass(frozen=True, slots=True)
class Fit:
    """What was fitted on simulated vehicles.

    usual_mi      over the rate: the usual unevenness, a variance of the distance over the rate squared, a day
    prior_count   readings that the usual unevenness counts for beside the vehicle's own
    own_floor     least own unevenness, of the usual one
    spread        how far vehicles lie from the average, standard deviation of the logarithm of their rates
    below, above  how the widths to the early and to the late edge are made
    """

    usual_mi: float
    prior_count: float
    own_floor: float
    spread: float
    below: Side
    above: Side


FIT = Fit(**bands_fitted.RATE, below=Side(**bands_fitted.BELOW), above=Side(**bands_fitted.ABOVE))


@dataclass(frozen=True, slots=True)
class Outlook:
    """What the readings say of the days ahead.

    rate          distance a day that the likely day goes by
    drawn         distance a day, the vehicle's own drawn towards the average
    own_share     weight of the vehicle's own driving in it, 0 to 1
    days          until the distance left is used up, likely; early and late edge of the band of 80 %
    unevenness    variance of the distance over the rate squared, a day, own and usual weighed
    season        share of the unevenness that goes with the time of the year, 0 to 1
    below, above  width to the early and to the late edge: logarithms of days over early days, of late days over days
    """

    rate: float
    drawn: float
    own_share: float
    days: float
    early_days: float
    late_days: float
    unevenness: float
    season: float
    below: float
    above: float


def outlook(
    readings: Sequence[Reading], left: Fraction, unit: str, rate: Fraction | None = None, fit: Fit = FIT
) -> Outlook:
    """How long what is left lasts, with a band that holds four outcomes of five.

    readings   in any order, in `unit` (mi or km); of one day the highest counts; none: the published average alone
    left       distance left from the last reading on, 0 or more
    rate       distance a day that the likely day goes by, above 0; None: the own one drawn towards the average
    raises     UnknownUnit, OutOfRange for less than nothing left
    source     own; fitted and tried on simulated vehicles, see how sure the due days are. The average:
               Federal Highway Administration, Highway Statistics 2009, table VM-1M
    check      no reading, 3,071 mi left: likely 99.98 days by 30.72 mi a day
    """
    if unit not in ("mi", "km"):
        raise UnknownUnit(f"{unit!r} is no unit of distance here: mi or km.")
    if left < 0:
        raise OutOfRange(f"A distance of {float(left):g} left is below zero; what is past is due already.")
    per = 1.0 if unit == "mi" else float(KM_PER_MI)
    average, usual = AVERAGE_A_DAY * per, fit.usual_mi * per
    stretches = stretches_of(readings)
    span = sum(days for days, _ in stretches)
    run = max(0.0, sum(far for _, far in stretches))
    own = (run + per) / span if span else average
    unevenness = _unevenness(stretches, span, run, own, usual / own, fit)
    season = yearly.share(stretches, own, fit.own_floor * usual / own)
    # Shrinkage: the own rate is known to a variance of unevenness / span, the average to that of the spread.
    average_days = unevenness / fit.spread**2
    past = min(span, LONGEST_PAST)
    own_share = past / (past + average_days)
    drawn = exp((1 - own_share) * log(average) + own_share * log(own))
    likely = drawn if rate is None else float(rate)
    days = float(left) / likely
    unknown, apart = log(average_days / (past + average_days)), log(likely / drawn)
    logs = log(unevenness / EVEN), unknown, log(max(days, 1.0) / SHORT), max(-FARTHEST, min(apart, FARTHEST))
    below, above = (_width(side, *logs, _few(len(stretches)), season) for side in (fit.below, fit.above))
    early, late = days * exp(-below), days * exp(above)
    return Outlook(likely, drawn, own_share, days, early, late, unevenness, season, below, above)


def _width(side: Side, uneven: float, unknown: float, ahead: float, apart: float, few: float, season: float) -> float:
    """The width to one edge, from the logarithms of what it is made of, and the share of the season."""
    under, over = min(ahead, 0.0), max(ahead, 0.0)
    power = (side.uneven + side.uneven_far * over) * uneven + side.even * min(uneven, 0.0)
    power += side.unknown * unknown + side.few * few + side.drawn * apart
    power += side.ahead * ahead + side.short * under + side.long * max(ahead - log(LONG / SHORT), 0.0)
    power += (side.season + side.season_short * under + side.season_far * over) * season
    return min(WIDEST, side.factor * exp(power))


def _few(count: int) -> float:
    """Logarithm of 1 + 1 / count: scatter is not known from few; without a stretch it is the usual one."""
    return log1p(1 / count) if count else 0.0


def stretches_of(readings: Sequence[Reading]) -> list[tuple[float, float]]:
    """(days, distance) from each reading to the next, oldest first; of one day the highest reading counts."""
    highest: dict[date, Fraction] = {}
    for reading in readings:
        highest[reading.on] = max(highest.get(reading.on, reading.distance), reading.distance)
    return [
        (float((after - before).days), float(farther - far))
        for (before, far), (after, farther) in pairwise(sorted(highest.items()))
    ]


def _unevenness(
    stretches: Sequence[tuple[float, float]], span: float, run: float, rate: float, usual: float, fit: Fit
) -> float:
    """Own and usual, weighed in logarithms by how many stretches there are; 0 on a straight line, but for the floor."""
    if not stretches:
        return usual
    count = len(stretches)
    own = sum((far - run / span * days) ** 2 / days for days, far in stretches) / (rate * rate)
    known = log(own / count + fit.own_floor * usual)
    return exp((fit.prior_count * log(usual) + count * known) / (fit.prior_count + count))


def day_after(on: date, days: float) -> date | None:
    """The day so many days later, halves up; None beyond the calendar."""
    try:
        return on + timedelta(days=floor(days + 0.5))
    except OverflowError:
        return None


def reach(readings: Sequence[Reading], days: int, unit: str, rate: Fraction | None = None) -> tuple[float, float]:
    """How far the vehicle goes within so many days from its last reading: the band of 80 %, as a distance.

    Late by a factor in days is short of the way by that factor.

    days    0 or more
    rate    distance a day that its likely day goes by, above 0; None: the own one drawn towards the average
    raises  UnknownUnit, OutOfRange
    """
    by = outlook(readings, Fraction(0), unit, rate).rate
    seen = outlook(readings, Fraction(by * days), unit, rate)
    return by * days * exp(-seen.above), by * days * exp(seen.below)


def due_band(
    readings: Sequence[Reading], at: Fraction, unit: str, rate: Fraction
) -> tuple[date | None, date | None, date | None]:
    """Early, likely and late day on which the distance `at` is reached: the band shown everywhere.

    readings   in `unit`, at least one
    rate       distance a day that the likely day goes by: `mileage.mileage_rate`, or the middle one of `assumed_rates`
    returns    no day where a vehicle stands still or its day lies beyond the calendar
    check      V-01 of the demonstration after a complete exchange on 2026-11-24: likely 2029-12-01
    """
    latest = latest_of(readings)
    try:
        due = mileage.due_on(latest, at, rate)
    except (NotMoving, OutOfRange):
        return None, None, None
    seen = outlook(readings, max(Fraction(0), at - latest.distance), unit, rate)
    return day_after(latest.on, seen.early_days), due, day_after(latest.on, seen.late_days)


def assumed_rates(readings: Sequence[Reading], at: Fraction, unit: str) -> tuple[Fraction, Fraction, Fraction]:
    """Low, likely and high distance a day where too few readings give no rate: the average weighed with what is known.

    readings   in `unit`, at least one
    check      one reading: likely 30.714 mi a day
    """
    seen = outlook(readings, max(Fraction(0), at - latest_of(readings).distance), unit)
    low, high = seen.rate * exp(-seen.above), seen.rate * exp(seen.below)
    return (
        Fraction(low).limit_denominator(1000),
        Fraction(seen.rate).limit_denominator(1000),
        Fraction(high).limit_denominator(1000),
    )


def latest_of(readings: Sequence[Reading]) -> Reading:
    """The last reading; of one day the highest."""
    return max(readings, key=lambda r: (r.on, r.distance))
