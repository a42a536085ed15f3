"""Drains and exchanges.

Sources: worked examples; Levenspiel's tanks in series as a Poisson sum, worked here in exact fractions; limiting cases.
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, exchange
from tests.calc.worked import WORKED

SHARES = st.fractions(min_value=0, max_value=1, max_denominator=1000)
TURNS = st.fractions(min_value=0, max_value=20, max_denominator=100)


def tanks_once_more(turns, tanks):
    """1 - exp(-nu) sum (1 - k/n)(nu)^k/k! with sixty digits and exact terms."""
    load = tanks * Fraction(turns)
    terms = sum((1 - Fraction(k, tanks)) * load**k / math.factorial(k) for k in range(tanks))
    with localcontext(prec=60):
        exact = (-Decimal(load.numerator) / load.denominator).exp() * terms.numerator / terms.denominator
        return 1 - exact


@pytest.mark.parametrize("row", WORKED["courses"]["drains"], ids=lambda row: str(row["passes"]))
def test_the_drains_of_the_worked_example(row):
    fresh = exchange.fresh_fraction_passes(Fraction("7.4"), [Fraction("2.9")] * row["passes"])

    assert f"{float(fresh):.4f}" == row["fraction"]


@pytest.mark.parametrize("row", WORKED["courses"]["sensitivity_20_pct"], ids=lambda row: row["total_times"])
def test_a_fifth_more_or_less_in_the_unit_changes_three_drains_so_much(row):
    capacity = Fraction("7.4") * Fraction(row["total_times"])

    assert f"{float(exchange.fresh_fraction_passes(capacity, [Fraction('2.9')] * 3)):.4f}" == row["three_drains"]


@given(st.lists(SHARES, max_size=6), SHARES)
def test_drains_in_any_order_come_to_the_same(shares, start):
    one = exchange.fresh_fraction_passes(1, shares, start)

    assert one == exchange.fresh_fraction_passes(1, sorted(shares), start)
    assert start <= one <= 1


def test_no_drain_leaves_the_start_and_a_whole_one_nothing_old():
    assert exchange.fresh_fraction_passes(8, [], Fraction(2, 5)) == Fraction(2, 5)
    assert exchange.fresh_fraction_passes(8, [8]) == 1


@pytest.mark.parametrize(
    ("capacity", "drained", "start", "error"),
    [
        (8, [Fraction("8.1")], 0, errors.DrainExceedsCapacity),
        (8, [-1], 0, errors.OutOfRange),
        (0, [], 0, errors.OutOfRange),
        (8, [1], Fraction("1.1"), errors.OutOfRange),
        (8, [1], Fraction("-0.1"), errors.OutOfRange),
    ],
)
def test_drains_that_cannot_be_are_refused(capacity, drained, start, error):
    with pytest.raises(error):
        exchange.fresh_fraction_passes(capacity, drained, start)


@given(
    st.fractions(min_value=Fraction(1, 50), max_value=1, max_denominator=60),
    st.fractions(min_value=0, max_value=Fraction(999, 1000), max_denominator=1000),
)
def test_as_many_drains_as_needed_and_not_one_more(share, target):
    count, aim = exchange.passes_needed(1, share, target), target - Fraction(1, 10**9)

    assert 1 - (1 - share) ** count >= aim
    assert count == 0 or 1 - (1 - share) ** (count - 1) < aim


@pytest.mark.parametrize(
    ("drained", "target", "count"),
    [
        ("4", "0.784", 3),  # exactly
        ("4", "0.7840000009", 3),  # within 1e-9
        ("4", "0.784000002", 4),
        ("10", "1", 1),
        ("10", "0.5", 1),
        ("4", "0", 0),
        ("4", "-2", 0),
        ("4", "0.0000000001", 0),
        ("0.0001", "0.9", 230258),
    ],
)
def test_the_number_of_drains(drained, target, count):
    assert exchange.passes_needed(10, Fraction(drained), Fraction(target)) == count


@pytest.mark.parametrize(
    ("capacity", "drained", "target", "error"),
    [
        (10, 4, Fraction("1.1"), errors.OutOfRange),
        (0, 4, Fraction("0.5"), errors.OutOfRange),
        (10, -4, Fraction("0.5"), errors.OutOfRange),
        (10, 11, Fraction("0.5"), errors.DrainExceedsCapacity),
        (10, 0, Fraction("0.5"), errors.Unreachable),
        (10, 4, 1, errors.Unreachable),
    ],
)
def test_a_target_that_no_drain_reaches_is_refused(capacity, drained, target, error):
    with pytest.raises(error):
        exchange.passes_needed(capacity, drained, target)


@given(TURNS, st.sampled_from([1, 2, 3, 7, 40, 200]))
def test_tanks_in_series_are_the_poisson_sum(turns, tanks):
    found = exchange.fresh_fraction_exchange(1, turns, "tanks", tanks)

    assert abs(Decimal(float(found)) - tanks_once_more(turns, tanks)) < Decimal("1e-13")


@given(TURNS, st.integers(2, 200))
def test_tanks_stand_between_one_stirred_vessel_and_plug_flow(turns, tanks):
    stirred, middle, plug = (
        float(exchange.fresh_fraction_exchange(1, turns, model, tanks)) for model in ("stirred", "tanks", "plug")
    )

    assert 0 <= stirred <= middle + 1e-15
    assert middle <= plug + 1e-15
    assert plug <= 1


@given(TURNS)
def test_one_tank_is_the_stirred_vessel(turns):
    one = exchange.fresh_fraction_exchange(1, turns, "tanks", 1)

    assert one == pytest.approx(exchange.fresh_fraction_exchange(1, turns, "stirred"), abs=1e-15)


def test_a_thousand_turns_leave_nothing():
    assert exchange.fresh_fraction_exchange(1, 1000, "tanks", 200) == 1


def test_a_tiny_exchange_keeps_its_digits():
    assert exchange.fresh_fraction_exchange(1, Fraction(1, 10**12), "stirred") == pytest.approx(1e-12, rel=1e-12, abs=0)
    volume = exchange.exchange_volume_needed(1, Fraction(1, 10**12), "stirred")
    assert volume == pytest.approx(1e-12, rel=1e-12, abs=0)


def test_an_exchange_of_all_but_a_trace_keeps_its_digits():
    nearly = 1 - Fraction(1, 10**12)

    assert exchange.exchange_volume_needed(1, nearly, "stirred") == pytest.approx(12 * math.log(10), rel=1e-13)
    volume = exchange.exchange_volume_needed(1, nearly, "tanks", 2)
    assert 1 - exchange.fresh_fraction_exchange(1, volume, "tanks", 2) == pytest.approx(1e-12, rel=1e-3, abs=0)


def test_nothing_wanted_needs_no_drain_whatever_the_unit():
    assert exchange.passes_needed(0, 1, 0) == 0
    assert exchange.passes_needed(10, 4, Fraction(1, 10**9)) == 0
    assert exchange.passes_needed(10, 4, Fraction(2, 10**9)) == 1


@given(
    st.fractions(min_value=0, max_value=Fraction(999, 1000), max_denominator=5000),
    st.sampled_from([("stirred", None), ("plug", None), ("tanks", 1), ("tanks", 3), ("tanks", 200)]),
)
def test_the_volume_needed_gives_the_share_wanted(target, model):
    volume = exchange.exchange_volume_needed(7400, target, *model)

    assert float(exchange.fresh_fraction_exchange(7400, volume, *model)) == pytest.approx(float(target), abs=1e-12)


def test_wholly_fresh_is_reached_by_plug_flow_alone():
    assert exchange.exchange_volume_needed(8, 1, "plug") == 8
    for model in (("stirred", None), ("tanks", 5)):
        with pytest.raises(errors.Unreachable):
            exchange.exchange_volume_needed(8, 1, *model)


@pytest.mark.parametrize(
    ("capacity", "volume", "model", "tanks", "error"),
    [
        (8, 8, "swirled", None, errors.UnknownChoice),
        (8, 8, "tanks", None, errors.MissingInput),
        (8, 8, "tanks", 0, errors.OutOfRange),
        (8, 8, "tanks", 201, errors.OutOfRange),
        (8, 8, "tanks", True, errors.OutOfRange),
        (8, 8, "tanks", 2.5, errors.OutOfRange),
        (0, 8, "stirred", None, errors.OutOfRange),
        (8, -1, "plug", None, errors.OutOfRange),
    ],
)
def test_an_exchange_that_cannot_be_is_refused(capacity, volume, model, tanks, error):
    with pytest.raises(error):
        exchange.fresh_fraction_exchange(capacity, volume, model, tanks)


@pytest.mark.parametrize("target", [Fraction("1.01"), Fraction("-0.01")])
def test_a_share_that_cannot_be_is_refused(target):
    with pytest.raises(errors.OutOfRange):
        exchange.exchange_volume_needed(8, target, "plug")


@given(TURNS, st.fractions(min_value=0, max_value=Fraction(99, 100), max_denominator=100))
def test_the_band_holds_the_share_itself(turns, spread):
    low, high = exchange.fresh_fraction_band(1, turns, "stirred", None, spread)

    assert low <= exchange.fresh_fraction_exchange(1, turns, "stirred") <= high


@pytest.mark.parametrize("spread", [1, Fraction("-0.1")])
def test_a_spread_must_leave_something(spread):
    with pytest.raises(errors.OutOfRange):
        exchange.fresh_fraction_band(8, 8, "plug", None, spread)


@pytest.mark.parametrize("row", WORKED["credit_V01"]["rows"][:2], ids=lambda row: row["option"])
def test_the_age_after_the_drains_of_the_worked_example(row):
    passes = {"A": 1, "B": 3}[row["option"]]
    fresh = exchange.fresh_fraction_passes(Fraction("7.4"), [Fraction("2.9")] * passes)

    age = exchange.fluid_age_after(fresh, Fraction(WORKED["credit_V01"]["age_before_mi"]))

    assert abs(age - Fraction(row["age_after_mi"])) <= 20  # the example rounds the share to three places first


@given(SHARES, st.integers(0, 10**6), st.integers(0, 10**6))
def test_a_mixture_lies_between_its_parts(share, old, new):
    for mixed in (exchange.fluid_age_after(share, old, new), exchange.water_after_exchange(share, old, new)):
        assert min(old, new) <= mixed <= max(old, new)


@pytest.mark.parametrize(
    "call",
    [
        lambda: exchange.fluid_age_after(Fraction("1.2"), 1),
        lambda: exchange.fluid_age_after(0, -1),
        lambda: exchange.water_after_exchange(0, 1, -1),
        lambda: exchange.bucket_volume([1], 2),
    ],
)
def test_what_cannot_be_mixed_or_bucketed_is_refused(call):
    with pytest.raises(errors.OutOfRange):
        call()


def test_the_bucket_holds_what_is_neither_in_nor_missing():
    assert exchange.bucket_volume([4, 4], -3) == 11
    assert exchange.bucket_volume([4], -2, Fraction("-0.5")) == Fraction("5.5")


@pytest.mark.parametrize("count", [1, 2, 3, 10, 35])
def test_a_target_met_exactly_needs_no_further_drain(count):
    reached = 1 - Fraction(3, 5) ** count + Fraction(1, 10**9)  # with the 1e-9 that is forgiven

    assert exchange.passes_needed(10, 4, reached) == count
    assert exchange.passes_needed(10, 4, reached + Fraction(1, 10**40)) == count + 1


def test_a_drain_of_next_to_nothing_names_no_number():
    with pytest.raises(errors.OutOfRange):
        exchange.passes_needed(1, Fraction(1, 10**31), Fraction(1, 2))

    count = exchange.passes_needed(1, Fraction(1, 10**30), Fraction(1, 2))
    assert float(count) == pytest.approx(math.log(2) * 1e30, rel=1e-8)  # within 1e-9 of the target


@pytest.mark.parametrize(
    ("model", "error"),
    [(("guess",), errors.UnknownChoice), (("tanks",), errors.MissingInput), (("tanks", 0), errors.OutOfRange)],
)
def test_the_volume_asks_for_a_model_that_there_is(model, error):
    with pytest.raises(error):
        exchange.exchange_volume_needed(8, Fraction(1, 2), *model)


def test_nothing_may_have_come_out_and_less_than_one():
    assert exchange.bucket_volume([1], 1) == 0
    assert exchange.bucket_volume([1], Fraction(1, 2)) == Fraction(1, 2)
