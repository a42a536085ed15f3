"""A price taken apart. Source: the price itself (`calc.pricing`), and plain division by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc.errors import OutOfRange
from shopserv.calc.money import half_up
from shopserv.calc.pricing import marked_up_cents
from shopserv.calc.shown_price import Each, Slice, a_measure, each, slices

BANDS = ((0, 1_600_000), (500, 1_100_000), (2_000, 800_000))


def test_a_cost_falls_into_its_slices():
    assert slices(3_850, BANDS) == (
        Slice(0, 500, 1_600_000, Fraction(800)),
        Slice(500, 1_500, 1_100_000, Fraction(1_650)),
        Slice(2_000, 1_850, 800_000, Fraction(1_480)),
    )
    assert slices(500, BANDS) == (Slice(0, 500, 1_600_000, Fraction(800)),)
    assert slices(501, BANDS)[1:] == (Slice(500, 1, 1_100_000, Fraction(11, 10)),)
    assert slices(0, BANDS) == ()


@given(st.integers(0, 5_000_000))
def test_the_cost_and_what_lies_on_its_slices_is_the_price(cost):
    found = slices(cost, BANDS)

    assert sum(one.cost_cents for one in found) == cost
    exact = cost + sum(one.added for one in found)
    assert half_up(exact.numerator, exact.denominator) == marked_up_cents(cost, BANDS)


@pytest.mark.parametrize(
    ("price", "count", "found"),
    [(1_000, 3, Each(333, 1)), (999, 3, Each(333, 0)), (0, 1, Each(0, 0)), (5, 1, Each(5, 0)), (2, 3, Each(0, 2))],
)
def test_a_price_is_so_many_pieces_at_so_much_each_and_a_rest(price, count, found):
    assert each(price, count) == found


@given(st.integers(0, 1_000_000), st.integers(1, 99))
def test_the_rest_is_less_than_a_cent_a_piece(price, count):
    found = each(price, count)

    assert 0 <= found.rest < count
    assert found.rest + count * found.cents == price


@pytest.mark.parametrize(("price", "count"), [(-1, 1), (1, 0), (1, -1)])
def test_pieces_that_cannot_be_are_refused(price, count):
    with pytest.raises(OutOfRange, match=r"^A price of pieces needs pieces, and none below zero\.$"):
        each(price, count)


def test_a_measure_of_a_price_is_rounded_half_up():
    assert a_measure(Decimal("122.08"), Fraction("10.408")) == Decimal("11.73")
    assert a_measure(Decimal("0.01"), Fraction(2)) == Decimal("0.01")
    assert a_measure(Decimal("0.01"), Fraction(201, 100)) == Decimal("0.00")
    assert a_measure(Decimal(0), Fraction(1, 1000)) == 0


@pytest.mark.parametrize(("price", "measures"), [("-0.01", 1), ("1", 0), ("1", -1)])
def test_a_measure_that_cannot_be_is_refused(price, measures):
    with pytest.raises(OutOfRange, match=r"^A price a measure needs a price and a volume above zero\.$"):
        a_measure(Decimal(price), Fraction(measures))
