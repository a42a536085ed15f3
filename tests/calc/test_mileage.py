"""Distance a day and due dates.

Sources: Sen 1968 (example); NIST StRD Norris; scipy as another hand at slopes; worked examples; the calendar.
"""

from __future__ import annotations

import json
from datetime import date, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from shopserv.calc import errors, mileage
from shopserv.calc.mileage import Reading
from tests.calc.worked import WORKED

F = Fraction
START = date(2026, 1, 5)
V_01 = [Reading(date.fromisoformat(on), F(miles)) for on, miles in WORKED["due_V01_complete_exchange"]["readings"]]
CHECKS = {c["id"]: c for c in json.loads((Path(__file__).parent / "checks" / "public.json").read_text())["checks"]}


def readings_of(*pairs):
    return [Reading(START + timedelta(days=days), F(distance)) for days, distance in pairs]


def test_the_slope_of_sens_example():
    assert mileage.theil_sen_slope([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]) == 4


def test_the_slope_of_the_norris_data_is_near_its_certified_least_squares():
    """NIST StRD Norris: certified slope 1.00211681802045; a median of slopes is another estimate of the same line."""
    given_ = CHECKS["P-theil_sen_slope-02"]["given"]
    x, y = ([float(one) for one in given_[name]] for name in ("x", "y"))

    found = mileage.theil_sen_slope([F(one) for one in given_["x"]], [F(one) for one in given_["y"]])

    assert float(found) == pytest.approx(stats.theilslopes(y, x).slope, rel=1e-9)
    assert float(found) == pytest.approx(1.00211681802045, rel=2e-4)


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 10_000)), min_size=2, max_size=12))
def test_another_library_finds_the_same_slope(points):
    x, y = ([float(point[i]) for point in points] for i in (0, 1))
    assume(len(set(x)) > 1)

    with np.errstate(invalid="ignore"):  # its confidence band, which is not asked for, may have no width
        theirs = stats.theilslopes(y, x).slope
    assert float(mileage.theil_sen_slope(x, y)) == pytest.approx(theirs, rel=1e-9, abs=1e-9)


@given(st.lists(st.integers(-1000, 1000), min_size=1, max_size=20), st.sampled_from([F(1, 10), F(1, 2), F(9, 10)]))
def test_quantiles_are_linear_between_ranks(values, share):
    found = mileage.quantile([F(one) for one in sorted(values)], share)

    assert float(found) == pytest.approx(np.quantile(values, float(share)), abs=1e-9)


def test_the_due_date_of_the_worked_example():
    example = WORKED["due_V01_complete_exchange"]
    slopes = mileage.pair_slopes(V_01)
    rates = {"low": F(1, 10), "likely": F(1, 2), "high": F(9, 10)}

    assert {name: f"{float(mileage.quantile(slopes, share)):.3f}" for name, share in rates.items()} == example[
        "rate_mi_per_day"
    ]
    band = mileage.due_date_distance(V_01, V_01[-1], example["interval_mi"])
    assert {name: getattr(band, name).isoformat() for name in ("early", "due", "late")} == example["distance"]
    months = mileage.due_date_months(V_01[-1].on, example["months"])
    assert months.isoformat() == example["month_clock"]
    assert mileage.governing_clock(band.due, months) == ("time", months)


@given(st.lists(st.tuples(st.integers(0, 900), st.integers(0, 60)), min_size=2, max_size=8), st.integers(0, 60_000))
def test_early_comes_before_due_and_due_before_late(steps, interval):
    distance, readings = 0, []
    for day, more in sorted(steps):
        distance += more * 100
        readings.append(Reading(START + timedelta(days=day), F(distance)))
    try:
        band = mileage.due_date_distance(readings, readings[-1], interval)
    except (errors.InsufficientReadings, errors.NotMoving, errors.OutOfRange):
        return

    assert band.early <= band.due
    assert band.late is None or band.due <= band.late


@given(st.permutations(range(len(V_01))))
def test_readings_may_come_in_any_order(order):
    shuffled = [V_01[i] for i in order]

    assert mileage.mileage_rate(shuffled) == mileage.mileage_rate(V_01)
    assert mileage.due_date_distance(shuffled, V_01[0], 60_000) == mileage.due_date_distance(V_01, V_01[0], 60_000)


