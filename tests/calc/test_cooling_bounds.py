"""The cool-down clock at its bounds, and its small parts one by one.

Sources: closed forms worked by hand; numpy.polyfit for the line; Fieller's condition put back into itself.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopserv.calc import cooling, errors
from shopserv.calc.cooling import Errors, Moment, Reading, fit
from tests.calc.test_cooling import THREE, TWO, clock

FLAT = (Reading(0, 60), Reading(9, 59))


def pairs(readings):
    return [(float(one.minutes), float(one.celsius)) for one in readings]


def doubt_of(rows, air, scatter, thermometer=0.0, warm=0.0):
    """Uncertainty of the rate as a share of it, by numpy's weighted line and differences of a hundred-thousandth K."""

    def rate(celsius, ambient):
        over = celsius - ambient
        return -np.polyfit([t for t, _ in rows], np.log(over), 1, w=over)[0]

    celsius, small = np.array([c for _, c in rows]), 1e-5
    moves = [(scatter * each, 0.0) for each in np.eye(len(rows))]
    moves += [(np.full(len(rows), thermometer), 0.0), (np.zeros(len(rows)), warm)]
    parts = [
        (rate(celsius + small * by, air + small * air_by) - rate(celsius - small * by, air - small * air_by))
        / 2
        / small
        for by, air_by in moves
    ]
    return math.hypot(*parts) / rate(celsius, air)


def test_readings_of_which_one_pair_stands_still_are_refused():
    with pytest.raises(errors.DateOrder):
        clock((Reading(0, 78), Reading(9, 70), Reading(9, 65)))


def test_the_last_of_three_must_lie_below_the_first():
    with pytest.raises(errors.NotCooling, match="79 °C after 78 °C"):
        clock((Reading(0, 78), Reading(9, 70), Reading(20, 79)))
    assert clock((Reading(0, 78), Reading(9, 79), Reading(20, 70))).start is not None


def test_a_rate_of_nothing_is_not_cooling(monkeypatch):
    monkeypatch.setattr(cooling, "fit", lambda rows, air: (52.0, 0.0))

    with pytest.raises(errors.NotCooling, match="do not fall"):
        clock()


def test_a_clock_stands_at_the_most_doubt_itself(monkeypatch):
    trust = Errors(1)
    doubt = cooling._doubt(pairs(TWO), 18.0, cooling._spreads(trust, 2))
    assert doubt == pytest.approx(doubt_of(pairs(TWO), 18, 0.5, 1, 2), rel=1e-5)

    monkeypatch.setattr(cooling, "MOST_DOUBT", doubt)
    assert clock(trust=trust).start.minutes > 0
    monkeypatch.setattr(cooling, "MOST_DOUBT", math.nextafter(doubt, 0))
    with pytest.raises(cooling.TooFlat):
        clock(trust=trust)


def test_a_temperature_of_the_air_itself_is_not_waited_for():
    found = clock(FLAT, ambient_c=40, window_c=(40, 65))

    assert (found.opens, found.closes, found.start) == (Moment(65, 0, 0, 0, 0, ()), None, None)
    with pytest.raises(cooling.TooFlat):
        clock(FLAT, ambient_c=40, window_c=(40.5, 65))


def test_a_temperature_just_reached_is_not_waited_for():
    above = fit(pairs(FLAT), 40)[0]
    just = 40 + above
    found = clock(FLAT, ambient_c=40, window_c=(just, 65), idle_rise_k=20)

    assert found.closes == Moment(just, 0, 0, 0, 0, ())
    with pytest.raises(cooling.TooFlat):
        clock(FLAT, ambient_c=40, window_c=(just - 0.01, 65), idle_rise_k=20)


def test_readings_that_lie_off_by_just_twice_the_scatter_fit():
    residual = clock(THREE).residual_k

    assert clock(THREE, trust=Errors(1, residual / 2)).fits is True
    assert clock(THREE, trust=Errors(1, math.nextafter(residual / 2, 0))).fits is False


def test_how_far_four_readings_lie_off_is_shared_by_two():
    """Four readings less two numbers of the curve: the squares are halved; the line by numpy.polyfit."""
    rows = [(0.0, 78.0), (9.0, 69.0), (20.0, 61.5), (30.0, 56.5)]
    over = np.array([c - 18 for _, c in rows])
    slope, at_zero = np.polyfit([t for t, _ in rows], np.log(over), 1, w=over)
    off = over - np.exp(at_zero + slope * np.array([t for t, _ in rows]))

    assert clock([Reading(*row) for row in rows]).residual_k == pytest.approx(math.sqrt((off**2).sum() / 2), rel=1e-9)


def test_the_curve_of_three_readings_begins_at_the_first():
    assert (clock(THREE).curve[0].minutes, clock().curve[0].minutes) == (-20, -9)


