"""Oil by temperature, weight and tilt, and its cooling.

Sources: the formula of API MPMS 11.1 worked a second time here in decimal arithmetic; worked examples; limiting cases.
"""

from __future__ import annotations

import math
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, oil
from tests.calc.worked import WORKED

DENSITIES = st.fractions(min_value=Fraction("800.9"), max_value=Fraction("1163.5"), max_denominator=1000)
CELSIUS = st.fractions(min_value=-50, max_value=150, max_denominator=1000)


def decimal_correction(celsius, density, base="15 degC"):
    """The formula once more, with forty digits."""
    with localcontext(prec=40):
        rho, t = (Decimal(x.numerator) / x.denominator for x in (Fraction(density), Fraction(celsius)))
        if base == "15 degC":
            x = Decimal("0.6278") / rho * (t - 15)
        else:
            x = Decimal("0.34878") / rho * (t * 9 / 5 + 32 - 60)
        return (-x * (1 + Decimal("0.8") * x)).exp()


@given(CELSIUS, DENSITIES, st.sampled_from(["15 degC", "60 degF"]))
def test_the_correction_is_that_of_decimal_arithmetic(celsius, density, base):
    found = oil.oil_volume_correction(celsius, density, base)

    assert abs(Decimal(found) / decimal_correction(celsius, density, base) - 1) < Decimal("1e-14")


@pytest.mark.parametrize(("celsius", "factor"), [(40, 0.981437), (80, 0.951370), (15, 1.0)])
def test_the_check_of_the_docstring(celsius, factor):
    assert round(oil.oil_volume_correction(celsius, 850), 6) == factor


@pytest.mark.parametrize(
    ("celsius", "density", "error"),
    [
        (Fraction("-50.001"), 850, errors.OutOfRange),
        (Fraction("150.001"), 850, errors.OutOfRange),
        (40, Fraction("800.899"), errors.OutOfRange),
        (40, Fraction("1163.501"), errors.OutOfRange),
    ],
)
def test_outside_its_range_the_formula_says_nothing(celsius, density, error):
    with pytest.raises(error):
        oil.oil_volume_correction(celsius, density)


def test_the_edges_of_the_range_belong_to_it():
    for celsius, density in ((-50, Fraction("800.9")), (150, Fraction("1163.5"))):
        assert 0.5 < oil.oil_volume_correction(celsius, density) < 1.5


def test_there_are_two_bases():
    with pytest.raises(errors.UnknownChoice):
        oil.oil_volume_correction(40, 850, "20 degC")


@given(CELSIUS, CELSIUS, DENSITIES)
def test_warmer_oil_takes_more_room(one, other, density):
    cold, warm = sorted((one, other))

    assert oil.oil_volume_at(1000, cold, warm, density) >= 1000
    assert oil.oil_volume_at(oil.oil_volume_at(1000, cold, warm, density), warm, cold, density) == pytest.approx(1000)


def test_ten_liters_drained_hot_are_less_when_cool():
    trap = WORKED["closing_balance"]["volume_trap"]["10_l_drained_at_65_c_is_at_20_c"]

    assert {str(rho): f"{oil.oil_volume_at(10, 65, 20, rho):.3f}" for rho in (850, 862, 870)} == trap


@given(CELSIUS, DENSITIES, st.integers(0, 10**5))
def test_weight_does_not_change_with_temperature(celsius, density, grams):
    mass = Fraction(grams, 1000)
    at_15 = oil.weighed_volume(mass, density, 15)

    assert oil.oil_volume_at(at_15, 15, celsius, density) == pytest.approx(oil.weighed_volume(mass, density, celsius))


def test_the_closing_balance_of_the_worked_example():
    example = WORKED["closing_balance"]
    added = [(Fraction(gross), Fraction(tare)) for _, gross, tare in example["added_kg"]]
    removed = [(Fraction(gross), Fraction(tare)) for _, gross, tare in example["removed_kg"]]
    net_added = oil.net_mass(added) - Fraction(example["left_over_kg"])

    assert net_added == Fraction(example["net_added_kg"])
    assert oil.net_mass(removed) == Fraction(example["net_removed_kg"])
    assert f"{oil.weighed_volume(net_added, 850, 42):.4f}" == example["added_l"]
    assert f"{oil.weighed_volume(oil.net_mass(removed), 862, 42):.4f}" == example["removed_l"]
    balance = oil.fluid_balance(
        removed, [(net_added, 0)], density_15_removed=862, density_15_added=850, temperature_c=42
    )
    assert f"{balance:.4f}" == example["balance_l"]


@pytest.mark.parametrize(
    ("weighing", "error"),
    [((1, 2), errors.TareExceedsGross), ((-1, 0), errors.OutOfRange), ((1, -1), errors.OutOfRange)],
)
def test_a_scale_that_makes_no_sense_is_refused(weighing, error):
    with pytest.raises(error):
        oil.net_mass([weighing])


