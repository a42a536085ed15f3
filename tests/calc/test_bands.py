"""The band of a due day: its arithmetic by hand, and what must hold whatever the readings are.

How often it holds is tried in test_how_sure.py. Source of the average: Federal Highway Administration, Highway
Statistics 2009, table VM-1M (revised April 2011), all light duty vehicles: 18,054 km a vehicle and year.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from math import exp, log, pi, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import bands, errors, yearly
from shopserv.calc.bands import Fit, Side, due_band, outlook
from shopserv.calc.mileage import Reading, mileage_rate
from tests.calc.test_forecast import V_01

FIRST = date(2026, 1, 1)
BELOW = Side(
    factor=0.5,
    uneven=0.2,
    even=0.1,
    uneven_far=0.0,
    unknown=0.3,
    few=0.4,
    ahead=-0.25,
    short=0.15,
    long=0.05,
    season=0.0,
    season_short=0.0,
    season_far=0.0,
    drawn=0.0,
)
ABOVE = replace(BELOW, factor=0.4, uneven=0.3, even=0.2, unknown=0.1, few=0.5, ahead=-0.2, short=-0.1, long=0.3)
FIT = Fit(
    usual_mi=3000.0, prior_count=1.0, own_floor=0.01, spread=0.8, below=BELOW, above=ABOVE
)  # round figures, so that a new fit changes no test of the arithmetic

SMALL = replace(BELOW, factor=0.05), replace(ABOVE, factor=0.05)
NARROW = replace(FIT, usual_mi=30.0, below=SMALL[0], above=SMALL[1])


def readings_of(*pairs: tuple[int, int | Fraction]) -> list[Reading]:
    return [Reading(FIRST + timedelta(days=day), Fraction(far)) for day, far in pairs]


def band_of(readings: list[Reading], at: Fraction) -> tuple[date | None, date | None, date | None]:
    """The band by the median slope, or of a single reading by the average."""
    if len(readings) < 2:
        return due_band(readings, at, "mi", bands.assumed_rates(readings, at, "mi")[1])
    return due_band(readings, at, "mi", mileage_rate(readings))


def test_the_average_is_that_of_the_table():
    # 4,233,119 million vehicle-km of 234,467,679 vehicles in the same table
    assert round(4_233_119e6 / 234_467_679) == bands.AVERAGE_KM_A_YEAR == 18_054
    assert pytest.approx(30.71385, abs=1e-5) == bands.AVERAGE_A_DAY


def test_without_a_reading_the_average_alone_counts():
    found = outlook([], Fraction(3071), "mi", fit=FIT)

    assert found.rate == pytest.approx(30.71385, abs=1e-5)
    assert (found.own_share, found.unevenness) == (0, pytest.approx(3000 / 30.71385, rel=1e-6))
    # uneven, 97.6758 days over 5; nothing of its own known; 99.98745 days ahead, over 90 and below 365
    assert found.below == pytest.approx(0.5 * (97.6758 / 5) ** 0.2 * (99.98745 / 90) ** -0.25, rel=1e-5)
    assert found.above == pytest.approx(0.4 * (97.6758 / 5) ** 0.3 * (99.98745 / 90) ** -0.2, rel=1e-5)
    assert found.days == pytest.approx(99.98745, abs=1e-4)
    assert found.early_days == pytest.approx(99.98745 * exp(-found.below), rel=1e-7)
    assert found.late_days == pytest.approx(99.98745 * exp(found.above), rel=1e-7)


def test_one_reading_says_as_little_as_none():
    assert outlook(readings_of((0, 63_180)), Fraction(3071), "mi", fit=FIT) == outlook(
        [], Fraction(3071), "mi", fit=FIT
    )


def test_own_readings_are_weighed_against_the_average():
    found = outlook(readings_of((0, 10_000), (100, 11_999), (200, 13_999)), Fraction(4000), "mi", fit=FIT)

    # own: 4,000 / 200 = 20 a day (one mile added). Scatter: 2 x 0.5^2 / 100 / 20^2 = 1.25e-5, of two: 6.25e-6.
    # usual: 150; unevenness: (150 x (6.25e-6 + 1.5)^2) ^ (1/3) = 6.9624; average: 6.9624 / 0.64 = 10.879 days
    assert found.unevenness == pytest.approx((150 * (6.25e-6 + 1.5) ** 2) ** (1 / 3), rel=1e-9)
    assert found.own_share == pytest.approx(200 / 210.879, rel=1e-5)
    assert found.rate == pytest.approx(exp(log(20) * 200 / 210.879 + log(30.71385) * 10.879 / 210.879), rel=1e-5)
    # two stretches; 4,000 / 20.4488 = 195.6 days ahead
    unknown, ahead, few = 10.87875 / 210.87875, 4000 / found.rate / 90, 1.5
    below = 0.5 * (6.9624 / 5) ** 0.2 * unknown**0.3 * few**0.4 * ahead**-0.25
    above = 0.4 * (6.9624 / 5) ** 0.3 * unknown**0.1 * few**0.5 * ahead**-0.2
    assert (found.below, found.above) == pytest.approx((below, above), rel=1e-4)
    assert found.days == pytest.approx(4000 / found.rate)


@pytest.mark.parametrize(("left", "below", "above"), [(450, -0.25 + 0.15, -0.2 - 0.1), (9000, -0.25, -0.2)])
def test_the_way_ahead_has_powers_of_its_own_where_it_is_short_or_long(left, below, above):
    readings = readings_of((0, 10_000), (100, 11_999), (200, 13_999))
    mid, found = (outlook(readings, Fraction(far), "mi", fit=FIT) for far in (4000, left))
    at_short, long = (
        mid.days / 90,
        max(found.days / 365, 1),
    )  # of the middle one to the first bound, and beyond the last

    expected = [
        at_short**-side * (found.days / 90) ** power * long**last
        for side, power, last in ((-0.25, below, 0.05), (-0.2, above, 0.3))
    ]
    assert 90 < mid.days < 365
    assert (found.below / mid.below, found.above / mid.above) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("left", "over"), [(450, 0), (1800, 0), (4000, 195.6 / 90), (9000, 440.1 / 90)])
def test_unevenness_may_count_more_or_less_far_ahead(left, over):
    readings = readings_of((0, 10_000), (100, 11_999), (200, 13_999))
    sides = replace(BELOW, uneven_far=0.7), replace(ABOVE, uneven_far=-0.2)
    plain, far = (
        outlook(readings, Fraction(left), "mi", fit=fit) for fit in (FIT, replace(FIT, below=sides[0], above=sides[1]))
    )

    power = log(max(over, 1)) * log(6.9624 / 5)
    assert far.below / plain.below == pytest.approx(exp(0.7 * power), rel=1e-4)
    assert far.above / plain.above == pytest.approx(exp(-0.2 * power), rel=1e-4)


# eight quarters: 30 a day, and 15 a day more or less by the wave of a year
WAVE = [30 * 91.3125 + 15 * 91.3125 * sin(pi / 4) / (pi / 4) * sin(2 * pi * (n + 0.5) / 4) for n in range(8)]
YEARLY = readings_of(*((round(91.3125 * n), Fraction(sum(WAVE[:n]))) for n in range(9)))


@pytest.mark.parametrize(("left", "below", "above"), [(900, -0.4, 0.5), (5400, 0.6, -0.3)])
def test_what_goes_with_the_time_of_the_year_has_powers_of_its_own(left, below, above):
    sides = (
        replace(BELOW, season=0.3, season_short=-0.4, season_far=0.6),
        replace(ABOVE, season=-0.2, season_short=0.5, season_far=-0.3),
    )
    plain, wavy = (
        outlook(YEARLY, Fraction(left), "mi", fit=fit) for fit in (FIT, replace(FIT, below=sides[0], above=sides[1]))
    )
    ahead = log(plain.days / 90)

    assert wavy.season == plain.season == yearly.share(bands.stretches_of(YEARLY), *_own_and_floor())
    assert 0.8 < wavy.season < 0.9
    assert wavy.below / plain.below == pytest.approx(exp((0.3 + below * ahead) * plain.season))
    assert wavy.above / plain.above == pytest.approx(exp((-0.2 + above * ahead) * plain.season))


def _own_and_floor() -> tuple[float, float]:
    own = (float(YEARLY[-1].distance) + 1) / 730
    return own, FIT.own_floor * (FIT.usual_mi / own)


def test_the_likely_day_goes_by_the_rate_that_is_given():
    readings = readings_of((0, 10_000), (100, 11_999), (200, 13_999))
    drawn, given_it = (outlook(readings, Fraction(4000), "mi", rate, FIT) for rate in (None, Fraction(25)))

    assert (drawn.rate, drawn.drawn) == (given_it.drawn, given_it.drawn)
    assert (given_it.rate, given_it.days) == (25, 160)
    assert given_it.early_days == pytest.approx(160 * exp(-given_it.below), rel=1e-12)
    assert given_it.late_days == pytest.approx(160 * exp(given_it.above), rel=1e-12)
    assert given_it.below / drawn.below == pytest.approx((160 / drawn.days) ** -0.25, rel=1e-9)
    assert given_it.above / drawn.above == pytest.approx((160 / drawn.days) ** -0.2, rel=1e-9)


@pytest.mark.parametrize(("times", "counts"), [(0.1, exp(-2)), (0.2, 0.2), (3, 3), (9, exp(2))])
def test_a_rate_apart_from_the_drawn_one_counts_up_to_a_bound(times, counts):
    readings = readings_of((0, 10_000), (100, 11_999), (200, 13_999))
    apart = replace(FIT, below=replace(BELOW, drawn=-0.4), above=replace(ABOVE, drawn=0.6))
    rate = Fraction(times * outlook(readings, Fraction(0), "mi", fit=FIT).drawn)
    plain, found = (outlook(readings, Fraction(4000), "mi", rate, fit) for fit in (FIT, apart))

    assert found.below / plain.below == pytest.approx(counts**-0.4)
    assert found.above / plain.above == pytest.approx(counts**0.6)


def test_a_low_unevenness_counts_once_more():
    even, low = (
        outlook(readings_of((0, 0), (1000, 30_000)), Fraction(3000), "mi", fit=replace(FIT, own_floor=floor))
        for floor in (0.01, 0.0001)
    )

    # usual 100 days; of one stretch: (100 x 1) ^ (1/2) = 10 and (100 x 0.01) ^ (1/2) = 1
    assert (even.unevenness, low.unevenness) == pytest.approx((10, 1), rel=1e-4)
    known = (1 / 0.64 / (1000 + 1 / 0.64)) / (10 / 0.64 / (1000 + 10 / 0.64))
    ahead = low.days / even.days
    assert low.below / even.below == pytest.approx(0.1**0.2 * 0.2**0.1 * known**0.3 * ahead**-0.25, rel=1e-4)
    assert low.above / even.above == pytest.approx(0.1**0.3 * 0.2**0.2 * known**0.1 * ahead**-0.2, rel=1e-4)


def test_an_uneven_past_widens_the_band():
    even = outlook(readings_of((0, 0), (100, 3000), (200, 6000), (300, 9000)), Fraction(3000), "mi", fit=FIT)
    uneven = outlook(readings_of((0, 0), (100, 1000), (200, 6500), (300, 9000)), Fraction(3000), "mi", fit=FIT)

    assert uneven.below > 1.2 * even.below
    assert uneven.above > 1.5 * even.above


def test_the_band_has_a_widest():
    wide = replace(FIT, below=replace(BELOW, factor=20.0), above=replace(ABOVE, factor=20.0))
    wild = outlook(readings_of((0, 0), (1, 30_000), (2000, 30_001)), Fraction(3000), "mi", fit=wide)

    assert wild.below == wild.above == bands.WIDEST == 3.0


def test_less_than_a_day_ahead_is_no_surer_than_a_day():
    near, nearer = (outlook([], Fraction(left), "mi", fit=NARROW) for left in (30, 3))

    assert (near.below, near.above) == (nearer.below, nearer.above)
    farther = outlook([], Fraction(32), "mi", fit=NARROW)
    assert farther.below < near.below < bands.WIDEST
    assert farther.above < near.above < bands.WIDEST


def test_a_past_longer_than_was_tried_makes_nothing_surer():
    tried, longer, shorter = (
        outlook(readings_of((0, 0), (days, days * 31)), Fraction(3000), "mi", fit=FIT) for days in (1400, 2800, 1300)
    )

    # the least own unevenness is the same, and as much of the past counts
    assert (longer.below, longer.above) == pytest.approx((tried.below, tried.above), rel=1e-4)
    assert tried.below < shorter.below
    assert tried.above < shorter.above
    assert longer.own_share == pytest.approx(tried.own_share, rel=1e-5)
    assert tried.own_share > shorter.own_share


def test_kilometers_give_the_same_days():
    miles = readings_of((0, 10_000), (90, 13_000), (200, 15_500))
    meters = [Reading(one.on, one.distance * bands.KM_PER_MI) for one in miles]

    in_mi, in_km = outlook(miles, Fraction(2000), "mi"), outlook(meters, 2000 * bands.KM_PER_MI, "km")

    assert in_km.days == pytest.approx(in_mi.days, rel=1e-12)
    assert (in_km.below, in_km.above, in_km.own_share) == pytest.approx(
        (in_mi.below, in_mi.above, in_mi.own_share), rel=1e-12
    )


def test_of_one_day_the_highest_reading_counts():
    twice = readings_of((0, 100), (100, 3000), (100, 3100))

    assert bands.stretches_of(twice) == bands.stretches_of(twice[::-1]) == [(100.0, 3000.0)]


@pytest.mark.parametrize(
    ("left", "unit", "error"), [(Fraction(-1), "mi", errors.OutOfRange), (Fraction(1), "m", errors.UnknownUnit)]
)
def test_what_makes_no_sense_is_refused(left, unit, error):
    with pytest.raises(error):
        outlook([], left, unit)


@pytest.mark.parametrize(("days", "later"), [(0.499, 0), (0.5, 1), (100.2, 100), (4e6, None), (float("inf"), None)])
def test_days_are_rounded_with_halves_up_and_end_with_the_calendar(days, later):
    expected = None if later is None else FIRST + timedelta(days=later)

    assert bands.day_after(FIRST, days) == expected


def test_the_likely_day_is_that_of_the_median_slope():
    readings = [Reading(on, Fraction(miles)) for on, miles in V_01]

    early, due, late = band_of(readings, Fraction(63_180 + 33_000))

    assert due == date(2029, 12, 1)  # the worked example of the demonstration
    assert early < due < late


def test_of_one_reading_the_likely_day_is_by_the_average():
    (early, due, late) = band_of(readings_of((0, 50_000)), Fraction(53_071))

    assert due == FIRST + timedelta(days=100)
    assert early < due < late


def test_assumed_rates_are_a_band_about_the_weighed_rate():
    readings, at = readings_of((0, 50_000)), Fraction(53_071)
    low, likely, high = bands.assumed_rates(readings, at, "mi")
    found = outlook(readings, Fraction(3071), "mi")

    assert likely == Fraction(found.rate).limit_denominator(1000)
    assert float(low) == pytest.approx(3071 / found.late_days, abs=1e-3)
    assert float(high) == pytest.approx(3071 / found.early_days, abs=1e-3)
    assert bands.assumed_rates(readings, Fraction(49_000), "mi")[0] < low  # nothing left: as of the next day
    factor = exp(-found.above), exp(found.below)
    assert low == Fraction(found.rate * factor[0]).limit_denominator(1000)
    assert high == Fraction(found.rate * factor[1]).limit_denominator(1000)


@pytest.mark.parametrize("far", [240, 1437, 1836])
def test_assumed_rates_are_kept_as_fractions_of_at_most_a_thousandth(far):
    readings = readings_of((0, 0), (200, far))
    found = outlook(readings, Fraction(3071), "mi")
    factors = exp(-found.above), 1.0, exp(found.below)

    assert bands.assumed_rates(readings, Fraction(far + 3071), "mi") == tuple(
        Fraction(found.rate * factor).limit_denominator(1000) for factor in factors
    )


def test_no_edge_of_assumed_rates_has_a_denominator_above_a_thousand(monkeypatch):
    wide = bands.Outlook(1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0, log(1002 / 1001), log(1001))
    monkeypatch.setattr(bands, "outlook", lambda *_: wide)

    found = bands.assumed_rates(readings_of((0, 1)), Fraction(5), "mi")

    assert found == (Fraction(1, 1000), 1, Fraction(1001, 1000))  # for 1/1001 and 1002/1001


def test_a_vehicle_that_stands_has_run_one_mile_so_that_its_logarithm_exists():
    found = outlook(readings_of((0, 50_000), (100, 50_000)), Fraction(1000), "mi", fit=FIT)

    # own: 1 / 100 a day; unevenness: no scatter, (usual x 1 % of usual) ^ (1/2) of usual 300,000
    assert found.unevenness == pytest.approx(300_000 * 0.01**0.5)
    assert found.own_share == pytest.approx(100 / (100 + 30_000 / 0.64))


def test_the_reach_of_some_days_is_the_band_turned_round():
    readings = readings_of((0, 10_000), (90, 13_000), (200, 15_500))
    found = outlook(readings, Fraction(3000), "mi")

    low, high = bands.reach(readings, 110, "mi")

    assert found.days == pytest.approx(110, abs=15)
    middle = outlook(readings, Fraction(found.rate * 110), "mi")
    assert low == pytest.approx(found.rate * 110 * middle.days / middle.late_days)
    assert high == pytest.approx(found.rate * 110 * middle.days / middle.early_days)
    assert bands.reach(readings, 0, "mi") == (0, 0)
    by = outlook(readings, Fraction(40 * 110), "mi", Fraction(40))
    assert bands.reach(readings, 110, "mi", Fraction(40)) == pytest.approx(
        (4400 * exp(-by.above), 4400 * exp(by.below))
    )


def test_what_is_past_is_due_on_the_day_of_the_last_reading():
    readings = readings_of((0, 50_000), (100, 53_000))

    assert band_of(readings, Fraction(52_999)) == (readings[1].on,) * 3


def test_a_vehicle_that_stands_has_no_day():
    assert band_of(readings_of((0, 50_000), (100, 50_000)), Fraction(53_000)) == (None, None, None)


def test_a_day_beyond_the_calendar_is_none():
    assert band_of(readings_of((0, 50_000), (1000, 50_001)), Fraction(60_000)) == (None, None, None)


def test_a_late_edge_beyond_the_calendar_is_none(monkeypatch):
    monkeypatch.setattr(
        bands, "outlook", lambda *_: bands.Outlook(30.0, 30.0, 1.0, 50.0, 40.0, 3e6, 1.0, 0.0, 1.0, 1.0)
    )

    band = band_of(readings_of((0, 50_000), (100, 53_000)), Fraction(54_500))

    assert band == (FIRST + timedelta(days=140), FIRST + timedelta(days=150), None)


def test_the_band_lies_around_the_likely_day():
    # ever less of late, an outlier at first: the median slope and the drawn rate differ widely
    readings = readings_of((0, 0), (10, 9000), (400, 9100), (800, 9200), (1200, 9300))
    rate = mileage_rate(readings)
    found = outlook(readings, Fraction(100), "mi", rate)

    early, due, late = band_of(readings, Fraction(9400))

    last = readings[-1].on
    assert due == bands.day_after(last, 100 / float(rate))
    assert (early, late) == (bands.day_after(last, found.early_days), bands.day_after(last, found.late_days))
    assert early < due < late
    assert found.drawn > 2 * found.rate


series = st.lists(st.tuples(st.integers(1, 400), st.integers(0, 30_000)), min_size=0, max_size=9)


@given(series, st.integers(0, 40_000))
def test_early_is_never_after_the_likely_day_nor_late_before_it(steps, left):
    day, far, pairs = 0, 20_000, [(0, 20_000)]
    for days, miles in steps:
        day, far = day + days, far + miles
        pairs.append((day, far))
    readings = readings_of(*pairs)

    found = outlook(readings, Fraction(left), "mi")
    early, due, late = band_of(readings, Fraction(far + left))

    assert 0 <= found.early_days <= found.days <= found.late_days  # false for any that is not a number
    assert 0 < found.rate < 40_000
    assert 0 <= found.own_share < 1
    if due is None:
        assert (early, late) == (None, None)
    else:
        assert readings[-1].on <= early <= due
        assert late is None or late >= due


@given(st.integers(1, 300), st.sets(st.integers(1, 999), min_size=1, max_size=8), st.integers(1, 30_000))
def test_more_readings_on_a_line_never_widen_the_band(rate, between, left):
    few = readings_of((0, 0), (1000, 1000 * rate))
    more = readings_of((0, 0), *((day, day * rate) for day in sorted(between)), (1000, 1000 * rate))

    wide, narrow = (outlook(readings, Fraction(left), "mi") for readings in (few, more))

    assert narrow.below <= wide.below
    assert narrow.above <= wide.above
    assert narrow.unevenness <= wide.unevenness


@given(st.integers(1, 20), st.integers(2, 9), st.integers(1, 30_000))
def test_a_longer_line_never_widens_the_band(rate, count, left):
    pairs = [(day * 90, day * 90 * rate) for day in range(count + 1)]
    short, long = readings_of(*pairs[1:]), readings_of(*pairs)

    # relative to the rate: the rate itself moves from the average to the vehicle's own
    wide, narrow = (outlook(readings, Fraction(left * rate), "mi") for readings in (short, long))

    assert narrow.own_share > wide.own_share
    assert narrow.unevenness < wide.unevenness
