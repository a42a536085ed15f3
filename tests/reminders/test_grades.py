"""The grade of a due line. Source: design.md section 3, "Grades of a due line"."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest

from shopserv.reminders.grades import Due, grade_of

TODAY = date(2026, 11, 24)
FINE = Due(
    today=TODAY,
    due_on=TODAY + timedelta(days=30),
    early_on=TODAY + timedelta(days=20),
    late_on=TODAY + timedelta(days=40),
    governs="distance",
    left=Fraction(2000),
    interval=Fraction(30_000),
    interval_months=48,
    last_reading_on=TODAY,
)
WIDE = "wide band: needs a reading"
PAST = replace(FINE, due_on=TODAY - timedelta(days=1), early_on=TODAY - timedelta(days=1), late_on=TODAY)


def test_inside_the_lead_days_is_as_it_should_be():
    assert grade_of(FINE) == ("as it should be", "")


def test_due_today_is_not_past_due():
    assert grade_of(replace(FINE, due_on=TODAY))[0] == "as it should be"


@pytest.mark.parametrize(
    ("due", "grade", "words"),
    [
        (replace(PAST, left=Fraction(-3000)), "watch", "past due"),
        (replace(PAST, left=Fraction(-3001)), "needs your decision", "past due by more than a tenth of its interval"),
        # the months ended yesterday, the distance long before: no less grave than by distance alone
        (replace(PAST, governs="months", left=Fraction(-3000)), "watch", "past due"),
        (
            replace(PAST, governs="months", left=Fraction(-3001)),
            "needs your decision",
            "past due by more than a tenth of its interval",
        ),
        (replace(FINE, late_on=None), "watch", "wide band: needs a reading"),
        (replace(FINE, late_on=TODAY + timedelta(days=80)), "as it should be", ""),
        (replace(FINE, late_on=TODAY + timedelta(days=81)), "watch", "wide band: needs a reading"),
        (replace(FINE, last_reading_on=TODAY - timedelta(days=60)), "as it should be", ""),
        (replace(FINE, last_reading_on=TODAY - timedelta(days=61)), "watch", "no reading for 60 days"),
        (replace(FINE, doubt="the unit is in doubt"), "needs your decision", "the unit is in doubt"),
        (replace(FINE, unexplained=1), "watch", "a reading was set aside and nobody can tell which is wrong"),
        (replace(FINE, doubted=("83,610 mi", "9 mi")), "watch", "a reading is doubted: 83,610 mi, 9 mi"),
        # a band that begins more than 60 days ahead is as wide as it is far
        (replace(FINE, early_on=TODAY + timedelta(days=60), late_on=TODAY + timedelta(days=400)), "watch", WIDE),
        (replace(FINE, early_on=TODAY + timedelta(days=61), late_on=None), "as it should be", ""),
        (replace(FINE, unknown_fluid=True), "watch", "an earlier fluid is not known by product"),
        (replace(FINE, missing="needs a second reading"), "watch", "needs a second reading"),
        (replace(PAST, stop="coolant suspected", doubt="x"), "stop", "coolant suspected"),
    ],
)
def test_each_burden_has_its_grade_and_its_words(due, grade, words):
    assert grade_of(due) == (grade, words)


@pytest.mark.parametrize(("days", "grade"), [(146, "watch"), (147, "needs your decision")])
def test_by_months_a_tenth_of_48_months_is_146_days(days, grade):
    # 48 x 30.436875 / 10 = 146.097 days
    due = TODAY - timedelta(days=days)

    assert grade_of(replace(FINE, governs="months", due_on=due, early_on=due, late_on=due))[0] == grade


def test_several_mild_reasons_are_all_said():
    reasons = grade_of(replace(FINE, late_on=None, last_reading_on=TODAY - timedelta(days=90)))

    assert reasons == ("watch", "wide band: needs a reading; no reading for 60 days")
