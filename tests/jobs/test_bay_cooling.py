"""Which readings the cool-down clock takes."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest

from shopserv.jobs.bay_bench import Tool
from shopserv.jobs.bay_cooling import cooling_of
from shopserv.jobs.bay_events import REDO
from shopserv.jobs.models import BayEvent, BayStep

BEGAN = datetime(2026, 11, 24, 15, 0, tzinfo=UTC)
LIMITS = {"low_mdegc": 40_000, "high_mdegc": 45_000, "idle_rise_mk": 4_000}
STEPS = (
    BayStep(pk=1, order=14, code="cool_down_1", limits=LIMITS),
    BayStep(pk=2, order=15, code="cool_down_2", limits=LIMITS),
)
TOOLS = (Tool("thermometer", "TH-1", Fraction(1)),)


def events(*rows):
    return [
        BayEvent(pk=n, step_id=step, what=what, value=value, words="", received_at=BEGAN + timedelta(minutes=minutes))
        for n, (step, what, value, minutes) in enumerate(rows, start=1)
    ]  # fmt: skip


FIRST = [(1, "temp_mdegc", 78_000, 0), (1, "ambient_mdegc", 18_000, 0)]


def clock(*later, first=FIRST):
    return cooling_of(STEPS, events(*first, *later), TOOLS)


def test_two_readings_make_a_clock():
    found = clock((2, "temp_mdegc", 70_000, 9))

    assert [mdegc for _, mdegc in found.readings] == [78_000, 70_000]
    assert round(found.clock.start.minutes, 1) == 66.7
    assert round(found.clock.start.error, 2) == 7.18
    assert found.start_engine_at == BEGAN + timedelta(minutes=9 + found.clock.start.minutes)
    assert (found.next_at, found.window_mdegc, found.ambient_mdegc, found.wrong) == (15, (40_000, 45_000), 18_000, "")


def test_the_second_step_done_again_adds_a_reading():
    found = clock((2, "temp_mdegc", 70_000, 9), (2, REDO, None, 20), (2, "temp_mdegc", 61_500, 20))

    assert [mdegc for _, mdegc in found.readings] == [78_000, 70_000, 61_500]
    assert round(found.clock.start.minutes, 2) == 54.96


def test_a_figure_pressed_twice_corrects():
    found = clock((2, "temp_mdegc", 90_000, 8), (2, "temp_mdegc", 70_000, 9))

    assert [mdegc for _, mdegc in found.readings] == [78_000, 70_000]


def test_the_first_step_done_again_begins_anew():
    found = clock(
        (2, "temp_mdegc", 70_000, 9),
        (1, REDO, None, 10),
        (1, "temp_mdegc", 69_000, 10),
        (1, "ambient_mdegc", 18_000, 10),
        (2, REDO, None, 20),
        (2, "temp_mdegc", 61_500, 20),
    )

    assert [mdegc for _, mdegc in found.readings] == [69_000, 61_500]


@pytest.mark.parametrize("rows", [[], FIRST[:1], FIRST[1:], FIRST])
def test_before_all_is_read_there_is_no_clock(rows):
    assert clock(first=rows) is None


def test_a_sheet_without_the_two_steps_has_no_clock():
    assert cooling_of(STEPS[:1], events(*FIRST), TOOLS) is None


def test_readings_that_make_no_clock_say_why():
    warmer, in_air = clock((2, "temp_mdegc", 79_000, 9)), clock((2, "temp_mdegc", 17_800, 9))
    hot = clock((2, "temp_mdegc", 70_000, 9), first=[(1, "temp_mdegc", 151_000, 0), FIRST[1]])

    assert (warmer.clock, warmer.start_engine_at) == (None, None)
    assert warmer.wrong.startswith("174 °F (79 °C) after 172 °F (78 °C): the fluid is not cooling.")
    assert in_air.wrong == (
        "The fluid read 64 °F (17.8 °C) in air of 64 °F (18 °C); it cools no further than the air. Read both once more."
    )
    assert hot.wrong == "The fluid temperature in °C is 151; it may be -50 to 150."


def test_a_fall_too_small_to_tell_says_how_far_to_wait():
    early = clock((2, "temp_mdegc", 58_500, 3), first=[(1, "temp_mdegc", 60_000, 0), FIRST[1]])
    near = clock((2, "temp_mdegc", 42_000, 9), first=[(1, "temp_mdegc", 43_000, 0), (1, "ambient_mdegc", 39_000, 0)])

    assert (early.clock, early.start_engine_at) == (None, None)
    assert early.wrong == (
        "137 °F (58.5 °C) after 140 °F (60 °C) is too little to tell how fast the fluid cools. "
        "Wait, and read once more at 132 °F (55.5 °C) or colder."
    )
    assert near.wrong.endswith("The air is too near for a clock: read on until the fluid is where the engine starts.")


@pytest.mark.parametrize(("minutes", "again"), [(0.4, 3), (1, 2), (2, 1), (2.99, 1)])
def test_readings_too_near_in_time_make_no_clock_and_say_when_to_read_again(minutes, again):
    found = clock((2, "temp_mdegc", 60_000, minutes))

    assert found.clock is None
    assert found.wrong == (
        "The readings lie less than 3 minutes apart; when each was taken is not known so well. "
        f"Read once more in {again} min or later."
    )
    assert clock((2, "temp_mdegc", 60_000, 3)).clock is not None


def test_air_that_is_too_warm_names_no_moment():
    found = clock((2, "temp_mdegc", 70_000, 9), first=[FIRST[0], (1, "ambient_mdegc", 36_000, 0)])

    assert (found.start_engine_at, found.clock.start) == (None, None)


def engine(state="done", minutes=30, **level):
    """A clock of two readings, with the step that starts the engine and the level behind it."""
    at = BEGAN + timedelta(minutes=minutes)
    steps = (
        *STEPS,
        BayStep(pk=3, code="start_engine", state=state, done_at=at),
        BayStep(pk=4, code="level", limits=level),
    )
    return cooling_of(steps, events(*FIRST, (2, "temp_mdegc", 70_000, 9)), TOOLS)


def test_once_the_engine_runs_nothing_says_to_start_it():
    for found in (engine(), engine(state="redone")):
        assert (found.engine_since, found.start_engine_at) == (BEGAN + timedelta(minutes=30), None)
    assert engine(minutes=9).engine_since == BEGAN + timedelta(minutes=9)


@pytest.mark.parametrize("found", [engine(state="ahead"), engine(state="skipped"), engine(minutes=8)])
def test_an_engine_that_stands_is_still_to_be_started(found):
    assert found.engine_since is None
    assert found.start_engine_at is not None


def test_the_fluid_is_above_its_window_until_the_clock_says_it_opens():
    found, read = clock((2, "temp_mdegc", 70_000, 9)), clock((2, "temp_mdegc", 79_000, 9))
    cold = clock((2, "temp_mdegc", 45_000, 9), first=[(1, "temp_mdegc", 44_000, 0), FIRST[1]])
    warm = clock((2, "temp_mdegc", 70_000, 9), first=[FIRST[0], (1, "ambient_mdegc", 46_000, 0)])

    opens = found.at(found.clock.opens.minutes)
    assert [found.is_above_window(opens + timedelta(seconds=by)) for by in (-1, 0, 1)] == [True, False, False]
    assert (read.clock, read.is_above_window(BEGAN)) == (None, True)
    assert (cold.clock, cold.is_above_window(BEGAN)) == (None, False)
    assert warm.is_above_window(BEGAN + timedelta(days=1))


def test_a_level_with_the_engine_off_starts_none():
    found = engine(state="ahead", is_engine_off=True)

    assert found.is_engine_off
    assert (found.start_engine_at, round(found.clock.closes.minutes, 1)) == (None, 54.1)
