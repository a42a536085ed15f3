"""The cool-down clock with its band.

Sources: OpenStax, Calculus volume 2 (2016), section 4.3, the pizza that cools (seen in lecture notes that quote it);
the rest against numpy, scipy and drawn errors (JCGM 101:2008, propagation of distributions).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from shopserv.calc import errors, oil
from shopserv.calc.cooling import CoolClock, Errors, Reading, cool_clock, fit

TWO = (Reading(0, 78), Reading(9, 70))
THREE = (*TWO, Reading(20, 61.5))


def clock(readings=TWO, **more) -> CoolClock:
    given = {"ambient_c": 18, "window_c": (40, 45), "idle_rise_k": 4, "trust": Errors(1)}
    return cool_clock(readings, **{**given, **more})


def hands(found: CoolClock) -> list[float | None]:
    return [None if m is None else round(m.minutes, 1) for m in (found.opens, found.closes, found.start)]


def test_the_clock_of_the_worked_example():
    found = clock()

    assert round(found.time_constant_min, 2) == 62.89
    assert hands(found) == [41.2, 54.1, 66.7]
    assert (found.start_c, found.residual_k, found.fits) == (36.0, None, True)
    assert found.verdict == "start the engine at 36 °C, in 67 min (54 to 84)"


def test_two_readings_give_what_the_contract_gives():
    found = clock()

    for moment, goal in ((found.opens, 45), (found.closes, 40), (found.start, 36)):
        assert moment.minutes == pytest.approx(oil.cool_down_time((0, 78), (9, 70), 18, goal), rel=1e-12)


def test_the_pizza_of_the_textbook():
    """350 °F in a kitchen of 75 °F, 340 °F after 5 minutes: 300 °F after 27.0874 minutes, 22 more."""
    above, rate = fit([(0, 350), (5, 340)], 75)

    assert above == pytest.approx(265)
    assert rate == pytest.approx(math.log(275 / 265) / 5, rel=1e-12)
    assert round(5 + math.log(above / (300 - 75)) / rate, 4) == 27.0874


def test_more_readings_are_fitted_as_a_weighed_straight_line():
    minutes, celsius = [0.0, 6.0, 14.0, 21.0], [82.0, 76.3, 69.9, 65.0]
    slope, at_zero = np.polyfit(minutes, np.log(np.array(celsius) - 19), 1, w=np.array(celsius) - 19)

    above, rate = fit(list(zip(minutes, celsius, strict=True)), 19)

    assert rate == pytest.approx(-slope, rel=1e-9)
    assert above == pytest.approx(math.exp(at_zero + slope * 21), rel=1e-9)


def test_the_fit_is_that_of_least_squares_of_the_temperatures_themselves():
    minutes, celsius = np.array([0.0, 6.0, 14.0, 21.0]), np.array([82.0, 76.3, 69.9, 65.0])
    (above, rate), _ = curve_fit(lambda t, a, r: 19 + a * np.exp(-r * (t - 21)), minutes, celsius, p0=(45, 0.01))

    found = fit(list(zip(minutes, celsius, strict=True)), 19)

    assert found == pytest.approx((above, rate), rel=2e-4)


def test_three_readings_narrow_the_band_and_say_how_far_they_lie_off():
    found = clock(THREE)

    assert round(found.start.minutes, 2) == 54.96
    assert round(found.start.error, 2) == 4.33
    assert found.start.error < clock().start.error
    assert round(found.residual_k, 4) == 0.0680
    assert found.fits is True


def test_readings_off_the_curve_are_told():
    found = clock((Reading(0, 78), Reading(9, 66), Reading(20, 61.5)))

    assert round(found.residual_k, 2) == 3.19
    assert found.fits is False
    assert found.verdict.endswith(
        "; the readings do not lie on one curve: a fan, an open door or a warm engine changed the air"
    )


def test_off_the_curve_begins_beyond_twice_the_scatter():
    residual = clock(THREE).residual_k

    assert clock(THREE, trust=Errors(1, residual / 2 * 1.001)).fits is True
    assert clock(THREE, trust=Errors(1, residual / 2 * 0.999)).fits is False
    assert clock(trust=Errors(1, 0)).fits is True


def test_the_shares_of_the_band_by_what_makes_them():
    start = clock().start

    assert [(share.words, round(share.minutes, 2)) for share in start.shares] == [
        ("scatter of the readings", 6.40),
        ("thermometer", 2.40),
        ("air around the unit", 2.18),
    ]
    assert start.error == pytest.approx(math.hypot(*(share.minutes for share in start.shares)))
    assert (round(start.low, 1), round(start.high, 1)) == (54.1, 83.7)
    assert start.high - start.minutes > start.minutes - start.low


def test_the_thermometer_share_in_closed_form():
    """Both readings e too high: d/de of tau ln(A / (goal - air)) with tau = t / ln(a / b), A = b."""
    a, b, goal, t = 60.0, 52.0, 18.0, 9.0
    spread = math.log(a / b)
    expected = t * (1 / b * spread - math.log(b / goal) * (1 / a - 1 / b)) / spread**2

    only = clock(trust=Errors(1, 0, 0)).start

    assert only.error == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("readings", [TWO, THREE])
def test_the_band_is_what_drawn_errors_give(readings):
    """A thousand-fold draw of all errors: the standard deviation of the start agrees within a tenth."""
    rng = np.random.default_rng(5)
    found, draws = clock(readings, trust=Errors(0.5, 0.2, 1)), []
    for _ in range(3_000):
        common, air = rng.normal(0, 0.5), 18 + rng.normal(0, 1)
        rows = [(float(one.minutes), float(one.celsius) + common + rng.normal(0, 0.2)) for one in readings]
        above, rate = fit(rows, air)
        draws.append(math.log(above / (36 - air)) / rate)

    assert found.start.error == pytest.approx(np.std(draws), rel=0.06)
    assert np.mean((np.array(draws) > found.start.low) & (np.array(draws) < found.start.high)) == pytest.approx(
        0.955, abs=0.015
    )


def test_the_error_of_the_time_constant_is_that_of_the_fit():
    only = clock(trust=Errors(0, 0.5, 0))
    spread = math.log(60 / 52)
    expected = 9 / spread**2 * math.hypot(0.5 / 60, 0.5 / 52)

    assert only.time_constant_error == pytest.approx(expected, rel=1e-6)


def test_the_curve_runs_from_the_first_reading_to_the_end_of_the_wait():
    found = clock()

    assert len(found.curve) == 25
    assert (found.curve[0].minutes, round(found.curve[0].celsius, 6)) == (-9, 78)
    assert found.curve[-1].minutes == pytest.approx(found.start.high)
    assert all(point.low < point.celsius < point.high for point in found.curve)
    assert all(one.celsius > other.celsius for one, other in zip(found.curve, found.curve[1:], strict=False))
    assert found.curve[0].high - found.curve[0].celsius == pytest.approx(2 * math.hypot(1, 0.5), rel=1e-5)


def test_the_band_of_the_curve_in_closed_form():
    """Both readings e too high: T - air = b (b/a)^s with s = t / 9 min, so dT/de = (1 + s)(b/a)^s - s (b/a)^(s + 1)."""
    last = clock(trust=Errors(1, 0, 0)).curve[-1]
    s, ratio = last.minutes / 9, 52 / 60
    expected = 2 * ((1 + s) * ratio**s - s * ratio ** (s + 1))

    assert last.celsius == pytest.approx(18 + 52 * ratio**s)
    assert last.high - last.celsius == pytest.approx(expected, rel=1e-6)


def test_what_is_reached_already_takes_no_time():
    found = clock((Reading(0, 42), Reading(9, 36)))

    assert hands(found) == [0.0, 0.0, 0.0]
    assert (found.start.low, found.start.high, found.start.shares) == (0, 0, ())
    assert found.verdict == "start the engine now: the fluid is at or below 36 °C"
    assert found.curve[-1].minutes == 1


def test_air_too_warm_has_no_hand():
    assert hands(clock(ambient_c=36)) == [56.6, 91.1, None]
    assert clock(ambient_c=36).verdict == "the air is too warm to wait for 36 °C"
    assert hands(clock(ambient_c=46)) == [None, None, None]
    assert clock(ambient_c=46).curve[-1].minutes == pytest.approx(clock(ambient_c=46).time_constant_min)
    assert clock(ambient_c=46).working.value is None


def test_air_that_may_be_too_warm_leaves_no_latest_moment():
    """36 °C is reached in air of 32 °C give or take 2 K at twice the doubt: perhaps never."""
    assert clock(ambient_c=32).start.high is None
    assert clock(ambient_c=32).verdict.endswith(" to no end)")
    cooler = clock(ambient_c=31.9).start
    assert round(cooler.high, 1) == 144.7
    assert clock(ambient_c=32).curve[-1].minutes == pytest.approx(clock(ambient_c=32).start.minutes)


def test_nothing_lies_before_now():
    found = clock((Reading(0, 55), Reading(9, 45.8)))

    assert found.opens.low == 0
    assert 0 < found.opens.minutes < 1 < found.opens.high


@pytest.mark.parametrize(("drop", "scatter"), [(8, 0.5), (8, 1.0)])
def test_drawn_errors_leave_the_band_as_often_early_as_late(drop, scatter):
    """JCGM 101:2008: 2.3 % of the draws before the band and 2.3 % after it, at 9 and at 18 % of doubt of the rate."""
    rng = np.random.default_rng(11)
    start = clock((Reading(0, 78), Reading(9, 78 - drop)), trust=Errors(0, scatter, 0)).start
    one, two = 60 + rng.normal(0, scatter, 200_000), 60 - drop + rng.normal(0, scatter, 200_000)
    drawn = np.log(two / 18) / np.log(one / two) * 9

    assert np.mean(drawn > start.high) == pytest.approx(0.0228, abs=0.002)
    assert np.mean(drawn < start.low) == pytest.approx(0.0228, abs=0.002)


def test_a_fall_too_small_to_tell_gives_no_clock_but_says_how_far_to_wait():
    """60.0 to 58.5 °C: the two scatters of 0.5 K alone put sqrt(1/42^2 + 1/40.5^2) / 2 / ln(42 / 40.5) = 47 % on it."""
    with pytest.raises(errors.InsufficientReadings, match=r"in doubt by 47 %.*at least 3 K lower") as raised:
        clock((Reading(0, 60), Reading(86 / 60, 58.5)))

    assert raised.value.further_k == 3
    at = 86 / 60 + math.log(40.5 / 37.5) / (math.log(42 / 40.5) / (86 / 60))
    assert clock((Reading(0, 60), Reading(86 / 60, 58.5), Reading(at, 55.5))).opens.high is not None


def test_a_clock_begins_at_a_fifth_of_doubt():
    """Two readings a and b K above the air, scatter s: s sqrt(1/a^2 + 1/b^2) / ln(a / b)."""
    most = 0.2 * math.log(60 / 52) / math.hypot(1 / 60, 1 / 52)

    assert clock(trust=Errors(0, most * 0.9999, 0)).start.high is not None
    with pytest.raises(errors.InsufficientReadings):
        clock(trust=Errors(0, most * 1.0001, 0))


def test_air_too_near_for_any_reading_to_tell_is_said():
    with pytest.raises(errors.InsufficientReadings, match="the air is too near") as raised:
        clock((Reading(0, 43), Reading(9, 42)), ambient_c=38, trust=Errors(1, 0.5, 4))

    assert raised.value.further_k is None


def test_a_fall_too_small_matters_only_while_something_is_waited_for():
    assert clock((Reading(0, 36.2), Reading(9, 36))).start.minutes == 0
    with pytest.raises(errors.InsufficientReadings):  # the window still opens, though the air is too warm for 36 °C
        clock((Reading(0, 60), Reading(9, 59)), ambient_c=37)


@pytest.mark.parametrize(
    ("readings", "more", "error", "words"),
    [
        (TWO[:1], {}, errors.InsufficientReadings, "1 temperature read; the clock needs two"),
        ((Reading(0, 78), Reading(0, 70)), {}, errors.DateOrder, "after the one before"),
        ((Reading(9, 78), Reading(0, 70)), {}, errors.DateOrder, "after the one before"),
        ((Reading(0, 151), Reading(9, 70)), {}, errors.OutOfRange, "The fluid temperature in °C is 151"),
        (TWO, {"ambient_c": -51}, errors.OutOfRange, "The temperature of the air in °C is -51"),
        (TWO, {"ambient_c": 70}, errors.OutOfRange, "The fluid reads 70 °C in air of 70 °C"),
        ((Reading(0, 70), Reading(9, 70)), {}, errors.NotCooling, "70 °C after 70 °C"),
        ((Reading(0, 70), Reading(9, 71)), {}, errors.NotCooling, "71 °C after 70 °C"),
        ((Reading(0, 70), Reading(1, 30), Reading(90, 69.9)), {}, errors.NotCooling, "do not fall"),
        (TWO, {"window_c": (45, 45)}, errors.OutOfRange, "low end 45 °C must be under its high end 45 °C"),
        (TWO, {"idle_rise_k": -1}, errors.OutOfRange, "The idle rise is -1 K"),
        (TWO, {"trust": Errors(-1)}, errors.OutOfRange, "The error of thermometer is -1 K"),
        (TWO, {"trust": Errors(1, -1)}, errors.OutOfRange, "The error of scatter of the readings is -1 K"),
        (TWO, {"trust": Errors(1, 1, -1)}, errors.OutOfRange, "The error of air is -1 K"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(readings, more, error, words):
    with pytest.raises(error, match=words):
        clock(readings, **more)


def test_an_idle_rise_of_nothing_waits_for_the_low_edge():
    assert clock(idle_rise_k=0).start.minutes == pytest.approx(clock().closes.minutes)


def test_the_working_shows_inputs_steps_and_what_would_change_it_most():
    kept = clock(THREE).working.as_dict()

    assert (kept["figure"], kept["unit"], round(kept["value"], 2)) == ("start of the engine", "min", 54.96)
    assert [round(kept[end], 1) for end in ("low", "high")] == [46.6, 64.1]
    assert [(row["words"], row["value"]) for row in kept["inputs"]] == [
        ("reading 1, at 0 min", 78.0),
        ("reading 2, at 9 min", 70.0),
        ("reading 3, at 20 min", 61.5),
        ("air around the unit", 18.0),
        ("stated error of the thermometer", 1.0),
        ("low edge of the window", 40.0),
        ("high edge of the window", 45.0),
        ("idle rise", 4.0),
    ]
    assert [(row["low"], row["high"]) for row in kept["inputs"] if "low" in row] == [
        (77.5, 78.5), (69.5, 70.5), (61.0, 62.0), (16.0, 20.0),
    ]  # fmt: skip
    assert [(row["words"], round(row["value"], 2)) for row in kept["steps"]] == [
        ("time constant", 62.24),
        ("above the air at the last reading", 43.53),
        ("high edge in", 29.73),
        ("low edge in", 42.47),
        ("start in", 54.96),
        ("readings off the curve", 0.07),
        ("start, by scatter of the readings alone", 2.97),
        ("start, by thermometer alone", 2.50),
        ("start, by air around the unit alone", 1.92),
        ("start, all together", 4.33),
    ]
    first = kept["changes"][0]
    assert (first["words"], round(first["less"], 2), round(first["more"], 2), round(first["moved"], 2)) == (
        "scatter of the readings", 51.99, 57.93, 2.97,
    )  # fmt: skip


def test_a_hand_that_cannot_be_said_stands_in_no_step():
    kept = clock(ambient_c=36).working.as_dict()

    assert [row["words"] for row in kept["steps"]] == [
        "time constant", "above the air at the last reading", "high edge in", "low edge in",
    ]  # fmt: skip
    assert (kept["changes"], kept["low"], kept["high"]) == ([], None, None)


@given(st.floats(60, 90), st.floats(6, 15), st.floats(0, 30), st.floats(3, 30))
def test_waiting_for_a_lower_temperature_takes_longer_and_agrees_with_the_contract(hot, drop, air, minutes):
    found = clock((Reading(0, hot), Reading(minutes, hot - drop)), ambient_c=air)

    assert 0 <= found.opens.minutes <= found.closes.minutes <= found.start.minutes
    assert found.closes.minutes == pytest.approx(
        oil.cool_down_time((0, hot), (minutes, hot - drop), air, 40), rel=1e-9, abs=1e-9
    )
    assert found.start.error >= 0
