"""An operation of the price list on the quote sheet: chosen, priced, what it shares shown as taken off."""

from __future__ import annotations

import html

import pytest

from shopserv.common import formats
from shopserv.jobs.services import authorize, quotes
from tests.jobs import stage
from tests.web.counter.test_flow import quoted, sheet_fields, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def test_an_operation_is_added_and_the_overlap_is_a_line_of_its_own(tobin):  # noqa: F811
    quote = quoted(tobin)
    line = {"extra_column": "C", "extra_kind": "operation", "extra_operation": "fill plug repair"}

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="compute", **line))

    assert answer.status_code == 302
    sheet = html.unescape(tobin.get(f"/counter/quote/{quote.number}/").content.decode())
    assert "25, with fill plug repair 0.9 h; overlap removed: 0.2 h" in sheet
    sums = html.unescape(tobin.get(f"/counter/quote/{quote.number}/1/C/").content.decode())
    assert "overlap removed: raise and lower the vehicle, road test and leak check" in sums


@pytest.mark.parametrize(
    ("typed", "words", "field"),
    [
        ({"extra_operation": ""}, "Which operation?", "extra_operation"),
        ({"extra_column": ""}, "To which option?", "extra_column"),
        ({"extra_price": "50.00"}, "leave this empty", "extra_price"),
        ({"extra_operation": "polish"}, "polish", "extra_operation"),
    ],
)
def test_an_operation_that_is_not_whole_is_asked_for(tobin, typed, words, field):  # noqa: F811
    quote = quoted(tobin)
    line = {"extra_column": "A", "extra_kind": "operation", "extra_operation": "adaptation run", **typed}

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="compute", **line))

    text = html.unescape(answer.content.decode())
    assert answer.status_code == 422
    assert words in text
    assert f'href="#id_{field}"' in text


def test_the_work_order_names_each_operation_with_its_own_time(cast, tobin):  # noqa: F811
    quote = quoted(tobin)
    line = {"extra_column": "C", "extra_kind": "operation", "extra_operation": "adaptation run"}
    tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="compute", **line))
    draft = quote.versions.get()
    quotes.offer(draft, actor=cast.tobin, edition=draft.edition)
    option = stage.option(quote.versions.get(), "C")
    order = authorize.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    text = html.unescape(tobin.get(f"/counter/work/{order.number}/").content.decode())

    assert "<li>line exchange, 1.8 h</li>" in text
    assert "<li>adaptation run, 0.4 h</li>" in text


def test_the_visit_shows_what_is_on_offer_and_not_a_plan_beside_it(cast, tobin):  # noqa: F811
    quote = quoted(tobin)
    tobin.post(
        f"/counter/quote/{quote.number}/",
        sheet_fields(tobin, quote, act="compute", recommended="D", why="You keep it for long.", tenths_D="30"),
    )
    draft = quote.versions.get()
    quotes.offer(draft, actor=cast.tobin, edition=draft.edition)
    dearer = quote.versions.get().options.get(letter="D").total_cents

    text = html.unescape(tobin.get(f"/counter/visit/{quote.visit.number}/").content.decode())

    assert f"On offer: {quote.number} version 1" in text
    assert "We recommend D: You keep it for long." in text
    assert text.count("we recommend") == 1
    assert formats.money(dearer) in text
    assert dearer != 64_189
    assert "$641.89" not in text
