"""A call, a promise, waiting, leaving: the acts around the work, from the page of the visit."""

from __future__ import annotations

import pytest

from shopserv.jobs.models import Visit
from shopserv.jobs.selectors.visits import tries_of
from tests.web.counter.test_flow import key_of, taken_in, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(tobin):  # noqa: F811
    taken_in(tobin)
    return Visit.objects.get(vehicle__number="V-01", state="here")


def act(client, visit, name, **fields):
    page = client.get(f"/counter/visit/{visit.number}/")
    edition = page.context["visit"].edition
    said = {"once": key_of(page), "edition": edition, "act": name, **fields}
    return client.post(f"/counter/visit/{visit.number}/act/", said)


def test_a_vehicle_on_file_is_expected_by_telephone(tobin):  # noqa: F811
    page = tobin.get("/counter/expect/?vehicle=V-08")

    answer = tobin.post("/counter/expect/", {"once": key_of(page), "vehicle": "V-08", "at": "3:15 PM"})

    assert answer.headers["Location"] == "/counter/"
    assert (
        Visit.objects.get(vehicle__number="V-08", state="expected")
        .expected_at.isoformat()
        .startswith("2026-11-24T20:15")
    )


def test_an_expected_vehicle_needs_a_time(tobin):  # noqa: F811
    page = tobin.get("/counter/expect/?vehicle=V-08")

    answer = tobin.post("/counter/expect/", {"once": key_of(page), "vehicle": "V-08", "brought_by": "a neighbor"})

    assert answer.status_code == 422
    assert "a neighbor" in answer.content.decode()
    assert not Visit.objects.filter(vehicle__number="V-08", state="expected").exists()


def test_three_tries_are_kept_with_number_and_time(tobin, visit):  # noqa: F811
    for _ in range(3):
        act(tobin, visit, "try", contact_used="+1 202 555 0111", words="rang out")

    assert [row[1] for row in tries_of(visit)] == ["+1 202 555 0111"] * 3
    assert "tried +1 202 555 0111, not reached" in tobin.get(f"/counter/visit/{visit.number}/").content.decode()


def test_another_promise_needs_a_time_that_lies_ahead(tobin, visit):  # noqa: F811
    past = act(tobin, visit, "promise", at="6:00 AM", words="parts late")
    moved = act(tobin, visit, "promise", at="4:30 PM", words="parts late")

    visit.refresh_from_db()
    assert past.status_code == 422
    assert "parts late" in past.content.decode()
    assert moved.status_code == 302
    assert visit.promised_at.isoformat().startswith("2026-11-24T21:30")


def test_b113_a_promise_on_an_old_page_changes_nothing(tobin, visit):  # noqa: F811
    act(tobin, visit, "promise", at="4:30 PM", edition=visit.edition)
    late = act(tobin, visit, "promise", at="5:00 PM", edition=visit.edition)

    visit.refresh_from_db()
    assert late.status_code == 409
    assert visit.promised_at.isoformat().startswith("2026-11-24T21:30")


def test_b041_a_time_that_the_clocks_skip_is_refused(tobin, visit):  # noqa: F811
    answer = act(tobin, visit, "promise", day="2027-03-14", at="02:30")

    assert answer.status_code == 422
    assert "does not exist" in answer.content.decode()


def test_it_leaves_without_work_and_the_desk_forgets_it(tobin, visit):  # noqa: F811
    act(tobin, visit, "leave", words="will think about it")

    visit.refresh_from_db()
    assert visit.state == "gone"
    assert visit.number not in tobin.get("/counter/").content.decode()


def test_an_act_that_is_none_is_refused(tobin, visit):  # noqa: F811
    assert act(tobin, visit, "sell").status_code == 422
