"""Streams out of the sump and what the rest holds of them, by closed forms solved by hand.

With v the volume in the sump after q of Q was pumped, d(mass)/dq = -mass/v gives mass = old held (v/held)^(Q/fall) and
the old fraction old (v/held)^(poured/fall); at a level sump both fall as exp(-q/held).
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from scipy.integrate import quad
from scipy.special import roots_legendre

from shopserv.calc import rest
from shopserv.calc.rest import PlugRest, StirredRest, Stream

FALLING = Stream(1.0, Fraction(2), Fraction(1), Fraction(1))
RISING = Stream(1.0, Fraction(2), Fraction(-1), Fraction(2))
LEVEL = Stream(0.5, Fraction(4), Fraction(0), Fraction(3))
LOW = Stream(1.0, Fraction(4), Fraction(3), Fraction(3))
EMPTIED = Stream(0.5, Fraction(2), Fraction(2), Fraction(2))
DRAINED = Stream(0.25, Fraction(3), Fraction(2), Fraction(0))


@pytest.mark.parametrize(
    ("stream", "pumped", "mass", "share"),
    [
        (FALLING, 1, 1.125, 0.75),  # 1.5 of 2 left: 2 x 0.75², 0.75
        (FALLING, 2, 0.5, 0.5),
        (RISING, Fraction(1, 2), 1.6, 0.64),  # 2.5 of 2: 2 / 1.25, 1 / 1.25²
        (LEVEL, 2, 2 * math.exp(-0.5), 0.5 * math.exp(-0.5)),
        (LOW, 5, 0.5625, 0.375),  # 1.5 of 4 left: 4 x 0.375²
        (EMPTIED, 3, 0.0625, 0.125),  # 0.5 of 2 left: 0.5 x 2 x 0.25², 0.5 x 0.25
        (EMPTIED, 4, 0, 0),
        (DRAINED, 1, 0.5, 0.25),  # nothing poured: the rest of it as it was
    ],
)
def test_what_is_left_in_the_sump_and_how_old_it_is(stream, pumped, mass, share):
    still = float(stream.pumped - pumped)

    assert stream.old_mass_left(float(pumped)) == pytest.approx(mass, rel=1e-14)
    assert stream.old_at(still) == pytest.approx(share, rel=1e-14)


@pytest.mark.parametrize(
    ("stream", "share"), [(FALLING, 0.5), (LEVEL, 0.5 * math.exp(-0.75)), (EMPTIED, 0.0), (DRAINED, 0.25)]
)
def test_the_end_of_a_stage_is_where_nothing_has_yet_to_be_pumped(stream, share):
    assert stream.old_at_end() == pytest.approx(share, rel=1e-14)


def test_the_last_drops_of_a_sump_that_runs_empty_are_precise():
    """So little is still to be pumped that 1 - gone keeps no digit of it: 0.5 x (still / 4)."""
    assert EMPTIED.old_at(1e-13) == pytest.approx(1.25e-14, rel=1e-13)
    assert EMPTIED.old_mass_left(4 - 2.0**-50) == pytest.approx(2.0**-104, rel=1e-13)


def test_the_first_drops_are_precise_too():
    """Of a thousand liters some picoliters: the loss against the start, mass x q / held, keeps its digits."""
    wide = Stream(1.0, Fraction(1_000), Fraction(1), Fraction(1))

    assert wide.old_mass_left(1e-9) - 1_000 == pytest.approx(-1e-9, abs=2e-13)
    assert math.log(wide.old_at(2 - 2.0**-40)) == pytest.approx(-(2.0**-41) / 1_000, rel=1e-3)


@pytest.mark.parametrize("poured", [1, 3, 8])
def test_a_stirred_rest_of_four_behind_a_level_sump_of_two(poured):
    """R g' = o - g with o = exp(-q/2): g = 2 exp(-q/4) - exp(-q/2); four times that is old."""
    vessel = StirredRest(4.0)
    vessel.take(Stream(1.0, Fraction(2), Fraction(0), Fraction(poured)))

    assert vessel.old_mass() == pytest.approx(4 * (2 * math.exp(-poured / 4) - math.exp(-poured / 2)), abs=1e-13)


