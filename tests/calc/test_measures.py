"""Units, exact conversion, the level window.

Sources: NIST SP 811 (2008) appendix B for the factors; pint as another hand at the same conversions.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, measures
from shopserv.calc.measures import convert

PINT = pint.UnitRegistry(non_int_type=Fraction)
IN_PINT = {
    "L": "liter",
    "mL": "milliliter",
    "cm3": "cm**3",
    "m3": "m**3",
    "gal": "gallon",
    "qt": "quart",
    "pt": "pint",
    "fl_oz": "fluid_ounce",
    "imp_gal": "imperial_gallon",
    "imp_qt": "imperial_quart",
    "oz": "ounce",
    "lb": "pound",
    "in": "inch",
    "ft": "foot",
    "mi": "mile",
    "kg/m3": "kg/m**3",
    "kg/L": "kg/liter",
    "g/cm3": "g/cm**3",
    "g/mL": "g/milliliter",
    "g/m3": "g/m**3",
    "lb/gal": "pound/gallon",
    "lb/ft3": "pound/foot**3",
    "mm2": "mm**2",
    "cm2": "cm**2",
    "m2": "m**2",
    "in2": "inch**2",
    "psi": "psi",
    "N.m": "newton*m",
    "lbf.ft": "force_pound*foot",
    "lbf.in": "force_pound*inch",
    "d": "day",
    "km/d": "km/day",
    "mi/d": "mile/day",
}
DIMENSIONS = ("volume", "mass", "density", "distance", "area", "pressure", "torque", "time")
PAIRS = [
    (one, other)
    for dimension in DIMENSIONS
    for one, in_one in measures.UNITS.items()
    for other, in_other in measures.UNITS.items()
    if dimension in in_one and dimension in in_other and one < other
]
FIGURES = st.fractions(min_value=-(10**6), max_value=10**6, max_denominator=10**6)


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_another_library_converts_alike(one, other):
    theirs = PINT.Quantity(Fraction(7, 5), IN_PINT.get(one, one)).to(IN_PINT.get(other, other)).magnitude

    assert float(convert(Fraction(7, 5), one, other)) == pytest.approx(float(theirs), rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "to", "factor"),  # NIST SP 811 appendix B.8
    [
        ("gal", "m3", "0.003785411784"),
        ("qt", "L", "0.946352946"),
        ("fl_oz", "mL", "29.5735295625"),
        ("imp_gal", "L", "4.54609"),
        ("lb", "kg", "0.45359237"),
        ("oz", "g", "28.349523125"),
        ("in", "mm", "25.4"),
        ("mi", "m", "1609.344"),
        ("lbf.in", "N.m", "0.1129848290276167"),
        ("in2", "cm2", "6.4516"),
        ("bar", "kPa", "100"),
        ("mbar", "Pa", "100"),
    ],
)
def test_the_factors_are_those_of_the_standard(unit, to, factor):
    assert convert(1, unit, to) == Fraction(factor)


@given(FIGURES, st.sampled_from(PAIRS))
def test_there_and_back_is_exact(figure, pair):
    one, other = pair

    assert convert(convert(figure, one, other), other, one) == figure


@given(st.fractions(min_value=-273, max_value=1000, max_denominator=10**6))
def test_temperatures_come_back_exactly(celsius):
    assert convert(convert(celsius, "degC", "degF"), "degF", "degC") == celsius
    assert convert(convert(celsius, "degC", "K"), "K", "degC") == celsius


@pytest.mark.parametrize(("f", "c"), [(104, 40), (32, 0), (212, 100), (-40, -40), (113, 45)])
def test_fahrenheit_and_celsius_meet_where_they_should(f, c):
    assert convert(f, "degF", "degC") == c
    assert convert(c, "degC", "degF") == f


def test_a_difference_has_no_zero_point():
    assert convert(18, "degF", "degC", is_difference=True) == 10
    assert convert(10, "K", "delta_degF", is_difference=True) == 18
    assert convert(10, "K", "delta_degF") == 18  # K is both, and a difference is meant by the other one


@pytest.mark.parametrize(
    ("source", "target", "is_difference", "error"),
    [
        ("L", "kg", False, errors.DimensionMismatch),
        ("", "kg", False, errors.DimensionMismatch),
        ("L", "", False, errors.DimensionMismatch),
        ("degC", "delta_degC", False, errors.DimensionMismatch),
        ("L", "qt", True, errors.DimensionMismatch),
        ("K", "L", True, errors.DimensionMismatch),
        ("L", "K", True, errors.DimensionMismatch),
        ("quark", "L", False, errors.UnknownUnit),
        ("L", "l", False, errors.UnknownUnit),
    ],
)
def test_what_cannot_be_converted_is_refused_by_name(source, target, is_difference, error):
    with pytest.raises(error):
        convert(1, source, target, is_difference=is_difference)


@pytest.mark.parametrize(("value", "unit"), [(-1, "K"), ("-273.151", "degC"), ("-459.68", "degF")])
def test_nothing_is_colder_than_absolute_zero(value, unit):
    with pytest.raises(errors.OutOfRange):
        convert(Fraction(value), unit, "degF")


def test_absolute_zero_itself_is_allowed():
    assert convert(Fraction("-459.67"), "degF", "K") == 0


def test_a_float_stands_for_the_decimal_that_names_it():
    assert measures.exact(0.1) == Fraction(1, 10)


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_what_is_no_finite_number_is_refused(value):
    with pytest.raises(errors.OutOfRange):
        measures.exact(value)


@pytest.mark.parametrize(("value", "kept"), [("2.5", 3), ("-2.5", -3), ("2.4999", 2), ("-0.4", 0), (7, 7)])
def test_a_measured_value_is_kept_whole_with_halves_away_from_zero(value, kept):
    assert measures.whole(Fraction(value)) == kept


def test_a_range_holds_both_its_ends():
    assert measures.within(5, 5, 6, "x") == 5
    assert measures.within(6, 5, 6, "x") == 6
    with pytest.raises(errors.OutOfRange, match=r"x is 6\.01; it may be 5 to 6"):
        measures.within(6.01, 5, 6, "x")


def test_a_unit_is_found_by_name_and_dimension():
    assert measures.unit("K", "temperature").dimension == "temperature"
    assert measures.unit("K", "temperature difference").factor == 1
    with pytest.raises(errors.UnknownUnit):
        measures.unit("kelvin", "temperature")
    with pytest.raises(errors.DimensionMismatch):
        measures.unit("", "volume")


@pytest.mark.parametrize(
    ("value", "where"), [("39.999", "below"), (40, "inside"), ("42.5", "inside"), (45, "inside"), ("45.001", "above")]
)
def test_both_edges_belong_to_the_window(value, where):
    assert measures.level_window_status(Fraction(value), 40, 45) == where


@pytest.mark.parametrize(("low", "high"), [(45, 40), (40, 40)])
def test_a_window_needs_room(low, high):
    with pytest.raises(errors.OutOfRange):
        measures.level_window_status(42, low, high)


@given(st.integers(0, 10**6))
def test_what_is_kept_comes_back_from_what_people_read(kept):
    assert measures.qt_to_ml(measures.ml_to_qt(kept)) == kept
    assert measures.f_to_mdegc(measures.mdegc_to_f(kept)) == kept
    assert measures.mi_to_km(measures.km_to_mi(kept)) == kept
    assert measures.lbf_ft_to_nm(measures.nm_to_lbf_ft(kept)) == kept


def test_people_read_liters_and_pounds():
    assert measures.ml_to_l(946) == Fraction("0.946")
    assert round(float(measures.g_to_lb(8500)), 4) == 18.7393


@given(st.one_of(st.integers(), st.fractions(), st.floats(allow_nan=False, allow_infinity=False)))
def test_lean_is_exact_and_whole_where_it_can_be(value):
    found = measures.lean(value)

    assert found == measures.exact(value)
    assert type(found) is (int if measures.exact(value).denominator == 1 else Fraction)
    with pytest.raises(errors.OutOfRange):
        measures.lean(float("inf"))
