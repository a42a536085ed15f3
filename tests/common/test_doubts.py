"""A figure without unit that makes sense only in another unit than the one beside the field is asked for it."""

from __future__ import annotations

import pytest

from shopserv.common.parsing import temperature_doubt, volume_doubt

FILL = (7_200, 7_600)


def test_liters_typed_where_quarts_are_usual_are_asked_with_both_readings():
    found = volume_doubt("7.4", unit="qt", expected=FILL)

    assert found.readings == (("qt", "7.4 qt (7.0 L)"), ("L", "7.4 L (7.8 qt)"))
    assert (found.figure, found.units) == ("7.4", ("qt", "L"))
    assert found.said == (
        "“7.4”: in which unit? 7.4 qt (7.0 L), or 7.4 L (7.8 qt). Choose one below; nothing is kept before."
    )


def test_quarts_typed_where_liters_are_usual_are_asked_as_well():
    assert volume_doubt("7.8", unit="L", expected=FILL).units == ("L", "qt")
    assert volume_doubt("7.4", unit="L", expected=FILL) is None


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("7.4 L", "the unit was typed"),
        ("7.8", "it makes sense as it stands"),
        ("3", "it makes sense in no unit"),
        ("", "nothing was typed"),
        ("abc 3", "no number"),
        ("0", "no quantity"),
    ],
)
def test_other_figures_are_not_asked(typed, why):
    assert volume_doubt(typed, unit="qt", expected=FILL) is None, why


def test_where_nothing_is_expected_nothing_is_asked():
    assert volume_doubt("7.4", unit="qt", expected=(None, None)) is None


def test_both_ends_of_what_is_expected_belong_to_it():
    assert volume_doubt("7.4", unit="qt", expected=(7_003, 7_003)) is None
    assert volume_doubt("7.4", unit="qt", expected=(7_004, 7_400)) is not None
    assert volume_doubt("7.4", unit="qt", expected=(7_004, 7_399)) is None
    assert volume_doubt("7.4", unit="qt", expected=(7_004, None)).units == ("qt", "L")
    assert volume_doubt("7.8", unit="L", expected=(None, 7_799)).units == ("L", "qt")


@pytest.mark.parametrize(
    ("typed", "unit", "units"),
    [
        ("43", "degF", ("°F", "°C")),
        ("110", "degF", None),
        ("110 F", "degC", None),
        ("43°", "degF", None),
        ("104", "degC", None),  # hot, and possible
        ("170", "degC", ("°C", "°F")),
    ],
)
def test_a_temperature_that_fits_in_the_other_scale_alone_is_asked(typed, unit, units):
    found = temperature_doubt(typed, unit=unit, expected=(10_000, 150_000))

    assert (found.units if found else None) == units


def test_a_temperature_is_shown_in_both_scales():
    found = temperature_doubt("43", unit="degF", expected=(10_000, 150_000))

    assert found.readings == (("°F", "43.0 °F (6.1 °C)"), ("°C", "43.0 °C (109.4 °F)"))
