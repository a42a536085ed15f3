"""The forecast by two clocks. Source of the figures: the worked examples of the demonstration (V-01, V-12, F-07)."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, forecast, mileage
from shopserv.calc.forecast import Climate, Job, Use, whole_months

COAST = Climate(
    (17.3, 17.9, 19.6, 21.9, 24.7, 27.1, 28.4, 28.7, 27.5, 24.6, 20.9, 18.1),
    (0.86, 0.85, 0.85, 0.84, 0.85, 0.87, 0.87, 0.88, 0.88, 0.87, 0.87, 0.86),
    4,
)
SHORT_TRIPS = Use(Fraction("0.90"), Fraction(0), ((Fraction(1), 79.0),))
V_01 = [
    (date(2024, 2, 6), 33524),
    (date(2024, 6, 18), 36543),
    (date(2024, 11, 12), 40444),
    (date(2025, 3, 25), 43874),
    (date(2025, 9, 9), 50886),
    (date(2026, 2, 17), 56763),
    (date(2026, 7, 14), 59710),
    (date(2026, 11, 24), 63180),
]
TODAY = date(2026, 11, 24)
DRAIN_2023 = Job(date(2023, 12, 12), Fraction(31890), Fraction("0.392"))


def of_v01(**changes):
    given_values = {
        "unit": "mi",
        "base_distance": Fraction(60_000),
        "base_months": 60,
        "climate": COAST,
        "use": SHORT_TRIPS,
        "first_use": date(2019, 4, 2),
        "readings": [(on, Fraction(miles)) for on, miles in V_01],
        "jobs": [DRAIN_2023],
        "today": TODAY,
    }
    return forecast.forecast(**{**given_values, **changes})


def test_short_trips_on_the_coast_shorten_both_clocks():
    found = of_v01()

    assert round(found.moisture, 3) == 1.806
    assert found.thermal == 1.0
    assert (found.interval, found.interval_months) == (33_000, 33)


def test_the_fluids_age_is_carried_through_a_partial_job():
    found = of_v01()

    # 31,890 mi and 56 months at the drain of 0.392, then 31,290 mi and 35 months: 50,679 mi and 69.048 months
    assert found.age_after + 63_180 - 31_890 == Fraction("50679.12")
    assert found.age_after_months + 35 == Fraction("69.048")
    assert found.months_due == date(2023, 12, 12)  # older than its interval already: due again at once by age


def test_a_complete_exchange_today_is_due_on_the_worked_days():
    found = of_v01(jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), Fraction(1))])

    assert found.distance_due == date(2029, 12, 1)
    assert (found.months_due, found.governs) == (date(2029, 8, 24), "months")
    assert [round(float(r), 3) for r in (found.rate_low, found.rate, found.rate_high)] == [24.175, 29.923, 35.677]


@pytest.mark.parametrize(
    ("fraction", "credit", "months"),
    [("0.392", 2187, "0.000"), ("0.775", 21_597, "17.464"), ("0.858", 25_804, "23.195"), ("1", 33_000, "33.000")],
)
def test_the_credit_of_each_option_is_as_worked(fraction, credit, months):
    found = of_v01(jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), Fraction(fraction))])

    assert round(float(found.credit)) == credit
    assert f"{float(found.credit_months):.3f}" == months


def test_without_a_day_of_first_use_the_first_fluid_was_one_interval_old_and_that_is_said():
    found = of_v01(first_use=None)

    assert found.age_after == Fraction(33_000) * (1 - Fraction("0.392"))
    assert found.assumptions == ("the first fluid was one interval old at the first job on record",)


def test_a_vehicle_never_serviced_counts_from_its_first_use():
    found = of_v01(jobs=[])

    assert (found.age_after, found.credit) == (0, 33_000)
    assert found.months_due == date(2022, 1, 2)


def test_with_neither_first_use_nor_a_job_there_is_no_beginning():
    with pytest.raises(errors.MissingInput):
        of_v01(first_use=None, jobs=[])


def test_the_band_is_the_calibrated_one_not_that_of_the_pair_slopes():
    found = of_v01(jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), Fraction(1))])
    rows = [mileage.Reading(on, Fraction(miles)) for on, miles in V_01]
    contract = mileage.due_date_distance(rows, mileage.Reading(TODAY, Fraction(63_180)), 33_000)

    # the worked band of the demonstration goes by the pair slopes; on simulated vehicles it holds two of five
    assert (contract.early, contract.late) == (date(2029, 6, 6), date(2030, 8, 20))
    assert (found.early, found.late) == (date(2029, 3, 27), date(2031, 4, 12))


def test_with_one_reading_the_average_is_assumed_and_that_is_said():
    found = of_v01(readings=[(TODAY, Fraction(63_180))], jobs=[Job(TODAY, Fraction(63_180), Fraction(1))])

    # first use 2019-04-02 and 63,180 mi now: 22.6 mi a day, weighed with 30.7
    assert 22.6 < found.rate < 23.4
    assert found.rate_low < found.rate < found.rate_high
    assert found.distance_due == TODAY + timedelta(days=round(33_000 / found.rate))
    assert found.early < found.distance_due < found.late
    assert found.assumptions[-1] == forecast.ASSUMED_RATE
    assert "assumed: the published average of 18,054 km a year" in forecast.ASSUMED_RATE
    assert found.left == 33_000


def test_two_readings_of_one_day_are_one():
    found = of_v01(readings=[(TODAY, Fraction(63_180)), (TODAY, Fraction(63_181))])

    assert forecast.ASSUMED_RATE in found.assumptions
    assert forecast.ASSUMED_RATE not in of_v01().assumptions


def test_a_vehicle_that_stands_still_has_no_day_by_distance():
    found = of_v01(readings=[(TODAY - timedelta(days=300), Fraction(63_180)), (TODAY, Fraction(63_180))])

    assert (found.early, found.distance_due, found.late, found.rate) == (None, None, None, 0)


def test_without_any_reading_job_and_first_use_say_how_far_it_goes():
    found = of_v01(readings=[])

    # 31,890 mi from 2019-04-02 to 2023-12-12 are 18.6 a day; how much is left now nobody has read
    assert (found.left, found.assumptions[-1]) == (None, forecast.ASSUMED_RATE)
    assert 18.6 < found.rate < 19.1
    assert found.distance_due == date(2023, 12, 12) + timedelta(days=round(found.credit / found.rate))


def test_with_nothing_but_a_job_the_average_alone_counts():
    found = of_v01(readings=[], first_use=None)

    assert found.rate == Fraction(30.713855).limit_denominator(1000)
    assert found.early < found.distance_due < found.late


def test_a_distance_run_through_was_crossed_between_its_readings_although_it_is_due_on_the_last_one():
    found = of_v01(jobs=[Job(date(2023, 12, 12), Fraction(31_890), Fraction("0.5"))])

    # 17,055 mi were left: 48,945 mi lies between 43,874 on 2025-03-25 and 50,886 on 2025-09-09, 121.5 days on
    assert found.distance_due == TODAY
    assert found.crossed == date(2025, 7, 24)


def test_a_distance_not_yet_run_is_not_crossed():
    assert of_v01(jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), Fraction(1))]).crossed is None
    assert of_v01(readings=[]).crossed is None


def test_the_working_names_its_version_and_every_step():
    working = of_v01().working

    assert working["version"] == "1"
    assert working["interval"] == ["33000", 33]
    assert set(working) >= {"formula", "moisture", "heat", "age_after_last_job", "credit", "rate_a_day", "assumptions"}


def test_a_laboratory_figure_stands_for_the_estimate_of_moisture():
    found = of_v01(measured=(Fraction("0.0006"), Fraction("0.0012")))

    assert (found.moisture, found.interval, found.interval_months) == (1.6, 37_500, 37)
    assert found.working["moisture_is"] == "measured"
    assert of_v01().working["moisture_is"] == "estimated"


@pytest.mark.parametrize(
    ("since", "until", "months"),
    [
        (date(2019, 4, 2), date(2023, 12, 12), 56),
        (date(2023, 12, 12), date(2026, 11, 24), 35),
        (date(2024, 1, 31), date(2024, 2, 29), 0),
        (date(2024, 1, 31), date(2024, 3, 31), 2),
    ],
)
def test_months_are_counted_down_to_whole_ones(since, until, months):
    assert whole_months(since, until) == months


@given(st.lists(st.fractions(0, 1), min_size=2, max_size=6, unique=True))
def test_more_new_fluid_never_brings_the_due_day_nearer(shares):
    found = [of_v01(jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), share)]) for share in sorted(shares)]

    assert all(a.months_due <= b.months_due and a.credit <= b.credit for a, b in pairwise(found))
    assert all(0 <= one.credit <= one.interval for one in found)


@given(st.fractions(0, 1))
def test_milder_use_never_shortens_an_interval(short_trips):
    milder = of_v01(use=replace(SHORT_TRIPS, short_trip=short_trips * Fraction("0.5")))
    harder = of_v01(use=replace(SHORT_TRIPS, short_trip=short_trips))

    assert (milder.interval, milder.interval_months) >= (harder.interval, harder.interval_months)
    assert harder.interval <= 60_000


def test_what_is_left_counts_from_the_farthest_reading():
    found = of_v01(jobs=[Job(date(2026, 2, 17), Fraction(56_763), Fraction(1))])

    assert (found.credit, found.left) == (33_000, 56_763 + 33_000 - 63_180)


def test_an_interval_used_up_leaves_nothing_and_not_a_mile():
    found = of_v01(jobs=[Job(date(2020, 4, 2), Fraction(1_000), Fraction(0))], readings=[(TODAY, Fraction(200_000))])

    worn = of_v01(jobs=[Job(TODAY, Fraction(200_000), Fraction(0))], readings=[(TODAY, Fraction(200_000))])
    assert (worn.credit, worn.left) == (0, 0)
    assert found.left == 1_000 + found.credit - 200_000


def test_a_reading_on_the_day_of_the_service_counts():
    on, at = date(2026, 1, 1), Fraction(1_000)
    readings = [(on, Fraction(1_000)), (on + timedelta(days=10), Fraction(1_100))]

    assert forecast.crossed_after(readings, on, at, Fraction(50)) == on + timedelta(days=5)
    assert forecast.crossed_after(readings[:1], on, at, Fraction(0)) == on
    assert forecast.crossed_after([], on, at, Fraction(0)) is None
