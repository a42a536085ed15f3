"""The due-soon strip and the planning of reminders, through the pages."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from shopserv.outbox.models import Letter
from shopserv.reminders.models import Reminder
from shopserv.shop.models import TrailEntry
from tests.reminders.test_due_page import many
from tests.web.office.conftest import browser

PAGE = "/office/due-soon/"
PLAN = "/office/due-soon/plan/"
LINE = re.compile(r'<tr data-line="([^"]+)"')
pytestmark = pytest.mark.django_db


def lines(answer) -> list[str]:
    """Numbers of the vehicles on a page, from top to bottom."""
    return LINE.findall(answer.content.decode())


def key_of(answer) -> str:
    return re.search(r'name="once" value="([^"]+)"', answer.content.decode()).group(1)


def plan(client, *numbers, **more):
    """Press the main act with these lines marked."""
    return client.post(PLAN, {"once": key_of(client.get(PAGE)), "vehicle": numbers, **more})


def planned() -> list[str]:
    """Numbers of the vehicles whose keepers are to be written to."""
    return sorted(Reminder.objects.filter(state="planned").values_list("vehicle__number", flat=True))


def line_of(client, number: str) -> str:
    text = client.get(PAGE).content.decode()
    return re.search(rf'<tr data-line="{number}".*?</tr>', text, re.DOTALL).group(0)


def said(client) -> str:
    text = client.get(PAGE).content.decode()
    return re.search(r'role="status">(.*?)</div>', text, re.DOTALL).group(1)


def test_the_lines_stand_in_the_order_of_their_likely_day(maren):
    answer = maren.get(PAGE, {"weeks": "6"})

    text = answer.content.decode()
    assert answer.status_code == 200
    assert lines(answer)[:4] == ["V-09", "V-01", "V-05", "V-11"]
    assert "past by 1,078 days" in text
    assert "Both factors shorten the distance, moisture alone the months." in text


def test_a_line_says_clock_left_permission_value_and_grade(maren):
    text = maren.get(PAGE).content.decode()

    line = re.search(r'<tr data-line="V-12".*?</tr>', text, re.DOTALL).group(0)
    for words in ("Jul 2", "Lowell Ferncastle", "months", "−5", "reminders", "$577.30", "needs your decision"):
        assert words in line


def test_the_day_of_the_line_above_is_a_ditto_mark_with_the_day_for_readers(maren):
    text = maren.get(PAGE).content.decode()

    line = re.search(r'<tr data-line="F-37".*?</tr>', text, re.DOTALL).group(0)
    assert '<span aria-hidden="true">″</span><span class="for-readers-only">Nov 25</span>' in line


def test_a_distance_run_through_stands_on_the_day_the_readings_say_and_says_how_long_ago(maren):
    text = maren.get(PAGE).content.decode()

    line = re.search(r'<tr data-line="F-07".*?</tr>', text, re.DOTALL).group(0)
    for words in ("Aug 29", "crossed between two readings", "past by 87 days", "−7,887"):
        assert words in line
    assert "Nov 20" not in line


def test_the_owner_sees_both_shops_and_marks_the_own_alone(maren):
    text = maren.get(PAGE).content.decode()

    assert 'value="V-09" form="plan"' in text
    assert 'value="V-01" form="plan"' not in text
    assert "V-01" not in lines(maren.get(PAGE, {"shop": "own"}))


def test_a_writer_sees_the_own_shop_whatever_the_address_asks_for(tobin, lise):
    assert "V-01" not in lines(tobin.get(PAGE, {"shop": "both"}))
    assert "V-01" in lines(lise.get(PAGE, {"shop": "both"}))
    assert "V-09" not in lines(lise.get(PAGE, {"shop": "both"}))


def test_fleets_and_people_are_told_apart(maren):
    assert {number[0] for number in lines(maren.get(PAGE, {"owner": "fleets"}))} == {"F"}
    assert {number[0] for number in lines(maren.get(PAGE, {"owner": "people"}))} == {"V"}


def test_a_range_of_days_is_shown_and_kept(maren):
    answer = maren.get(PAGE, {"due_from": "2026-11-25", "due_to": "2026-11-29"})

    assert lines(answer) == ["F-30", "F-37", "F-04"]
    assert 'value="2026-11-25"' in answer.content.decode()


def test_b107_a_range_upside_down_is_named_and_kept(maren):
    answer = maren.get(PAGE, {"due_from": "2026-12-01", "due_to": "2026-11-01"})

    text = answer.content.decode()
    assert answer.status_code == 400
    assert "due to: Nov 1, 2026 lies before due from, Dec 1, 2026. Give the earlier day first." in text
    assert 'value="2026-12-01"' in text
    assert 'value="2026-11-01"' in text


def test_days_are_typed_as_people_write_them_and_a_wrong_one_keeps_the_page(maren):
    right = maren.get(PAGE, {"due_from": "11/25/2026", "due_to": "Nov 29"})
    wrong = maren.get(PAGE, {"due_from": "Nov 25", "due_to": "soon", "owner": "people"})

    assert lines(right) == lines(maren.get(PAGE, {"due_from": "2026-11-25", "due_to": "2026-11-29"}))
    assert wrong.status_code == 400
    text = wrong.content.decode()
    assert "due to: “soon” is not a date." in text
    assert 'name="due_from" value="Nov 25">' in text
    assert 'name="due_to" value="soon" aria-invalid="true">' in text
    assert '<input type="hidden" name="owner" value="people">' in text


@pytest.mark.parametrize(
    "query",
    ["sort=up", "weeks=0", "weeks=53", "shop=theirs", "owner=me", "due_from=soon", "after=1", "after=2026-01-01.x"],
)
def test_b104_b105_what_cannot_be_meant_is_refused_by_name(maren, query):
    answer = maren.get(f"{PAGE}?{query}")

    assert answer.status_code == 400
    assert query.partition("=")[0] in answer.content.decode()


def test_no_one_due_is_one_sentence(maren):
    answer = maren.get(PAGE, {"due_from": "2026-11-22", "due_to": "2026-11-22"})

    assert lines(answer) == []
    assert "No one due until Nov 22, 2026." in answer.content.decode()


def test_pages_by_key_show_every_line_once(cast, maren):
    many(cast, 120)
    seen, url = [], PAGE
    for _ in range(3):
        answer = maren.get(url)
        seen += lines(answer)
        found = re.search(r'href="([^"]+)" rel="next"', answer.content.decode())
        url = found.group(1).replace("&amp;", "&") if found else ""

    assert url == ""
    assert len(seen) == len(set(seen)) == 120


@pytest.mark.parametrize("rows", [1, 300])
def test_the_page_takes_six_queries(cast, maren, rows, django_assert_num_queries):
    many(cast, rows)

    with django_assert_num_queries(6):  # session, person with grants and shops, lines, two counts, weeks
        answer = maren.get(PAGE)

    assert len(lines(answer)) == min(rows, 50)


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_a_technician_and_the_parts_keeper_are_refused(cast, who):
    client = browser(getattr(cast, who))

    assert client.get(PAGE).status_code == 403
    assert client.post(PLAN, {"once": "k", "vehicle": ["V-12"]}).status_code == 403
    assert planned() == []


def test_a_stranger_is_sent_to_the_sign_in(client, cast):
    assert client.get(PAGE).headers["Location"].startswith("/sign-in/")


def test_the_marked_lines_get_one_reminder_each(tobin):
    answer = plan(tobin, "V-12", "F-18")

    assert answer.headers["Location"] == PAGE
    assert planned() == ["F-18", "V-12"]
    assert Letter.objects.filter(purpose="reminder", state="waiting").count() == 2
    assert "2 reminders planned. To be sent: Nov 24 to Dec 8, 2026." in said(tobin)
    assert TrailEntry.objects.filter(what="reminders planned").count() == 1


def test_a_keeper_without_permission_is_left_out_with_the_reason(tobin):
    plan(tobin, "V-03")

    assert planned() == []
    assert "V-03 left out: no permission for reminders at an e-mail address of Corin Daventhorpe." in said(tobin)


def test_a_vehicle_of_the_other_shop_is_left_out(tobin):
    plan(tobin, "V-01", "no such")

    text = said(tobin)
    assert planned() == []
    assert "V-01 left out: not on the list of this shop." in text
    assert "no such left out: not on the list of this shop." in text


def test_nothing_marked_is_said_and_nothing_is_planned(tobin):
    answer = plan(tobin)

    assert answer.status_code == 422
    assert "Mark the vehicles whose keepers are to be written to." in answer.content.decode()
    assert TrailEntry.objects.filter(what="reminders planned").count() == 0


def test_a_planning_sent_twice_plans_once(tobin):
    key = key_of(tobin.get(PAGE))

    answers = [tobin.post(PLAN, {"once": key, "vehicle": ["V-12"]}) for _ in range(2)]

    assert [a.headers["Location"] for a in answers] == [PAGE, PAGE]
    assert len(planned()) == Letter.objects.filter(purpose="reminder").count() == 1


def test_many_that_are_left_out_are_counted_after_the_eighth(tobin):
    plan(tobin, *(f"X-{n}" for n in range(11)))

    text = said(tobin)
    assert text.count("left out: not on the list") == 8
    assert "3 more left out." in text


def test_a_planned_reminder_is_told_on_its_line(tobin):
    plan(tobin, "F-18")

    line = re.search(r'<tr data-line="F-18".*?</tr>', tobin.get(PAGE).content.decode(), re.DOTALL).group(0)
    assert "planned Dec 8" in line


def test_what_is_planned_for_the_marked_is_stopped_with_its_letter(tobin):
    plan(tobin, "V-12", "F-18")

    answer = plan(tobin, "F-18", act="stop")

    assert answer.headers["Location"] == PAGE
    assert planned() == ["V-12"]
    assert sorted(Letter.objects.filter(purpose="reminder").values_list("state", flat=True)) == ["canceled", "waiting"]
    assert "1 reminder stopped." in said(tobin)


def test_what_was_stopped_is_told_with_its_reason_and_may_be_planned_again(tobin):
    plan(tobin, "V-12")
    plan(tobin, "V-12", act="stop")

    stopped = line_of(tobin, "V-12")
    assert tobin.get(PAGE).content.decode().count(">stopped</span>") == 2  # this line alone, its phone's words too
    plan(tobin, "V-12")

    assert '<span title="stopped: stopped by the office">stopped</span>' in stopped
    assert planned() == ["V-12"]
    assert "planned Nov 24" in line_of(tobin, "V-12")
    assert "stopped" not in line_of(tobin, "V-12")
    mine = Reminder.objects.filter(vehicle__number="V-12")
    assert sorted(mine.values_list("state", flat=True)) == ["planned", "stopped"]
    assert sorted(Letter.objects.filter(purpose="reminder").values_list("state", flat=True)) == ["canceled", "waiting"]


def test_what_was_stopped_long_ago_is_not_told_any_more(cast, tobin):
    plan(tobin, "V-12")
    plan(tobin, "V-12", act="stop")
    Reminder.objects.update(send_on=cast.today - timedelta(days=31))

    assert "stopped" not in line_of(tobin, "V-12")


def test_less_than_two_months_are_told_in_days(maren):
    assert '12 <span class="unit">d</span>' in line_of(maren, "V-07")
    assert '−5 <span class="unit">mo</span>' in line_of(maren, "V-12")


def test_on_a_phone_what_is_past_is_told_as_past(maren):
    assert '<span class="on-phone">past by 5 <span class="unit">mo</span></span>' in line_of(maren, "V-12")


def test_a_second_line_holds_what_a_phone_has_no_columns_for(tobin):
    plan(tobin, "F-18")

    line = line_of(tobin, "F-18")
    assert '<span class="on-phone">2,063 <span class="unit">mi</span> left</span>' in line
    assert '<span class="on-phone">planned Dec 8</span>' in line


def test_stopping_where_nothing_is_planned_is_said_and_the_marks_are_kept(tobin):
    answer = plan(tobin, "F-18", act="stop")

    text = answer.content.decode()
    assert answer.status_code == 422
    assert "No reminder is planned for what is marked." in text
    assert re.search(r'value="F-18" [^>]*checked', text)


def test_enter_in_the_form_plans_and_never_stops(tobin):
    form = re.search(r'<form id="plan".*?</form>', tobin.get(PAGE).content.decode(), re.DOTALL).group(0)

    assert re.findall(r'type="submit" name="act" value="(\w+)"', form) == ["plan", "stop"]
