"""Small things of the counter's pages: the rule of the room left, the language of a paper, the chosen link."""

from __future__ import annotations

import pytest

from shopserv.catalog.models import LaborOperation
from shopserv.common.drawing.tube import TubeScale
from shopserv.jobs.services.authorize import authorize
from shopserv.papers.pages import language_words
from shopserv.web.counter.columns import lines_words
from tests.jobs import stage
from tests.web.counter.test_course import press
from tests.web.counter.test_flow import key_of, tobin  # noqa: F401


def test_the_rule_of_the_room_left_is_told_with_its_currency(cast, tobin):  # noqa: F811
    option = stage.option(stage.offered(cast), "C")
    authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))

    number = option.version.quote.number
    page = tobin.get(f"/counter/quote/{number}/room/").content.decode()
    sums = tobin.get(f"/counter/quote/{number}/1/C/?as=json").json()["figures"]

    rule = "Up to $10.00 or 10 % over the agreed total, whichever is greater, never more than $50.00"
    assert rule in page
    assert sums["limit"]["formula"] == f"{rule}; the tolerance is cut down to the cent"


def test_a_saved_draft_keeps_for_whom_a_link_is_to_be_made(cast, tobin):  # noqa: F811
    version = stage.draft(cast)
    contact = str(version.quote.customer.contact_points.get(kind="e-mail").pk)
    address = f"/counter/quote/{version.quote.number}/"

    def press(act, **changes):
        page = tobin.get(address)
        form = page.context["form"]
        shown = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
        return tobin.post(address, {**shown, "once": key_of(page), "act": act, **changes})

    press("save", contact=contact)
    again = tobin.get(address).context["form"]["contact"].value()
    press("save", contact="")
    nobody = tobin.get(address).context["form"]["contact"].value()
    press("save", contact=contact)
    offered = press("offer")

    assert (again, nobody) == (contact, "")
    assert offered.status_code == 302
    assert "customer-link" in tobin.get(address).content.decode()


@pytest.mark.once
def test_a_paper_says_in_which_language_it_prints():
    assert language_words("en") == "English"
    assert language_words("es") == "English, for a reader of Spanish"


@pytest.mark.once
def test_the_lines_across_the_tubes_are_told_in_words():
    whole = lines_words(TubeScale(1200, -3000, -1600, 1200, 300), "us")

    assert whole == (
        "Lines from the top: dotted, turning parts dip: 1.3 qt above full; full; hatched, stop: 0.3 qt early; "
        "dotted, pump draws air: 1.7 qt below full."
    )
    assert lines_words(TubeScale(1200, -3000, -1600), "metric") == (
        "Lines from the top: full; dotted, pump draws air: 1.6 L below full."
    )
    assert lines_words(TubeScale(0, -3000), "us") == "Lines from the top: full."


def test_the_labor_of_a_drain_that_is_not_listed_is_asked_on_the_sheet_and_answered_by_a_tick(cast, tobin):  # noqa: F811
    LaborOperation.objects.filter(method="single drain").delete()
    version = stage.draft(cast)
    course = f"/counter/quote/{version.quote.number}/course/C/"
    shown = press(tobin, version, "look best")
    press(tobin, version, "take best")
    address = f"/counter/quote/{version.quote.number}/"

    def offer(**changes):
        page = tobin.get(address)
        form = page.context["form"]
        said = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
        return tobin.post(address, {**said, "once": key_of(page), "act": "offer", **changes})

    sheet, asked = tobin.get(address).content.decode(), offer()
    answered = offer(confirm="quote.drain_labor")

    words = "labor of the drain that this course opens"
    assert f"Not on the price list: {words}. Say what it takes before it is offered." in shown.content.decode()
    assert f"Not on the price list: {words}" in tobin.get(course).content.decode()
    assert f"18; not on the price list: {words}" in sheet
    assert asked.status_code == 422
    assert f"Option C: not on the price list: {words}. Add a labor line or more tenths" in asked.content.decode()
    assert 'value="quote.drain_labor"' in asked.content.decode()
    assert answered.status_code == 302
    assert version.quote.versions.get().state == "offered"


def test_the_desk_counts_one_vehicle_as_one_and_says_a_state_once(cast, tobin):  # noqa: F811
    stage.take_in(cast, "V-01")
    page = tobin.get("/counter/").content.decode()

    assert "1 vehicle here, " in page
    assert "<td>expected</td>" in page
    assert "Expected" not in page
