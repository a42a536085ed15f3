"""The two clocks are read from the stored forecast as the worked examples have them."""

from __future__ import annotations

from fractions import Fraction

from shopserv.reminders.clocks import clocks_of
from shopserv.reminders.models import Forecast
from shopserv.reminders.workings import workings_of


def clocks(cast, number):
    return clocks_of(Forecast.objects.get(vehicle__number=number, is_current=True), cast.today)


def test_v01_is_as_old_as_the_worked_example_says(cast):
    found = clocks(cast, "V-01")  # worked.json of the demonstration: credit_V01

    assert round(found.age[0]) == 50_679
    assert found.age[1] == Fraction("69.048")
    assert found.interval == (33_000, 33)
    assert found.base == (60_000, 60)
    assert round(found.moisture, 3) == 1.806
    assert round(found.due_at) == 45_501


def test_the_day_on_which_the_readings_ran_through_the_distance_is_known(cast):
    past, ahead = clocks(cast, "F-07"), clocks(cast, "F-30")

    assert (str(past.crossed), str(past.read_on)) == ("2026-08-29", "2026-11-20")
    assert ahead.crossed is None


def test_ages_are_what_was_left_and_what_was_run_since(cast):
    found = clocks(cast, "F-30")

    assert found.age == (found.after[0] + found.since_run, found.after[1] + found.since_months)
    assert found.run == found.readings[-1][1]
    assert len(found.services) == 2


def test_the_road_ahead_widens_where_the_months_govern_and_are_yet_to_come(cast):
    ahead = [
        row
        for row in Forecast.objects.filter(is_current=True, governs="months", due_on__gt=cast.today)
        if clocks_of(row, cast.today).rates
    ]

    assert ahead
    for row in ahead:
        found = clocks_of(row, cast.today)
        assert found.run <= found.road[0] <= found.road[1]


def test_nothing_is_said_where_too_little_was_known(cast):
    row = Forecast.objects.filter(is_current=True).exclude(due_on=None).first()
    row.working = {"inputs": {}, "stop": ""}

    assert clocks_of(row, cast.today) is None


def test_the_sum_of_the_band_gives_the_edges_of_the_row(cast):
    vans = Forecast.objects.filter(vehicle__number__in=["F-05", "F-07"], is_current=True).order_by("vehicle__number")
    future, past = (workings_of(row, cast.today) for row in vans)

    steps = {one.words: one.value for one in future["band"].steps}
    assert (steps["early edge"], steps["late edge"]) == (vans[0].early_on, vans[0].late_on)
    assert "band" not in past  # what is past has no band
