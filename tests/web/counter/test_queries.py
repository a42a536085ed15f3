"""The quote sheet asks the database as often for three hundred lines as for a few: six times at most (performance)."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shopserv.jobs.models import Line, Option
from tests.web.counter.test_flow import key_of, offered, quoted, tobin  # noqa: F401

MOST = 6  # session and user included
MANY = 300


def asked(client, path: str) -> int:
    """Queries of one page, the second time it is opened."""
    client.get(path)
    with CaptureQueriesContext(connection) as queries:
        assert client.get(path).status_code == 200
    return len(queries)


def with_many_lines(option: Option) -> None:
    line = option.lines.order_by("order").last()
    Line.objects.bulk_create(
        Line(
            **{f.attname: getattr(line, f.attname) for f in Line._meta.fields if f.name not in ("id", "order")}, order=n
        )
        for n in range(line.order + 1, line.order + 1 + MANY)
    )


def test_a_draft_of_three_hundred_lines_asks_no_more_than_one_of_a_few(tobin):  # noqa: F811
    quote = quoted(tobin)
    path = f"/counter/quote/{quote.number}/"
    few = asked(tobin, path)

    with_many_lines(Option.objects.get(version__quote=quote, letter="C"))

    assert asked(tobin, path) == few <= MOST


@pytest.mark.parametrize("state", ["offered", "authorized"])
def test_what_is_on_offer_and_what_was_agreed_ask_no_more(tobin, state):  # noqa: F811
    version = offered(tobin)
    path = f"/counter/quote/{version.quote.number}/"
    if state == "authorized":
        fields = {
            "option": "C",
            "person": "Ansel Thornby",
            "capacity": "keeper",
            "way": "in person",
            "amount": "442.95",
        }
        tobin.post(f"{path}authorize/", {"once": key_of(tobin.get(f"{path}authorize/")), **fields})
        assert version.quote.authorizations.filter(state="counted").exists()

    assert asked(tobin, path) <= MOST
