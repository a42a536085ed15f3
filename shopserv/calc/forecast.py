"""When fluid is due again: its age is carried through every job, and two clocks run from the last one.

The distance clock is shortened by moisture and heat together, the month clock by moisture alone; the earlier governs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv import calc
from shopserv.calc import bands, errors, intervals, mileage, moisture

FEW = 2  # days of readings: with fewer the published average counts too
ASSUMED_RATE = (
    f"how far it is driven a day is assumed: the published average of {bands.AVERAGE_KM_A_YEAR:,} km a year, weighed "
    "with what is known of this vehicle"
)
Distance = Fraction  # in the one unit that the vehicle is kept in, mi or km


@dataclass(frozen=True, slots=True)
class Climate:
    """The air of a place: 12 monthly means in °C and of relative humidity (0 to 1), and its height in meters."""

    mean_c: tuple[float, ...]
    humidity: tuple[float, ...]
    altitude_m: float


@dataclass(frozen=True, slots=True)
class Use:
    """How a vehicle is used: shares 0 to 1 of short trips and of time in storage, (share, °C) of the fluid."""

    short_trip: Fraction
    storage: Fraction
    bins: tuple[tuple[Fraction, float], ...]


@dataclass(frozen=True, slots=True)
class Job:
    """A service: the day, the distance run by then, and the share of new fluid afterwards (0 to 1)."""

    on: date
    distance: Distance
    fraction: Fraction


@dataclass(frozen=True, slots=True)
class Age:
    """How old the fluid was just after the last job, and since when it ages from there."""

    distance: Distance
    months: Fraction
    since: date
    at: Distance


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the fluid is due.

    distance_due, early, late   by the distance clock, the 80 % band of calc.bands; late None: no late edge; all None:
                                it stands still, or its day lies beyond the calendar
    months_due                  by the month clock
    governs                     "distance" or "months", the earlier; a tie goes to the months; a distance that the
                                readings ran through counts by `crossed`
    rate_low, rate, rate_high   distance a day: 10 %, 50 % and 90 % quantile of the slopes of all pairs of readings; of
                                fewer than two days of readings the average weighed with what else is known
    crossed                     day on which the readings ran through the distance; None: not yet. distance_due is never
                                before the last reading, this is
    left                        distance until the distance clock is due, below zero when past; None without a reading
    interval, interval_months   adjusted
    age_after, age_after_months mean age of the fluid just after the last job
    credit, credit_months       what was left of the intervals then
    assumptions                 what was taken for granted, in sentences
    working                     the sum as plain values: inputs, formula in words, steps, version
    """

    distance_due: date | None
    early: date | None
    late: date | None
    months_due: date
    governs: str
    rate_low: Fraction
    rate: Fraction
    rate_high: Fraction
    crossed: date | None
    left: Distance | None
    moisture: float
    thermal: float
    interval: Distance
    interval_months: int
    age_after: Distance
    age_after_months: Fraction
    credit: Distance
    credit_months: Fraction
    assumptions: tuple[str, ...]
    working: dict[str, Any] = field(default_factory=dict)


def forecast(
    *,
    unit: str,
    base_distance: Distance,
    base_months: int,
    climate: Climate,
    use: Use,
    first_use: date | None,
    readings: Sequence[tuple[date, Distance]],
    jobs: Sequence[Job],
    today: date,
    measured: tuple[Fraction, Fraction] | None = None,
) -> Forecast:
    """When the fluid of a vehicle is due again, by two clocks.

    unit            mi or km, of every distance here; the adjusted interval is a whole multiple of 500 in it
    base_distance   the unit's interval; base_months likewise
    first_use       the day of first use, or None: then the first fluid counts as one adjusted interval old
    readings        (day, distance run), those that count
    jobs            oldest first
    today           the day of the forecast; it stands in the working, no result depends on it
    measured        (water, limit) of a laboratory for the fluid that is in now: it stands for the estimate of moisture
    raises          MissingInput without first use and jobs; the errors of calc.moisture and calc.intervals
    source          common practice, no source: the mean age of mixed fluid, (1 - share) x age before
    check           V-01 of the demonstration with its job: 50,679 mi and 69.048 months old on 2026-11-24
    """
    if first_use is None and not jobs:
        raise errors.MissingInput("neither the day of first use nor a job is known: the fluid has no beginning")
    wet = float(moisture.moisture_factor_measured(*measured)) if measured else moisture_of(climate, use)
    hot = float(intervals.thermal_factor([(float(share), celsius) for share, celsius in use.bins]))
    interval = Fraction(intervals.adjusted_distance(base_distance, wet, hot))
    months = int(intervals.adjusted_months(base_months, wet))
    age, assumptions = _age_after_last(jobs, first_use, interval, months)
    # What is left of the interval when the mean age of the fluid begins at `age`.
    credit = max(Fraction(0), interval - age.distance)
    credit_months = max(Fraction(0), months - age.months)
    months_due = _months_later(age.since, int(credit_months))
    known = [mileage.Reading(on, distance) for on, distance in readings]
    if len({on for on, _ in readings}) < FEW:
        assumptions += (ASSUMED_RATE,)
        known = _assumed(readings, jobs, first_use)
        rates = bands.assumed_rates(known, age.at + credit, unit)
        early, due, late = bands.due_band(known, age.at + credit, unit, rates[1])
    else:
        rates = _rates(known)
        early, due, late = bands.due_band(known, age.at + credit, unit, rates[1])
    crossed = crossed_after(readings, age.since, age.at, credit)
    by_distance = crossed or due
    governs = "distance" if by_distance is not None and by_distance < months_due else "months"
    left = age.at + credit - max(distance for _, distance in readings) if readings else None
    return Forecast(
        distance_due=due,
        early=early,
        late=late,
        months_due=months_due,
        governs=governs,
        rate_low=rates[0],
        rate=rates[1],
        rate_high=rates[2],
        crossed=crossed,
        left=left,
        moisture=wet,
        thermal=hot,
        interval=interval,
        interval_months=months,
        age_after=age.distance,
        age_after_months=age.months,
        credit=credit,
        credit_months=credit_months,
        assumptions=assumptions,
        working={
            "version": calc.VERSION,
            "today": today.isoformat(),
            "unit": unit,
            "formula": "due when the mean age of the fluid reaches the interval; distance: base / (moisture x heat, at "
            "most 2.5), down to 500; months: base / moisture, down to whole months; a job leaves (1 - share) x age",
            "moisture": round(wet, 6),
            "moisture_is": "measured" if measured else "estimated",
            "heat": round(hot, 6),
            "base": [str(base_distance), base_months],
            "interval": [str(interval), months],
            "age_after_last_job": [str(age.distance), str(age.months)],
            "counted_from": [age.since.isoformat(), str(age.at)],
            "credit": [str(credit), str(credit_months)],
            "rate_a_day": [str(rate) for rate in rates],
            "assumptions": list(assumptions),
        },
    )


