"""What the keys of the bay sheet step, and what becomes of it. Conversions: NIST SP 811."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.common.errors import Refusal
from shopserv.jobs import bay_bench
from shopserv.jobs import bay_readings as readings


@pytest.mark.parametrize(
    ("what", "value", "unit", "base", "typed"),
    [
        ("out_ml", 31, "0.1 qt", 2_934, "3.1 qt"),
        ("in_ml", 29, "0.1 L", 2_900, "2.9 L"),
        ("temp_mdegc", 104, "°F", 40_000, "104 °F"),
        ("temp_mdegc", 402, "0.1 °C", 40_200, "40.2 °C"),
        ("tilt_fore_aft", -3, "0.1°", -3, "-0.3°"),
        ("flow_g", 516, "g", 516, "516 g"),
        ("odometer", 88_412, "mi", 88_412, "88,412 mi"),
        ("engine_stop", 2, "choice", 2, "second person"),
    ],
)
def test_a_press_is_kept_in_the_base_unit_and_shown_as_typed(what, value, unit, base, typed):
    assert readings.to_base(what, value, unit) == base
    assert readings.typed(value, unit) == typed


@pytest.mark.parametrize(("what", "unit", "code"), [("out_ml", "g", "bay.unit"), ("color", "g", "bay.what")])
def test_a_unit_of_another_kind_is_refused(what, unit, code):
    with pytest.raises(Refusal) as told:
        readings.to_base(what, 1, unit)

    assert told.value.code == code


@given(st.integers(0, 500), st.sampled_from(["0.1 qt", "0.1 L"]))
def test_a_volume_comes_back_as_the_figure_on_the_keys(value, unit):
    base = readings.to_base("in_ml", value, unit)

    first = "us" if unit == "0.1 qt" else "metric"
    assert readings.shown("in_ml", base, first) == readings.typed(value, unit)


def test_keys_step_tenths_of_a_quart_in_a_us_shop_and_tenths_of_a_liter_elsewhere():
    us = readings.need("out_ml", "out", units_first="us", start=2_900, low=2_320, high=3_480)
    metric = readings.need("out_ml", "out", units_first="metric", start=2_900, low=2_320, high=3_480)

    assert (us["unit"], us["start"], us["low"], us["high"], us["step"]) == ("0.1 qt", 31, 25, 36, 1)
    assert (metric["unit"], metric["start"], metric["low"], metric["high"]) == ("0.1 L", 29, 24, 34)


@pytest.mark.parametrize(
    ("base", "said"),
    [
        (2_934, ""),
        (3_480, ""),
        (3_879, "out: 4.1 qt was read, the sheet says 2.5 qt to 3.7 qt."),
        (1_000, "out: 1.1 qt was read, the sheet says 2.5 qt to 3.7 qt."),
    ],
)
def test_outside_names_both_values(base, said):
    row = readings.need("out_ml", "out", units_first="us", start=2_900, low=2_320, high=3_480)

    assert readings.outside(row, base, "us") == said


def test_a_stop_is_sharp_to_the_milliliter():
    row = {
        **readings.need("out_ml", "pumped out", units_first="us", low=1_000, high=1_231),
        "stop_base": 1_300,
        "stop": "1.37 qt (1.30 L)",
    }

    assert [readings.outside(row, base, "us") for base in (1_000, 1_231, 1_300)] == ["", "", ""]
    assert readings.outside(row, 900, "us") == "pumped out: 1.0 qt was read, the sheet says 1.1 qt to 1.3 qt."
    assert readings.outside(row, 1_301, "us") == (
        f"pumped out: 1.4 qt was read, never beyond 1.37 qt (1.30 L). {readings.AIR_DRAWN}"
    )


@pytest.mark.parametrize(
    ("edges", "base", "said"),
    [
        ({"low": 100}, 90, "odometer out: 90 mi was read, the sheet says at least 100 mi."),
        ({"high": 100}, 101, "odometer out: 101 mi was read, the sheet says at most 100 mi."),
        ({}, 101, ""),
    ],
)
def test_one_limit_is_said_as_at_least_or_at_most(edges, base, said):
    row = readings.need("odometer", "odometer out", units_first="us", **edges)

    assert readings.outside(row, base, "us") == said


def test_figures_for_people_stand_in_both_units_the_place_s_first():
    assert readings.volume(2_900, "us") == "3.1 qt (2.9 L)"
    assert readings.volume(2_900, "metric") == "2.9 L (3.1 qt)"
    assert readings.temperature(36_000, "us") == "97 °F (36 °C)"
    assert readings.torque(35_000, "us") == "26 lb·ft (35 N·m)"


@pytest.mark.parametrize(
    ("what", "base", "words"),
    [
        ("temp_mdegc", 150_000, ""),
        ("temp_mdegc", 482_222, "900 °F (482.2 °C) was read. It lies between -40 °F (-40 °C) and 302 °F (150 °C)"),
        ("temp_mdegc", -40_001, "was read. It lies between"),
        ("ambient_mdegc", 55_000, ""),
        ("ambient_mdegc", 55_001, "the air of a bay reads about 20 °C (68 °F)"),
        ("flow_g", 99_000, ""),
    ],
)
def test_a_reading_that_cannot_be_is_told_with_what_a_right_one_looks_like(what, base, words):
    row = readings.need(what, "it", units_first="us")

    said = readings.never_read(row, base, "us")

    assert words in said
    assert bool(said) == bool(words)


def test_what_a_lift_may_carry_is_said_in_the_unit_of_the_place_and_never_rounded_up():
    assert readings.load(4_500, "us") == "9,920 lb (4,500 kg)"  # 9,920.8 lb
    assert readings.load(4_500, "metric") == "4,500 kg (9,920 lb)"


@pytest.mark.parametrize(
    ("text", "kelvin"), [("0.5 C", Fraction(1, 2)), ("1.8 °F", 1), ("0.9 F", Fraction(1, 2)), ("10 g", 10), ("", 7)]
)
def test_an_error_in_fahrenheit_is_a_difference(text, kelvin):
    assert bay_bench._number(text, Fraction(7)) == kelvin
