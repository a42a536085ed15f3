"""Many vehicles in arrays: the very days that one vehicle at a time gives."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import numpy as np
import pytest

from shopserv.calc import bands, errors, fleet_arrays
from shopserv.calc.mileage import Reading, governing_clock, mileage_rate

FIRST = date(2024, 1, 1).toordinal()


def made_up(count: int, readings: int, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Vehicles with whole miles; due days of many of them end on a half, where exact and float sums could part."""
    rng = np.random.default_rng(seed)
    gaps = rng.integers(1, 300, (count, readings - 1))
    days = FIRST + np.concatenate([np.zeros((count, 1), int), gaps.cumsum(axis=1)], axis=1)
    rate = rng.integers(1, 80, (count, 1))
    wobble = rng.integers(-20, 21, gaps.shape) * (rng.random((count, 1)) < 0.7)
    far = np.maximum(gaps * rate + wobble, 0) * (rng.random((count, 1)) > 0.02)
    run = 10_000.0 + np.concatenate([np.zeros((count, 1)), far.cumsum(axis=1)], axis=1)
    due_at = run[:, -1] + rng.integers(-2000, 40_000, count) + rate[:, 0] / 2
    return days, run, due_at, FIRST + rng.integers(-300, 4000, count)


@pytest.mark.parametrize("readings", [2, 4, 5, 6])
def test_the_days_are_those_of_one_by_one(readings):
    days, run, due_at, months_due = made_up(400, readings, seed=readings)

    found = fleet_arrays.dues(days, run, due_at, months_due)

    for row in range(len(days)):
        rows = [Reading(date.fromordinal(int(d)), Fraction(int(f))) for d, f in zip(days[row], run[row], strict=True)]
        band = bands.due_band(rows, Fraction(float(due_at[row])), "mi", mileage_rate(rows))
        expected = [day.toordinal() if day else fleet_arrays.NO_DAY for day in band]
        assert [found.early[row], found.due[row], found.late[row]] == expected
        clock, on = governing_clock(band[1], date.fromordinal(int(months_due[row])))
        assert (bool(found.by_distance[row]), found.due_on[row]) == (clock == "distance", on.toordinal())


def test_vehicles_of_which_no_day_can_be_said_are_among_those():
    days, run, due_at, months_due = made_up(400, 5, seed=5)

    found = fleet_arrays.dues(days, run, due_at, months_due)

    assert (found.due == fleet_arrays.NO_DAY).sum() == 3
    assert (found.due[due_at < run[:, -1]] == days[due_at < run[:, -1], -1]).any()


def test_a_half_is_rounded_as_the_exact_sum_says():
    # 2,000 / 3 miles a day: 1,000 miles are 1.5 days, which floats may put just below
    days = np.array([[FIRST, FIRST + 3]])
    run = np.array([[0.0, 2000.0]])

    found = fleet_arrays.dues(days, run, np.array([3000.0]), np.array([FIRST + 9000]))

    assert found.due[0] == FIRST + 3 + 2


def test_a_half_at_the_edges_is_looked_at_again(monkeypatch):
    days, run, due_at, months_due = made_up(3, 4, seed=1)
    edge = fleet_arrays.Outlooks(*(np.array([1.0, 2.2, 3.3]),) * 6)
    early = fleet_arrays.Outlooks(edge.rate, edge.days, np.array([0.5, 2.2, 3.3]), edge.days, edge.below, edge.above)
    late = fleet_arrays.Outlooks(
        edge.rate, edge.days, edge.days, np.array([1.0, 2.5000001, 3.3]), edge.below, edge.above
    )
    again = []
    monkeypatch.setattr(fleet_arrays, "_one_by_one", lambda d, r, at: again.append(at) or (1, 2, 3))
    due_at = run[:, -1] + 0.2

    for found in (edge, early, late):
        monkeypatch.setattr(fleet_arrays, "outlooks", lambda *_args, found=found: found)
        fleet_arrays.dues(days, run, due_at, months_due)

    assert again == [due_at[0], due_at[1]]


def test_a_late_edge_beyond_the_calendar_is_no_day(monkeypatch):
    days, run = np.array([[FIRST, FIRST + 100]]), np.array([[0.0, 3000.0]])
    wide = fleet_arrays.Outlooks(*(np.array([x]) for x in (30.0, 50.0, 40.0, 3e6, 1.0, 1.0)))
    monkeypatch.setattr(fleet_arrays, "outlooks", lambda *_: wide)

    found = fleet_arrays.dues(days, run, np.array([4500.0]), np.array([FIRST + 150]))

    last = FIRST + 100
    assert (found.early[0], found.due[0], found.late[0]) == (last + 40, last + 50, fleet_arrays.NO_DAY)
    assert not found.by_distance[0]  # a tie goes to the months


