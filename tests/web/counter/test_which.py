"""Which transmission is it: one look after the other at the counter, taken back, and noted."""

from __future__ import annotations

import pytest

from shopserv.catalog.models import IdentifyRule, Sighting
from shopserv.common.errors import Refusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.services import authorize, quotes, work
from shopserv.registry import which
from shopserv.registry.models import Identification, Vehicle
from shopserv.registry.selectors import identification_of
from shopserv.registry.services import looks
from shopserv.registry.which import which_unit
from shopserv.shop.models import TrailEntry
from tests.jobs import stage
from tests.web.counter.test_flow import key_of, tobin  # noqa: F401

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(cast):
    """A vehicle of which make, model and year are known, in the shop."""
    car = Vehicle.objects.create(number="V-90", make="Osmerel", model="Tilde", year=2021)
    car.keepers.create(customer=cast.vehicle("V-01").keepers.first().customer, from_on=cast.today)
    return stage.take_in(cast, "V-90")


def path_of(visit):
    return f"/counter/visit/{visit.number}/which/"


def press(client, visit, **said):
    path = path_of(visit)
    return client.post(path, {"once": key_of(client.get(path)), **said})


def test_the_page_shows_weights_the_best_look_and_what_it_would_save(tobin, cast, visit):  # noqa: F811
    page = tobin.get(path_of(visit)).content.decode()

    assert "Not decided: Alder 640 has 56" in page
    assert page.index("What shape has the pan?") < page.index("Another look instead")
    assert page.index("Another look instead") < page.index("What does the tag on the case read?")
    assert "Nothing is noted yet." in page
    assert "$437.04" in page
    assert "Note Alder 640 as assumed" in page


def test_a_look_decides_and_the_main_act_notes_the_unit(tobin, cast, visit):  # noqa: F811
    answer = press(tobin, visit, act="look", question="pan_shape", answer="corner")
    page = tobin.get(answer.headers["Location"]).content.decode()

    assert answer.headers["Location"] == path_of(visit)
    assert "Alder 641, 99" in page
    assert "against it: What shape has the pan? a rectangle with one corner cut" in page
    assert "Note Alder 641, by evidence" in page

    noted = press(tobin, visit, act="note", unit="AL641", grade="by evidence")

    assert noted.headers["Location"] == f"/counter/visit/{visit.number}/"
    found = identification_of(visit.vehicle)
    assert (found.unit.code, found.grade, found.by) == ("AL641", "by evidence", cast.tobin.name)


def test_the_same_press_twice_makes_one_record(tobin, cast, visit):  # noqa: F811
    said = {"once": key_of(tobin.get(path_of(visit))), "act": "look", "question": "wheels", "answer": "front"}

    answers = [tobin.post(path_of(visit), said).status_code for _ in range(2)]

    assert answers == [302, 302]
    assert Sighting.objects.count() == TrailEntry.objects.filter(what="look noted").count() == 1


def test_a_tag_as_typed_comes_back_where_it_is_missing_or_too_long(tobin, cast, visit):  # noqa: F811
    empty = press(tobin, visit, act="look", question="tag", answer="tag", tag="")
    long = press(tobin, visit, act="look", question="tag", answer="tag", tag="A641-" + "9" * 40)

    assert empty.status_code == long.status_code == 422
    assert "Type what the tag reads" in empty.content.decode()
    assert 'value="A641-' + "9" * 40 in long.content.decode()
    assert "has 45 signs, a tag at most 40. Type the one line" in long.content.decode()
    assert 'href="#id_tag"' in long.content.decode()
    assert 'id="id_tag"' in long.content.decode()
    assert Sighting.objects.count() == 0


def test_a_tag_that_was_read_is_noted_as_read(tobin, cast, visit):  # noqa: F811
    press(tobin, visit, act="look", question="tag", answer="tag", tag="a641-2210")
    press(tobin, visit, act="note", unit="AL641", grade="read from tag")

    found = identification_of(visit.vehicle)
    assert (found.unit.code, found.grade) == ("AL641", "read from tag")


