"""Severity part by part, both clocks for any use, and what moves the day most.

Sources: worked examples of the demonstration; the reckoning of calc.forecast as another hand; what always holds.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import age, bands, errors, forecast, intervals, mileage, moisture, severity
from tests.calc.worked import DEMO, WORKED

F = Fraction
TODAY = date(2026, 11, 24)
PLACES = {
    one["code"]: forecast.Climate(
        tuple(map(float, one["mean_c"])), tuple(rh / 100 for rh in one["rh_pct"]), one["altitude_m"]
    )
    for one in DEMO["climates"]
}
COAST = PLACES["SALTREACH"]
SHORT = forecast.Use(F("0.9"), F(0), ((F(1), 79.0),))
MIXED = forecast.Use(F("0.2"), F(0), ((F("0.7"), 80.0), (F("0.2"), 95.0), (F("0.1"), 108.0)))
STORED = forecast.Use(F("0.85"), F(5, 12), ((F(1), 79.0),))
RATE = F(WORKED["due_V01_complete_exchange"]["rate_mi_per_day"]["likely"])
V01 = severity.State(
    base_distance=F(60_000),
    base_months=60,
    climate=COAST,
    use=SHORT,
    first_use=date(2019, 4, 2),
    jobs=(age.Job(date(2023, 12, 12), F(31_890), F("0.392")),),
    run=F(63_180),
    read_on=TODAY,
    rate=RATE,
)
SHARES = st.fractions(min_value=0, max_value=1, max_denominator=100)


def test_the_parts_are_those_of_the_worked_example():
    row = next(one for one in WORKED["severity"]["rows"] if one["case"] == "coast, short trips")
    found = severity.severity(COAST, SHORT, 60_000, 60)

    assert f"{found.water_g_m3:.3f}" == row["absolute_humidity_g_m3"]
    assert f"{found.humidity:.4f}" == row["mean_rh"]
    assert f"{found.absolute:.4f}" == f"{0.30 * float(row['a']):.4f}"
    assert found.relative == pytest.approx(0.20 * float(row["b"]), abs=5e-5)
    assert found.short_trips == pytest.approx(0.40 * 0.9 * float(row["q"]), abs=5e-5)
    assert found.storage == 0
    assert f"{found.boiling_c:.3f}" == WORKED["severity"]["boiling_c"]["SALTREACH"]
    assert f"{found.estimate:.3f}" == f"{found.moisture:.3f}" == row["moisture"]
    assert (found.distance, found.months, found.thermal, found.is_measured) == (33_000, 33, 1.0, False)


def test_storage_is_a_part_of_its_own_and_the_hill_dries_less_water():
    found = severity.severity(PLACES["KELLTOP"], STORED, 60_000, 60)

    assert found.storage == pytest.approx(0.30 * 5 / 12 * (1 + 0.4896) / 2, abs=1e-5)
    assert found.short_trips == pytest.approx(0.40 * 0.85 * 0.7535, abs=5e-5)
    assert f"{found.moisture:.3f}" == "1.452"


def test_heat_is_told_temperature_by_temperature():
    found = severity.severity(PLACES["KELLTOP"], MIXED, 60_000, 60)

    assert f"{found.thermal:.3f}" == WORKED["severity"]["thermal"]["factor"]
    assert sum(one.part for one in found.heat) == pytest.approx(found.thermal)
    assert [(one.share, one.celsius) for one in found.heat] == [(0.7, 80.0), (0.2, 95.0), (0.1, 108.0)]
    assert found.heat[2].wear == severity.wear(108)
    assert found.heat[2].part == 0.1 * severity.wear(108)
    assert found.air_c == sum(PLACES["KELLTOP"].mean_c) / 12
    assert f"{found.product:.3f}" == "2.154"
    assert not found.is_capped
    assert (found.distance, found.months) == (27_500, 51)


def test_the_hottest_stand_first_and_the_others_are_one():
    found = severity.severity(PLACES["KELLTOP"], MIXED, 60_000, 60)
    first, others = found.hottest(1)

    assert [one.celsius for one in first] == [80.0]  # 0.7 of the time, 0.727 of the wear
    assert others.share == pytest.approx(0.3)
    assert others.celsius == pytest.approx((0.2 * 95 + 0.1 * 108) / 0.3)
    assert first[0].part + others.part == pytest.approx(found.thermal)
    assert others.wear == pytest.approx(others.part / 0.3)
    assert found.hottest(3) == (tuple(sorted(found.heat, key=lambda one: -one.part)), None)


def test_others_that_take_no_time_add_nothing():
    idle = forecast.Use(F(0), F(0), ((F(1), 95.0), (F(0), 108.0)))

    assert severity.severity(COAST, idle, 60_000, 60).hottest(1)[1] == severity.Heat(0.0, 108.0, 0.0, 0.0)


def test_wear_doubles_every_step():
    assert severity.wear(F("79.4")) == 1
    assert severity.wear(F("90.5")) == 2
    assert severity.wear(F("68.3")) == 0.5


def test_both_together_shorten_the_distance_and_moisture_alone_the_months():
    hot = forecast.Use(F("0.9"), F(0), ((F(1), 95.0),))
    found = severity.severity(COAST, hot, 60_000, 60)

    assert found.is_capped
    assert found.product == 2.5
    assert (found.distance, found.months) == (24_000, 33)


def test_a_laboratory_figure_stands_for_the_estimate():
    found = severity.severity(COAST, SHORT, 60_000, 60, measured=(F("0.0006"), F("0.0012")))

    assert found.is_measured
    assert found.moisture == 1.6
    assert f"{found.estimate:.3f}" == "1.806"
    assert (found.distance, found.months) == (37_500, 37)


@pytest.mark.parametrize("row", WORKED["credit_V01"]["rows"], ids=lambda row: f"{row['option']} {row['fraction']}")
def test_both_clocks_after_each_option_of_the_worked_example(row):
    found = severity.clocks(V01, TODAY, F(row["fraction"]))

    assert f"{float(found.age[0]):.0f}" == row["age_after_mi"]
    assert f"{float(found.credit[0]):.0f}" == row["credit_mi"]
    assert f"{float(found.credit[1]):.3f}" == row["credit_months"]
    assert str(found.distance_due) == row["distance_due"]
    assert str(found.months_due) == row["month_due"]
    assert found.governs == row["governs"]
    assert found.due == found.months_due


def test_the_crossing_rate_of_the_worked_example():
    found = severity.clocks(V01, TODAY, 1)

    assert found.crossing == F(33_000, 1_004)
    assert f"{float(found.crossing):.1f}" == "32.9"
    assert severity.clocks(V01, TODAY, F("0.392")).crossing is None  # the months end on the day itself
    assert severity.clocks(V01, TODAY).crossing is None


def test_a_tie_goes_to_the_months_and_a_faster_driver_to_the_distance():
    at = severity.clocks(V01, TODAY, 1).crossing
    tie = severity.clocks(replace(V01, rate=at), TODAY, 1)
    faster = severity.clocks(replace(V01, rate=at + 1), TODAY, 1)

    assert (tie.distance_due, tie.governs) == (tie.months_due, "months")
    assert faster.governs == "distance"
    assert faster.due == faster.distance_due < faster.months_due


def test_as_it_stands_the_clocks_are_those_of_the_forecast():
    readings = [(date.fromisoformat(on), F(run)) for on, run in WORKED["due_V01_complete_exchange"]["readings"]]
    told = forecast.forecast(
        unit="mi", base_distance=F(60_000), base_months=60, climate=COAST, use=SHORT, first_use=date(2019, 4, 2),
        readings=readings, jobs=[forecast.Job(job.on, job.distance, job.share) for job in V01.jobs], today=TODAY,
    )  # fmt: skip
    found = severity.clocks(replace(V01, rate=told.rate), TODAY)

    assert (found.distance_due, found.months_due, found.governs) == (told.distance_due, told.months_due, told.governs)
    assert found.credit == (0, 0)
    assert f"{float(found.age[0]):.0f}" == "50679"
    assert found.past == F(63_180) - (F(31_890) + 33_000 - F("19389.12"))
    assert severity.clocks(V01, TODAY, 1).past == 0


def test_from_the_last_reading_on_the_remaining_distance_counts():
    young = replace(
        V01, jobs=(age.Job(date(2026, 1, 1), F(60_000), F(1)),), run=F(61_000), read_on=date(2026, 7, 1), rate=F(10)
    )
    found = severity.clocks(young, TODAY)

    assert found.age == (1_000, 10)
    assert found.credit == (32_000, 23)
    assert found.months_due == date(2028, 10, 1)
    assert found.crossing == F(32_000, (date(2028, 10, 1) - date(2026, 7, 1)).days)
    assert (found.distance_due - date(2026, 7, 1)).days == 3_200


@pytest.mark.parametrize("rate", [None, F(0), F(1, 10**9)])
def test_without_a_rate_the_months_govern(rate):
    found = severity.clocks(replace(V01, rate=rate), TODAY, 1)

    assert found.distance_due is None
    assert (found.governs, found.due) == ("months", found.months_due)


def test_without_a_reading_the_last_job_is_where_it_stands():
    found = severity.clocks(replace(V01, run=None, read_on=None), TODAY)

    assert found.age[0] == F("19389.12")
    assert found.distance_due == date(2023, 12, 12) + timedelta(days=round((33_000 - F("19389.12")) / RATE))
    after = severity.clocks(replace(V01, run=None, read_on=None), TODAY, 1)
    assert after.credit == (33_000, 33)


def test_after_a_job_the_laboratory_figure_of_the_old_fluid_is_over():
    wet = replace(V01, measured=(F("0.0012"), F("0.0012")))

    assert severity.clocks(wet, TODAY).severity.moisture == 2.2
    assert severity.clocks(wet, TODAY, F("0.001")).severity.is_measured is False


READINGS = tuple(
    mileage.Reading(date.fromisoformat(on), F(run)) for on, run in WORKED["due_V01_complete_exchange"]["readings"]
)


def test_the_band_is_that_of_the_readings_and_never_beyond_the_months():
    found = severity.clocks(replace(V01, readings=READINGS), TODAY, 1)
    early, likely, late = bands.due_band(READINGS, F(96_180), "mi", RATE)

    assert likely == found.distance_due
    assert found.early == min(early, found.months_due)
    assert found.late == found.months_due < late
    short = severity.clocks(replace(V01, readings=READINGS, base_distance=F(30_000)), TODAY, 1)
    assert short.early < short.due == short.distance_due < short.late < short.months_due


def test_a_band_begins_on_the_day_that_counts():
    old = tuple(mileage.Reading(one.on - timedelta(days=30), one.distance) for one in READINGS)
    late = severity.clocks(replace(V01, readings=old, read_on=old[-1].on, rate=F(90)), TODAY, 1)
    now = severity.clocks(replace(V01, readings=READINGS, rate=F(90)), TODAY, 1)

    assert (late.early, late.due, late.late) == (now.early, now.due, now.late)


def test_no_band_is_told_where_nothing_was_read_or_nothing_is_known_of_the_rate():
    assert (severity.clocks(V01, TODAY).early, severity.clocks(V01, TODAY).late) == (None, None)
    still = severity.clocks(replace(V01, readings=READINGS, rate=None), TODAY)
    assert (still.early, still.late) == (None, None)
    stands = severity.clocks(replace(V01, readings=READINGS, rate=F(0)), TODAY, 1)
    assert (stands.early, stands.late) == (stands.months_due, stands.months_due)


def test_a_share_that_cannot_be_is_refused():
    with pytest.raises(errors.OutOfRange, match="The share of new fluid"):
        severity.clocks(V01, TODAY, F("1.01"))


def by_words(changes):
    return {change.words: change for change in changes}


def test_each_input_is_moved_by_a_fifth_and_the_largest_move_stands_first():
    found = severity.swings(V01, TODAY, F("0.858"))
    moved = [change.moved for change in found]
    said = by_words(found)

    assert set(said) == {severity.MOVED[name] for name in severity.MOVED} - {
        severity.MOVED["last share"],
        severity.MOVED["water"],
    }
    assert moved == sorted(moved, reverse=True)
    for name, state, share in [
        ("base months", replace(V01, base_months=F(48)), F("0.858")),
        ("base distance", replace(V01, base_distance=F(48_000)), F("0.858")),
        ("rate", replace(V01, rate=RATE * F(4, 5)), F("0.858")),
        ("short trips", replace(V01, use=replace(SHORT, short_trip=F("0.72"))), F("0.858")),
        ("share", V01, F("0.858") * F(4, 5)),
        ("humidity", replace(V01, climate=replace(COAST, humidity=tuple(0.8 * h for h in COAST.humidity))), F("0.858")),
        ("altitude", replace(V01, climate=replace(COAST, altitude_m=3.2)), F("0.858")),
    ]:
        assert said[severity.MOVED[name]].less == severity.clocks(state, TODAY, share).due.toordinal()
    assert said[severity.MOVED["storage"]].note == "zero: a share of it is nothing"
    assert said[severity.MOVED["sump"]].less == severity.clocks(V01, TODAY, F("0.858")).due.toordinal()


def test_a_share_that_would_pass_the_whole_stops_there():
    raised = by_words(severity.swings(V01, TODAY, F("0.9")))

    assert raised[severity.MOVED["share"]].more == severity.clocks(V01, TODAY, 1).due.toordinal()
    assert (
        raised[severity.MOVED["short trips"]].more
        == severity.clocks(replace(V01, use=replace(SHORT, short_trip=F(1))), TODAY, F("0.9")).due.toordinal()
    )
    wet = replace(COAST, humidity=tuple(min(1, 1.2 * h) for h in COAST.humidity))
    assert (
        raised[severity.MOVED["humidity"]].more
        == severity.clocks(replace(V01, climate=wet), TODAY, F("0.9")).due.toordinal()
    )


def test_without_a_job_in_mind_the_last_one_is_moved_and_water_that_was_found():
    young = replace(
        V01,
        jobs=(age.Job(date(2025, 1, 1), F(40_000), F("0.5")), age.Job(date(2026, 1, 1), F(60_000), F("0.9"))),
        measured=(F("0.0003"), F("0.0012")),
    )
    said = by_words(severity.swings(young, TODAY))

    last = said[severity.MOVED["last share"]]
    whole = (young.jobs[0], replace(young.jobs[1], share=F(1)))
    assert last.more == severity.clocks(replace(young, jobs=whole), TODAY).due.toordinal()
    drier = replace(young, measured=(F("0.00024"), F("0.0012")))
    assert said[severity.MOVED["water"]].less == severity.clocks(drier, TODAY).due.toordinal()
    assert severity.MOVED["share"] not in said
    assert severity.MOVED["last share"] not in by_words(severity.swings(replace(young, jobs=()), TODAY))


def test_the_sump_is_moved_by_its_rise_over_the_yearly_air():
    hot = replace(V01, use=MIXED, climate=PLACES["KELLTOP"], rate=F(90))
    air = F(sum(PLACES["KELLTOP"].mean_c)) / 12
    cooler = tuple((s, float(air + F(4, 5) * (F(at) - air))) for s, at in MIXED.bins)
    found = by_words(severity.swings(hot, TODAY, 1))[severity.MOVED["sump"]]

    assert found.moved > 0
    assert found.less == severity.clocks(replace(hot, use=replace(MIXED, bins=cooler)), TODAY, 1).due.toordinal()


MONTHS = st.tuples(st.floats(-30, 40), st.floats(0, 1))


@settings(max_examples=40)
@given(st.lists(MONTHS, min_size=12, max_size=12), SHARES, SHARES, st.integers(40, 130), st.floats(0, 4000))
def test_the_parts_are_the_estimate_and_the_bounds_hold(months, short, stored, celsius, height):
    place = forecast.Climate(tuple(t for t, _ in months), tuple(rh for _, rh in months), height)
    found = severity.severity(place, forecast.Use(short, stored, ((F(1), float(celsius)),)), 60_000, 60)

    parts = 1 + found.absolute + found.relative + found.short_trips + found.storage
    assert found.estimate == pytest.approx(min(moisture.MOST, parts))
    assert 1 <= found.moisture <= 2.2
    assert 1 <= found.product <= 2.5
    assert 500 <= found.distance <= 60_000
    assert 1 <= found.months <= 60
    assert found.months >= 27  # moisture alone: never the heat


@settings(max_examples=40)
@given(SHARES, SHARES, SHARES, SHARES, st.integers(40, 120), st.integers(0, 30), SHARES)
def test_a_milder_use_never_shortens_either_clock(short, stored, drier, less, celsius, kelvin, share):
    def due(use, place):
        found = severity.clocks(replace(V01, use=use, climate=place), TODAY, share)
        return found.severity.distance, found.severity.months, found.distance_due, found.months_due, found.due

    harsh = due(forecast.Use(short, stored, ((F(1), float(celsius)),)), COAST)
    mild = due(
        forecast.Use(short * less, stored * less, ((F(1), float(celsius - kelvin)),)),
        replace(COAST, humidity=tuple(h * float(drier) for h in COAST.humidity)),
    )

    assert all(one >= other for one, other in zip(mild, harsh, strict=True))


@settings(max_examples=40)
@given(SHARES, SHARES, st.integers(1, 200), st.integers(1, 200))
def test_more_new_fluid_and_fewer_miles_a_day_never_bring_the_day_nearer(one, other, slow, fast):
    low, high = sorted((one, other))
    slow, fast = sorted((slow, fast))

    def due(share, rate):
        return severity.clocks(replace(V01, rate=F(rate)), TODAY, share).due

    read = severity.clocks(replace(V01, readings=READINGS), TODAY, high)
    assert read.early <= read.late <= read.months_due
    if low:
        assert due(low, fast) <= due(high, fast) <= due(high, slow)
    assert severity.clocks(V01, TODAY, high or 1).credit[0] <= 33_000


@settings(max_examples=40)
@given(st.integers(0, 5_000), st.integers(0, 5_000))
def test_less_water_in_the_fluid_never_shortens(one, other):
    low, high = sorted((one, other))
    dry, wet = (
        severity.severity(COAST, SHORT, 60_000, 60, measured=(F(ppm, 10**6), F(1_200, 10**6))) for ppm in (low, high)
    )

    assert dry.distance >= wet.distance
    assert dry.months >= wet.months
    assert intervals.adjusted_months(60, dry.moisture) == dry.months


def test_a_reading_before_the_last_job_takes_no_road_back():
    stale = replace(V01, run=F(30_000), read_on=date(2023, 6, 1))
    found = severity.clocks(stale, TODAY, F("0.5"))

    assert found.age == (F("0.5") * F("19389.12"), F("0.5") * F("69.048"))
    assert found.distance_due == TODAY + timedelta(days=round((33_000 - found.age[0]) / RATE))
    assert found.past == 0


@pytest.mark.parametrize(
    ("mean_c", "humidity", "absolute", "relative"),
    [(35.0, 0.95, 0.30, 0.20), (-20.0, 0.4, 0.0, 0.0), (25.0, 0.7, None, 0.10)],
)
def test_each_part_ends_at_its_bounds(mean_c, humidity, absolute, relative):
    place = forecast.Climate((mean_c,) * 12, (humidity,) * 12, -400)
    found = severity.severity(place, forecast.Use(F(1), F(1), ((F(1), 79.0),)), 60_000, 60)

    water = 1_000 * moisture.absolute_humidity(mean_c, humidity)
    assert found.absolute == (absolute if absolute is not None else pytest.approx(0.30 * (water - 5) / 15))
    assert found.relative == pytest.approx(relative)
    assert found.short_trips == 0.40  # below the sea water boils higher than where trips are counted whole
    assert found.storage == pytest.approx(0.30 * (1 + relative / 0.20) / 2)
    assert found.estimate == pytest.approx(min(2.2, 1 + found.absolute + found.relative + 0.40 + found.storage))


def test_the_product_is_capped_only_beyond_its_bound():
    at = severity.severity(COAST, MIXED, 60_000, 60, measured=(F(0), F(1)))

    assert (at.moisture, at.is_capped) == (1.0, False)
    assert at.product == pytest.approx(at.thermal)


def test_a_distance_run_through_ended_on_the_day_of_the_crossing_whatever_the_last_reading_is():
    worn = replace(V01, readings=READINGS, jobs=(age.Job(date(2023, 12, 12), F(31_890), F("0.5")),), base_months=120)
    later = (*READINGS, mileage.Reading(TODAY + timedelta(days=1), F(63_200)))
    moved = replace(worn, readings=later, run=F(63_200), read_on=later[-1].on)

    # 17,055 mi were left: 48,945 mi lies between 43,874 on 2025-03-25 and 50,886 on 2025-09-09, 121.5 days on
    for state in (worn, moved):
        found = severity.clocks(state, TODAY)
        assert (found.due, found.early, found.late, found.governs) == (date(2025, 7, 24),) * 3 + ("distance",)
    assert severity.clocks(worn, TODAY, 1).distance_due > TODAY


def test_the_doubt_of_heat_and_moisture_widens_the_band_of_the_driving():
    new = replace(
        V01,
        climate=PLACES["KELLTOP"],
        readings=READINGS,
        use=replace(MIXED, bins=((F(1), 85.0),)),
        jobs=(*V01.jobs, age.Job(TODAY, F(63_180), F(1))),
    )
    told, found = severity.clocks(new, TODAY), severity.doubt(new, TODAY)
    hard, mild, now = found.harder.severity, found.milder.severity, told.severity

    assert (hard.moisture - 1) / (now.moisture - 1) == pytest.approx(1.2)
    assert (mild.moisture - 1) / (now.moisture - 1) == pytest.approx(0.8)
    assert hard.thermal / now.thermal == pytest.approx(2 ** (5 / 11.1)) == pytest.approx(1.3664, abs=1e-4)
    assert mild.thermal / now.thermal == pytest.approx(2 ** (-5 / 11.1))
    assert (found.early, found.late) == (found.harder.early, found.milder.late)
    assert found.early < told.early < told.late < found.late


def test_the_doubt_without_a_band_of_the_driving_is_that_of_the_factors_alone():
    found = severity.doubt(V01, TODAY)

    assert (found.early, found.late) == (found.harder.due, found.milder.due)


def test_a_limit_that_hides_what_an_input_does_is_said():
    cool = replace(V01, use=SHORT)  # 79 °C: no heat above the floor, lowered
    said = by_words(severity.swings(cool, TODAY, 1))
    assert said[severity.MOVED["sump"]].note == "limit reached: heat never below 1, factors at most 2.5"
    assert said[severity.MOVED["humidity"]].note == said[severity.MOVED["rate"]].note == ""

    hot = by_words(severity.swings(replace(V01, use=MIXED), TODAY, 1))  # 1.853 by 1.57 and more
    assert hot[severity.MOVED["humidity"]].note == "limit reached: factors at most 2.5"
    assert hot[severity.MOVED["base distance"]].note == ""
    mild = by_words(
        severity.swings(replace(V01, use=replace(MIXED, short_trip=F(0)), climate=PLACES["KELLTOP"]), TODAY, 1)
    )
    assert mild[severity.MOVED["humidity"]].note == ""


def test_a_product_that_meets_its_bound_is_not_capped():
    """90.5 °C: 2; a laboratory figure of 5/24 of the limit: 1 + 1.2 x 5/24 = 1.25; together the bound, 2.5."""
    steady = forecast.Use(F(0), F(0), ((F(1), 90.5),))
    at, beyond = (severity.severity(COAST, steady, 60_000, 60, measured=(F(n, 2400), F(1))) for n in (500, 501))

    assert (at.moisture, at.thermal, at.product, at.is_capped) == (1.25, 2.0, 2.5, False)
    assert (beyond.product, beyond.is_capped) == (2.5, True)


def test_a_little_new_fluid_in_a_worn_fill_gives_no_credit():
    found = severity.clocks(V01, TODAY, F(1, 1000))

    assert found.age[0] == F(999, 1000) * severity.clocks(V01, TODAY).age[0]
    assert found.age[0] > 50_000
    assert found.age[1] > 33
    assert found.credit == (0, 0)
    assert (found.months_due, found.past, found.crossing) == (TODAY, 0, None)


YOUNG = replace(
    V01, jobs=(age.Job(date(2026, 1, 1), F(60_000), F(1)),), read_on=date(2026, 7, 1)
)  # 33,000 mi, 33 months


@pytest.mark.parametrize(
    ("run", "read_on", "crossing"),
    [
        (92_998, date(2028, 9, 30), 2),
        (92_999, date(2028, 9, 30), 1),
        (93_000, date(2028, 9, 30), None),
        (93_001, date(2028, 9, 30), None),
        (92_000, date(2028, 9, 29), 500),
        (92_000, date(2028, 10, 1), None),
        (92_000, date(2028, 10, 2), None),
    ],
)
def test_the_crossing_rate_is_what_is_left_over_the_days_that_are_left(run, read_on, crossing):
    found = severity.clocks(replace(YOUNG, run=F(run), read_on=read_on), date(2028, 10, 3))

    assert found.months_due == date(2028, 10, 1)
    assert found.crossing == crossing


def test_of_three_jobs_the_last_is_moved_and_no_other():
    jobs = (
        age.Job(date(2024, 1, 1), F(30_000), F("0.3")),
        age.Job(date(2025, 1, 1), F(40_000), F("0.5")),
        age.Job(date(2026, 1, 1), F(60_000), F("0.7")),
    )
    three = replace(V01, jobs=jobs, rate=F(90))
    found = by_words(severity.swings(three, TODAY))[severity.MOVED["last share"]]

    def due(share):
        return severity.clocks(replace(three, jobs=(*jobs[:2], replace(jobs[2], share=share))), TODAY).due.toordinal()

    assert (found.less, found.more) == (due(F("0.56")), due(F("0.84")))
    assert due(F("0.56")) < due(F("0.84"))


def test_water_is_moved_only_where_it_was_found_and_still_counts():
    wet = replace(V01, measured=(F("0.0003"), F("0.0012")))
    water = severity.MOVED["water"]

    assert water in by_words(severity.swings(wet, TODAY))
    assert water not in by_words(severity.swings(wet, TODAY, F("0.5")))
    assert water not in by_words(severity.swings(V01, TODAY))
    assert {one.unit for one in severity.swings(V01, TODAY)} == {"days"}


def test_what_is_moved_stops_at_the_whole_and_heat_is_moved_over_the_yearly_air():
    kept = replace(V01, climate=replace(COAST, mean_c=(20.0,) * 12), use=replace(STORED, bins=((F(1), 80.0),)))
    given = {
        "base distance": F(1),
        "base months": F(1),
        "humidity": F(1),
        "altitude": F(0),
        "short trips": F("1.08"),
        "storage": F("1.2"),
        "sump": F("0.8"),
        "rate": None,
    }

    moved = severity._moved(kept, given)

    assert (moved.use.short_trip, moved.use.storage) == (1, 1)
    assert moved.use.bins == ((1, 68.0),)  # 20 + 0.8 x 60


AIR_20 = replace(COAST, mean_c=(20.0,) * 12, humidity=(0.0,) * 12)
HEAT, BOTH = "limit reached: heat never below 1", "limit reached: factors at most 2.5"


@pytest.mark.parametrize(
    ("water", "note"), [(F(25, 144), ""), (F(2501, 14_400), BOTH), (F(30, 144), BOTH), (F(31, 144), BOTH)]
)
def test_a_limit_is_said_where_a_fifth_more_passes_it(water, note):
    """90.5 °C: 2; moisture of 1.25 and more meets 2.5: 1.2 x water is 0.25 at 5/24, which is 6/5 of 25/144."""
    state = replace(V01, use=forecast.Use(F(0), F(0), ((F(1), 90.5),)), measured=(water, F(1)))

    assert by_words(severity.swings(state, TODAY))[severity.MOVED["water"]].note == note


@pytest.mark.parametrize(
    ("celsius", "note"),
    [
        (94.25, f"{HEAT}, factors at most 2.5"),  # 4/5 of 74.25 K above the air are 59.4: the reference of 79.4 °C
        (94.35, BOTH),
        (81.0, HEAT),  # 6/5 of 61 K: 93.2 °C, 2.37
    ],
)
def test_heat_is_said_to_end_where_a_fifth_less_meets_its_floor(celsius, note):
    state = replace(V01, climate=AIR_20, use=forecast.Use(F(0), F(0), ((F(1), celsius),)))

    assert by_words(severity.swings(state, TODAY, 1))[severity.MOVED["sump"]].note == note


def test_where_heat_alone_passes_the_cap_all_that_makes_factors_says_so_and_nothing_else():
    hot = replace(V01, climate=PLACES["KELLTOP"], use=replace(STORED, bins=((F(1), 115.0),)))
    without, found = severity.swings(hot, TODAY), severity.swings(replace(hot, measured=(F("0.1"), F(1))), TODAY)

    capped = {severity.MOVED[name] for name in ("humidity", "altitude", "short trips", "storage", "sump")}
    assert {one.words for one in without if BOTH in one.note} == capped
    assert {one.words for one in found if BOTH in one.note} == capped | {severity.MOVED["water"]}