def test_an_empty_vessel_may_weigh_what_it_weighs():
    assert oil.net_mass([(2, 2)]) == 0


def test_the_level_errors_of_the_worked_example():
    example = WORKED["level_budget"]

    assert f"{oil.level_error_temperature(7400, 850, 40, 50):.1f}" == example["ten_k_too_hot_ml"]
    assert f"{oil.level_error_tilt(240, 78_000, 1):.1f}" == example["one_degree_tilt_ml"]
    tilts = [(240, Fraction("0.2")), (60, Fraction("0.1")), (240, Fraction("0.1")), (60, Fraction("0.1"))]
    found = [abs(oil.level_error_tilt(offset, 78_000, tilt)) for offset, tilt in tilts]
    assert [f"{ml:.1f}" for ml in found] == [item[1] for item in example["items_ml"][1:5]]


@given(st.integers(-500, 500), st.integers(0, 200_000), st.integers(-4499, 4499))
def test_tilt_the_other_way_errs_the_other_way(offset, area, hundredths):
    tilt = Fraction(hundredths, 100)

    assert oil.level_error_tilt(offset, area, tilt) == -oil.level_error_tilt(offset, area, -tilt)


def test_at_nearly_45_degrees_the_tangent_is_nearly_one():
    assert oil.level_error_tilt(1000, 1000, Fraction("44.999999")) == pytest.approx(1000, rel=1e-6)


@pytest.mark.parametrize(("area", "tilt"), [(78_000, 45), (78_000, -45), (-1, 1)])
def test_a_tilt_or_surface_that_cannot_be_is_refused(area, tilt):
    with pytest.raises(errors.OutOfRange):
        oil.level_error_tilt(240, area, tilt)


@pytest.mark.parametrize(
    "call",
    [
        lambda: oil.oil_volume_at(-1, 20, 80),
        lambda: oil.weighed_volume(-1, 850, 20),
        lambda: oil.level_error_temperature(-1, 850, 40, 50),
    ],
)
def test_there_is_no_less_than_no_oil(call):
    with pytest.raises(errors.OutOfRange):
        call()


def test_the_cool_down_of_the_worked_example():
    example = WORKED["cool_down"]
    first, second = (0, 78), (9, 70)

    assert f"{oil.cool_down_time(first, second, 18, 45):.1f}" == example["window_opens_in_min"]
    assert f"{oil.cool_down_time(first, second, 18, 40):.1f}" == example["window_closes_in_min"]
    assert f"{oil.cool_down_time(first, second, 18, 36):.1f}" == example["start_engine_in_min"]


@given(st.floats(0.5, 500), st.floats(25, 140), st.floats(-40, 20), st.floats(0.1, 300))
def test_what_cools_by_newtons_law_is_found_again(constant, start, air, later):
    """The two readings are taken from the law itself; the time to a third point on the same curve must come back."""
    curve = [air + (start - air) * math.exp(-t / constant) for t in (0, constant / 4, constant / 4 + later)]
    if curve[2] - air < 1e-3:
        return

    found = oil.cool_down_time((0, curve[0]), (constant / 4, curve[1]), air, curve[2])

    assert found == pytest.approx(later, rel=1e-6)


@pytest.mark.parametrize(
    ("first", "second", "air", "target", "error"),
    [
        ((10, 80), (10, 70), 20, 45, errors.DateOrder),
        ((10, 10), (0, 70), 20, 10, errors.DateOrder),  # the first in the order of errors
        ((0, 20), (10, 20), 20, 10, errors.OutOfRange),
        ((0, 80), (10, 20), 20, 45, errors.OutOfRange),
        ((0, 70), (10, 70), 20, 10, errors.NotCooling),
        ((0, 70), (10, 80), 20, 45, errors.NotCooling),
        ((0, 80), (10, 70), 20, 20, errors.Unreachable),
    ],
)
def test_what_makes_no_cooling_is_refused_in_order(first, second, air, target, error):
    with pytest.raises(error):
        oil.cool_down_time(first, second, air, target)


def test_a_target_that_is_reached_takes_no_time():
    assert oil.cool_down_time((0, 80), (10, 70), 20, 75) == 0


def test_the_clock_need_not_start_at_nothing():
    assert oil.cool_down_time((5, 80), (15, 70), 20, 45) == oil.cool_down_time((0, 80), (10, 70), 20, 45)


def test_oil_as_cool_as_the_air_is_named_before_anything_else():
    with pytest.raises(errors.OutOfRange):
        oil.cool_down_time((0, 20), (10, 30), 20, 45)
    with pytest.raises(errors.OutOfRange):
        oil.cool_down_time((0, 30), (10, 20), 20, 45)
