"""One day of the shop through its pages, as the people of the cast press them; each page is kept as a picture."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

from django.conf import settings
from playwright.sync_api import Page

from shopserv.jobs.models import QuoteVersion
from shopserv.logbook.selectors import last_counted
from shopserv.registry.models import Vehicle
from shopserv.shop.models import Staff

PICTURES = Path(os.environ.get("PICTURES", Path(settings.BASE_DIR) / "var" / "pictures"))


class Day:
    """What the people do to one vehicle, from the telephone to the reminder."""

    def __init__(self, page: Page, vehicle: str) -> None:
        self.page, self.vehicle, self.count = page, vehicle, 0
        self.visit = self.quote = self.order = ""

    def picture(self, name: str) -> None:
        """Keep what is on the screen, numbered in the order of the day."""
        self.count += 1
        PICTURES.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=PICTURES / f"{self.vehicle}-{self.count:02}-{name}.png", full_page=True)

    def sign_in(self, first_name: str) -> None:
        """Somebody else sits down."""
        self.page.context.clear_cookies()
        self.page.goto("/sign-in/")
        self.page.fill("[name=sign_in]", Staff.objects.get(name__startswith=f"{first_name} ").sign_in)
        self.page.fill("[name=phrase]", settings.DEMO_PHRASE)
        self.main_act()

    def main_act(self) -> None:
        """Press the one main act of the page and wait for the page that follows."""
        with self.page.expect_navigation():
            self.page.locator(".main-act:visible").first.click()

    def words(self) -> str:
        """All that can be read on the page, white space evened."""
        return " ".join(self.page.inner_text("body").split())

    def fill_in(self, name: str, typed: str) -> None:
        """Type, choose or tick, whatever the field is."""
        fields = self.page.locator(f"[name={name}]")
        match fields.first.evaluate("one => one.type"):
            case "radio" | "checkbox":
                self.page.check(f"[name={name}][value='{typed}']")
            case "select-one":
                fields.select_option(typed)
            case _:
                fields.fill(typed)

    def take_in(self, **answers: str) -> None:
        """Find the vehicle in one box, fill in the slip; the odometer has gone on by twenty."""
        self.page.goto("/counter/")
        self.picture("desk")
        self.page.goto(f"/counter/intake/?vehicle={self.vehicle}")
        last = last_counted(Vehicle.objects.get(number=self.vehicle))
        self.page.fill("[name=odometer]", f"{last.figure + 20:,}")
        for question in self.page.locator(".question").all():
            question.locator("input[value=no]").check()
        for name, typed in answers.items():
            self.page.fill(f"[name={name}]", typed)
        self.picture("intake")
        self.main_act()
        self.visit = re.search(r"[A-Z]{3}-V-\d+", self.page.url).group()
        self.picture("plan")

    def write_quote(self) -> None:
        """The plan written down as a draft."""
        self.main_act()
        self.quote = re.search(r"[A-Z]{3}-Q-\d+", self.page.url).group()
        self.picture("draft")

    def offer(self, *, with_link: bool = False) -> str:
        """Put the draft on offer; the customer's link, empty where none was asked for."""
        if with_link:
            self.page.select_option("[name=contact]", index=1)
        self.main_act()
        self.picture("offered")
        link = self.page.locator("a.customer-link")
        return link.get_attribute("href") if link.count() else ""

    def recommended(self) -> str:
        """The letter of the option that the quote recommends, and its amount."""
        return QuoteVersion.objects.get(quote__number=self.quote, state="offered").recommended

    def check_words(self) -> str:
        """As the writer reads them off the page."""
        return re.search(r"Check words: ([a-z]+ [a-z]+)", self.words()).group(1)

    def yes_by_link(self, link: str, letter: str, person: str) -> None:
        """The customer, on a telephone, without signing in."""
        self.page.context.clear_cookies()
        self.page.set_viewport_size({"width": 390, "height": 844})
        self.page.goto("/c/" + link.split("/c/")[1])
        self.page.check(f"[name=option][value={letter}]", force=True)
        self.page.fill("[name=person]", person)
        self.picture("decision")
        self.main_act()
        self.picture("decided")
        self.page.set_viewport_size({"width": 1280, "height": 800})

    def yes_recorded(self, letter: str, **fields: Any) -> None:
        """The writer records what was said."""
        total = (
            QuoteVersion.objects.get(quote__number=self.quote, state="offered").options.get(letter=letter).total_cents
        )
        self.page.goto(f"/counter/quote/{self.quote}/authorize/")
        self.page.fill("[name=amount]", f"{total / 100:.2f}")
        self.fill_in("option", letter)
        for name, typed in fields.items():
            self.fill_in(name, typed)
        self.picture("authorize")
        self.main_act()
        self.picture("after")
        self.order = re.search(r"[A-Z]{3}-W-\d+", self.page.url).group()
        self.picture("work-order")