def test_cannot_see_is_an_answer_and_is_taken_back(tobin, cast, visit):  # noqa: F811
    press(tobin, visit, act="look", question="pan_shape", answer="")
    page = tobin.get(path_of(visit)).content.decode()
    row = Sighting.objects.get()

    assert "What shape has the pan? could not be seen" in page
    assert which_unit(cast.tobin, visit.vehicle).best.asked.look.code != "pan_shape"

    press(tobin, visit, act="take back", sighting=row.pk)

    row.refresh_from_db()
    assert row.taken_back_by == cast.tobin.name
    assert which_unit(cast.tobin, visit.vehicle).best.asked.look.code == "pan_shape"


@pytest.mark.parametrize(
    ("said", "status", "words"),
    [
        ({"act": "look", "question": "wheels", "answer": "six"}, 422, "“six” is no answer"),
        ({"act": "look", "question": "paint", "answer": "red"}, 409, "asked no more"),
        ({"act": "note", "unit": "BI850", "grade": "by evidence"}, 409, "changed meanwhile"),
        ({"act": "dance"}, 422, "There is no such act."),
        ({}, 422, "Nothing was stored"),
    ],
)
def test_what_cannot_be_is_refused_on_the_page(tobin, cast, visit, said, status, words):  # noqa: F811
    answer = press(tobin, visit, **said)

    assert answer.status_code == status
    assert words in answer.content.decode()
    assert Sighting.objects.count() == 0


@pytest.mark.parametrize("pk", ["999999", "0", "x", ""])
def test_an_answer_that_there_is_not_cannot_be_taken_back(tobin, cast, visit, pk):  # noqa: F811
    assert press(tobin, visit, act="take back", sighting=pk).status_code in (404, 422)


def test_where_all_of_them_are_spoken_against_nothing_can_be_noted(tobin, cast, visit):  # noqa: F811
    press(tobin, visit, act="look", question="pan_shape", answer="square")
    page = tobin.get(path_of(visit)).content.decode()

    assert "No transmission on the list fits all of it" in page
    assert 'value="note"' not in page


def test_lists_alone_say_one_look_decides_and_name_what_the_file_says_otherwise(tobin, cast):  # noqa: F811
    visit = stage.take_in(cast, "V-02")
    page = tobin.get(path_of(visit)).content.decode()

    assert "by lists and file alone. One look at the vehicle decides." in page
    assert "Noted now: Alder 640, by evidence. That is not what is found here." in page


def test_two_looks_that_contradict_each_other_are_named(tobin, cast, visit):  # noqa: F811
    press(tobin, visit, act="look", question="built 2021-07", answer="no")
    press(tobin, visit, act="look", question="fill_plug", answer="right")
    page = tobin.get(path_of(visit)).content.decode()

    assert "against it: Built before Jul 2021? no, in that month or later" in page
    assert "against it: Where is the fill plug? at the right side" in page


def test_the_sums_as_json(tobin, cast, visit):  # noqa: F811
    answer = tobin.get(f"{path_of(visit)}?as=json")

    figures = answer.json()["figures"]["loss"]
    assert figures["value"] == "437.04"
    assert {"words": "AL640 after all that was seen", "value": "5/9", "unit": ""}.items() <= figures["steps"][0].items()


def test_without_a_rule_the_page_says_so_and_leads_to_the_form(tobin, cast, visit):  # noqa: F811
    IdentifyRule.objects.all().delete()

    page = tobin.get(path_of(visit)).content.decode()

    assert "no rule yet" in page
    assert f'href="/counter/visit/{visit.number}/#identify"' in page
    assert tobin.get(f"{path_of(visit)}?as=json").json()["figures"] == {}
    once = key_of(tobin.get(f"/counter/visit/{visit.number}/"))
    refused = tobin.post(path_of(visit), {"once": once, "act": "note", "unit": "AL641", "grade": "by evidence"})
    assert refused.status_code == 409


