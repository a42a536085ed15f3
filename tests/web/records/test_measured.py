"""The unit sheet beside what our own work has measured."""

from __future__ import annotations

import pytest

from tests.jobs.test_learned import Jobs

pytestmark = pytest.mark.django_db


@pytest.fixture
def maren(signed_in):
    return signed_in("maren")


def text_of(client, code="AL640"):
    answer = client.get(f"/records/unit/{code}/")
    assert answer.status_code == 200
    return answer.content.decode()


def test_too_few_jobs_show_how_many_are_missing(tobin, cast):
    jobs = Jobs(cast)
    for n in range(5):
        jobs.drained(2_900 + n)

    page = text_of(tobin)

    assert "5 of 8 jobs" in page
    assert "3 more say something." in page
    assert "3.06 qt" in page
    assert "needs your decision" not in page


def test_a_sheet_that_says_less_than_was_measured_asks_the_owner(tobin, maren, cast):
    jobs = Jobs(cast)
    for n in range(8):
        jobs.drained(3_010 + 10 * n)

    page, owners = text_of(tobin), text_of(maren)

    assert "The sheet says less than was measured." in page
    assert "3.18 to 3.25 qt (3.01 to 3.08 L) at 99.2" in page
    assert "The shop owner decides whether the sheet gets a new version." in page
    assert "Yours to decide" in owners
    assert "Yours to decide" not in page
    assert 'href="#measured-drain_ml"' in page
    assert 'id="measured-drain_ml"' in page
    assert page.count('class="drawn-ink" x1') >= 8


def test_a_sheet_that_agrees_says_so_and_one_that_says_more_asks(tobin, cast):
    jobs = Jobs(cast)
    for n in range(8):
        jobs.drained(2_870 + 10 * n)
        jobs.job(("drain_pan", []), ("add", [("in_ml", 3_300 + n)]), ("level", []))

    page = text_of(tobin)

    assert "The sheet agrees with what was measured." in page
    assert "The sheet says more than was measured." in page


def test_what_the_sheet_does_not_say_is_shown_as_measured(tobin, cast):
    jobs = Jobs(cast)
    for n in range(8):
        jobs.drained(2_900 + n, unit="DO440")

    assert "The sheet does not say it; this is what was measured." in text_of(tobin, "DO440")


def test_without_any_work_the_lines_stand_empty(tobin, cast):
    page = text_of(tobin)

    assert "0 of 8 jobs" in page
    assert "The sums behind the measured values" not in page
