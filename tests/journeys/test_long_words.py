"""A very long word that somebody typed stays inside the page, on the telephone and at the desk."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page

from shopserv.jobs.models import Complaint
from shopserv.jobs.services import quotes
from tests.jobs import stage

LONG = "Ungetumwort" * 16


def stretch(version) -> None:
    """Long words wherever the draft and its customer have some."""
    quote = version.quote
    quote.customer.name = LONG[:120]
    quote.customer.save()
    quote.vehicle.model = LONG[:60]
    quote.vehicle.save()
    Complaint.objects.filter(visit=quote.visit).delete()
    Complaint.objects.create(shop=quote.shop, visit=quote.visit, words=LONG)
    version.note = LONG
    version.save()


def runs_off(page: Page) -> int:
    """How many pixels the page is wider than its window."""
    return page.evaluate("document.scrollingElement.scrollWidth - window.innerWidth")


@pytest.mark.parametrize("width", [390, 1280])
def test_the_customers_page_keeps_a_long_word_inside(page, cast_for_races, width):
    cast = cast_for_races
    version = stage.draft(cast)
    stretch(version)
    contact = cast.customer("C-001").contact_points.get(kind="e-mail")
    token = quotes.offer(version, actor=cast.tobin, edition=version.edition, contact=contact).token
    page.set_viewport_size({"width": width, "height": 844})

    page.goto(f"/c/{token}/")

    assert LONG[:100] in page.content()
    assert runs_off(page) <= 0


@pytest.mark.parametrize("width", [390, 1280])
def test_the_quote_sheet_and_the_logbook_keep_a_long_word_inside(page, live_server, cast_for_races, width):
    cast = cast_for_races
    version = stage.draft(cast)
    stretch(version)
    client = Client()
    client.force_login(cast.tobin.staff)
    kept = client.cookies[settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": kept, "url": live_server.url}])
    page.set_viewport_size({"width": width, "height": 844})
    wider = {}

    for address in (
        f"/counter/quote/{version.quote.number}/",
        f"/counter/visit/{version.quote.visit.number}/",
        "/counter/",
        "/records/vehicle/V-01/",
    ):
        page.goto(address)
        wider[address] = max(0, runs_off(page))

    assert {address: by for address, by in wider.items() if by} == {}
