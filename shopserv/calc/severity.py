"""How hard a vehicle's life is on its fluid, part by part, and both clocks for any use that one may think of.

Moisture and heat together shorten the distance; moisture alone shortens the months.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc import age, bands, intervals, mileage, moisture, profile
from shopserv.calc.errors import CalcError
from shopserv.calc.forecast import Climate, Use, crossed_after, moisture_of
from shopserv.calc.measures import Real, exact, within
from shopserv.calc.working import Change, what_would_change


@dataclass(frozen=True, slots=True)
class Heat:
    """A temperature of the sump: its share of the time, its wear against the reference, and both multiplied."""

    share: float
    celsius: float
    wear: float
    part: float


@dataclass(frozen=True, slots=True)
class Severity:
    """The two factors and what they leave of an interval.

    air_c, water_g_m3, humidity  yearly means of the air
    absolute, relative           what humid and moist air add to the moisture factor; short_trips, storage likewise
    boiling_c                    where water boils at the height of the place
    estimate                     1 and the four parts together, at most 2.2
    moisture, is_measured        the factor used, and whether a laboratory figure stands for the estimate
    thermal                      1 or more
    heat                         each temperature of the sump with what it adds
    product, is_capped           both together, at most 2.5
    distance, months             adjusted intervals
    """

    air_c: float
    water_g_m3: float
    humidity: float
    absolute: float
    relative: float
    short_trips: float
    storage: float
    boiling_c: float
    estimate: float
    moisture: float
    is_measured: bool
    thermal: float
    heat: tuple[Heat, ...]
    product: float
    is_capped: bool
    distance: Fraction
    months: int

    def hottest(self, count: int) -> tuple[tuple[Heat, ...], Heat | None]:
        """The temperatures that add most, and the others as one (its °C their mean); none: there are no others."""
        ordered = sorted(self.heat, key=lambda one: -one.part)
        others = ordered[count:]
        if not others:
            return tuple(ordered), None
        share, part = math.fsum(one.share for one in others), math.fsum(one.part for one in others)
        mean = math.fsum(one.share * one.celsius for one in others) / share if share else others[0].celsius
        return tuple(ordered[:count]), Heat(share, mean, part / share if share else 0.0, part)


@dataclass(frozen=True, slots=True)
class State:
    """A vehicle as its clocks need it; distances in one unit.

    measured   (water, limit) of the laboratory figure that counts, shares by mass; none: the estimate counts
    jobs       oldest first
    run        driven in all at the last reading; none: no reading
    read_on    the day of it
    rate       a day; none: not known
    readings   in `unit`; they tell the day on which the distance was run through, and the band; empty: neither is told
    is_banded  whether the band of the distance clock is asked for
    """

    base_distance: Fraction
    base_months: int
    climate: Climate
    use: Use
    first_use: date | None
    jobs: tuple[age.Job, ...]
    run: Fraction | None
    read_on: date | None
    rate: Fraction | None
    measured: tuple[Fraction, Fraction] | None = None
    unit: str = "mi"
    readings: tuple[mileage.Reading, ...] = ()
    is_banded: bool = True


@dataclass(frozen=True, slots=True)
class Clocks:
    """Both clocks.

    age              distance and months of the fluid now, or just after the job that is thought of
    credit           distance and months that are left from then, never below zero
    past             distance beyond the interval, as far as it was read; 0: not past
    distance_due     none: the rate is not known or nothing is driven; past: the day of the readings' crossing
    early, late      of both clocks together, four of five lie between; none: no band is told, or no such edge
    governs          "distance" or "months", the earlier; a tie goes to the months
    crossing         distance a day at which both end together; driven less, the months govern; none: one has ended
    """

    severity: Severity
    age: tuple[Fraction, Fraction]
    credit: tuple[Fraction, Fraction]
    past: Fraction
    distance_due: date | None
    months_due: date
    due: date
    early: date | None
    late: date | None
    governs: str
    crossing: Fraction | None


def severity(
    climate: Climate, use: Use, base_distance: Real, base_months: Real, *, measured: tuple[Real, Real] | None = None
) -> Severity:
    """Both factors with their parts, and the intervals that they leave.

    measured   (water, limit) of a laboratory, which stands for the estimate of moisture
    raises     the errors of calc.moisture and calc.intervals
    source     the weights of moisture are a declared judgment without a source
    check      V-01 of the demonstration: 18.262 g/m³, parts 0.2652, 0.1813, 0.3597; 1.806; 33,000 mi and 33 months
    """
    months = list(zip(climate.mean_c, climate.humidity, strict=True))
    estimate = moisture_of(climate, use)
    water = math.fsum(moisture.absolute_humidity(t, rh) for t, rh in months) / 12 * 1_000
    humid = math.fsum(climate.humidity) / 12
    boiling, sea = (moisture.boiling_point(altitude_m=height) for height in (climate.altitude_m, 0))
    moist = _part((humid - 0.5) / 0.4)
    dries = _part((boiling - moisture.DRIES_AT_C) / (sea - moisture.DRIES_AT_C))
    wet = float(moisture.moisture_factor_measured(*measured)) if measured else estimate
    hot = intervals.thermal_factor([(share, at) for share, at in use.bins])
    together = intervals.combined_factor(wet, hot)
    return Severity(
        air_c=math.fsum(climate.mean_c) / 12,
        water_g_m3=water,
        humidity=humid,
        absolute=moisture.WEIGHT_ABSOLUTE * _part((water - 5) / 15),
        relative=moisture.WEIGHT_RELATIVE * moist,
        short_trips=moisture.WEIGHT_SHORT * float(use.short_trip) * dries,
        storage=moisture.WEIGHT_STORED * float(use.storage) * (1 + moist) / 2,
        boiling_c=boiling,
        estimate=estimate,
        moisture=wet,
        is_measured=measured is not None,
        thermal=hot,
        heat=tuple(Heat(float(share), float(at), wear(at), float(share) * wear(at)) for share, at in use.bins),
        product=float(together),
        is_capped=exact(wet) * exact(hot) > intervals.MOST,
        distance=Fraction(intervals.adjusted_distance(base_distance, wet, hot)),
        months=int(intervals.adjusted_months(base_months, wet)),
    )


def wear(celsius: Real) -> float:
    """How fast the fluid wears at a temperature against the reference of 79.4 °C.

    source   common practice, no source: doubles every 11.1 K
    check    90.5 °C: 2; 68.3 °C: 0.5
    """
    return float(2.0 ** float((exact(celsius) - intervals.REFERENCE_C) / intervals.DOUBLING_STEP_K))


def _part(value: float) -> float:
    return min(1.0, max(0.0, value))


def clocks(state: State, today: date, share: Real = 0) -> Clocks:
    """Both clocks of a vehicle as it stands, or after a job of today that leaves `share` of new fluid.

    share    0: no job; after one, a laboratory figure of the fluid before it counts no more
    raises   the errors of `severity` and of calc.age
    source   common practice, no source: (1 - share) x age before; crossing rate: credit / days to the month clock
    check    V-01 of the demonstration, 0.858: 25,804 mi and 23.195 months of credit, due 2028-10-24 by months; all new:
             33,000 mi / 1,004 days = 32.9 mi a day
    """
    new = within(share, 0, 1, "The share of new fluid")
    measured = None if new else state.measured
    found = severity(state.climate, state.use, state.base_distance, state.base_months, measured=measured)
    kept = age.book(state.jobs, state.first_use, interval=found.distance, months=found.months)
    run = kept.at if state.run is None else state.run
    old = kept.now(run, today)
    if new:
        begins, since, at = ((1 - new) * old[0], (1 - new) * old[1]), today, max(run, kept.at)
        latest = mileage.Reading(today, at)
    else:
        begins, since, at = (kept.distance, kept.months), kept.since, kept.at
        latest = mileage.Reading(state.read_on or kept.since, run)
    credit = (max(Fraction(0), found.distance - begins[0]), max(Fraction(0), found.months - begins[1]))
    whole = int(credit[1])
    by_months = mileage.due_date_months(since, whole) if whole else since
    crossed = None if new else _crossed(state, since, at, credit[0])
    by_distance = crossed or _distance_due(latest, at + credit[0], state.rate)
    is_sooner = by_distance is not None and by_distance < by_months
    governs, due = ("distance", by_distance) if by_distance is not None and is_sooner else ("months", by_months)
    early, late = (due, due) if crossed and governs == "distance" else _band(state, latest, at + credit[0], by_months)
    left, days = at + credit[0] - latest.distance, (by_months - latest.on).days
    return Clocks(
        severity=found,
        age=begins if new else old,
        credit=credit if new else (max(Fraction(0), found.distance - old[0]), max(Fraction(0), found.months - old[1])),
        past=max(Fraction(0), -left),
        distance_due=by_distance,
        months_due=by_months,
        due=due,
        early=early,
        late=late,
        governs=governs,
        crossing=left / days if left > 0 and days > 0 else None,
    )


def _crossed(state: State, since: date, at: Fraction, credit: Fraction) -> date | None:
    """The day on which the readings ran through what was left; none: not yet."""
    return crossed_after([(one.on, one.distance) for one in state.readings], since, at, credit)


def _band(state: State, latest: mileage.Reading, at: Fraction, by_months: date) -> tuple[date | None, date | None]:
    """Early and late day of both clocks together; the readings stand as if the last were of the day that counts."""
    if not state.readings or state.rate is None or not state.is_banded:
        return None, None
    moved = latest.on - bands.latest_of(state.readings).on
    rows = [mileage.Reading(one.on + moved, one.distance) for one in state.readings]
    early, _likely, late = bands.due_band(rows, at, state.unit, state.rate)
    return min(early or by_months, by_months), min(late or by_months, by_months)


def _distance_due(latest: mileage.Reading, at: Fraction, rate: Fraction | None) -> date | None:
    if rate is None:
        return None
    try:
        return mileage.due_on(latest, at, rate)
    except CalcError:  # stands still, or goes so slowly that the calendar ends before
        return None


FACTORED = ("humidity", "altitude", "short trips", "storage", "sump", "water")  # what the factors take in
SUMP_DOUBT_K = Fraction(5)
MOISTURE_DOUBT = Fraction(1, 5)


@dataclass(frozen=True, slots=True)
class Doubt:
    """The due day with the doubt of heat and moisture beside that of the driving.

    early, late   from the early edge under the harder factors to the late edge under the milder
    harder        both clocks with the sump 5 K hotter and what moisture adds a fifth larger; `milder` the other way
    """

    early: date
    late: date
    harder: Clocks
    milder: Clocks


def doubt(state: State, today: date) -> Doubt:
    """A wider band of the due day: that of the driving, under factors that may be wrong.

    raises   the errors of `clocks`
    source   the sump within 5 K, what moisture adds within a fifth of it: house figures, common practice, no source;
             5 K multiply the heat factor by 2^(5 / 11.1), 1.366, before its floor of 1
    check    V-01 of the demonstration, new fluid at 63,180 mi: moisture 1.806 within 1.645 and 1.967
    """
    wet = Fraction(clocks(replace(state, is_banded=False), today).severity.moisture)
    harder, milder = (
        clocks(
            replace(
                state,
                measured=((wet - 1) * (1 + way * MOISTURE_DOUBT) / moisture.WATER_WEIGHT, Fraction(1)),
                use=replace(
                    state.use,
                    bins=tuple((share, float(at) + float(way * SUMP_DOUBT_K)) for share, at in state.use.bins),
                ),
            ),
            today,
        )
        for way in (1, -1)
    )
    return Doubt(harder.early or harder.due, milder.late or milder.due, harder, milder)


MOVED = {  # what is moved by a fifth
    "rate": "distance a day",
    "share": "share of new fluid of this job",
    "last share": "share of new fluid of the last job",
    "base distance": "distance on the sheet",
    "base months": "months on the sheet",
    "humidity": "humidity of the air",
    "altitude": "height of the place",
    "short trips": "share of short trips",
    "storage": "time in storage",
    "sump": "rise of the sump over the air",
    "water": "water that the laboratory found",
}


def swings(state: State, today: date, share: Real = 0) -> tuple[Change, ...]:
    """By how many days each input, moved by a fifth down and up, moves the day when fluid is due; the most first.

    A share that would pass the whole stops there. Answers are days as ordinals.

    source   one at a time, plus and minus a fifth: common practice, no source
    """
    values: dict[str, Any] = {
        "rate": state.rate,
        "base distance": state.base_distance,
        "base months": Fraction(state.base_months),
        "humidity": Fraction(1),
        "altitude": exact(state.climate.altitude_m),
        "short trips": exact(state.use.short_trip),
        "storage": exact(state.use.storage),
        "sump": Fraction(1),
    }
    if share:
        values["share"] = exact(share)
    elif state.jobs:
        values["last share"] = state.jobs[-1].share
    if state.measured and not share:
        values["water"] = state.measured[0]

    def day(given: Mapping[str, Any]) -> int:
        return clocks(_moved(state, given), today, min(Fraction(1), given.get("share", Fraction(0)))).due.toordinal()

    found = what_would_change(day, values, unit="days", words=MOVED)
    at_limit = {MOVED[name]: _limit(state, values, name) for name in values}
    return tuple(replace(one, note="; ".join(filter(None, (one.note, at_limit[one.words])))) for one in found)


def _limit(state: State, values: Mapping[str, Any], name: str) -> str:
    """Which limit of the factors hides a part of what an input does, in words; empty: none."""
    value = values[name]
    if name not in FACTORED or not value:
        return ""
    found = []
    for way in (Fraction(4, 5), Fraction(6, 5)):
        moved = _moved(state, {**values, name: value * way})
        found.append(
            severity(moved.climate, moved.use, moved.base_distance, moved.base_months, measured=moved.measured)
        )
    limits = (
        "heat never below 1" if name == "sump" and any(one.thermal == 1 for one in found) else "",
        "factors at most 2.5" if any(one.is_capped for one in found) else "",
    )
    words = ", ".join(filter(None, limits))
    return f"limit reached: {words}" if words else ""


def _moved(state: State, given: Mapping[str, Any]) -> State:
    place, use = state.climate, state.use
    air = exact(math.fsum(place.mean_c) / 12)
    jobs = state.jobs
    if "last share" in given:
        jobs = (*jobs[:-1], replace(jobs[-1], share=min(Fraction(1), given["last share"])))
    return replace(
        state,
        is_banded=False,
        base_distance=given["base distance"],
        base_months=given["base months"],
        climate=replace(
            place,
            humidity=tuple(min(1.0, rh * float(given["humidity"])) for rh in place.humidity),
            altitude_m=float(given["altitude"]),
        ),
        use=Use(
            min(Fraction(1), given["short trips"]),
            min(Fraction(1), given["storage"]),
            tuple((share, float(at)) for share, at in profile.hotter(use.bins, air, given["sump"])),
        ),
        jobs=jobs,
        rate=given["rate"],
        measured=(given["water"], state.measured[1]) if state.measured and "water" in given else None,
    )
