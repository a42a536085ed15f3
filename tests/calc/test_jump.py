"""Two temperatures that cannot belong together, both sides of each bound.

Sources: Incropera, DeWitt, Bergman, Lavine, Fundamentals of Heat and Mass Transfer, 6th edition, example 5.1 (memory);
the clock of 78 and 70 °C is the worked example of calc.cooling. The rest is worked out beside each figure.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.cooling import Errors, Reading, cool_clock
from shopserv.calc.jump import Between, Read, cooled, jump, shortest_constant

HOT = Read(0, (152 - 32) / 1.8, 1, "152.0", "°F")
COLD = Read(0, (109 - 32) / 1.8, 1, "109.0", "°F")
RUNS = Between(air_c=20, is_running=True, circuit_ml=600, fill_ml=7400)
STANDS = Between(air_c=18, constant_min=50)


def celsius(figure: float, minutes: float = 0, error: float = 0, **more: str) -> Read:
    return Read(minutes, figure, error, f"{figure:g}", "°C", **more)


SCATTER = 2 * math.sqrt(0.5)  # twice half a kelvin, of two readings


def test_a_body_cools_as_in_the_handbook():
    # Example 5.1: a sphere of 0.706 mm, 8500 kg/m³, 400 J/(kg K), 400 W/(m² K): rho V c / (h A) = 1.0 s.
    constant = 8500 * 7.06e-4 / 6 * 400 / 400

    assert round(constant, 1) == 1.0
    assert round(cooled(25, 200, 5.2, constant)) == 199


def test_what_cools_in_no_time_is_as_warm_as_the_air():
    assert cooled(80, 20, 0, 0) == 20.0
    assert cooled(80, 20, 0, 1) == 80.0


@pytest.mark.parametrize(("minutes", "constant"), [(-1, 10), (1, -10)])
def test_nothing_cools_backward(minutes, constant):
    with pytest.raises(errors.OutOfRange, match="neither is below 0"):
        cooled(80, 20, minutes, constant)


def test_152_and_109_degrees_in_the_same_minute_are_no_pair():
    found = jump(HOT, COLD, RUNS)

    # Cold fluid of the circuit 600 / 7400 of 46.67 K, then a minute of 20; errors twice the root of 1, 1, ¼, ¼.
    mixed = 46.6667 * (1 - 600 / 7400)
    assert found.falls_k == pytest.approx(46.6667 - mixed * math.exp(-1 / 20), abs=1e-3)
    assert found.doubt_k == pytest.approx(2 * math.sqrt(2.5))
    assert found.low_c == pytest.approx(66.6667 - found.falls_k - found.doubt_k, abs=1e-3)
    assert found.off_k == pytest.approx(float(COLD.celsius) - found.low_c)
    assert (round(found.low_c, 1), found.minutes, found.fits) == (57.6, 1.0, False)
    assert found.likely == ("one digit wrong, now", "one digit wrong, before", "typed later than read")


def test_a_rise_is_of_the_engine_or_there_is_none():
    stands, runs = (jump(COLD, HOT, replace(RUNS, is_running=runs)) for runs in (False, True))

    assert (stands.rises_k, stands.likely[-2:]) == (3.0, ("the engine ran", "typed later than read"))
    assert runs.rises_k == pytest.approx(60 * 3000 / (7.4 * 0.85 * 2000))  # 14.3 K in a minute
    assert runs.likely[-2:] == ("driven, not only idled", "typed later than read")
    assert 0 < runs.off_k < stands.off_k == pytest.approx(23.889 - 3 - stands.doubt_k, abs=1e-3)


@pytest.mark.parametrize("below", [False, True])
def test_both_sides_of_the_fall(below):
    low = 18 + 60 * math.exp(-11 / 50) - SCATTER  # ten minutes and the one of the press

    found = jump(celsius(78), celsius(low - 0.001 if below else low + 0.001, 10), STANDS)

    assert found.fits is not below
    assert found.off_k == (pytest.approx(-0.001) if below else 0)
    assert bool(found.likely) is below


@pytest.mark.parametrize("above", [False, True])
def test_both_sides_of_the_rise(above):
    high = 78 + 3 + SCATTER

    found = jump(celsius(78), celsius(high + 0.001 if above else high - 0.001, 10), STANDS)

    assert found.fits is not above
    assert found.off_k == (pytest.approx(0.001) if above else 0)


def test_warmer_air_warms_what_stands():
    found = jump(celsius(10), celsius(12), Between(air_c=30))

    assert found.rises_k == pytest.approx(3 + 20 * (1 - math.exp(-1 / 20)))
    assert found.falls_k == 0
    assert jump(celsius(10), celsius(12), Between()).rises_k == 3


def test_what_is_not_known_is_taken_so_that_less_is_asked():
    bare = jump(celsius(70), celsius(69), Between())
    runs = jump(celsius(70), celsius(71), Between(is_running=True))

    assert bare.falls_k == pytest.approx(70 * (1 - math.exp(-1 / 20)))  # air of 0 °C
    assert runs.rises_k == pytest.approx(60 * 3000 / (4 * 0.85 * 2000))  # the smallest fill


@pytest.mark.parametrize(
    ("between", "share", "cold"),
    [
        (Between(air_c=25, poured_ml=1000, fill_ml=8000), 0.125, 20),  # from the shelf
        (Between(air_c=15, poured_ml=1000, fill_ml=8000), 0.125, 15),  # the shelf as cold as the bay
        (Between(air_c=20, circuit_ml=1000, fill_ml=8000), 0, 20),  # nothing moves with the engine off
        (Between(air_c=20, poured_ml=1000, circuit_ml=1000, fill_ml=8000, is_running=True), 0.25, 20),
        (Between(air_c=20, poured_ml=9000, fill_ml=8000), 1, 20),
        (Between(air_c=20, poured_ml=1), 1, 20),  # into nobody knows how much
        (Between(air_c=20), 0, 20),
    ],
)
def test_cold_fluid_falls_as_its_share(between, share, cold):
    mixed = 80 - share * (80 - cold)

    found = jump(celsius(80), celsius(79), between)

    air = between.air_c
    assert found.falls_k == pytest.approx(80 - min(mixed, air + (mixed - air) * math.exp(-1 / 20)))


def test_fluid_colder_than_the_air_does_not_fall():
    assert jump(celsius(10), celsius(10), Between(air_c=30, poured_ml=500, fill_ml=5000)).falls_k == 0


@pytest.mark.parametrize(("is_running", "constant", "used"), [(False, 50, 50), (True, 50, 20), (True, 5, 5)])
def test_a_running_engine_cools_at_least_as_fast_as_the_fastest(is_running, constant, used):
    found = jump(celsius(80), celsius(79), Between(air_c=20, constant_min=constant, is_running=is_running))

    assert found.falls_k == pytest.approx(60 * (1 - math.exp(-1 / used)))


def test_one_instrument_errs_alike_in_both_readings():
    same = [celsius(70, error=2, instrument="T-1"), celsius(70, error=2, instrument="T-1")]
    other = replace(same[1], instrument="T-2", error_k=1)

    assert jump(*same, STANDS).doubt_k == pytest.approx(SCATTER)
    assert jump(same[0], other, STANDS).doubt_k == pytest.approx(2 * math.sqrt(0.5 + 4 + 1))
    assert jump(celsius(70, error=2), celsius(70, error=1), STANDS).doubt_k == pytest.approx(2 * math.sqrt(5.5))
    far = jump(same[0], replace(other, celsius=20, figure="20"), STANDS)
    assert "another instrument" in far.likely
    assert "another instrument" not in jump(same[0], replace(same[1], celsius=20, figure="20"), STANDS).likely


@pytest.mark.parametrize(
    ("first", "then", "slip"),
    [
        (celsius(73), celsius(37), "digits exchanged, now"),
        (celsius(37), celsius(73), "digits exchanged, before"),
        (Read(0, 71, 0, "71.0", "°C"), Read(0, 21.5, 0, "70.7", "°F"), "the other unit, now"),
        (Read(0, 21.5, 0, "70.7", "°F"), Read(0, 71, 0, "71.0", "°C"), "the other unit, before"),
        (celsius(78), celsius(48), "one digit wrong, now"),
        (celsius(18), celsius(78), "one digit wrong, before"),
    ],
)
def test_a_slip_is_named_where_it_explains_the_jump(first, then, slip):
    assert slip in jump(first, then, STANDS).likely


def test_a_slip_that_explains_nothing_is_not_named():
    found = jump(celsius(78), celsius(-5), STANDS)  # no sign is a digit

    assert [words for words in found.likely if "exchanged" in words or "now" in words] == []
    assert jump(celsius(78), celsius(22), STANDS).likely == ("one digit wrong, now", "one digit wrong, before",
                                                             "typed later than read")  # fmt: skip


def test_the_early_edge_of_the_curve_is_twice_its_error_below():
    clock = cool_clock(
        (Reading(0, 78), Reading(9, 70)), ambient_c=18, window_c=(40, 45), idle_rise_k=4, trust=Errors(1)
    )

    assert shortest_constant(clock) == pytest.approx(clock.time_constant_min - 2 * clock.time_constant_error)
    assert shortest_constant(replace(clock, time_constant_error=40.0)) == 0.0


def test_what_makes_no_sense_is_refused_by_name():
    with pytest.raises(errors.DateOrder):
        jump(celsius(70, 1), celsius(70, 0.9), STANDS)
    assert jump(celsius(70, 1), celsius(70, 1), STANDS).fits
    for pair in ((celsius(151), celsius(70)), (celsius(70), celsius(-51))):
        with pytest.raises(errors.OutOfRange, match="The fluid temperature in °C"):
            jump(*pair, STANDS)
    for pair in ((celsius(70, error=-1), celsius(70)), (celsius(70), celsius(70, error=-1))):
        with pytest.raises(errors.OutOfRange, match="error of a thermometer is -1 K"):
            jump(*pair, STANDS)


TEMPERATURES = st.floats(-50, 150)


@given(TEMPERATURES, st.floats(0, 600), st.floats(-40, 55), st.booleans(), st.floats(0, 9000))
def test_the_same_reading_again_fits_if_nothing_was_poured_and_bounds_enclose_it(warm, minutes, air, runs, poured):
    assert jump(celsius(warm), celsius(warm), Between(air_c=air, is_running=runs, circuit_ml=500, fill_ml=7400)).fits
    between = Between(air_c=air, is_running=runs, poured_ml=poured, circuit_ml=500, fill_ml=7400)

    found = jump(celsius(warm), celsius(warm), between)

    assert found.low_c <= min(warm, found.high_c)
    later = jump(celsius(warm), celsius(warm, minutes), between)
    assert later.low_c <= found.low_c + 1e-9
    assert later.high_c >= found.high_c - 1e-9


@pytest.mark.parametrize("warmer", [False, True])
def test_what_was_poured_lowers_the_most_it_can_come_to(warmer):
    # 7400 mL at 110 °C, 9800 mL at 20 °C, nothing let out: 58.72 °C; five minutes and one of 14.308 K.
    high = 20 + 90 * 7400 / 17200 + 6 * 60 * 3000 / (7.4 * 0.85 * 2000) + SCATTER
    poured = replace(RUNS, poured_ml=9800)

    found = jump(celsius(110), celsius(high + (0.001 if warmer else -0.001), 5), poured)

    assert (found.fits, round(found.high_c, 6)) == (not warmer, round(high, 6))


@pytest.mark.parametrize(
    ("between", "rises"),
    [
        (Between(air_c=30, poured_ml=1000, fill_ml=4000), 3 - 30 * 0.2),  # as warm as the air, where that is warmer
        (Between(air_c=10, poured_ml=1000, fill_ml=4000), 3 - 40 * 0.2),
        (Between(poured_ml=1000, fill_ml=4000), 3 - 40 * 0.2),
        (Between(air_c=10, poured_ml=1000), 3),
        (Between(air_c=10, fill_ml=4000), 3),
    ],
)
def test_how_far_a_pour_chills(between, rises):
    assert jump(celsius(60), celsius(60), between).rises_k == pytest.approx(rises)


def test_a_pour_chills_nothing_that_is_colder():
    assert jump(celsius(15), celsius(15), Between(air_c=10, poured_ml=1000, fill_ml=4000)).rises_k == 3
