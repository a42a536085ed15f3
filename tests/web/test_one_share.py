"""One course says one share of new fluid, with one text, on every page and paper that shows it."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from shopserv.common import fresh
from shopserv.jobs import best_course, courses
from shopserv.jobs.selectors import recomputed
from shopserv.jobs.services import quotes
from shopserv.logbook.services import record_service
from shopserv.papers import pages
from shopserv.papers.models import Paper
from shopserv.reminders.services import forecasts
from tests.jobs import stage
from tests.web.counter.test_course import address, press

pytestmark = pytest.mark.django_db

KNOWN, OPEN = "V-01", "V-09"
STIRRED_TO_PLUG = "from stirred to plug flow"
IN_BAND = f"{STIRRED_TO_PLUG}, fill anywhere in its band"
COVERS = {KNOWN: STIRRED_TO_PLUG, OPEN: IN_BAND}
SHARES = {
    KNOWN: {"A": "39 %", "B": "78 %", "C": "86 to 94 %", "D": "92 % to nearly all"},
    OPEN: {"A": "36 to 43 %", "B": "74 to 82 %", "C": "84 to 96 %"},
}


@pytest.fixture
def tobin(cast):
    client = Client()
    client.force_login(cast.tobin.staff)
    return client


def text_of(page):
    body = page if isinstance(page, str) else page.content.decode()
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body))


@pytest.mark.parametrize("number", [KNOWN, OPEN])
def test_every_page_of_a_quote_says_the_same_share_of_the_same_course(tobin, cast, number):
    draft = stage.draft(cast, number)
    quote = draft.quote
    visit = tobin.get(reverse("counter:visit", args=[quote.visit.number]))
    courses_shown = {letter: tobin.get(address(draft, letter)) for letter in SHARES[number]}
    sheet = tobin.get(reverse("counter:quote", args=[quote.number]))
    offer = quotes.offer(
        draft,
        actor=cast.tobin,
        edition=draft.edition,
        contact=quote.customer.contact_points.filter(kind="e-mail").first(),
    )
    cache.clear()
    customer = Client().get(f"/c/{offer.token}/")
    paper = pages.html_of(Paper.objects.get(kind="quote", number=quote.number))

    told = {}
    for option in sorted(offer.version.options.all(), key=lambda one: one.letter):
        letter, sums = option.letter, reverse("counter:working", args=[quote.number, 1, option.letter])
        told[letter] = share = fresh.figure(option.fraction_low_ppm, option.fraction_high_ppm)
        course = courses_shown[letter].context
        working = tobin.get(sums, {"as": "json"}).json()["figures"]["course"]
        ends = [str(Fraction(ppm, 1_000_000)) for ppm in (option.fraction_low_ppm, option.fraction_high_ppm)]
        assert (course["share"], course["covers"]) == (share, COVERS[number])
        assert [working["low"], working["high"]] == ends
        assert f"The band runs {COVERS[number]}." in text_of(tobin.get(sums))
        assert all(share in text_of(place) for place in (visit, sheet, paper))
        assert f"{share[:1].upper()}{share[1:]} new fluid (estimate" in text_of(customer)
        assert list(recomputed.of_option(option).differences()) == []
    assert told == SHARES[number]
    assert all(COVERS[number] in text_of(place) for place in (visit, sheet, paper))


@pytest.mark.parametrize("number", [KNOWN, OPEN])
def test_an_order_that_is_looked_at_says_what_its_line_said(tobin, cast, number):
    version = stage.draft(cast, number)
    page = tobin.get(address(version))
    listed = {row.name: row for row in page.context["others"] if row.which}
    best = press(tobin, version, "look best", page)
    looked = {name: press(tobin, version, f"look {row.which}", page) for name, row in listed.items()}

    assert listed
    assert {name: one.context["share"] for name, one in looked.items()} == {
        name: row.share for name, row in listed.items()
    }
    assert best.context["share"] == page.context["best_share"]
    house = next(row for row in best.context["others"] if row.which == "habit")
    assert house.share == SHARES[number]["C"] == page.context["share"]


def test_a_doubt_of_a_fifth_moves_every_share_of_the_page_and_says_so(tobin, cast):
    version = stage.draft(cast, OPEN)

    page = press(tobin, version, "look", doubt="on")

    found = page.context["page"]
    assert page.context["covers"] == f"{STIRRED_TO_PLUG}, fill and drains 20 % off either way"
    assert found.high.over == found.habit.over == found.best.course.over == ("capacity_ml", "drained")
    assert all(other.over == found.high.over for _, other in found.others if isinstance(other, courses.Course))
    assert found.best.gain_ppm == found.best.course.fraction_low_ppm - found.habit.fraction_low_ppm
    assert found.high.fraction_low_ppm == round(found.doubt.share.low * 1_000_000)
    # What is drained and poured back is planned: should the drain let out less, the order that opens it loses most.
    assert found.best.gain_ppm < 0
    assert "With this doubt its lower share (stirred) is 0.4 points below" in text_of(page)
    assert found.high.fraction_low_ppm < version.options.get(letter="C").fraction_low_ppm


def test_a_version_of_an_older_program_keeps_the_share_that_it_froze(tobin, cast):
    version = stage.draft(cast, OPEN)
    option = version.options.get(letter="C")
    del option.course["over"], option.course["low"]["over"]
    option.fraction_low_ppm, option.fraction_high_ppm = 844_942, 942_666  # of each end of the fill by its own liters
    option.save()

    low = courses.replayed(option.method, option.course["low"]["stages"], _facts(option), 7_200, 9_800)
    high = courses.replayed(option.method, option.course["stages"], _facts(option), 8_600, 11_200)
    page = tobin.get(address(version))

    ends = [min(low.fraction_low_ppm, high.fraction_low_ppm), max(low.fraction_high_ppm, high.fraction_high_ppm)]
    again = recomputed.of_option(option)
    assert again.computed["share of new fluid"] == ends
    assert page.context["share"] == "84 to 94 %"
    assert page.context["covers"] == STIRRED_TO_PLUG


def _facts(option):
    return courses.facts_from(option.version.inputs["sheet"])


@pytest.mark.once
def test_the_best_order_is_weighed_over_what_the_habit_is_weighed_over():
    house = courses.HouseNumbers(300, 300, 2600, 3800, 450, 3)
    facts = courses.SheetFacts(
        (7200, 8600), 3100, 3800, 3800, 1700, None, bands={"sump_ml": (3800, 4000), "drain_ml": (3100, 3300)}
    )

    best = best_course.best_course("line exchange", facts, house, open_methods=["single drain"])

    assert best.course.over == best.habit.over == ("capacity_ml", "sump_ml", "drained")
    assert best.gain_ppm == best.course.fraction_low_ppm - best.habit.fraction_low_ppm >= best_course.WORTH_PPM
    less = best.course.new_ml - best.saved_ml
    assert less < best.course.new_ml


def test_the_logbook_says_the_share_that_the_job_left_everywhere(tobin, cast):
    car = cast.vehicle(KNOWN)
    record_service(
        car,
        actor=cast.tobin,
        done_on=cast.today,
        figure=63_180,
        unit="mi",
        unit_code="AL640",
        method="line exchange",
        fluid_code="FEN2",
        fraction_low_ppm=857_514,
        fraction_high_ppm=942_093,
    )
    forecasts.renew(car, actor=cast.tobin)

    logbook = text_of(tobin.get(reverse("records:vehicle", args=[KNOWN])))
    book = text_of(tobin.get(reverse("records:severity", args=[KNOWN])))

    assert "cooler-line fluid exchange, 86 to 94 % new" in logbook  # on the road
    assert "86 to 94 % new." in logbook  # its entry
    assert "86 to 94 %, 86 % counted" in book
    assert re.search(r"Dec \d+, 2023 FEN2 39 % ", book)
