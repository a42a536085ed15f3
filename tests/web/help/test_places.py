"""The help tells the rule of each place with its citation, and what was only read in a summary."""

from __future__ import annotations

import html

import pytest
from django.test import Client

from shopserv.shop.places import known_places, most_on
from tests.web.counter.test_flow import tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def test_every_place_stands_with_words_citation_and_day(tobin: Client):  # noqa: F811
    text = html.unescape(tobin.get("/help/").content.decode())

    assert len(known_places()) == 6
    for one in known_places():
        assert one.place in text
        assert one.citation in text
        assert one.words in text
        assert f"{one.looked_up_on:%B %-d, %Y}" in text
    assert text.count("<b>look up before use</b>") == 2  # one read in a summary only, and any place that is not known
    for _one, most in most_on(44_295):
        assert f'<td class="number computed">${most / 100:,.2f}</td>' in text


def test_how_far_a_bill_of_442_95_may_go_in_each_place():
    """By hand: the lesser of 10 % and 25.00, the greater of 10 % and 10.00 up to 50.00, and so on; unknown: nothing."""
    found = {one.code: most for one, most in most_on(44_295)}

    assert (found["us-ca"], found["us-co"], found["us-fl"], found[""]) == (44_295, 46_795, 48_724, 44_295)
    assert len(found) == 7
