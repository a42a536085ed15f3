"""Needed beside sold time: by row of the price list, never by person, nothing said before eight jobs."""

from __future__ import annotations

import pytest

from tests.jobs.test_learned import Jobs, timed

pytestmark = pytest.mark.django_db


def text_of(client):
    answer = client.get("/office/sold-needed/")
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize(
    ("minutes", "tenths", "says", "ratio"),
    [
        (40, 5, "It takes longer than it is sold for.", "1.45"),
        (40, 10, "It takes less than it is sold for.", "0.73"),
        (40, 7, "What is sold lies within what it takes.", "1.04"),
    ],
)
def test_eight_jobs_say_whether_the_price_pays(maren, cast, minutes, tenths, says, ratio):
    jobs = Jobs(cast)
    for n in range(8):
        timed(jobs, (0, 20, minutes + n), tenths=tenths)

    page = text_of(maren)

    assert says in page
    assert f">{ratio}<" in page
    assert "8 jobs" in page
    assert cast.odo.staff.name not in page


def test_fewer_say_how_many_are_missing_and_no_figure(maren, cast):
    jobs = Jobs(cast)
    timed(jobs, (0, 40))
    timed(jobs, (0, 40), added=[{"tenths": 1}])

    page = text_of(maren)

    assert "1 of 8 jobs" in page
    assert "7 more say something." in page
    assert "1 with work added or another option on the way" in page
    assert "needs your decision" not in page


def test_sheets_that_do_not_agree_are_named_and_lead_there(maren, cast):
    jobs = Jobs(cast)
    for n in range(8):
        jobs.drained(3_010 + n)

    page = text_of(maren)

    assert 'href="/records/unit/AL640/#measured"' in page
    assert "out by the drain plug: the sheet says 3.06 qt (2.90 L), 8 jobs have shown 3.18 qt (3.01 L)." in page


def test_without_closed_work_it_says_so(maren, cast):
    assert "No closed work tells it yet." in text_of(maren)
