"""The help tells the rule of each place with its citation, and what was only read in a summary."""

from __future__ import annotations

import html

import pytest
from django.test import Client

from shopserv.shop.places import known_places
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
    assert text.count("<b>look up before use</b>") == 1
