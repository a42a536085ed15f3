"""Rounding and tax. Sources: Streamlined Sales and Use Tax Agreement section 324; EN 16931 sample sums; decimal."""

from __future__ import annotations

from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, money
from shopserv.calc.tax import TaxLine, tax_by_rate
from tests.calc.worked import WORKED

AMOUNTS = st.decimals(min_value=-(10**9), max_value=10**9, places=2)
FINE = st.decimals(min_value=-(10**9), max_value=10**9, places=6)
RATES = st.integers(0, 3000).map(lambda n: Fraction(n, 10_000))


@pytest.mark.parametrize(
    ("value", "kept"), [("0.125", "0.13"), ("-0.125", "-0.13"), ("0.1249", "0.12"), ("0", "0.00"), ("-0.004", "0.00")]
)
def test_halves_go_away_from_zero(value, kept):
    assert str(money.round_half_up(Decimal(value))) == kept


@given(FINE)
def test_rounding_is_that_of_the_decimal_module(value):
    assert money.round_half_up(value) == value.quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert money.cut_down(value) == value.quantize(Decimal("0.01"), ROUND_FLOOR)


def test_amounts_of_any_size_stay_exact():
    huge = Decimal("1234567890123456789012345678901234567890.12")

    assert money.round_half_up(huge) == huge
    assert money.amount(money.cents(huge)) == huge


@given(st.integers())
def test_cents_come_back(cents):
    assert money.cents(money.amount(cents)) == cents


def test_a_part_of_a_cent_is_no_amount():
    with pytest.raises(ValueError, match="no whole number of cents"):
        money.cents(Decimal("0.001"))


def test_the_two_ways_of_the_worked_example():
    lines = [TaxLine(Decimal("0.65"), Fraction("0.0825"))] * 4
    example = WORKED["tax"]["four_times_0.65_at_8.25_pct"]

    assert str(tax_by_rate(lines, "line").total_tax) == example["per_line"]
    assert str(tax_by_rate(lines, "document").total_tax) == example["per_document"]
    assert (
        str(tax_by_rate([TaxLine(Decimal("1460.50"), Fraction(1, 4))]).total_tax) == WORKED["tax"]["1460.50_at_25_pct"]
    )


@pytest.mark.parametrize("option", WORKED["options"], ids=lambda option: option["letter"])
def test_the_tax_of_each_option_of_the_worked_example(option):
    found = tax_by_rate([TaxLine(Decimal(option["taxable"]), Fraction(1, 16))])

    assert str(found.total_tax) == option["tax"]


@given(st.lists(st.tuples(AMOUNTS, RATES), max_size=8))
def test_by_document_the_tax_is_off_by_half_a_cent_a_rate_at_most(lines):
    found = tax_by_rate([TaxLine(amount, rate) for amount, rate in lines])

    exact = sum((Fraction(amount) * rate for amount, rate in lines), Fraction(0))
    assert abs(Fraction(found.total_tax) - exact) <= Fraction(1, 200) * len(found.by_rate)
    assert Fraction(found.total_with_tax) == Fraction(found.total_tax) + sum(Fraction(amount) for amount, _ in lines)


@given(st.lists(st.tuples(AMOUNTS, RATES), max_size=8), st.sampled_from(["document", "line"]))
def test_the_rates_rise_and_stand_once(lines, method):
    found = tax_by_rate([TaxLine(amount, rate) for amount, rate in lines], method)

    assert [rate for rate, _ in found.by_rate] == sorted({rate for _, rate in lines})


@given(st.lists(st.tuples(AMOUNTS, RATES), max_size=8), st.sampled_from(["document", "line"]))
def test_taking_everything_back_takes_back_the_tax(lines, method):
    sold = tax_by_rate([TaxLine(amount, rate) for amount, rate in lines], method)
    returned = tax_by_rate([TaxLine(-amount, rate) for amount, rate in lines], method)

    assert returned.total_tax == -sold.total_tax


def test_tax_knows_two_methods_and_no_negative_rate():
    with pytest.raises(errors.UnknownChoice):
        tax_by_rate([], "page")
    with pytest.raises(errors.OutOfRange):
        tax_by_rate([TaxLine(Decimal(1), Fraction(-1, 100))])
