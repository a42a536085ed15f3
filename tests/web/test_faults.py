"""What went wrong has a page with words and a way on."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.web.counter.test_flow import offered, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def test_an_address_that_is_only_pressed_leads_back_to_its_page(tobin):  # noqa: F811
    quote = offered(tobin).quote
    above = {
        f"/counter/visit/{quote.visit.number}/act/": f"/counter/visit/{quote.visit.number}/",
        f"/counter/quote/{quote.number}/revise/": f"/counter/quote/{quote.number}/",
        "/office/due-soon/plan/": "/office/due-soon/",
        "/sign-out/": "/",
    }

    answers = {path: tobin.get(path) for path in above}

    assert {path: answer.status_code for path, answer in answers.items()} == dict.fromkeys(above, 405)
    assert [
        path for path, answer in answers.items() if f'<a href="{above[path]}">' not in answer.content.decode()
    ] == []
    assert {answer.headers["Allow"] for answer in answers.values()} == {"POST"}


def test_a_page_asked_to_be_deleted_says_what_it_allows(db):
    answer = Client().delete("/sign-in/")

    assert answer.status_code == 405
    assert answer.headers["Allow"] == "GET, HEAD, POST"
    assert "Not in this way" in answer.content.decode()
