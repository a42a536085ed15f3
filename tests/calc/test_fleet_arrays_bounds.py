"""Many vehicles in arrays: the last day of the calendar, one wrong row among right ones, no row at all."""

from __future__ import annotations

import numpy as np
import pytest

from shopserv.calc import errors, fleet_arrays
from tests.calc.test_fleet_arrays import FIRST

LAST = fleet_arrays.LAST_DAY


@pytest.mark.parametrize(
    ("days", "run", "error"),
    [
        ([[FIRST, FIRST + 1], [FIRST, FIRST]], [[0.0, 1.0], [0.0, 1.0]], errors.DateOrder),
        ([[FIRST, FIRST + 5, FIRST + 3], [FIRST, FIRST + 1, FIRST + 2]], [[0.0, 1.0, 2.0]] * 2, errors.DateOrder),
        ([[FIRST, FIRST + 1], [FIRST, FIRST + 1]], [[0.0, 1.0], [-1.0, 1.0]], errors.OutOfRange),
    ],
)
def test_one_wrong_vehicle_among_right_ones_is_refused(days, run, error):
    with pytest.raises(error):
        fleet_arrays.dues(np.array(days), np.array(run), np.array([5.0, 5.0]), np.array([FIRST, FIRST]))


@pytest.mark.parametrize(("beyond", "late"), [(0, LAST), (1, fleet_arrays.NO_DAY)])
def test_a_late_edge_on_the_last_day_of_the_calendar_is_a_day(monkeypatch, beyond, late):
    days, run = np.array([[FIRST, FIRST + 100]]), np.array([[0.0, 3000.0]])
    to_the_end = float(LAST - FIRST - 100 + beyond)
    wide = fleet_arrays.Outlooks(*(np.array([x]) for x in (30.0, 50.0, 40.0, to_the_end, 1.0, 1.0)))
    monkeypatch.setattr(fleet_arrays, "outlooks", lambda *_: wide)

    found = fleet_arrays.dues(days, run, np.array([4500.0]), np.array([FIRST + 150]))

    assert found.late[0] == late


def test_what_lies_beyond_the_calendar_is_past_its_last_day_one_by_one():
    """A mile in 1,000 days: ten thousand miles more take 27,000 years."""
    found = fleet_arrays._one_by_one(np.array([FIRST, FIRST + 1000]), np.array([0.0, 1.0]), 10_001.0)

    assert min(found) > LAST


def test_no_vehicle_has_no_day():
    nothing = fleet_arrays.dues(np.empty((0, 2), int), np.empty((0, 2)), np.empty(0), np.empty(0, int))

    assert len(nothing.due) == len(nothing.late) == 0


@pytest.mark.parametrize(
    ("days", "is_near"), [(7.5, True), (7.4999995, True), (7.5000005, True), (7.4999985, False), (7.5000015, False)]
)
@pytest.mark.parametrize("edge", ["early_days", "days", "late_days"])
def test_a_millionth_of_a_day_from_a_half_is_looked_at_again(monkeypatch, edge, days, is_near):
    told = dict.fromkeys(("rate", "days", "early_days", "late_days", "below", "above"), np.array([2.2])) | {
        edge: np.array([days])
    }
    monkeypatch.setattr(fleet_arrays, "outlooks", lambda *_: fleet_arrays.Outlooks(**told))
    monkeypatch.setattr(fleet_arrays, "_one_by_one", lambda *_: (FIRST, FIRST, FIRST))

    found = fleet_arrays.dues(
        np.array([[FIRST, FIRST + 10]]), np.array([[0.0, 90.0]]), np.array([100.0]), np.array([FIRST])
    )

    assert bool(found.due[0] == FIRST) is is_near
