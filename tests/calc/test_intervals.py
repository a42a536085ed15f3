"""Heat, intervals and credit.

Sources: worked examples; limiting cases; for the doubling step common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, intervals
from tests.calc.worked import WORKED

F = Fraction
FACTORS = st.fractions(min_value=1, max_value=F(11, 5), max_denominator=1000)
BINS = [(F("0.7"), 80), (F("0.2"), 95), (F("0.1"), 108)]


def test_the_heat_of_the_worked_example():
    assert f"{intervals.thermal_factor(BINS):.3f}" == WORKED["severity"]["thermal"]["factor"]


def test_twenty_fahrenheit_degrees_double_the_wear():
    reference, warm = (F(175) - 32) * 5 / 9, (F(195) - 32) * 5 / 9

    assert intervals.thermal_factor([(1, warm)], reference, F(20) * 5 / 9) == 2


def test_cool_fluid_never_lives_longer_than_the_interval():
    assert intervals.thermal_factor([(1, 20)]) == 1
    assert intervals.thermal_factor([(1, F("79.4"))]) == 1


@given(st.lists(st.tuples(st.integers(1, 100), st.integers(-40, 150)), min_size=1, max_size=6))
def test_heat_never_lengthens_and_more_heat_shortens(weights):
    total = sum(weight for weight, _ in weights)
    bins = [(F(weight, total), celsius) for weight, celsius in weights]

    factor = intervals.thermal_factor(bins)

    assert factor >= 1
    assert intervals.thermal_factor([(share, celsius + 1) for share, celsius in bins]) >= factor
    assert factor <= max(1, 2 ** ((max(celsius for _, celsius in bins) - 79.4) / 11.1)) * (1 + 1e-12)


def test_shares_are_the_whole_within_a_millionth():
    intervals.thermal_factor([(F("0.999999"), 80)])
    with pytest.raises(errors.SharesDoNotSumToOne):
        intervals.thermal_factor([(F("0.9999989"), 80)])
    with pytest.raises(errors.SharesDoNotSumToOne):
        intervals.thermal_factor([])


@pytest.mark.parametrize(
    "call",
    [
        lambda: intervals.thermal_factor([(1, 80)], doubling_step_k=0),
        lambda: intervals.thermal_factor([(F(3, 2), 80), (F(-1, 2), 80)]),
        lambda: intervals.thermal_factor([(1, 150)], doubling_step_k=F(1, 100)),
        lambda: intervals.combined_factor(F("0.9"), 1),
        lambda: intervals.combined_factor(1, F("0.9")),
        lambda: intervals.adjusted_distance(0, 1),
        lambda: intervals.adjusted_months(-1, 1),
        lambda: intervals.adjusted_months(1, F("0.9")),
        lambda: intervals.partial_exchange_credit(-1, 0, 0),
        lambda: intervals.partial_exchange_credit(0, -1, 0),
        lambda: intervals.partial_exchange_credit(1, 1, F("1.1")),
    ],
)
def test_what_makes_no_interval_is_refused(call):
    with pytest.raises(errors.OutOfRange):
        call()


def test_both_factors_together_end_at_two_and_a_half():
    assert intervals.combined_factor(F("1.163"), F("1.853")) == F("2.155039")
    assert intervals.combined_factor(F("1.806"), F("1.853")) == F(5, 2)


@given(st.integers(1, 200_000), FACTORS, FACTORS)
def test_the_interval_is_the_largest_multiple_of_500_that_the_factors_leave(base, wet, hot):
    found = intervals.adjusted_distance(base, wet, hot)

    allowed = base / min(F(5, 2), wet * hot)
    assert found % 500 == 0
    assert found == 500 or found <= allowed < found + 500


@given(st.integers(1, 240), FACTORS)
def test_months_are_the_whole_ones_that_moisture_leaves(base, wet):
    found = intervals.adjusted_months(base, wet)

    assert found == 1 or found <= base / wet < found + 1
    assert found >= 1


def test_an_exact_multiple_is_not_lost_to_rounding():
    assert intervals.adjusted_distance(60_000, F("1.2")) == 50_000
    assert intervals.adjusted_months(60, F("1.2")) == 50


@pytest.mark.parametrize("row", WORKED["credit_V01"]["rows"], ids=lambda row: f"{row['option']}-{row['fraction']}")
def test_the_credit_of_the_worked_example(row):
    found = intervals.partial_exchange_credit(33_000, F(WORKED["credit_V01"]["age_before_mi"]), F(row["fraction"]))

    assert abs(found - F(row["credit_mi"])) <= 25  # the example shows the share with three places and uses all of them


@given(st.integers(0, 10**5), st.integers(0, 10**5), st.fractions(min_value=0, max_value=1, max_denominator=100))
def test_a_credit_is_never_more_than_the_interval_nor_less_than_nothing(interval, age, share):
    found = intervals.partial_exchange_credit(interval, age, share)

    assert 0 <= found <= interval
    assert intervals.partial_exchange_credit(interval, age, 1) == interval


def test_the_heat_factor_at_the_bounds_of_its_inputs():
    """A share of nothing and a step under one kelvin are fine; a thousand doublings are the most that is told."""
    assert intervals.thermal_factor([(0, 200), (1, 90)], 80, 10) == 2
    assert intervals.thermal_factor([(1, 80)], 79, Fraction(1, 2)) == 4
    assert intervals.thermal_factor([(1, 1000)], 0, 1) == 2.0**1000
    with pytest.raises(errors.OutOfRange):
        intervals.thermal_factor([(1, Fraction(10_001, 10))], 0, 1)


def test_months_are_cut_down_to_whole_ones():
    """60 / 1.6 = 37.5."""
    assert intervals.adjusted_months(60, Fraction(8, 5)) == 37
