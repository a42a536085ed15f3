"""What always holds of the day when fluid is due: the earlier of the two days, wherever the readings have come to.

Sources: the reckoning of calc.mileage for the day of a crossing; V-03 of the demonstration; what always holds.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from hypothesis import example, given, settings
from hypothesis import strategies as st

from shopserv.calc import age, errors, forecast, mileage, severity

F = Fraction
DRY = forecast.Climate((10.0,) * 12, (0.6,) * 12, 200.0)
USE = forecast.Use(F("0.2"), F(0), ((F(1), 85.0),))
BEGAN = date(2023, 1, 1)


def read(steps):
    """Readings from BEGAN on: (days, miles) from one to the next."""
    on, run, rows = BEGAN, F(20_000), []
    for days, miles in steps:
        on, run = on + timedelta(days=days), run + miles
        rows.append((on, run))
    return rows


def told(rows, distance, months, use=USE):
    """Both reckonings of the same vehicle: all new on BEGAN at 20,000 miles."""
    told = forecast.forecast(
        unit="mi", base_distance=F(distance), base_months=months, climate=DRY, use=use, first_use=None,
        readings=rows, jobs=[forecast.Job(BEGAN, F(20_000), F(1))], today=rows[-1][0],
    )  # fmt: skip
    state = severity.State(
        base_distance=F(distance), base_months=months, climate=DRY, use=use, first_use=None,
        jobs=(age.Job(BEGAN, F(20_000), F(1)),), run=rows[-1][1], read_on=rows[-1][0], rate=told.rate,
        readings=tuple(mileage.Reading(on, run) for on, run in rows),
    )  # fmt: skip
    return told, state


def day_of(found):
    """The day by distance that is shown: run through, else reckoned."""
    return found.crossed or found.distance_due


WAYS = st.lists(st.tuples(st.integers(20, 400), st.integers(0, 15_000)), min_size=2, max_size=5).map(read)
DISTANCES, MONTHS = st.integers(2, 160).map(lambda n: n * 500), st.integers(2, 90)
LAW = settings(max_examples=25, deadline=None)
# Run through on 2023-10-21; the months end on 2024-04-01, the readings on 2024-06-18.
V_03_LIKE = read([(100, 4_000), (434, 18_000)])


@LAW
@given(WAYS, DISTANCES, MONTHS)
@example(V_03_LIKE, 20_000, 18)
def test_it_is_due_on_the_earlier_of_the_two_days_shown(rows, distance, months):
    found, state = told(rows, distance, months)
    clocks = severity.clocks(state, rows[-1][0])
    by_distance = day_of(found)
    earlier = min(filter(None, (by_distance, found.months_due)))

    assert clocks.due == earlier
    assert clocks.distance_due == by_distance
    assert found.governs == clocks.governs
    assert (found.governs == "distance") == (by_distance is not None and by_distance < found.months_due)


@LAW
@given(WAYS, DISTANCES, MONTHS, st.integers(0, 20), st.integers(0, 12))
@example(V_03_LIKE, 20_000, 18, 1, 0)
@example(V_03_LIKE, 20_000, 18, 30, 0)
def test_more_interval_is_never_due_earlier(rows, distance, months, more, longer):
    state = told(rows, distance, months)[1]
    other = replace(state, base_distance=F(distance + 500 * more), base_months=months + longer)

    assert severity.clocks(other, rows[-1][0]).due >= severity.clocks(state, rows[-1][0]).due


@LAW
@given(WAYS, DISTANCES, MONTHS)
@example(V_03_LIKE, 20_000, 18)
def test_a_harsher_life_is_never_due_later_and_the_doubt_holds_the_day(rows, distance, months):
    state = told(rows, distance, months)[1]
    today = rows[-1][0]
    try:
        found = severity.doubt(state, today)
    except errors.CalcError:
        return
    due = severity.clocks(state, today).due

    assert found.harder.due <= due <= found.milder.due
    assert found.early <= due <= found.late


def test_a_distance_run_through_before_the_months_ended_governs_and_a_tie_goes_to_the_months():
    found, state = told(V_03_LIKE, 20_000, 18)
    clocks = severity.clocks(state, V_03_LIKE[-1][0])

    assert (found.governs, found.crossed, found.months_due, found.distance_due) == (
        "distance", date(2023, 10, 21), date(2024, 4, 1), date(2024, 6, 18),
    )  # fmt: skip
    assert (clocks.governs, clocks.due, clocks.early, clocks.late) == ("distance", *(date(2023, 10, 21),) * 3)
    at_once = read([(425, 9_500), (100, 5_000)])
    for months, governs in ((17, "months"), (18, "distance")):  # 14 and 15 months here: March 1 and April 1
        found, state = told(at_once, 15_500, months)
        assert (found.crossed, found.governs) == (date(2024, 3, 1), governs)
        assert severity.clocks(state, at_once[-1][0]).governs == governs
