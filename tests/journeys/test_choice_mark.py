"""The mark beside each option of the customer's page: seen, large enough, and filled when chosen."""

from __future__ import annotations

import pytest

from shopserv.jobs.services import quotes
from tests.jobs.stage import draft

SEEN = """mark => {
  const style = getComputedStyle(mark), box = mark.getBoundingClientRect();
  const on_top = document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
  return style.opacity === "1" && style.visibility === "visible" && box.width >= 18 && box.height >= 18
    && box.x >= 0 && (on_top === mark || on_top.contains(mark));
}"""


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_each_option_has_a_mark_that_is_seen(page, cast_for_races, scheme):
    cast = cast_for_races
    version = draft(cast)
    contact = version.quote.customer.contact_points.get(kind="e-mail")
    token = quotes.offer(version, actor=cast.tobin, edition=version.edition, contact=contact).token
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(color_scheme=scheme)
    page.goto(f"/c/{token}/")

    marks = page.locator(".choice input[type=radio]")

    assert marks.count() == 4
    for number in range(4):
        marks.nth(number).scroll_into_view_if_needed()
        assert marks.nth(number).evaluate(SEEN)
    page.locator(".choice", has_text="Cooler-line fluid exchange").first.click()
    assert page.locator("#say-c").is_checked()
    page.keyboard.press("ArrowUp")
    outline = page.locator(".choice:has(#say-b)").evaluate("row => getComputedStyle(row).outlineStyle")
    assert outline == "solid"
