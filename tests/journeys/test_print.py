"""What the browser prints of a page: nothing cut off, nothing overlaid, nothing that is the shop's own affair."""

from __future__ import annotations

from collections.abc import Callable

import pypdfium2
import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Page

from tests.jobs import stage
from tests.reminders.test_due_page import many

pytestmark = [pytest.mark.browser, pytest.mark.once]


@pytest.fixture
def printed(page: Page, live_server) -> Callable[..., pypdfium2.PdfDocument]:
    """The PDF that the browser of one of the staff makes of an address."""

    def print_(actor, address: str) -> pypdfium2.PdfDocument:
        client = Client()
        client.force_login(actor.staff)
        kept = client.cookies[settings.SESSION_COOKIE_NAME].value
        page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": kept, "url": live_server.url}])
        page.goto(address)
        return pypdfium2.PdfDocument(page.pdf(prefer_css_page_size=True))

    return print_


def shown(actor, address: str) -> str:
    """The page itself."""
    client = Client()
    client.force_login(actor.staff)
    return client.get(address).content.decode()


def words_of(document: pypdfium2.PdfDocument) -> str:
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in document)


def cut_off(document: pypdfium2.PdfDocument) -> list[str]:
    """The words of a page that stand in its right margin or beyond it."""
    found = []
    for page in document:
        text = page.get_textpage()
        for place in range(text.count_chars()):
            if text.get_charbox(place)[2] > page.get_width() - 18:
                found.append(text.get_text_range(place, 1))
    return found


def test_the_quote_sheet_stands_on_one_sheet_without_the_margin_of_the_shop(cast_for_races, printed):
    version = stage.draft(cast_for_races)
    address = f"/counter/quote/{version.quote.number}/"

    document = printed(cast_for_races.maren, address)

    said = words_of(document)
    assert [words for words in ("$183.64", "$395.69", "$442.95", "$641.89", "not included") if words not in said] == []
    assert "margin, you and owner" in shown(cast_for_races.maren, address)
    assert [words for words in ("margin, you and owner", "Change the draft", "save the draft") if words in said] == []
    assert (len(document), cut_off(document)) == (1, [])


def test_no_tube_of_an_option_reaches_into_the_next(cast_for_races, printed, page):
    version = stage.draft(cast_for_races)
    printed(cast_for_races.maren, f"/counter/quote/{version.quote.number}/")
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 965, "height": 700})  # what a sheet of Letter leaves across

    reach = page.evaluate(REACH)

    assert len(reach) == 4
    assert [cell for cell in reach if cell["drawn"] > cell["cell"] + 1] == []


def test_due_soon_is_printed_with_all_its_columns(cast_for_races, printed):
    many(cast_for_races, 12)

    document = printed(cast_for_races.maren, "/office/due-soon/")

    said = words_of(document)
    assert [head for head in ("likely due", "governs", "permission", "work value", "grade") if head not in said] == []
    assert cut_off(document) == []


REACH = """() => [...document.querySelectorAll('.options .tubes td.drawing')].map(cell => ({
    cell: cell.getBoundingClientRect().right,
    drawn: Math.max(...[...cell.querySelectorAll('svg *')].map(mark => mark.getBoundingClientRect().right)),
}))"""
