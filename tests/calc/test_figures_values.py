"""Value strings and inputs at the border. Source: the contract of the reference checks, section 2."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, measures
from shopserv.calc import figures_values as values
from shopserv.calc.figures_values import Given

NAMED = sorted(name for name in measures.UNITS if name)


@pytest.mark.parametrize(
    ("text", "base"),
    [
        ("10.0 L", 10_000),
        ("+1. L", 1000),
        (".5 L", 500),
        ("-1e3 mL", -1000),
        ("1E-3 L", 1),
        ("0e999999999 L", 0),
        ("1 gal", Fraction("3785.411784")),
    ],
)
def test_a_value_is_a_number_a_blank_and_a_unit(text, base):
    assert values.parse(text, "volume").exact == base


@pytest.mark.parametrize(
    "text",
    ["", " ", "L", "10L", "10  L", " 10 L", "10 L ", "1,5 L", "1 000 L", "1_0 L", "nan L", "inf L", "0x1 L", "1e L",
     "e3 L", "--1 L", "1.2.3 L", "١ L", "10 ", "10\tL", "10 L\n", None, 10, 10.5, True, ["10 L"], {}],
)  # fmt: skip
def test_anything_else_is_a_bad_number(text):
    with pytest.raises(errors.BadNumber):
        values.parse(text, "volume")


@given(st.decimals(allow_nan=False, allow_infinity=False, places=6), st.sampled_from(NAMED))
def test_what_is_written_is_what_is_read(figure, name):
    for dimension in measures.UNITS[name]:
        if dimension in values.MONEY:
            continue
        try:
            read = values.parse(f"{figure:f} {name}", dimension)
        except errors.OutOfRange:
            assert dimension == "temperature"
            continue
        assert read.in_unit(name) == Fraction(figure)
        assert (read.dimension, read.unit) == (dimension, name)


@pytest.mark.parametrize(
    ("text", "dimension", "error"),
    [
        ("10", "volume", errors.DimensionMismatch),
        ("10 L", "number", errors.DimensionMismatch),
        ("10 liters", "volume", errors.UnknownUnit),
        ("10 EUR", "volume", errors.UnknownUnit),
        ("10 EUR", "money", errors.CurrencyMismatch),
        ("10 EUR/h", "hourly rate", errors.CurrencyMismatch),
        ("10 eur", "money", errors.UnknownUnit),
        ("10 USD/h", "money", errors.DimensionMismatch),
        ("10 USD", "hourly rate", errors.DimensionMismatch),
        ("10.000 USD", "money", errors.BadNumber),
        ("1e-3 USD", "money", errors.BadNumber),
        ("0.000 USD", "money", errors.BadNumber),
        ("-273.16 degC", "temperature", errors.OutOfRange),
        ("10 degC", "temperature difference", errors.DimensionMismatch),
        ("10 delta_degC", "temperature", errors.DimensionMismatch),
        ("1e5000 L", "volume", errors.OutOfRange),
        ("1e-5000 L", "volume", errors.OutOfRange),
    ],
)
def test_a_value_of_another_kind_has_its_error(text, dimension, error):
    with pytest.raises(error):
        values.parse(text, dimension)


@pytest.mark.parametrize("text", ["12.5 USD", "1e3 USD", "0e5 USD", "1.25e1 USD", "-0.01 USD", "7 USD"])
def test_money_has_cents_at_most(text):
    figure, unit = text.split()

    assert values.money(text, "It", True) == Decimal(figure)
    assert unit == "USD"


def test_money_stays_exact_at_any_size():
    assert values.money("123456789012345678901234567890123.45 USD", "It") == Decimal(
        "123456789012345678901234567890123.45"
    )
    with pytest.raises(errors.NegativeMoney):
        values.money("-0.01 USD", "It")


def test_a_value_of_any_dimension_is_told_by_its_unit():
    assert values.parse_any("12 qt") == (12, "qt")
    assert values.dimension_of("5 yr", "distance", "months") == "months"
    for text, error in (
        ("5 EUR", errors.CurrencyMismatch),
        ("5 eur", errors.UnknownUnit),
        ("5.001 USD", errors.BadNumber),
    ):
        with pytest.raises(error):
            values.parse_any(text)
    with pytest.raises(errors.DimensionMismatch):
        values.dimension_of("5 L", "distance", "months")


@pytest.mark.parametrize(
    "text", ["2026-02-30", "2026-2-3", "20260203", "2026-02-03T00:00", "", None, 20260203, "0000-01-01"]
)
def test_a_date_is_a_day_of_the_calendar(text):
    assert values.parse_date("2026-02-28") == date(2026, 2, 28)
    with pytest.raises(errors.BadDate):
        values.parse_date(text)


def test_inputs_are_read_by_name_with_their_defaults():
    inputs = Given({"a": "50 %", "money": "1 USD", "list": ["1 USD"], "flag": True, "count": 3, "null": None})

    assert inputs.fraction("a") == Fraction(1, 2)
    assert inputs.fraction("none", "0.25") == Fraction(1, 4)
    assert inputs.money("money") == 1
    assert inputs.money("null", "2 USD") == 2
    assert inputs.moneys("list") == [1]
    assert inputs.moneys("none", is_optional=True) == []
    assert inputs.items("null", is_optional=True) == []
    assert inputs.flag("flag", False) is True
    assert inputs.flag("none", False) is False
    assert inputs.count("count", low=1, high=3) == 3
    assert inputs.count("none", 6) == 6
    assert inputs.choice("none", ("x", "y"), "y") == "y"
    assert inputs.only_one("a", "null") == "a"


@pytest.mark.parametrize(
    ("read", "error"),
    [
        (lambda inputs: inputs.raw("none"), errors.MissingInput),
        (lambda inputs: inputs.only_one("none", "null"), errors.MissingInput),
        (lambda inputs: inputs.only_one("a", "money"), errors.ConflictingInput),
        (lambda inputs: inputs.fraction("big"), errors.OutOfRange),
        (lambda inputs: inputs.money("minus"), errors.NegativeMoney),
        (lambda inputs: inputs.moneys("list"), errors.NegativeMoney),
        (lambda inputs: inputs.count("flag"), errors.BadNumber),
        (lambda inputs: inputs.count("count", high=2), errors.OutOfRange),
        (lambda inputs: inputs.count("count", low=4), errors.OutOfRange),
        (lambda inputs: inputs.flag("count", False), errors.UnknownChoice),
        (lambda inputs: inputs.choice("a", ("x",)), errors.UnknownChoice),
        (lambda inputs: inputs.items("a"), errors.BadNumber),
        (lambda inputs: inputs.object("a"), errors.BadNumber),
        (lambda inputs: inputs.objects("list"), errors.BadNumber),
        (lambda inputs: inputs.day("a"), errors.BadDate),
    ],
)
def test_inputs_that_are_not_fit_have_their_error(read, error):
    inputs = Given(
        {
            "a": "50 %",
            "money": "1 USD",
            "minus": "-1 USD",
            "list": ["-1 USD"],
            "flag": True,
            "count": 3,
            "big": "1.01",
            "null": None,
        }
    )

    with pytest.raises(error):
        read(inputs)


def test_a_value_made_here_knows_its_unit():
    assert values.of(40, "degC", "temperature").in_unit("degF") == 104
    assert values.number(3).magnitude == 3
    assert values.number(0.5).exact == Fraction(1, 2)
