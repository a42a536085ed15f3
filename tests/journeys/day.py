"""One day of the shop through its pages, as the people of the cast press them; each page is kept as a picture."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pypdfium2 as pdfium
from django.conf import settings
from playwright.sync_api import Page

from shopserv.demo.house import demo_pin
from shopserv.jobs.bay_readings import is_planned
from shopserv.jobs.models import BayStep, QuoteVersion, WorkOrder
from shopserv.logbook.selectors import last_counted
from shopserv.registry.models import Vehicle
from shopserv.shop.models import Staff
from shopserv.web.bay.figures import from_base, plain

PICTURES = Path(settings.BASE_DIR) / "var" / "pictures"
README_PICTURES = Path(settings.BASE_DIR) / "docs" / "pictures"  # kept there when KEEP_README_PICTURES is set
IN_README = {"V-01": ("offered", "due-soon", "bay-pump", "logbook")}

COOLING = {"cool_down_1": 3000, "cool_down_2": 2000}  # above the window's low edge, in thousandths of a °C


class Day:
    """What the people do to one vehicle, from the telephone to the reminder."""

    def __init__(self, page: Page, vehicle: str) -> None:
        self.page, self.vehicle, self.count = page, vehicle, 0
        self.visit = self.quote = self.order = ""

    def picture(self, name: str) -> None:
        """Keep what is on the screen, numbered in the order of the day."""
        self.count += 1
        PICTURES.mkdir(parents=True, exist_ok=True)
        whole = "/bay/" not in self.page.url  # the keys of the bay stay on the screen
        taken = self.page.screenshot(path=PICTURES / f"{self.vehicle}-{self.count:02}-{name}.png", full_page=whole)
        if os.environ.get("KEEP_README_PICTURES") and name in IN_README.get(self.vehicle, ()):
            (README_PICTURES / f"{name}.png").write_bytes(taken)

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

    def open_work(self) -> None:
        """The work that the customer's own yes wrote up."""
        self.page.goto(f"/counter/quote/{self.quote}/")
        self.main_act()
        self.order = re.search(r"[A-Z]{3}-W-\d+", self.page.url).group()
        self.picture("work-order")

    def clear(self) -> None:
        """A bay and a technician for the work."""
        self.page.goto(f"/counter/work/{self.order}/")
        self.page.select_option("[name=bay]", label="North")
        self.page.select_option("[name=technician]", label="Odo Brackley")
        self.main_act()
        self.picture("cleared")

    def touch(self) -> None:
        """Press the big key of a bay page, or that the planned amount was read, and wait for the page that follows."""
        same = self.page.locator("[data-as-shown]:visible")
        with self.page.expect_navigation():
            (same if same.count() else self.page.locator(".touch-main:visible")).first.click()

    def into_the_bay(self) -> None:
        """From the bay line to the first step."""
        self.page.goto("/bay/")
        self.picture("bay-line")
        self.touch()

    def one_step(self) -> None:
        """Read what is measured, take what is planned as shown; a level runs out what was filled over the mark."""
        for name, typed in self.reads(self.step()).items():
            if self.page.locator(f"input[name={name}]").is_visible():  # the others come up one by one
                self.page.fill(f"[name={name}]", typed)
        self.choose_first()
        self.touch()
        if self.page.url.endswith("/level/"):
            self.page.check("[name=sign_seen]")
            self.choose_first()
            self.fill_if_there("pin", demo_pin("OB"))
            self.picture("level")
            self.touch()

    def reads(self, step: BayStep) -> dict[str, str]:
        """What the instruments say at a step: what the sheet asks for."""
        measured = [row for row in step.needs if row["unit"] != "choice" and not is_planned(row)]
        said = {row["what"]: plain(row["start"], row["unit"]) for row in measured}
        if step.code in COOLING:  # all in the same moment: readings that can belong together
            row = next(row for row in measured if row["what"] == "temp_mdegc")
            warm = step.limits["low_mdegc"] + COOLING[step.code]
            said["temp_mdegc"] = plain(from_base(warm, row["unit"]), row["unit"])
        if step.code == "flow_proof":  # a moment after the lines were opened at 40 °C
            row = next(row for row in measured if row["what"] == "temp_mdegc")
            said["temp_mdegc"] = plain(from_base(45_000, row["unit"]), row["unit"])
        if step.code == "odometer_out":
            said["odometer"] = f"{WorkOrder.objects.get(number=self.order).visit.reading.figure + 2:,}"
        return said | ({"out_ml": "0.3"} if step.code == "level" else {})

    def choose_first(self) -> None:
        """Choose what stands first wherever nothing is chosen yet."""
        names = {one.get_attribute("name") for one in self.page.locator("main input[type=radio]").all()}
        for name in sorted(names):
            if not self.page.locator(f"input[name={name}]:checked").count():
                self.page.locator(f"input[name={name}]").first.check()

    def fill_if_there(self, name: str, typed: str) -> None:
        if self.page.locator(f"[name={name}]").count():
            self.page.fill(f"[name={name}]", typed)

    def step(self) -> BayStep:
        return BayStep.objects.get(work_order__number=self.order, state="now")

    def through_the_bay(self, *, shown: dict[str, str]) -> None:
        """Every step of the sheet; `shown` gives the steps that are kept as pictures, by their code."""
        left = dict(shown)
        while BayStep.objects.filter(work_order__number=self.order, state="now").exists():
            step = self.step()
            if name := left.pop(step.code, ""):
                self.picture(name)
            for _ in range(1 + len(step.needs)):  # one press for each reading that the step asks for
                if BayStep.objects.get(pk=step.pk).state == "now":
                    self.one_step()
            assert BayStep.objects.get(pk=step.pk).state == "done", self.words()
        assert left == {}

    def close_out(self) -> None:
        """Everything ticked that is so, under the technician's own PIN."""
        self.page.goto(f"/bay/{self.order}/close-out/")
        for tick in self.page.locator("#close > .field input[type=checkbox]").all():
            tick.check()
        self.page.fill("[name=pin]", demo_pin("OB"))
        self.picture("close-out")
        self.touch()
        self.picture("closed-out")

    def second_look(self) -> None:
        """Pilar reads for herself at the tablet, then answers."""
        order = WorkOrder.objects.get(number=self.order)
        self.page.goto(f"/bay/{self.order}/look/")
        for item in order.second_looks.latest("attempt").items:
            if item["kind"] == "seen":  # what runs could be seen only while it ran
                self.page.locator(f"[name={item['what']}]").nth(2 if item["runs"] else 0).check()
            elif not item["runs"]:
                in_tenths = item["what"].startswith("tilt")
                self.page.fill(f"[name={item['what']}]", str(item["first"] / 10 if in_tenths else item["first"]))
        self.page.get_by_label("Pilar Senderos").check()
        self.page.fill("[name=pin]", demo_pin("PS"))
        self.picture("second-look-blind")
        self.touch()
        self.picture("second-look-both")
        self.page.get_by_label("Pilar Senderos").check()
        self.fill_if_there("pin", demo_pin("PS"))
        self.touch()
        self.picture("second-look-done")

    def invoice(self) -> None:
        """The writer issues the invoice and opens every paper of the visit as a picture."""
        self.page.goto(f"/counter/work/{self.order}/")
        self.picture("to-be-invoiced")
        self.main_act()
        self.picture("papers")

    def papers(self) -> dict[str, str]:
        """Each PDF of the visit: kept as pictures of its pages; kind -> its text."""
        said = {}
        for link in self.page.locator("a[href*='/paper/']").all():
            path = link.get_attribute("href")
            answer = self.page.request.get(path)
            assert answer.headers["content-type"] == "application/pdf"
            assert self.page.request.get(path).body() == answer.body()
            kind = unquote(path.split("/paper/")[1].split("/")[0])
            with pdfium.PdfDocument(answer.body()) as document:
                for number, sheet in enumerate(document, 1):
                    name = f"{self.vehicle}-paper-{kind.replace(' ', '-')}-{number}.png"
                    sheet.render(scale=1.5).to_pil().save(PICTURES / name)
                said[kind] = " ".join(" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in document)
        return said

    def logbook(self) -> None:
        """The vehicle's file, as the owner reads it."""
        self.page.goto(f"/records/vehicle/{self.vehicle}/")
        self.picture("logbook")

    def due_soon(self) -> None:
        self.page.goto("/office/due-soon/")
        self.picture("due-soon")
