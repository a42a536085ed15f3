"""Figures of the bay, typed and stepped."""

from __future__ import annotations

import pytest

from shopserv.common.parsing import FieldError
from shopserv.web.bay import figures


@pytest.mark.parametrize(
    ("what", "unit", "typed", "value", "read"),
    [
        ("in_ml", "0.1 qt", "3.1", 31, "0.1 qt"),
        ("in_ml", "0.1 qt", "0", 0, "0.1 qt"),
        ("in_ml", "0.1 qt", "2.9 L", 29, "0.1 L"),
        ("in_ml", "0.1 qt", "950 mL", 950, "mL"),
        ("temp_mdegc", "0.1 °C", "42", 420, "0.1 °C"),
        ("temp_mdegc", "0.1 °C", "108 F", 108, "°F"),
        ("tilt_fore_aft", "0.1°", "−0.2", -2, "0.1°"),
        ("flow_g", "g", "1,516", 1_516, "g"),
        ("odometer", "mi", "63,204", 63_204, "mi"),
    ],
)
def test_a_figure_is_read_in_its_unit_or_in_the_one_typed(what, unit, typed, value, read):
    found = figures.typed_figure(typed, what=what, unit=unit)

    assert (found.value, figures.parted(found.unit)[1]) == (value, figures.parted(read)[1])


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("", "quantity.missing"),
        ("abc", "quantity.format"),
        ("1e3", "quantity.format"),
        ("7,4", "quantity.ambiguous"),
        ("3.14", "quantity.places"),
        ("3 bar", "quantity.unit"),
        ("99999999", "quantity.range"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_name(typed, code):
    with pytest.raises(FieldError) as told:
        figures.typed_figure(typed, what="in_ml", unit="0.1 qt")

    assert told.value.code == code


@pytest.mark.parametrize(("typed", "code"), [("91.240", "odometer.ambiguous"), ("12 furlongs", "odometer.unit")])
def test_b012_an_odometer_in_the_bay_is_read_as_strictly_as_at_the_counter(typed, code):
    with pytest.raises(FieldError) as told:
        figures.typed_figure(typed, what="odometer", unit="mi")

    assert told.value.code == code


def test_a_figure_stands_in_the_field_as_it_is_read_back():
    assert [figures.plain(value, "0.1 qt") for value in (31, 0, -4)] == ["3.1", "0.0", "-0.4"]
    assert figures.plain(516, "g") == "516"


def test_the_other_system_stands_beside():
    assert figures.beside("in_ml", 2_934, "0.1 qt") == "2.9 L"
    assert figures.beside("in_ml", 2_934, "0.1 L") == "3.1 qt"
    assert figures.beside("temp_mdegc", 42_000, "°F") == "42.0 °C"
    assert figures.beside("temp_mdegc", 42_000, "0.1 °C") == "107.6 °F"
    assert figures.beside("flow_g", 516, "g") == ""


def test_keys_say_what_they_add():
    row = {"what": "in_ml", "unit": "0.1 qt", "step": 1}

    assert [figures.key_words(step, row["unit"]) for step in figures.steps_of(row)] == ["−1", "−0.1", "+0.1", "+1"]
    assert figures.steps_of({"unit": "g", "step": 5}) == (-50, -5, 5, 50)