def test_of_two_readings_on_the_last_day_the_higher_counts():
    readings = readings_of((0, 0), (100, 3000), (100, 3100))

    band = mileage.due_date_distance(readings, readings[0], 3100)

    assert band.due == START + timedelta(days=100)


def test_half_a_day_is_a_whole_one():
    latest = Reading(START, F(0))

    assert mileage.due_on(latest, F(5), F(2)) == START + timedelta(days=3)
    assert mileage.due_on(latest, F(499, 100), F(2)) == START + timedelta(days=2)
    assert mileage.due_on(latest, F(-5), F(2)) == START


def test_a_vehicle_that_stands_has_no_due_date():
    standing = readings_of((0, 100), (10, 100))

    with pytest.raises(errors.NotMoving):
        mileage.due_date_distance(standing, standing[0], 100)


def test_a_vehicle_that_hardly_moved_at_first_has_no_late_edge():
    readings = readings_of((0, 0), (10, 0), (20, 0), (30, 900), (40, 1800), (50, 2700), (60, 3600))

    band = mileage.due_date_distance(readings, readings[-1], 5000)

    assert band.late is None
    assert band.early < band.due


def test_a_date_beyond_the_calendar_is_refused():
    slow = readings_of((0, 0), (1000, 1))

    with pytest.raises(errors.OutOfRange):
        mileage.due_date_distance(slow, slow[0], 10**7)
    assert mileage.late_on(slow[0], F(10**7), F(1, 1000)) is None
    assert mileage.late_on(slow[0], F(10), F(1)) == START + timedelta(days=10)


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: mileage.theil_sen_slope([1, 2], [1]), errors.OutOfRange),
        (lambda: mileage.theil_sen_slope([1, 1], [1, 2]), errors.InsufficientReadings),
        (lambda: mileage.theil_sen_slope([], []), errors.InsufficientReadings),
        (lambda: mileage.mileage_rate(readings_of((0, 1))), errors.InsufficientReadings),
        (lambda: mileage.mileage_rate(readings_of((0, 1), (0, 2))), errors.InsufficientReadings),
        (lambda: mileage.mileage_rate(readings_of((0, -1), (1, 2))), errors.OutOfRange),
    ],
)
def test_readings_that_give_no_slope_are_refused(call, error):
    with pytest.raises(error):
        call()


def check(previous, new, *, days=181, rate=30, digits=6, unit="mi", new_unit=None):
    return mileage.odometer_check(
        Reading(START, F(previous)),
        Reading(START + timedelta(days=days), F(new)),
        rate,
        unit=unit,
        new_unit=new_unit,
        digits=digits,
    )


@pytest.mark.parametrize(
    ("previous", "new", "more", "verdict"),
    [
        (61_200, 66_900, {}, "ok"),
        (61_200, 61_200, {}, "ok"),
        (61_200, 61_200 + 4 * 30 * 181 + 1000, {}, "ok"),  # the limit itself
        (61_200, 61_200 + 4 * 30 * 181 + 1001, {}, "implausible"),
        (61_200, 59_900, {}, "rollback"),
        (98_700, 3_200, {"digits": 5}, "rollover"),
        (98_700, 3_200, {}, "rollback"),
        (61_200, 107_600, {}, "unit_mixup"),  # 66,860 mi in km
        (98_500, 64_700, {"unit": "km", "rate": 48}, "unit_mixup"),  # 104,125 km in mi
        (61_200, 661_200, {}, "implausible"),
        (61_200, 62_200, {"days": 0}, "ok"),
        (61_200, 62_201, {"days": 0}, "implausible"),
    ],
)
def test_a_reading_is_held_against_the_one_before(previous, new, more, verdict):
    assert check(previous, new, **more) == verdict


def test_a_reading_from_before_or_in_another_unit_is_refused():
    with pytest.raises(errors.DateOrder):
        check(1, 2, days=-1)
    with pytest.raises(errors.DimensionMismatch):
        check(1, 2, new_unit="km")


@pytest.mark.parametrize(
    ("start", "months", "due"),
    [
        ("2026-11-24", 33, "2029-08-24"),
        ("2024-01-31", 1, "2024-02-29"),
        ("2028-02-29", 12, "2029-02-28"),
        ("2026-12-31", 2, "2027-02-28"),
        ("2026-12-01", 1, "2027-01-01"),
    ],
)
def test_the_same_day_of_a_later_month_or_its_last(start, months, due):
    assert mileage.due_date_months(date.fromisoformat(start), months) == date.fromisoformat(due)


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(1, 600))
def test_so_many_months_later_is_that_month(start, months):
    due = mileage.due_date_months(start, months)

    assert (due.year - start.year) * 12 + due.month - start.month == months
    assert due.day == start.day or (due.day < start.day and (due + timedelta(days=1)).day == 1)