def test_a_tag_of_which_half_was_read_is_no_evidence(tobin, cast, visit):  # noqa: F811
    half = press(tobin, visit, act="look", question="tag", answer="tag", tag="A64")

    assert half.status_code == 422
    assert "“A64” is less than a whole tag" in half.content.decode()
    assert "A640-####" in half.content.decode()
    assert 'value="A64"' in half.content.decode()
    assert Sighting.objects.count() == 0
    assert press(tobin, visit, act="look", question="tag", answer="").status_code == 302  # cannot see


@pytest.mark.parametrize("grade", ["assumed", "by evidence"])
def test_what_stands_against_the_evidence_is_not_offered_at_a_firm_price(tobin, cast, grade):  # noqa: F811
    visit = stage.take_in(cast, "V-02")
    identification = identification_of(visit.vehicle)
    Identification.objects.filter(pk=identification.pk).update(grade=grade)
    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit)
    version = quotes.write(plan, actor=cast.tobin)

    with pytest.raises(Refusal) as refused:
        quotes.offer(version, actor=cast.tobin, edition=version.edition, confirmed=["quote.unlikely_unit"])

    assert refused.value.code == "quote.unlikely_unit"
    assert not refused.value.confirmable
    assert f"Alder 640 is {grade}, and what is known gives it " in refused.value.message
    assert "What parts them: " in refused.value.message
    assert "quote.unlikely_unit" in dict(plan.warnings)
    assert "These prices are not firm" in tobin.get(f"/counter/visit/{visit.number}/").content.decode()
    sheet = tobin.get(f"/counter/quote/{version.quote.number}/").content.decode()
    assert "These prices are not firm: look at the vehicle first." in sheet
    assert "no finding against an option" not in sheet


def test_a_tag_that_was_read_is_asked_about_and_stands(cast):
    visit = stage.take_in(cast, "V-02")
    Identification.objects.filter(pk=identification_of(visit.vehicle).pk).update(grade="read from tag")
    version = quotes.write(quotes.plan_for(cast.tobin, visit.vehicle, visit=visit), actor=cast.tobin)

    with pytest.raises(Refusal) as asked:
        quotes.offer(version, actor=cast.tobin, edition=version.edition)

    assert (asked.value.code, asked.value.confirmable) == ("quote.unlikely_unit", True)
    offered = quotes.offer(version, actor=cast.tobin, edition=version.edition, confirmed=["quote.unlikely_unit"])
    assert offered.version.state == "offered"


def test_a_look_that_speaks_for_the_unit_lifts_the_doubt_and_work_is_cleared_only_then(cast):
    visit = stage.take_in(cast, "V-02")
    Identification.objects.filter(pk=identification_of(visit.vehicle).pk).update(unit=cast.unit("AL641"))
    version = quotes.write(quotes.plan_for(cast.tobin, visit.vehicle, visit=visit), actor=cast.tobin)
    option = quotes.offer(version, actor=cast.tobin, edition=version.edition).version.options.get(letter="A")
    order = authorize.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    assert which.doubted(cast.tobin, visit.vehicle) is None
    Identification.objects.filter(pk=identification_of(visit.vehicle).pk).update(unit=cast.unit("AL640"))
    WorkOrder.objects.filter(pk=order.pk).update(facts={**order.facts, "unit": "AL640"})
    order = WorkOrder.objects.get(pk=order.pk)

    with pytest.raises(Refusal) as refused:
        work.clear(order, actor=cast.tobin)
    assert refused.value.code == "work.unlikely_unit"

    looks.note(visit.vehicle, actor=cast.tobin, question="tag", answer="A640-2211")
    assert which.doubted(cast.tobin, visit.vehicle) is None


def test_where_only_one_is_listed_no_look_is_promised(tobin, cast):  # noqa: F811
    visit = stage.take_in(cast, "V-09")
    page = tobin.get(path_of(visit)).content.decode()

    assert "no other is listed that a look would part from it" in page
    assert "One look at the vehicle decides" not in page
    assert "No look that is left" not in page
