"""A price taken apart. Source: the price itself (`calc.pricing`), and plain proportion by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc.errors import OutOfRange
from shopserv.calc.money import half_up
from shopserv.calc.pricing import marked_up_cents
from shopserv.calc.shown_price import Each, Slice, each, slices

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


def test_a_price_is_so_many_pieces_at_so_much_each_and_a_rest():
    assert each(13_001, (2, 1), (3, 4)) == Each((3_900, 5_200), 1)
    assert each(13_000, (2, 1), (3, 4)) == Each((3_900, 5_200), 0)
    assert each(100, (3,), (2_240,)) == Each((33,), 1)
    assert each(0, (1,), (1,)) == Each((0,), 0)
    assert each(99, (1, 2), (0, 5)) == Each((0, 49), 1)


@given(
    st.integers(0, 1_000_000),
    st.lists(st.tuples(st.integers(1, 9), st.integers(1, 99_999)), min_size=1, max_size=3),
)
def test_the_rest_is_less_than_a_cent_a_piece(price, rows):
    counts, weights = zip(*rows, strict=True)

    found = each(price, counts, weights)

    assert 0 <= found.rest < sum(counts)
    assert found.rest + sum(count * one for count, one in zip(counts, found.cents, strict=True)) == price


@pytest.mark.parametrize(
    ("price", "counts", "weights"),
    [(-1, (1,), (1,)), (1, (1,), (0,)), (1, (0,), (1,)), (1, (2, 0), (1, 1)), (1, (2, 1), (3, -1))],
)
def test_pieces_that_cannot_be_are_refused(price, counts, weights):
    with pytest.raises(OutOfRange, match=r"^A price of pieces needs pieces, and none below zero\.$"):
        each(price, counts, weights)