@pytest.mark.parametrize(("a", "b"), [(42.1, 42.0), (60.0, 0.1), (60.0, 52.0)])
def test_the_error_of_the_time_constant_in_closed_form_where_readings_lie_close(a, b):
    """tau = t / ln(a / b): a scatter s of each moves it by t / ln(a / b)² times hypot(s / a, s / b)."""
    s, wide = 0.0001, math.log(a / b)
    found = clock((Reading(0, 18 + a), Reading(9, 18 + b)), trust=Errors(0, s, 0), window_c=(10, 100))

    assert found.time_constant_error == pytest.approx(9 / wide**2 * math.hypot(s / a, s / b), rel=3e-6)


def test_a_reading_that_stands_where_the_first_stood_is_no_hindrance():
    readings = (Reading(0, 70), Reading(1, 70), Reading(20, 60))
    rate = fit(pairs(readings), 18)[1]

    assert clock(readings).time_constant_error == pytest.approx(
        doubt_of(pairs(readings), 18, 0.5, 1, 2) / rate, rel=1e-4
    )


def test_each_error_moves_an_estimate_with_its_sign():
    spreads = cooling._spreads(Errors(1, 0.5, 2), 2)

    def moved(estimate):
        return cooling._each(estimate, pairs(TWO), 18.0, spreads)

    assert moved(lambda rows, air: rows[0][1]) == pytest.approx([0.5, 0, 1, 0])
    assert moved(lambda rows, air: -rows[1][1]) == pytest.approx([0, -0.5, -1, 0])
    assert moved(lambda rows, air: 3 * air) == pytest.approx([0, 0, 0, 6])


@pytest.mark.parametrize("coverage", [2, 3])
def test_the_band_of_a_ratio_ends_where_fieller_says(monkeypatch, coverage):
    """At both ends (top - m rate)² is the coverage squared times the variance of top - m rate, sign and all."""
    monkeypatch.setattr(cooling, "COVERAGE", coverage)
    tops, rates = [0.03, -0.01], [0.002, 0.001]
    low, high = cooling._band_of_ratio(1.2, 0.02, tops, rates)

    for m in (low, high):
        variance = sum((one - m * other) ** 2 for one, other in zip(tops, rates, strict=True))
        assert (1.2 - m * 0.02) ** 2 == pytest.approx(coverage**2 * variance, rel=1e-9)
    assert low < 60 < high


@pytest.mark.parametrize(
    ("readings", "air", "trust"),
    [
        (FLAT, 18, Errors(1)),
        ((Reading(0, 60), Reading(86 / 60, 58.5)), 18, Errors(1)),
        ((Reading(5, 70), Reading(11, 69.2), Reading(15, 68.9)), 18, Errors(0, 0.4, 1)),
        ((Reading(0, 70), Reading(20, 69.5), Reading(40, 68.6)), 18, Errors(0, 0.5, 1)),
        ((Reading(0, 64), Reading(9, 60.6)), 18, Errors(0, 0.5, 0)),
        ((Reading(30, 50), Reading(34, 49)), 25, Errors(0, 0.2, 1)),
        ((Reading(0, 43), Reading(9, 42)), 38, Errors(1, 0.5, 2)),
    ],
)
def test_how_far_to_wait_is_the_first_whole_kelvin_at_which_the_doubt_is_small_enough(readings, air, trust):
    """The readings by numpy's line, one more on the curve so many K lower, until a fifth is reached."""
    rows = pairs(readings)
    over = np.array([c - air for _, c in rows])
    slope, at_zero = np.polyfit([t for t, _ in rows], np.log(over), 1, w=over)
    above = math.exp(at_zero + slope * rows[-1][0])
    found = None
    for lower in range(1, int(above)):
        more = (rows[-1][0] + math.log((above - lower) / above) / slope, air + above - lower)
        if doubt_of([*rows, more], air, float(trust.scatter), float(trust.thermometer), float(trust.ambient)) <= 0.2:
            found = lower
            break

    with pytest.raises(cooling.TooFlat) as raised:
        clock(readings, ambient_c=air, trust=trust)
    assert raised.value.further_k == found


def test_a_kelvin_at_which_the_doubt_is_just_the_most_is_enough(monkeypatch):
    trust, (above, rate) = Errors(0, 0.5, 0), fit(pairs(FLAT), 18)
    at = 9 + math.log(above / (above - 4)) / rate
    doubt = cooling._doubt([*pairs(FLAT), (at, 18 + above - 4)], 18.0, cooling._spreads(trust, 3))

    for most, lower in ((doubt, 4), (math.nextafter(doubt, 0), 5)):
        monkeypatch.setattr(cooling, "MOST_DOUBT", most)
        assert cooling._further(pairs(FLAT), 18.0, trust) == lower


def test_a_fall_that_is_too_small_is_told_in_one_sentence(monkeypatch):
    assert str(cooling.TooFlat(0.466, 3)) == (
        "The rate of cooling is in doubt by 47 %, of which 20 % would do: read once more at least 3 K lower."
    )
    assert str(cooling.TooFlat(2, None)).endswith("in doubt by 200 %, of which 20 % would do: the air is too near.")
    monkeypatch.setattr(cooling, "MOST_DOUBT", 0.6)
    assert " by 70 %, of which 60 % would do: " in str(cooling.TooFlat(0.7, 1))
