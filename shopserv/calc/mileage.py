"""How far a vehicle goes a day, whether a reading can be true, and when a distance is due."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from shopserv.calc.errors import (
    DateOrder,
    DimensionMismatch,
    InsufficientReadings,
    MissingInput,
    NotMoving,
    OutOfRange,
)
from shopserv.calc.measures import Real, exact

KM_PER_MI = Fraction(1_609_344, 10**6)
EARLY, LATE = Fraction(9, 10), Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class Reading:
    """A distance read on a day, in a unit that all readings of a sum share."""

    on: date
    distance: Fraction


@dataclass(frozen=True, slots=True)
class DueBand:
    """The likely day and an 80 % band; no late edge (None) where the slowest rate does not move."""

    early: date
    due: date
    late: date | None


def theil_sen_slope(x: Sequence[Real], y: Sequence[Real]) -> Fraction:
    """Median of the slopes of all pairs with different x; of an even count the mean of the middle two.

    raises   OutOfRange for unequal lengths, InsufficientReadings without a pair
    source   Sen 1968
    check    x 1 2 3 4 10 12 18, y 9 15 19 20 45 55 78: 4
    """
    if len(x) != len(y):
        raise OutOfRange(f"{len(x)} values of x and {len(y)} of y do not pair.")
    return quantile(_slopes([exact(one) for one in x], [exact(one) for one in y]), Fraction(1, 2))


def _slopes(x: Sequence[Fraction], y: Sequence[Fraction]) -> list[Fraction]:
    slopes = [(y[j] - y[i]) / (x[j] - x[i]) for i in range(len(x)) for j in range(i + 1, len(x)) if x[i] != x[j]]
    if not slopes:
        raise InsufficientReadings("There is no pair of readings to take a slope from.")
    return sorted(slopes)


def quantile(ordered: Sequence[Fraction], share: Fraction) -> Fraction:
    """A quantile of rising values, linear between ranks at (n - 1) x share."""
    place = (len(ordered) - 1) * share
    lower = place.numerator // place.denominator
    upper = min(lower + 1, len(ordered) - 1)
    return ordered[lower] + (ordered[upper] - ordered[lower]) * (place - lower)


def pair_slopes(readings: Sequence[Reading]) -> list[Fraction]:
    """Distance a day of all pairs of readings on different days, rising.

    raises   InsufficientReadings, OutOfRange for a distance below zero
    """
    for reading in readings:
        if reading.distance < 0:
            raise OutOfRange(f"A reading of {float(reading.distance):g} is below zero.")
    return _slopes([Fraction(r.on.toordinal()) for r in readings], [Fraction(r.distance) for r in readings])


def mileage_rate(readings: Sequence[Reading]) -> Fraction:
    """Distance a day: the median of the pair slopes.

    readings   in any order, at least two on different days
    raises     InsufficientReadings, OutOfRange
    source     Sen 1968
    """
    return quantile(pair_slopes(readings), Fraction(1, 2))


def odometer_check(
    previous: Reading, new: Reading, rate_a_day: Real, *, unit: str, new_unit: str | None = None, digits: int = 6
) -> str:
    """Whether a reading can be true, and if not, what it looks like.

    previous, new   in `unit` (mi or km)
    rate_a_day      in the same unit
    digits          of the instrument, 1 or more
    returns         ok, rollover, unit_mixup, rollback, implausible
    raises          DimensionMismatch for two units, DateOrder, OutOfRange
    source          common practice, no source: plausible is 0 to 4 x rate x days + 1,000
    """
    if new_unit is not None and new_unit != unit:
        raise DimensionMismatch(f"The readings are in {unit} and {new_unit}; bring them to one unit.")
    days = (new.on - previous.on).days
    if days < 0:
        raise DateOrder(f"The new reading is {-days} days before the previous one.")
    most = 4 * exact(rate_a_day) * days + 1_000
    delta = new.distance - previous.distance
    if 0 <= delta <= most:
        return "ok"
    if delta < 0:
        if 0 <= delta + 10**digits <= most:
            return "rollover"
        return "unit_mixup" if 0 <= KM_PER_MI * new.distance - previous.distance <= most else "rollback"
    return "unit_mixup" if 0 <= new.distance / KM_PER_MI - previous.distance <= most else "implausible"


def due_on(latest: Reading, at: Fraction, rate_a_day: Fraction) -> date:
    """The day on which the distance `at` is reached, never before the latest reading.

    raises   NotMoving, OutOfRange beyond the calendar
    """
    if rate_a_day <= 0:
        raise NotMoving("The vehicle covers no distance; no day can be named.")
    days = max(Fraction(0), (at - latest.distance) / rate_a_day)
    whole = (2 * days.numerator + days.denominator) // (2 * days.denominator)
    try:
        return latest.on + timedelta(days=whole)
    except OverflowError as cause:
        raise OutOfRange(f"{whole} days from {latest.on} are beyond the calendar.") from cause


def due_date_distance(readings: Sequence[Reading], last_service: Reading, interval: Real) -> DueBand:
    """When the interval since the last service is used up: likely, and an 80 % band from the pair slopes.

    returns   early by the 90 %, due by the 50 %, late by the 10 % quantile of the slopes
    raises    InsufficientReadings, NotMoving, OutOfRange
    source    Sen 1968 for the median; the band is our own, checked on simulated vehicles
    """
    slopes = pair_slopes(readings)
    latest = max(readings, key=lambda r: (r.on, r.distance))
    at = Fraction(last_service.distance) + exact(interval)
    due = due_on(latest, at, quantile(slopes, Fraction(1, 2)))
    early = due_on(latest, at, quantile(slopes, EARLY))
    slow = quantile(slopes, LATE)
    return DueBand(early, due, late_on(latest, at, slow))


def crossed_on(readings: Sequence[Reading], at: Fraction) -> date | None:
    """The day on which the distance `at` was reached, by a straight line between the two readings around it.

    readings   in any order; a first one beyond `at` is its own day
    returns    None where no reading has come so far
    source     common practice, no source: even driving between two readings
    check      0 mi on Aug 1 and 100 mi on Aug 11: 25 mi on Aug 4 (2.5 days on, halves up)
    """
    before = None
    for reading in sorted(readings, key=lambda r: (r.on, r.distance)):
        if reading.distance >= at:
            if before is None:
                return reading.on
            rate = (reading.distance - before.distance) / max(1, (reading.on - before.on).days)
            return min(due_on(before, at, rate), reading.on)
        before = reading
    return None


def late_on(latest: Reading, at: Fraction, slow: Fraction) -> date | None:
    """The late edge; None where the slowest rate does not move, or reaches beyond the calendar."""
    try:
        return due_on(latest, at, slow)
    except (NotMoving, OutOfRange):
        return None


def due_date_months(start: date, months: int) -> date:
    """The same day so many months later, or the last day of a month that has none.

    months   whole, above 0
    raises   OutOfRange
    check    2028-02-29 and 12 months: 2029-02-28
    """
    if months <= 0:
        raise OutOfRange(f"An interval of {months} months is not above zero.")
    count = start.year * 12 + start.month - 1 + months
    year, month = divmod(count, 12)
    if year > date.max.year:
        raise OutOfRange(f"{months} months from {start} are beyond the calendar.")
    return date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1]))


def governing_clock(distance_due: date | None, time_due: date | None) -> tuple[str, date]:
    """The earlier clock and its day; a tie goes to time.

    raises   MissingInput if both are absent
    """
    if distance_due is None and time_due is None:
        raise MissingInput("Neither clock names a day.")
    if time_due is None or (distance_due is not None and distance_due < time_due):
        assert distance_due is not None
        return "distance", distance_due
    return "time", time_due
