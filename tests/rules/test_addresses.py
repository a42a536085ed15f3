"""Each address has its row, and every role gets the answer that its rights say."""

from __future__ import annotations

import pytest
from django.urls import URLPattern, URLResolver, get_resolver

from shopserv.shop.rights import RIGHTS
from shopserv.web.addresses import ADDRESSES, LINK, PUBLIC, SIGNED_IN, right_for


def names(patterns, space=""):
    """Names of all routes, with their name spaces."""
    for entry in patterns:
        if isinstance(entry, URLResolver):
            inner = f"{space}{entry.namespace}:" if entry.namespace else space
            yield from names(entry.url_patterns, inner)
        elif isinstance(entry, URLPattern):
            yield f"{space}{entry.name}"


def test_each_address_has_its_row_and_each_row_its_address():
    assert set(names(get_resolver().url_patterns)) == set(ADDRESSES)


def test_each_row_names_a_right_that_exists():
    for row in ADDRESSES.values():
        for right in row if isinstance(row, tuple) else (row,):
            assert right in RIGHTS or right in (PUBLIC, SIGNED_IN, LINK)


def test_an_address_without_a_row_asks_for_a_right_that_nobody_has():
    assert right_for("no:such:address", "GET") is None


@pytest.mark.parametrize("name", [name for name, row in ADDRESSES.items() if row == PUBLIC])
def test_the_public_addresses_are_these_alone(name):
    assert name in {"sign_in", "sign_out", "healthz", "readyz", "security_txt", "records:proof"}
