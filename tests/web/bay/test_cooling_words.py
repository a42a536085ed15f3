"""What the cool-down clock says before and after the engine runs, and where it stays off."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopserv.calc.cooling import Errors, Reading, cool_clock
from shopserv.common import clock
from shopserv.jobs.bay_cooling import Cooling
from shopserv.web.bay.cooling import cooling_words
from shopserv.web.bay.shown import in_degrees

AT = datetime(2026, 11, 24, 15, 9, tzinfo=UTC)


@pytest.fixture
def said(monkeypatch):
    def say(*, minutes=0, air=18, **more):
        monkeypatch.setattr(clock, "now", lambda: AT + timedelta(minutes=minutes))
        found = cool_clock(
            (Reading(0, 78), Reading(9, 70)), ambient_c=air, window_c=(40, 45), idle_rise_k=4, trust=Errors(1)
        )
        read = ((AT - timedelta(minutes=9), 78_000), (AT, 70_000))
        return cooling_words(Cooling(found, read, air * 1000, (40_000, 45_000), 15, **more), "us")

    return say


def names(words):
    return [row["words"] for row in words["rows"]]


def test_before_it_names_the_start_and_after_its_time_says_now(said):
    early, late = said(minutes=66), said(minutes=67)

    assert early["verdict"].startswith("Start the engine at 96.8 °F (36.0 °C), about ")
    assert late["verdict"].startswith("Start the engine now: by the clock the fluid is at 96.8 °F (36.0 °C) since ")
    assert names(early) == ["window opens", "window closes", "start the engine"]


def test_once_the_engine_runs_it_says_where_the_window_opens_and_closes(said):
    words = said(minutes=70, engine_since=AT + timedelta(minutes=66))

    assert "Start the engine" not in words["verdict"]
    assert "the window opens at 104.0 °F (40.0 °C) and closes at 113.0 °F (45.0 °C)" in words["verdict"]
    assert names(words) == ["engine started"]
    assert "start the engine" not in words["curve"].words.lower()
    assert "window opens" in words["curve"].words
    assert words["curve"].hand_label.words == ""
    assert said(minutes=400, engine_since=AT + timedelta(minutes=300))["curve"].hand is None


def test_an_engine_started_while_the_fluid_is_hot_says_that_it_must_cool_first(said):
    early, later = (said(minutes=70, engine_since=AT + timedelta(minutes=at)) for at in (41, 42))

    assert "the fluid was still above 113.0 °F (45.0 °C): it must cool first. Engine off" in early["verdict"]
    assert "the window opens" not in early["verdict"]
    assert "the window opens at 104.0 °F (40.0 °C)" in later["verdict"]


def test_a_level_with_the_engine_off_names_the_window_alone(said):
    words, warm = said(is_engine_off=True), said(air=42, is_engine_off=True)

    assert words["verdict"].startswith("Engine off: the window opens about ")
    assert names(words) == ["window opens", "window closes"]
    assert warm["verdict"] == "The air is too warm for the fluid to come into its window by itself."


def test_words_of_the_calculation_tell_differences_as_the_instruments_show_them():
    assert in_degrees("thermometer 0.5 K", "us") == "thermometer 0.9 °F"
    assert in_degrees("thermometer 0.5 K", "metric") == "thermometer 0.5 °C"
    assert in_degrees("K-01 and 20 Kits", "us") == "K-01 and 20 Kits"