@pytest.mark.parametrize("months", [0, -1, 12 * 10_000])
def test_months_that_make_no_date_are_refused(months):
    with pytest.raises(errors.OutOfRange):
        mileage.due_date_months(START, months)


def test_the_earlier_clock_governs_and_a_tie_goes_to_time():
    later = START + timedelta(days=1)

    assert mileage.governing_clock(START, later) == ("distance", START)
    assert mileage.governing_clock(later, START) == ("time", START)
    assert mileage.governing_clock(START, START) == ("time", START)
    assert mileage.governing_clock(START, None) == ("distance", START)
    assert mileage.governing_clock(None, START) == ("time", START)
    with pytest.raises(errors.MissingInput):
        mileage.governing_clock(None, None)


def test_a_distance_was_crossed_on_the_line_between_two_readings():
    readings = [Reading(date(2026, 8, 11), Fraction(100)), Reading(date(2026, 8, 1), Fraction(0))]

    found = [mileage.crossed_on(readings, Fraction(at)) for at in (0, 25, 50, 100, 101)]

    assert found == [date(2026, 8, 1), date(2026, 8, 4), date(2026, 8, 6), date(2026, 8, 11), None]
    assert mileage.crossed_on([], Fraction(1)) is None


def test_two_readings_of_one_day_cross_on_that_day():
    readings = [Reading(date(2026, 8, 1), Fraction(0)), Reading(date(2026, 8, 1), Fraction(9))]

    assert mileage.crossed_on(readings, Fraction(5)) == date(2026, 8, 1)


@pytest.mark.parametrize(
    ("previous", "new", "digits", "found"),
    [
        ("100", "0", 2, "rollover"),
        ("100", "0.5", 2, "rollover"),
        ("999000", "0", 6, "rollover"),
        ("998999.9", "0", 6, "rollback"),
        ("1609.344", "1000", 6, "unit_mixup"),
        ("1608.844", "1000", 6, "unit_mixup"),
        ("1609.345", "1000", 6, "rollback"),
        ("15093.44", "10000", 6, "unit_mixup"),
        ("15093.43", "10000", 6, "rollback"),
        ("10000", "16093.44", 6, "unit_mixup"),
        ("9999.5", "16093.44", 6, "unit_mixup"),
        ("10000.1", "16093.44", 6, "implausible"),
        ("10000", "17702.784", 6, "unit_mixup"),
        ("10000", "17702.8", 6, "implausible"),
    ],
)
def test_both_ends_of_what_is_plausible_belong_to_it(previous, new, digits, found):
    """A vehicle that stands: plausible is 0 to 1,000 in whichever way it is read."""
    day = date(2026, 5, 1)
    readings = [mileage.Reading(day, Fraction(one)) for one in (previous, new)]

    assert mileage.odometer_check(*readings, 0, unit="mi", digits=digits) == found


def test_an_instrument_has_six_digits_unless_said_otherwise():
    """From 999,900 to 50: six digits explain it by 150 driven; five and seven do not."""
    day = date(2026, 5, 1)
    readings = [mileage.Reading(day, Fraction(one)) for one in (999_900, 50)]

    assert mileage.odometer_check(*readings, 0, unit="mi") == "rollover"
    assert mileage.odometer_check(*readings, 0, unit="mi", digits=5) == "rollback"
    assert mileage.odometer_check(*readings, 0, unit="mi", digits=7) == "rollback"


def test_a_distance_is_crossed_between_two_readings_by_their_difference():
    first, second = mileage.Reading(date(2026, 8, 1), Fraction(50)), mileage.Reading(date(2026, 8, 11), Fraction(150))
    assert mileage.crossed_on([second, first], Fraction(75)) == date(2026, 8, 4)
    next_day = mileage.Reading(date(2026, 8, 2), Fraction(150))
    assert mileage.crossed_on([first, next_day], Fraction(90)) == date(2026, 8, 1)


def test_the_last_month_of_the_calendar_is_still_a_month():
    assert mileage.due_date_months(date(9999, 1, 31), 1) == date(9999, 2, 28)
