"""An edited course that opens the drain sells its labor once, or asks for it. Invented times of the price list."""

from __future__ import annotations

import pytest

from shopserv.catalog.models import LaborOperation
from shopserv.common.errors import Refusal
from shopserv.jobs import courses
from shopserv.jobs.selectors.fluid_course import course_of_option
from shopserv.jobs.services import drain_labor, quotes
from shopserv.jobs.services.plan_data import edits_of
from shopserv.jobs.snapshots.quote import differences
from tests.jobs.stage import take_in

PLUG = courses.SheetFacts((7400, 7400), 2900, 3400, 3400, 1600, 1200)
NO_PLUG = courses.SheetFacts((9200, 9200), None, 4700, 4700, 2200, None)
DRAIN = ({"op": "drain", "to_ml": -2900}, {"op": "add", "volume_ml": 2900})
NOTHING = ({"op": "drain", "to_ml": 0},)  # as it is put in, before an amount is typed
POUR = ({"op": "add", "volume_ml": 450}, {"op": "pump", "add_ml": 0, "stop_margin_ml": 300})


@pytest.mark.once
@pytest.mark.parametrize(
    ("method", "stages", "facts", "opened"),
    [
        ("line exchange", DRAIN, PLUG, "drain plug"),
        ("line exchange", DRAIN, NO_PLUG, "pan"),
        ("line exchange", DRAIN, courses.SheetFacts(), "drain plug"),
        ("line exchange", POUR, PLUG, ""),
        ("line exchange", None, PLUG, ""),
        ("line exchange", NOTHING, PLUG, ""),
        ("line exchange", ({"op": "drain", "to_ml": -1},), PLUG, "drain plug"),
        ("line exchange", (POUR[0], *NOTHING), PLUG, "drain plug"),  # what stands above full comes out
        ("line exchange", (POUR[0], {"op": "drain", "to_ml": 450}), PLUG, ""),
        ("line exchange", (*POUR, *NOTHING), PLUG, ""),  # it was pumped down first
        ("line exchange", (*POUR, *NOTHING, *DRAIN), PLUG, "drain plug"),
        ("line exchange", ({"op": "mix"}, *NOTHING), PLUG, ""),
        ("single drain", DRAIN, PLUG, ""),
        ("pan drop then line exchange", DRAIN, PLUG, ""),
        ("separate sump service", DRAIN, PLUG, ""),
    ],
)
def test_what_a_course_opens_besides_its_method(method, stages, facts, opened):
    assert drain_labor.opened_besides(method, stages, facts) == opened


def plan(cast, *, tenths=None, extras=()):
    visit = take_in(cast, "V-01")
    page_stages = (
        *DRAIN,
        {"op": "pump", "add_ml": 5800, "stop_margin_ml": 300},
        {"op": "add", "volume_ml": 1300},
    )
    edit = quotes.OptionEdit(method="line exchange", stages=page_stages, tenths=tenths, extras=extras)
    return quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, edits=quotes.Edits(options=(edit,)))


def labor_of(planned):
    return [
        (line.text, line.quantity_thousandths, line.price_cents)
        for line in planned.priced.lines
        if line.kind == "labor"
    ]


@pytest.mark.django_db
def test_the_operation_of_the_list_is_sold_and_what_it_shares_comes_off_once(cast):
    found = plan(cast)
    [planned] = found.options

    assert labor_of(planned) == [
        ("line exchange", 1_800, 27_000),
        ("drain that this course opens", 700, 10_500),
        (
            "overlap removed: raise and lower the vehicle, road test and leak check, warm up and set the level",
            -400,
            -6_000,
        ),
    ]
    assert planned.inputs["asked"] == []
    assert "quote.drain_labor" not in [code for code, _ in found.warnings]
    version = quotes.write(found, actor=cast.tobin)
    assert differences(version) == []
    page = course_of_option(cast.tobin, version.quote.number, "A")
    assert (page.drain.question, page.drain.tenths) == ("labor of the drain that this course opens", 7)
    again = quotes.plan_for(cast.tobin, version.quote.vehicle, visit=version.quote.visit, edits=edits_of(version))
    assert labor_of(again.options[0]) == labor_of(planned)  # written down once more it is not sold twice


@pytest.mark.django_db
def test_a_line_of_a_person_for_it_is_not_sold_twice(cast):
    own = quotes.ExtraLine(kind="labor", text="drain", number="single drain")

    [planned] = plan(cast, extras=(own,)).options

    assert [row[:2] for row in labor_of(planned)][1] == ("drain", 700)
    assert len(labor_of(planned)) == 3


@pytest.mark.django_db
def test_without_an_operation_it_is_asked_and_answered_before_it_is_offered(cast):
    LaborOperation.objects.filter(method="single drain").delete()
    found = plan(cast)
    version = quotes.write(found, actor=cast.tobin)

    with pytest.raises(Refusal) as refusal:
        quotes.offer(version, actor=cast.tobin, edition=version.edition)

    assert labor_of(found.options[0]) == [("line exchange", 1_800, 27_000)]
    assert ("quote.drain_labor", "not on the price list: labor of the drain that this course opens") in [
        (code, words.partition("): ")[2].partition(".")[0]) for code, words in found.warnings
    ]
    assert (refusal.value.code, refusal.value.field, refusal.value.confirmable) == (
        "quote.drain_labor",
        "tenths_A",
        True,
    )
    page = course_of_option(cast.tobin, version.quote.number, "A")
    assert page.drain.tenths is None
    offered = quotes.offer(version, actor=cast.tobin, edition=version.edition, confirmed={"quote.drain_labor"})
    assert offered.version.state == "offered"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("more", "asked"),
    [
        ({"tenths": 18}, True),
        ({"tenths": 19}, False),
        ({"extras": (quotes.ExtraLine(kind="labor", text="drain", unit_price_cents=3_000),)}, False),
        ({"extras": (quotes.ExtraLine(kind="fee", text="towing", unit_price_cents=3_000),)}, True),
    ],
)
def test_more_time_or_a_labor_line_is_an_answer(cast, more, asked):
    LaborOperation.objects.filter(method="single drain").delete()

    [planned] = plan(cast, **more).options

    assert planned.inputs["asked"] == (["labor of the drain that this course opens"] if asked else [])
