"""Where the lines of the drift strip stand."""

from __future__ import annotations

from shopserv.common.drawing import drift_strip

TWO = [(4.0, 3.5, 0.0, True), (4.0, 7.0, 0.0, True)]


def drawn(points=TWO, **more):
    return drift_strip(points, **{"limit": 5, "alarm_at": 1, "words": "drift", **more})


def test_the_sums_run_from_the_middle_and_end_at_the_edge_of_the_strip():
    found = drawn()

    assert found.high == "M18 64L59 36L100 12"
    assert found.low == "M18 64L59 64L100 64"
    assert found.limits == ("24", "104")
    assert (found.ticks, found.aside) == ((("59", "32"), ("100", "32")), ())
    assert (found.alarm_x, drawn(alarm_at=None).alarm_x, found.words) == ("100", None, "drift")


def test_the_lower_sum_runs_below_the_middle():
    found = drawn([(-4.0, 0.0, 3.5, True), (-30.0, 0.0, 3.5, False)], alarm_at=None)

    assert found.low == "M18 64L59 92L100 92"
    assert (found.ticks, found.aside) == ((("59", "96"),), (("100", "116"),))


def test_many_weighings_stand_closer_and_stay_inside():
    found = drawn([(0.0, 0.0, 0.0, True)] * 12, alarm_at=None)

    assert (found.ticks[0], found.ticks[-1]) == (("38.5", "64"), ("264", "64"))
