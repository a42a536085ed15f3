"""The page of the trail: entries with their day, filters, older pages, and whether it is as it was written."""

from __future__ import annotations

import re

import pytest

from shopserv.common import frozen
from shopserv.shop import trail
from shopserv.shop.models import TrailEntry
from shopserv.web.office.trail import changes_of
from tests.web.office.conftest import browser

PAGE = "/office/trail/"
pytestmark = pytest.mark.django_db


def lines(answer) -> list[int]:
    return [int(pk) for pk in re.findall(r'<tr data-line="(\d+)"', answer.content.decode())]


def many(cast, count):
    """The trail of Brindlewick filled up to `count` entries."""
    for n in range(count - TrailEntry.objects.filter(shop=cast.brw).count()):
        trail.write(cast.tobin, "something done", cast.vehicle("V-01"), n=n)
    trail.seal()


def test_an_entry_says_when_who_what_on_which_thing_and_what_changed(cast, maren):
    trail.write(cast.tobin, "promise changed", cast.vehicle("V-12"), before={"state": "here"}, state="ready")

    text = maren.get(PAGE).content.decode()

    for words in ("Nov 24", "7:30", "Tobin Ashgrave", "promise changed", "V-12", "state: here → ready"):
        assert words in text


def test_a_name_narrows_the_page_to_its_entries(cast, maren):
    trail.write(cast.tobin, "one", cast.vehicle("V-12"))
    trail.write(cast.odo, "two", cast.vehicle("V-12"))

    text = maren.get(PAGE, {"who": "Odo Brackley"}).content.decode()

    assert "two" in text
    assert "<td>one</td>" not in text
    assert '<option value="Odo Brackley" selected>' in text


def test_a_refused_try_stands_in_bold_and_is_found_alone(cast, maren):
    trail.write(cast.tobin, "one", cast.vehicle("V-12"))
    trail.refused(cast.odo, "override refused", cast.vehicle("V-12"))
    trail.write_refused()

    text = maren.get(PAGE, {"only": "refused"}).content.decode()

    assert "<b>override refused</b>" in text
    assert "<td>one</td>" not in text


def test_words_that_look_like_markup_are_shown_as_words(cast, maren):
    trail.write(cast.tobin, "<i>x</i>", cast.vehicle("V-12"), words="<script>1</script>")

    text = maren.get(PAGE).content.decode()

    assert "&lt;i&gt;x&lt;/i&gt;" in text
    assert "<script>1" not in text


def test_older_entries_follow_by_key(cast, maren):
    many(cast, 60)

    first = maren.get(PAGE)
    url = re.search(r'href="([^"]+)" rel="next"', first.content.decode()).group(1).replace("&amp;", "&")
    second = maren.get(url)

    seen = lines(first) + lines(second)
    assert len(lines(first)) == 50
    assert seen == sorted(set(seen), reverse=True)
    assert 'rel="next"' not in second.content.decode()


@pytest.mark.parametrize("rows", [1, 300])
def test_the_page_takes_four_queries(cast, maren, rows, django_assert_num_queries):
    many(cast, rows)

    with django_assert_num_queries(4):  # session, person with grants and shops, entries, people
        answer = maren.get(PAGE)

    assert len(lines(answer)) == min(rows, 50)


def test_the_whole_chain_is_checked_when_asked(cast, maren):
    many(cast, 5)

    assert "What stands on this page is as it was sealed." in maren.get(PAGE).content.decode()
    assert f"All {TrailEntry.objects.count()} entries of the house are as they were written" in (
        maren.get(PAGE, {"check": "whole"}).content.decode()
    )


def test_an_entry_changed_behind_our_back_is_named(cast, maren):
    many(cast, 5)
    row = TrailEntry.objects.filter(shop=cast.brw).order_by("pk")[2]
    frozen.lift_guards()
    TrailEntry.objects.filter(pk=row.pk).update(what="nothing done")
    frozen.set_guards()

    text, checked = (maren.get(PAGE, query).content.decode() for query in ({}, {"check": "whole"}))

    assert f"Not as it was sealed on this page: entry {row.pk}." in text
    assert "changed after it was sealed" in text
    assert f"The chain does not hold at entry {row.pk}:" in checked


def test_no_entry_that_fits_is_one_sentence_with_its_way_out(maren):
    text = maren.get(PAGE, {"thing": "BRW-W-9999"}).content.decode()

    assert "No entry fits." in text
    assert f'<a href="{PAGE}">Show all</a>' in text
    assert 'value="BRW-W-9999"' in text


def test_the_foot_says_which_refusals_are_kept_and_keeps_to_it(cast, maren):
    before = TrailEntry.objects.count()
    assert browser(cast.odo).get(PAGE).status_code == 403

    text = " ".join(maren.get(PAGE).content.decode().split())

    assert "In bold: deeds that a rule refused, wrong PINs and wrong sign-ins" in text
    assert "A page that was not opened for somebody's role leaves no entry." in text.replace("&#x27;", "'")
    assert TrailEntry.objects.count() == before


def test_a_day_is_typed_as_people_write_it_and_a_wrong_one_keeps_the_filters(maren):
    right = maren.get(PAGE, {"on": "Nov 24"})
    wrong = maren.get(PAGE, {"on": "Novembre 24", "thing": "BRW-W-9999"})

    assert right.status_code == 200
    assert wrong.status_code == 400
    text = wrong.content.decode()
    assert "day: “Novembre 24” is not a date. Type it as Nov 24, 2026 or 2026-11-24." in text
    assert 'value="Novembre 24" aria-invalid="true"' in text
    assert 'name="thing" value="BRW-W-9999"' in text


@pytest.mark.parametrize("query", ["page=2", "on=yesterday", "only=mine", "of=theirs", "before=0", "check=yes"])
def test_what_cannot_be_meant_is_refused_by_name(maren, query):
    answer = maren.get(f"{PAGE}?{query}")

    assert answer.status_code == 400
    assert query.partition("=")[0] in answer.content.decode()


@pytest.mark.parametrize("name", ["thing", "who"])
def test_a_null_byte_is_refused(maren, name):
    assert maren.get(PAGE, {name: "a\x00b"}).status_code == 400


@pytest.mark.parametrize("who", ["tobin", "odo", "sam", "lise"])
def test_the_others_are_refused(cast, who):
    assert browser(getattr(cast, who)).get(PAGE).status_code == 403


def test_changes_are_told_in_a_few_words_and_in_full_behind_them():
    told = changes_of({"state": "here", "gone": "x"}, {"state": "ready", "amount_cents": 44295, "totals": {"A": 18364}})

    assert told == "state: here → ready; gone: x before; amount: $442.95; totals: A $183.64"
    assert changes_of({}, {}) == ""
    assert changes_of({}, {"words": "y" * 100}) == (
        f"<details><summary>words: {'y' * 59}…</summary>words: {'y' * 100}</details>"
    )
    assert changes_of({}, {"a": 1, "b": 2, "c": 3, "d": None, "e": True}) == (
        "<details><summary>a: 1; b: 2; c: 3; d: –</summary>a: 1; b: 2; c: 3; d: –; e: yes</details>"
    )
