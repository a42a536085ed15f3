"""Which unit it is: facts on file, looks, what speaks against what, and as which grade it may be noted."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc import identify
from shopserv.catalog.models import Fitment, IdentifyRule, Look
from shopserv.common.errors import NotYours, Refusal
from shopserv.registry.models import Identification, Vehicle
from shopserv.registry.selectors import identification_of
from shopserv.registry.services import looks
from shopserv.registry.which import which_unit
from shopserv.shop.models import TrailEntry

pytestmark = pytest.mark.django_db


@pytest.fixture
def tilde(cast):
    """A vehicle of which nothing but make and model is known."""
    return Vehicle.objects.create(number="V-90", make="Osmerel", model="Tilde")


def note(cast, vehicle, question, answer, who="tobin"):
    return looks.note(vehicle, actor=getattr(cast, who), question=question, answer=answer, visit="BRW-V-1")


def weights(found):
    return {one.unit.code: one.weight for one in found.candidates}


def test_the_shops_own_fleet_and_the_weight_of_a_fitment_make_the_prior(cast, tilde):
    found = which_unit(cast.tobin, tilde)

    # Two Tilde with AL640, one with AL641, none with BI850, whose fitment weighs 0.4: 3 to 2 to 0.4.
    assert weights(found) == {"AL640": Fraction(30, 54), "AL641": Fraction(20, 54), "BI850": Fraction(4, 54)}
    assert [(one.unit.code, one.known) for one in found.candidates] == [("AL640", 2), ("AL641", 1), ("BI850", 0)]
    assert (found.grade, found.ranking.verdict, found.evidence) == ("assumed", identify.OPEN, ())


def test_an_assumed_unit_is_no_evidence_for_the_next(cast, tilde):
    identification = identification_of(cast.vehicle("V-11"))
    identification.grade = "assumed"
    identification.save()

    assert {one.unit.code: one.known for one in which_unit(cast.tobin, tilde).candidates}["AL641"] == 0


def test_the_vehicle_itself_does_not_count_for_itself(cast):
    found = which_unit(cast.tobin, cast.vehicle("V-11"))

    assert {one.unit.code: one.known for one in found.candidates}["AL641"] == 0


def test_the_question_that_parts_best_is_put_first_and_the_losses_fall(cast, tilde):
    found = which_unit(cast.tobin, tilde)

    losses = [one.after.loss for one in found.next]
    assert losses == sorted(losses)
    assert [one.is_best for one in found.next] == [True] + [False] * (len(losses) - 1)
    assert max(losses) <= found.ranking.loss
    # The level is read the same way on all three, and each has a drain plug: these part nothing.
    assert [one.asked.look.code for one in found.next] == [
        "pan_shape",
        "built",
        "tag",
        "wheels",
        "fill_plug",
        "cooler_lines",
    ]


def test_a_look_decides_and_the_unit_is_noted_by_evidence(cast, tilde):
    note(cast, tilde, "built 2021-07", "no")
    note(cast, tilde, "pan_shape", "corner", "odo")
    found = which_unit(cast.tobin, tilde)

    assert (found.lead.unit.code, found.grade, found.ranking.verdict) == ("AL641", "by evidence", identify.DECIDED)
    assert [one.words for one in found.evidence] == [
        "Built before Jul 2021? no, in that month or later",
        "What shape has the pan? a rectangle with one corner cut",
    ]
    assert found.evidence[1].says == {"AL640": "speaks against", "AL641": "fits", "BI850": "speaks against"}

    row = looks.conclude(tilde, actor=cast.tobin, unit="AL641", grade="by evidence")

    assert (row.unit.code, row.grade) == ("AL641", "by evidence")
    assert row.evidence[0] == {"what": "look", "words": "Built before Jul 2021? no, in that month or later"}
    assert Fraction(row.evidence[-1]["weights"]["AL641"]) == found.lead.weight
    assert list(TrailEntry.objects.order_by("pk").values_list("what", flat=True))[-3:] == [
        "look noted",
        "look noted",
        "unit identified",
    ]


def test_the_weights_are_those_of_bayes_by_hand(cast, tilde):
    note(cast, tilde, "wheels", "front")

    found = which_unit(cast.tobin, tilde)

    # Three answers, error 1 in 100: 99/100 for the two driven at the front, half of 1/100 for the one at the rear.
    parts = {"AL640": 30 * Fraction(99, 100), "AL641": 20 * Fraction(99, 100), "BI850": 4 * Fraction(1, 200)}
    assert weights(found) == {code: part / sum(parts.values()) for code, part in parts.items()}


def test_lists_and_files_alone_never_make_it_more_than_assumed(cast):
    found = which_unit(cast.tobin, cast.vehicle("V-11"))

    assert found.lead.unit.code == "AL641"
    assert found.ranking.verdict == identify.DECIDED
    assert found.grade == "assumed"
    assert [one.words for one in found.evidence] == [
        "model year 2023, on file",
        "driven wheels: front, on file",
        "built Nov 2022, on file",
    ]
    assert found.evidence[2].says == {"AL641": "fits", "AL640": "speaks against", "BI850": "may be"}


def test_what_is_on_file_is_not_asked_unless_something_speaks_against_it(cast):
    car = cast.vehicle("V-11")
    before = {one.asked.look.code for one in which_unit(cast.tobin, car).next}
    note(cast, car, "pan_shape", "rectangle")
    found = which_unit(cast.tobin, car)

    assert before.isdisjoint({"wheels", "built"})
    assert found.ranking.verdict == identify.NONE_FITS
    assert found.grade == ""
    assert {"wheels", "built"} <= {one.asked.look.code for one in found.next}
    with pytest.raises(Refusal, match="changed meanwhile"):
        looks.conclude(car, actor=cast.tobin, unit="AL641", grade="by evidence")


def test_what_is_on_file_is_kept_as_a_fact_and_what_was_seen_as_words(cast):
    car = cast.vehicle("V-02")
    note(cast, car, "pan_shape", "corner")

    row = looks.conclude(car, actor=cast.tobin, unit="AL641", grade="by evidence")

    assert row.evidence[:4] == [
        {"what": "on file", "fact": "model year 2021, on file"},
        {"what": "on file", "fact": "driven wheels: front, on file"},
        {"what": "on file", "fact": "built Sep 2021, on file"},
        {"what": "look", "words": "What shape has the pan? a rectangle with one corner cut"},
    ]


def test_a_tag_that_was_read_decides(cast, tilde):
    note(cast, tilde, "tag", " a641-2210 ")

    found = which_unit(cast.tobin, tilde)
    row = looks.conclude(tilde, actor=cast.tobin, unit="AL641", grade="read from tag")

    assert (found.lead.unit.code, found.grade) == ("AL641", "read from tag")
    assert row.evidence[0] == {"what": "tag", "read": "A641-2210"}


def test_a_tag_of_a_unit_that_no_list_has_is_named_and_the_lists_speak_against_it(cast):
    car = cast.vehicle("V-01")
    note(cast, car, "tag", "F1060-0001")

    found = which_unit(cast.tobin, car)

    assert "FI1060" in {one.unit.code for one in found.candidates}
    assert found.evidence[-1].says == {
        code: "fits" if code == "FI1060" else "speaks against" for code in weights(found)
    }
    assert [one.words for one in found.evidence if "FI1060" in one.says and one.says["AL640"] == "speaks against"] == [
        "What does the tag on the case read? F1060-0001"
    ]
    assert (found.lead.unit.code, found.grade) == ("AL640", "")


def test_a_tag_of_nothing_known_fits_none(cast, tilde):
    note(cast, tilde, "tag", "Z9-1")

    found = which_unit(cast.tobin, tilde)

    assert (found.ranking.verdict, found.grade) == (identify.NONE_FITS, "")


def test_what_could_not_be_seen_is_kept_and_not_asked_again(cast, tilde):
    before = weights(which_unit(cast.tobin, tilde))
    row = note(cast, tilde, "built 2021-07", "")

    found = which_unit(cast.tobin, tilde)

    assert (row.answer_words, weights(found)) == ("could not be seen", before)
    assert [str(one) for one in found.unseen] == ["Built before Jul 2021? could not be seen"]
    assert "built 2021-07" not in {one.asked.question.code for one in found.next}


def test_an_answer_that_was_taken_back_counts_no_more_and_stays_to_be_read(cast, tilde):
    before = weights(which_unit(cast.tobin, tilde))
    row = note(cast, tilde, "wheels", "rear")
    assert weights(which_unit(cast.tobin, tilde)) != before

    looks.take_back(tilde, actor=cast.odo, pk=row.pk)

    row.refresh_from_db()
    assert (row.answer, row.by, row.taken_back_by) == ("rear", cast.tobin.name, cast.odo.name)
    assert weights(which_unit(cast.tobin, tilde)) == before
    assert TrailEntry.objects.order_by("-pk").first().what == "look taken back"
    with pytest.raises(Refusal, match="taken back already"):
        looks.take_back(tilde, actor=cast.odo, pk=row.pk)
    note(cast, tilde, "wheels", "front")


@pytest.mark.parametrize(
    ("question", "answer", "code"),
    [
        ("colour", "red", "look.question"),
        ("wheels", "six", "look.answer"),
        ("tag", "A" * 41, "look.answer"),
    ],
)
def test_what_is_no_question_or_no_answer_is_refused(cast, tilde, question, answer, code):
    with pytest.raises(Refusal) as refused:
        note(cast, tilde, question, answer)

    assert refused.value.code == code
    assert TrailEntry.objects.filter(what="look noted").count() == 0


def test_the_same_question_is_answered_once(cast, tilde):
    note(cast, tilde, "wheels", "front")

    with pytest.raises(Refusal) as refused:
        note(cast, tilde, "wheels", "rear", "odo")

    assert (refused.value.code, refused.value.status) == ("look.question", 409)


def test_an_answer_that_came_in_between_is_told(cast, tilde, monkeypatch):
    stale = which_unit(cast.tobin, tilde)
    note(cast, tilde, "wheels", "front")
    monkeypatch.setattr(looks, "which_unit", lambda actor, vehicle: stale)

    with pytest.raises(Refusal) as refused:
        note(cast, tilde, "wheels", "rear", "odo")

    assert (refused.value.code, refused.value.status) == ("look.answered", 409)
    assert TrailEntry.objects.filter(what="look noted").count() == 1


def test_who_may_not_identify_sees_and_notes_nothing(cast, tilde):
    with pytest.raises(NotYours):
        which_unit(cast.sam, tilde)
    with pytest.raises(NotYours):
        note(cast, tilde, "wheels", "front", "sam")


def test_without_a_rule_or_a_list_nothing_is_weighed(cast, tilde):
    other = Vehicle.objects.create(number="V-91", make="Nobody", model="Knows")

    assert which_unit(cast.tobin, other).missing.startswith("No list says")
    IdentifyRule.objects.all().delete()
    assert which_unit(cast.tobin, tilde).missing.startswith("The house has no rule")


def test_engine_market_and_descriptor_speak_where_the_lists_do(cast):
    Fitment.objects.filter(model="Tilde").delete()
    told = {"make": "Osmerel", "model": "Tilde", "year_from": 2014, "year_to": 2026}
    Fitment.objects.create(unit=cast.unit("AL640"), engine="1.6", market="north", descriptor="AB???", **told)
    Fitment.objects.create(unit=cast.unit("AL641"), engine="2.0", market="south", descriptor="CD???", **told)
    Fitment.objects.create(unit=cast.unit("AL641"), engine="1.6", market="south", descriptor="CD???", **told)
    car = Vehicle.objects.create(
        number="V-92", make="Osmerel", model="Tilde", year=2013, engine="1.6", vin="0SMCD345678901234"
    )

    found = which_unit(cast.tobin, car)

    assert {one.words: one.says for one in found.evidence} == {
        "model year 2013, on file": {"AL641": "speaks against", "AL640": "speaks against"},
        "VIN, places 4 to 8: CD345": {"AL641": "fits", "AL640": "speaks against"},
        "engine 1.6, on file": {"AL641": "fits", "AL640": "fits"},
    }
    market = next(one for one in found.questions if one.look.code == "market")
    assert market.answers == (("north", "north"), ("south", "south"))
    assert market.question.shows == {"AL640": {"north": 1}, "AL641": {"south": 1}}


@pytest.mark.parametrize("vehicles", [1, 60])
def test_it_takes_eleven_queries_whatever_there_is(cast, tilde, vehicles, django_assert_num_queries):
    for n in range(vehicles):
        other = Vehicle.objects.create(number=f"X-{n}", make="Osmerel", model="Tilde")
        Identification.objects.create(
            vehicle=other, unit=cast.unit("AL641"), grade="by evidence", by="x", at=cast.morning
        )
    note(cast, tilde, "wheels", "front")
    actor = cast.tobin

    with django_assert_num_queries(11):
        which_unit(actor, tilde)


def test_every_look_of_the_demonstration_is_put_to_some_model_or_waits_for_lists_that_part(cast):
    asked = set()
    for make, model in Fitment.objects.values_list("make", "model").distinct():
        car = Vehicle(number="V-93", make=make, model=model)
        car.save()
        asked |= {one.look.code for one in which_unit(cast.tobin, car).questions}
        car.delete()

    assert asked >= {"wheels", "built", "tag", "drain_plug", "pan_shape", "fill_plug", "cooler_lines"}
    assert asked <= set(Look.objects.values_list("code", flat=True))
