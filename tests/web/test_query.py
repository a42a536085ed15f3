"""What stands behind the "?" of an address is known and in its range, or is named in the answer."""

from __future__ import annotations

from datetime import date
from urllib.parse import quote

import pytest
from django.http import HttpResponse
from django.test import RequestFactory

from shopserv.common.errors import Refusal
from shopserv.web.query import LARGEST_KEY, Asked, after_text, says_what_was_asked


def asked(query: str, *known: str) -> Asked:
    return Asked(RequestFactory().get(f"/x/?{query}"), *known)


def refusal_of(query: str, read, *known: str) -> Refusal:
    with pytest.raises(Refusal) as caught:
        read(asked(query, *known))
    return caught.value


def test_a_name_that_is_not_known_is_refused_with_those_that_are():
    refusal = refusal_of("sort=up", lambda a: a, "weeks", "after")

    assert (refusal.status, refusal.field) == (400, "sort")
    assert refusal.message == "“sort” is not known here. Known are: after, weeks."


def test_a_page_that_takes_no_query_says_so():
    assert "Known are: none." in refusal_of("a=1", lambda a: a).message


def test_whole_numbers_stand_in_their_range():
    assert asked("weeks=12", "weeks").whole("weeks", 1, 52, 6) == 12
    assert asked("weeks=", "weeks").whole("weeks", 1, 52, 6) == 6
    assert asked("", "weeks").whole("weeks", 1, 52, 6) == 6


@pytest.mark.parametrize("typed", ["0", "53", "-1", "1.5", "twelve", "1e1", "٣", "9999999", " 3"])
def test_other_numbers_are_refused_with_the_range(typed):
    refusal = refusal_of(f"weeks={typed}", lambda a: a.whole("weeks", 1, 52, 6), "weeks")

    assert (refusal.status, refusal.field) == (400, "weeks")
    assert "a whole number from 1 to 52" in refusal.message


def test_a_word_is_one_of_a_few():
    assert asked("owner=fleets", "owner").one_of("owner", ("all", "fleets"), "all") == "fleets"
    assert asked("", "owner").one_of("owner", ("all", "fleets"), "all") == "all"
    assert (
        "all, fleets"
        in refusal_of("owner=mine", lambda a: a.one_of("owner", ("all", "fleets"), "all"), "owner").message
    )


TODAY = date(2026, 11, 24)
DAYS = [
    ("2026-11-24", TODAY, TODAY),
    ("11/24/2026", TODAY, TODAY),
    ("12/1/2026", date(2026, 12, 1), date(2026, 12, 1)),
    ("Nov 24", TODAY, TODAY),
    ("24 nov.", TODAY, TODAY),
    ("Dec 1", date(2026, 12, 1), date(2025, 12, 1)),
    ("11/20", date(2027, 11, 20), date(2026, 11, 20)),
    ("Feb 29", date(2028, 2, 29), date(2024, 2, 29)),
]


@pytest.mark.parametrize(("typed", "coming", "gone"), DAYS)
def test_a_day_is_read_as_people_write_it_the_year_or_not(typed, coming, gone):
    query = asked(f"on={quote(typed)}", "on")

    assert (query.day("on", TODAY, ahead=True), query.day("on", TODAY, ahead=False)) == (coming, gone)
    assert asked("on=+", "on").day("on", TODAY, ahead=True) is None


@pytest.mark.parametrize("typed", ["2026-02-30", "0000-01-01", "20261124", "tomorrow", "Nov 31", "13/40", "24"])
def test_a_day_that_is_none_is_refused_by_the_name_of_its_field(typed):
    refusal = refusal_of(f"on={quote(typed)}", lambda a: a.day("on", TODAY, ahead=True, label="day"), "on")

    assert (refusal.status, refusal.field) == (400, "on")
    assert refusal.message.startswith("day: ")


def test_the_key_of_the_next_page_comes_back_as_it_was_written():
    key = (date(2026, 11, 24), 17)

    assert asked(f"after={after_text(key)}", "after").after() == key
    assert after_text(None) == ""
    assert asked("", "after").after() is None


@pytest.mark.parametrize("typed", ["17", "2026-11-24", "2026-11-24.", "2026-13-24.1", f"2026-11-24.{LARGEST_KEY + 1}"])
def test_a_key_that_no_link_has_is_refused(typed):
    assert refusal_of(f"after={typed}", lambda a: a.after(), "after").field == "after"


def test_a_row_key_is_one_or_more_and_fits_its_column():
    assert asked(f"before={LARGEST_KEY}", "before").key("before") == LARGEST_KEY
    assert asked("", "before").key("before") is None
    for typed in ("0", "-1", "x", str(LARGEST_KEY + 1)):
        assert refusal_of(f"before={typed}", lambda a: a.key("before"), "before").status == 400


@pytest.mark.django_db
def test_a_view_answers_400_with_the_sentence():
    @says_what_was_asked
    def view(request):
        Asked(request, "weeks")
        return HttpResponse("fine")

    assert view(RequestFactory().get("/x/")).content == b"fine"
    answer = view(RequestFactory().get("/x/?speed=9"))
    assert answer.status_code == 400
    assert "“speed” is not known here" in answer.content.decode()


def test_a_view_lets_other_refusals_pass():
    @says_what_was_asked
    def view(request):
        raise Refusal("Not so.", code="x.y")

    with pytest.raises(Refusal):
        view(RequestFactory().get("/x/"))


def test_a_null_byte_is_refused_by_name_before_any_table_sees_it():
    refusal = refusal_of("who=a%00b", lambda a: a, "who")

    assert (refusal.status, refusal.field) == (400, "who")
    assert "a text without control characters" in refusal.message
