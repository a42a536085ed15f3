"""The rest of a unit by closed forms, and the rules of integration.

Sources: the balances solved by hand; Abramowitz and Stegun, table 25.4, the first of the 20 points (memory), and
scipy.special.roots_legendre for all of them.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from scipy.special import roots_legendre

from shopserv.calc.rest import GAUSS, PlugRest, StirredRest, Stream, smooth_integral


@pytest.mark.parametrize("poured", [1, 2, 7])
def test_a_level_sump_poured_through_washes_a_stirred_rest_as_solved_by_hand(poured):
    """Sump of 2, rest of 1: g = exp(-q) + integral of exp(-p/2) exp(-(q - p)) dp = 2 exp(-q/2) - exp(-q)."""
    rest = StirredRest(1.0)
    rest.take(Stream(1.0, Fraction(2), Fraction(0), Fraction(poured)))

    assert rest.old == pytest.approx(2 * math.exp(-poured / 2) - math.exp(-poured), abs=1e-13)


def test_a_falling_sump_that_nothing_is_poured_into_is_a_constant_stream():
    rest = StirredRest(4.0)
    rest.take(Stream(0.25, Fraction(3), Fraction(2), Fraction(0)))

    assert rest.old == pytest.approx(0.25 + 0.75 * math.exp(-0.5), abs=1e-15)


def test_a_pipe_need_not_hold_whole_milliliters():
    pipe = PlugRest(2.5)
    pipe.take(Stream(0.0, Fraction(4), Fraction(1), Fraction(0)))

    assert pipe.old_mass() == 1.5


def test_the_points_of_the_rule_are_those_of_the_tables():
    places, weights = roots_legendre(20)
    ours = sorted(GAUSS)

    assert [place for place, _ in ours] == pytest.approx([(1 + x) / 2 for x in places], abs=1e-15)
    assert [weight for _, weight in ours] == pytest.approx([w / 2 for w in weights], abs=1e-15)
    assert max(place for place, _ in ours) * 2 - 1 == pytest.approx(0.993128599185095, abs=1e-15)


@pytest.mark.parametrize("degree", [0, 1, 2, 13, 39])
def test_the_rule_is_exact_for_every_polynomial_it_should_be(degree):
    found = smooth_integral(lambda x: x**degree, 3.0)

    assert found == pytest.approx(3.0 ** (degree + 1) / (degree + 1), rel=1e-13)
