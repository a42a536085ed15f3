"""A stop at intake leads to the diagnosis, not only out of the door."""

from __future__ import annotations

import pytest

from shopserv.catalog.models import LaborOperation
from shopserv.jobs.models import Quote, Visit, WorkOrder
from shopserv.jobs.services import quotes, visits
from shopserv.jobs.services import work as works
from shopserv.jobs.services.authorize import authorize
from shopserv.jobs.services.findings import note_finding, override_finding
from tests.jobs import bay_stage, stage
from tests.web.counter.test_flow import key_of, sheet_fields, taken_in, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


def test_a_vehicle_that_slips_is_offered_its_diagnosis_through_the_pages(tobin, cast):  # noqa: F811
    where = taken_in(tobin, slips="yes", slips_words="engages late").headers["Location"]
    page = tobin.get(where)
    tobin.post(f"{where}quote/", {"once": key_of(page)})
    quote = Quote.objects.get(visit__vehicle__number="V-01")
    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="offer"))

    option = quote.versions.get().options.get()
    assert "Write the quote" in page.content.decode()
    assert answer.status_code == 302, answer.content.decode()
    assert (quote.versions.get().state, option.letter, option.kind) == ("offered", "A", "diagnosis")
    assert option.total_cents > 0


def test_the_diagnosis_is_agreed_cleared_and_reaches_its_step(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})
    version = quotes.write(quotes.plan_for(cast.tobin, visit.vehicle, visit=visit), actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = version.options.get()
    order = authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    works.clear(order, actor=cast.tobin, bay=bay_stage.north(cast), technician=cast.odo.staff)
    works.start(order, actor=cast.odo)

    bay_stage.up_to(cast, order, "diagnosis")

    assert WorkOrder.objects.get(pk=order.pk).facts["kind"] == "diagnosis"


@pytest.mark.parametrize("code", ["K-01", "K-03", "K-13", "K-14"])
def test_whatever_bars_the_fluid_leads_there(cast, code):
    visit = stage.take_in(cast, "V-01")
    note_finding(visit, actor=cast.odo, code=code, state="confirmed", signs=["laboratory"] if code == "K-01" else ())

    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit)

    assert [(one.kind, one.method) for one in plan.options] == [("diagnosis", "")]
    assert not plan.missing


@pytest.mark.control
def test_once_decided_the_methods_are_back(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})
    stage.diagnosed(visit)
    override_finding(visit, actor=cast.maren, code="K-02", words="software only", shown="BRW-WO-2026-0001")

    plan = quotes.plan_for(cast.tobin, Visit.objects.get(pk=visit.pk).vehicle, visit=visit)

    assert {one.kind for one in plan.options} == {"work"}


def test_without_a_price_for_it_the_page_still_says_why(tobin, cast):  # noqa: F811
    LaborOperation.objects.filter(operation="diagnosis, first hour").delete()
    where = taken_in(tobin, slips="yes", slips_words="engages late").headers["Location"]

    page = tobin.get(where)

    assert page.status_code == 200
    assert "No method can be offered" in page.content.decode()