def test_a_stirred_rest_behind_a_falling_sump_as_another_library_integrates_it():
    vessel = StirredRest(3.0)
    vessel.fill(0.8)
    vessel.take(LOW)
    taken, _ = quad(lambda q: (1 - q / 8) * math.exp(-(6 - q) / 3) / 3, 0, 6, epsabs=1e-14)  # scipy.integrate.quad

    assert vessel.old == pytest.approx(0.8 * math.exp(-2) + taken, abs=1e-12)


def test_a_pipe_holds_the_newest_streams_and_what_was_first_behind_them():
    """Three liters, first half old: two of a quarter before them; then two of new, so one of a quarter stays."""
    pipe = PlugRest(3.0)
    pipe.fill(0.5)
    assert pipe.old_mass() == 1.5

    pipe.take(DRAINED)
    assert pipe.old_mass() == pytest.approx(2 * 0.25 + 1 * 0.5, abs=1e-15)

    pipe.take(Stream(0.0, Fraction(2), Fraction(2), Fraction(0)))
    assert pipe.old_mass() == pytest.approx(0.25, abs=1e-15)

    pipe.fill(0.1)
    assert pipe.old_mass() == pytest.approx(0.3, abs=1e-15)


def test_a_pipe_shorter_than_a_stream_holds_its_end():
    """The last liter of two out of a falling sump: it held 1.125 of old, and 0.5 at the end."""
    pipe = PlugRest(1.0)
    pipe.take(FALLING)

    assert pipe.old_mass() == pytest.approx(1.125 - 0.5, abs=1e-15)


@pytest.mark.parametrize("count", [2, 3, 8, 20])
def test_the_points_of_each_rule_are_those_of_another_library(count):
    places, weights = roots_legendre(count)  # scipy.special
    ours = rest._gauss_points(count)[::-1]  # from the far end to the near one

    assert [place for place, _ in ours] == pytest.approx((1 + places) / 2, abs=1e-15)
    assert [weight for _, weight in ours] == pytest.approx(weights / 2, abs=1e-15)


def counted(function, end):
    """The integral, and how often the function was asked."""
    asked = []
    found = rest.integral(lambda y: asked.append(y) or function(y), end)
    assert all(0 <= y <= end for y in asked)
    return found, len(asked)


@pytest.mark.parametrize("end", [1.0, 20.0])
def test_a_smooth_integral_is_found_after_two_rules_that_agree(end):
    """Steps of 1/8 give all digits of exp (Takahasi and Mori 1974), 1/16 tells so: 2 x 97 points and the middle one.

    Over twenty times the way each digit needs half the step again.
    """
    found, asked = counted(lambda y: math.exp(-y), end)

    assert found == pytest.approx(-math.expm1(-end), abs=2e-15)
    assert asked <= 1 + 2 * (97 if end == 1 else 195)


def test_what_never_agrees_ends_at_the_finest_step():
    """Points at +-k/256 below 6.1, where a weight is less than 1e-300: 2 x 1561 and the middle one."""
    assert math.exp(-math.pi * math.sinh(6.1)) < 1e-300
    last = [0.0]

    def noise(y):
        last[0] = (last[0] * 137 + 0.618) % 1  # another number each time, whatever the place
        return 1e6 * last[0]

    assert counted(noise, 1.0)[1] == 1 + 2 * 1561


def test_large_areas_need_no_more_digits_than_a_float_has():
    found, asked = counted(lambda y: 1e9 * math.exp(-y), 1.0)

    assert found == pytest.approx(-1e9 * math.expm1(-1), rel=2e-15)
    assert asked <= 1 + 2 * 97
