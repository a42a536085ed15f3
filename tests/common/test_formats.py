"""Figures as people read them.

source   the demonstration scenario's worked quote (its figures and words), US quart 946.352946 mL (NIST SP 811)
"""

from datetime import UTC, date, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone, translation
from hypothesis import given
from hypothesis import strategies as st

from shopserv.common import formats

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("cents", "text"),
    [(44_295, "$442.95"), (0, "$0.00"), (5, "$0.05"), (-1_200, "−$12.00"), (999_999_999, "$9,999,999.99")],
)
def test_an_amount_carries_its_sign(cents, text):
    assert formats.money(cents) == text


def test_another_currency_is_named():
    assert formats.money(900, "EUR") == "EUR 9.00"


def test_a_band_of_amounts_that_are_the_same_is_one_amount():
    assert formats.money_band(1_910, 1_528) == "$19.10 to $15.28"
    assert formats.money_band(1_910, 1_910) == "$19.10"


def test_quarts_stand_first_in_the_united_states_and_liters_elsewhere():
    assert formats.volume(10_000) == "10.6 qt (10.0 L)"
    assert formats.volume(10_000, "metric") == "10.0 L (10.6 qt)"


def test_a_band_of_volumes_names_its_unit_once():
    assert formats.volume_band(7_200, 8_600) == "7.6 to 9.1 qt (7.2 to 8.6 L)"
    assert formats.volume_band(7_200, 7_200) == "7.6 qt (7.2 L)"


def test_a_difference_keeps_its_milliliters_and_a_true_minus():
    assert formats.milliliters(-63) == "−63 mL"


@pytest.mark.parametrize(
    ("mdegc", "text"),
    [(42_000, "107.6 °F (42.0 °C)"), (0, "32.0 °F (0.0 °C)"), (-40_000, "−40.0 °F (−40.0 °C)")],
)
def test_fahrenheit_stands_first(mdegc, text):
    assert formats.temperature(mdegc) == text


def test_a_window_of_temperatures_has_no_needless_zeros():
    assert formats.temperature_band(40_000, 45_000) == "104 to 113 °F (40 to 45 °C)"


def test_torque_is_in_pound_feet_with_newton_meters_beside_it():
    assert formats.torque(22_000) == "16.2 lb·ft (22 N·m)"


def test_distances_come_in_the_unit_of_the_shop():
    assert formats.odometer(63_180) == "63,180 mi"
    assert formats.distance(Fraction(50_679 * 1_609_344, 1_000)) == "50,679 mi"
    assert formats.distance(91_240_000, "metric") == "91,240 km"


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (390_000, None, "39 %"),
        (861_234, 942_001, "86 to 94 %"),
        (920_000, 999_990, "92 % to nearly all"),
        (999_900, 1_000_000, "nearly all"),
        (0, 0, "0 %"),
    ],
)
def test_a_share_of_a_model_is_never_printed_as_all(low, high, text):
    assert formats.share(low, high) == text


@given(st.integers(0, 1_000_000))
def test_no_share_reads_100_percent(ppm):
    assert formats.share(ppm) != "100 %"


def test_a_rate_keeps_the_places_it_has():
    assert formats.percent(62_500, 2) == "6.25 %"
    assert formats.percent(50_000, 2) == "5 %"


@given(st.lists(st.integers(0, 20_000), max_size=14))
def test_printed_stages_sum_to_their_printed_total(volumes):
    printed = formats.stage_quarts(volumes)

    assert sum((Fraction(text) for text in printed), Fraction(0)) == Fraction(
        formats.number(sum(volumes) / Fraction("946.352946"), 2).replace(",", "")
    )


def test_each_stage_is_less_than_a_hundredth_from_its_exact_value():
    volumes = [1_703, 1_703, 1_703, 1_325]

    for text, ml in zip(formats.stage_quarts(volumes), volumes, strict=True):
        assert abs(Fraction(text) - ml / Fraction("946.352946")) < Fraction(1, 100)


def test_dates_have_their_month_as_a_word():
    on = date(2026, 11, 24)

    assert formats.day(on) == "Nov 24, 2026"
    assert formats.short_day(on, date(2026, 1, 1)) == "Nov 24"
    assert formats.short_day(on, date(2027, 1, 1)) == "Nov 24, 2026"
    assert formats.month(on) == "Nov 2026"
    assert formats.day_band(date(2028, 10, 24), date(2029, 3, 24)) == "Oct 24, 2028 to Mar 24, 2029"
    assert formats.day_band(date(2029, 2, 24), date(2029, 8, 24)) == "Feb 24 to Aug 24, 2029"


def test_times_are_those_of_the_shop():
    at = datetime(2026, 11, 24, 15, 42, tzinfo=UTC)

    with timezone.override(ZoneInfo("America/New_York")):
        assert formats.clock_time(at) == "10:42 AM"
        assert formats.clock_time(at, "metric") == "10:42"
        assert formats.moment(at) == "Nov 24, 2026, 10:42 AM"


def test_durations_are_hours_and_minutes():
    assert formats.duration(189) == "3 h 09 min"
    assert formats.duration(45) == "45 min"
    assert formats.hours(18) == "1.8 h"


def test_months_are_words_of_the_reader():
    with translation.override("es"):
        assert "Nov" in formats.month(date(2026, 11, 24))


@pytest.mark.parametrize(
    ("thousandths", "is_months", "text"),
    [
        (25_703_999, False, "25,703"),
        (40_378_500, False, "40,378"),
        (23_159, True, "23.2"),
        (17_449, True, "17.4"),
        (0, True, "0.0"),
    ],
)
def test_what_the_money_buys_is_whole_distance_or_months_to_a_tenth(thousandths, is_months, text):
    assert formats.lasts(thousandths, is_months=is_months) == text


@pytest.mark.parametrize(("code", "text"), [("en", "English"), ("es", "Spanish"), ("xx-none", "xx-none")])
def test_a_language_is_told_by_its_name(code, text):
    assert formats.language(code) == text


def test_an_error_of_a_thermometer_is_a_difference_in_the_unit_of_its_scale():
    assert formats.degrees_apart(1) == "1.8 °F (1 °C)"
    assert formats.degrees_apart(Fraction(1, 2), "us") == "0.9 °F (0.5 °C)"
    assert formats.degrees_apart(Fraction(1, 2), "metric") == "0.5 °C (0.9 °F)"