def crossed_after(
    readings: Sequence[tuple[date, Distance]], since: date, at: Distance, credit: Distance
) -> date | None:
    """The day on which the readings since a service ran through what it left; None: they have not.

    since, at   day of the service and the distance run by then
    check       F-07 of the demonstration, 7,887 mi past on 2026-11-20: 2026-08-29
    """
    rows = [mileage.Reading(on, distance) for on, distance in readings if on >= since]
    return mileage.crossed_on([mileage.Reading(since, at), *rows], at + credit) if rows else None


def moisture_of(climate: Climate, use: Use) -> float:
    """The moisture factor of a place and a use: 1.000 to 2.200.

    source   calc.moisture.moisture_factor
    check    V-01 of the demonstration, short trips on the coast: 1.806
    """
    return float(
        moisture.moisture_factor(
            list(zip(climate.mean_c, climate.humidity, strict=True)),
            float(use.short_trip),
            storage_share=float(use.storage),
            altitude_m=climate.altitude_m,
        )
    )


def whole_months(since: date, until: date) -> int:
    """Whole months from one day to a later one, counted down.

    check   2019-04-02 to 2023-12-12: 56
    """
    return (until.year - since.year) * 12 + until.month - since.month - (until.day < since.day)


def _age_after_last(
    jobs: Sequence[Job], first_use: date | None, interval: Distance, months: int
) -> tuple[Age, tuple[str, ...]]:
    """The age of the fluid carried through every job, and what was assumed of the first fluid."""
    if not jobs:
        assert first_use is not None
        return Age(Fraction(0), Fraction(0), first_use, Fraction(0)), ("the first fluid is still in",)
    first = jobs[0]
    assumptions: tuple[str, ...] = ()
    if first_use is not None:
        before, before_months = first.distance, Fraction(whole_months(first_use, first.on))
    else:
        before, before_months = interval, Fraction(months)
        assumptions = ("the first fluid was one interval old at the first job on record",)
    age = _after(first, before, before_months)
    for job in jobs[1:]:
        run, ran = job.distance - age.at, whole_months(age.since, job.on)
        age = _after(job, age.distance + run, age.months + ran)
    return age, assumptions


def _after(job: Job, before: Distance, before_months: Fraction) -> Age:
    kept = 1 - job.fraction
    return Age(kept * before, kept * before_months, job.on, job.distance)


def _months_later(since: date, months: int) -> date:
    """The same day of a later month; none of them counted: the day itself."""
    return mileage.due_date_months(since, months) if months else since


def _assumed(
    readings: Sequence[tuple[date, Distance]], jobs: Sequence[Job], first_use: date | None
) -> list[mileage.Reading]:
    """What is known of the distance where readings are of fewer than two days: jobs and the day of first use too."""
    rows = [mileage.Reading(on, distance) for on, distance in readings]
    rows += [mileage.Reading(job.on, job.distance) for job in jobs]
    return rows if first_use is None else [mileage.Reading(first_use, Fraction(0)), *rows]


def _rates(readings: Sequence[mileage.Reading]) -> tuple[Fraction, Fraction, Fraction]:
    """10 %, 50 % and 90 % quantile of the slopes of all pairs, linear between ranks."""
    slopes = mileage.pair_slopes(readings)
    low, likely, high = (mileage.quantile(slopes, Fraction(tenths, 10)) for tenths in (1, 5, 9))
    return low, likely, high