def test_a_likely_day_beyond_the_calendar_is_no_day():
    days = np.array([[FIRST, FIRST + 1000]])
    to_the_end = float(fleet_arrays.LAST_DAY - FIRST - 1000)

    for more, due in ((0.0, fleet_arrays.LAST_DAY), (1.0, fleet_arrays.NO_DAY)):
        at = np.array([1.0 + (to_the_end + more) / 1000])
        found = fleet_arrays.dues(days, np.array([[0.0, 1.0]]), at, np.array([FIRST + 1]))
        assert found.due[0] == due
        assert (found.early[0] == fleet_arrays.NO_DAY) == (due == fleet_arrays.NO_DAY)


def test_one_reading_each_goes_by_the_average():
    found = fleet_arrays.outlooks(np.array([[FIRST]]), np.array([[500.0]]), np.array([3071.0]))
    one = bands.outlook([Reading(date.fromordinal(FIRST), Fraction(500))], Fraction(3071), "mi")

    assert (found.days[0], found.early_days[0], found.late_days[0], found.rate[0]) == pytest.approx(
        (one.days, one.early_days, one.late_days, one.rate), rel=1e-12
    )


@pytest.mark.parametrize(
    ("days", "run", "error"),
    [
        ([[FIRST, FIRST]], [[0.0, 1.0]], errors.DateOrder),
        ([[FIRST + 1, FIRST]], [[0.0, 1.0]], errors.DateOrder),
        ([[FIRST, FIRST + 1]], [[-1.0, 1.0]], errors.OutOfRange),
    ],
)
def test_what_makes_no_sense_is_refused(days, run, error):
    with pytest.raises(error):
        fleet_arrays.dues(np.array(days), np.array(run), np.array([5.0]), np.array([FIRST]))


@pytest.mark.parametrize(("last", "left"), [(500.0, 40.0), (3500.0, 45.0), (3500.0, 20.0)])
def test_a_vehicle_that_stands_and_one_that_is_nearly_due_are_as_sure_as_one_by_one(last, left):
    rows = [Reading(date.fromordinal(FIRST), Fraction(500)), Reading(date.fromordinal(FIRST + 100), Fraction(last))]

    found = fleet_arrays.outlooks(np.array([[FIRST, FIRST + 100]]), np.array([[500.0, last]]), np.array([left]))
    one = bands.outlook(rows, Fraction(left), "mi")

    assert (found.rate[0], found.below[0], found.above[0]) == pytest.approx((one.rate, one.below, one.above), rel=1e-12)


@pytest.mark.parametrize("count", [2, 4, 5, 9])
def test_rate_and_widths_are_those_of_one_by_one(count):
    rng = np.random.default_rng(count)
    gaps = rng.integers(30, 200, (40, count - 1))
    days = FIRST + np.concatenate([np.zeros((40, 1), int), gaps.cumsum(axis=1)], axis=1)
    wave = 1 + 0.6 * np.sin(2 * np.pi * (days[:, 1:] - gaps / 2) / 365.25) * (rng.random((40, 1)) < 0.5)
    far = np.rint(gaps * 25 * wave * rng.gamma(9.0, 1 / 9, gaps.shape))
    run = 9_000.0 + np.concatenate([np.zeros((40, 1)), far.cumsum(axis=1)], axis=1)
    left, rate = rng.integers(50, 30_000, 40).astype(float), rng.integers(1, 300, 40).astype(float)

    for by in (None, rate):
        found = fleet_arrays.outlooks(days, run, left, by)
        seasons = []
        for row in range(40):
            rows = [
                Reading(date.fromordinal(int(d)), Fraction(int(f))) for d, f in zip(days[row], run[row], strict=True)
            ]
            one = bands.outlook(rows, Fraction(left[row]), "mi", None if by is None else Fraction(by[row]))
            seasons.append(one.season)
            assert (found.rate[row], found.days[row], found.below[row], found.above[row]) == pytest.approx(
                (one.rate, one.days, one.below, one.above), rel=1e-9
            )
        assert (max(seasons) > 0.5) == (count >= 5)
        assert min(seasons) == 0
