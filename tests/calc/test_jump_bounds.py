"""Temperatures that meet a bound exactly, and slips of typing by hand."""

from __future__ import annotations

import pytest

from shopserv.calc.jump import Between, Read, jump

STILL = Between(air_c=10)
ERRORS = (0.1, 0.7)  # with a scatter of 0.5 K each: 0.25 + 0.25 + 0.01 + 0.49 = 1, so that the doubt is 2 K


def pair(first, figure, between=STILL, unit="°C", celsius=None):
    """A reading in °C, and one of the same minute as it was typed."""
    then = float(figure) if celsius is None else celsius
    return jump(Read(0, first, ERRORS[0], f"{first:g}", "°C"), Read(0, then, ERRORS[1], figure, unit), between)


def test_the_doubt_of_these_errors_is_whole():
    assert pair(10, "10").doubt_k == 2.0
    assert (pair(10, "10").low_c, pair(10, "10").high_c) == (8.0, 15.0)  # 3 K of hot metal


@pytest.mark.parametrize(("figure", "is_named"), [("80", True), ("70", False), ("51", True), ("61", False)])
def test_a_slip_explains_what_then_meets_a_bound(figure, is_named):
    """Exchanged: 08 and 15 are the bounds; 07 and 16 lie beyond."""
    found = pair(10, figure)

    assert not found.fits
    assert ("digits exchanged, now" in found.likely) is is_named


@pytest.mark.parametrize(("first", "figure"), [(149, "105"), (-49, "-05")])
def test_a_slip_reaches_the_ends_of_what_fluid_can_have(first, figure):
    """150 and -50 °C."""
    assert "digits exchanged, now" in pair(first, figure, Between(air_c=first)).likely


def test_digits_behind_the_point_are_not_meant():
    """83.20 lies above 83.05; 83.02 would not."""
    found = pair(78.05, "83.20", Between(air_c=10))

    assert found.high_c == pytest.approx(83.05)
    assert "digits exchanged, now" not in found.likely


def test_the_first_two_of_three_digits_are_exchanged():
    """128 °F is 53.3 °C; 218 °F is 103.3."""
    assert "digits exchanged, now" in pair(53, "218", unit="°F", celsius=(218 - 32) / 1.8).likely


def test_fahrenheit_may_have_been_meant():
    """72 °F is 22.2 °C."""
    assert "the other unit, now" in pair(22, "72").likely


@pytest.mark.parametrize(("figure", "fits"), [("15", True), ("15.01", False), ("15.9", False)])
def test_a_little_too_warm_may_be_of_the_engine(figure, fits):
    found = pair(10, figure)

    assert found.fits is fits
    assert ("the engine ran" in found.likely) is not fits


def test_half_a_milliliter_into_nobody_knows_how_much_can_be_all():
    found = pair(80, "79", Between(air_c=20, poured_ml=0.5))

    assert found.falls_k == 60  # as cold as the shelf, and no warmer than the air
