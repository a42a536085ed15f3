"""Clearing, starting, holding, going on, cutting short."""

from __future__ import annotations

import json

import pytest
from django.http import Http404

from shopserv.catalog.models import FluidProduct, FluidSpecification
from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import visits as visit_selectors
from shopserv.jobs.services import authorize as consents
from shopserv.jobs.services import quotes, work
from shopserv.jobs.services.findings import note_finding, override_finding
from shopserv.jobs.states import WORK_MOVES
from shopserv.papers.models import Paper
from shopserv.registry import selectors as registry
from shopserv.registry.models import Identification
from shopserv.shop import trail
from shopserv.shop.models import HouseRules, TrailEntry
from tests.jobs import bay_stage as bays
from tests.jobs import stage

PLANTED = ("44295", "44,295", "442.95", "15000", "+12025550111", "555-0111")


def codes_of(told):
    return told.value.code


def test_clearing_keeps_the_rules_builds_the_steps_and_files_the_sheet(cast):
    order = bays.cleared(cast)

    assert (order.state, order.bay.name, order.technician) == ("cleared", "North", cast.odo.staff)
    assert (order.rules["second_look"], order.rules["is_exchange"], order.rules["look_asked"]) == (
        "exchanges",
        True,
        True,
    )
    assert order.steps.count() == 36
    assert set(order.steps.values_list("state", flat=True)) == {"ahead"}
    assert order.visit.state == "in work"
    assert Paper.objects.get(kind="procedure sheet").number == order.number
    assert TrailEntry.objects.filter(what="work cleared").count() == 1


def test_a_drain_asks_for_no_second_look_where_the_rule_says_exchanges(cast):
    assert bays.cleared(cast, "A").rules["look_asked"] is False


def test_the_rule_at_clearing_stays_when_the_house_changes_its_mind(cast):
    order = bays.cleared(cast, "A")

    HouseRules.objects.update(second_look="all")

    order.refresh_from_db()
    assert order.rules["look_asked"] is False


def test_the_procedure_sheet_has_unit_steps_blanks_and_cautions_and_no_price(cast):
    order = bays.cleared(cast)
    paper = json.loads(Paper.objects.get(kind="procedure sheet").snapshot)

    assert (paper["unit"], paper["sheet_version"]) == ("Alder 640", 1)
    assert [step["code"] for step in paper["steps"]] == list(
        order.steps.order_by("order").values_list("code", flat=True)
    )
    assert paper["foot"][-1].startswith("The vehicle maker's procedure and local codes come first")
    pumped = next(step for step in paper["steps"] if step["code"] == "pump")
    assert pumped["blanks"][0]["unit"] == "qt"
    stop = next(step for step in paper["steps"] if step["code"] == "engine_stop")
    assert stop["blanks"][0]["unit"] == "remote switch / second person"
    assert len(pumped["blanks"][0]["mark"]) == 3
    marks = [blank["mark"] for step in paper["steps"] for blank in step["blanks"]]
    assert len(set(marks)) == len(marks)
    assert all(mark[0] not in "BCPU" for mark in marks)
    assert not [planted for planted in PLANTED if planted in json.dumps(paper)]
    assert any(finding["code"] == "K-01" for finding in paper["findings_list"])


@pytest.mark.parametrize("who", ["tobin", "maren"])
def test_nothing_is_cleared_without_a_counted_yes(cast, who):
    order = bays.written_up(cast)
    consents.take_back(order.authorizations.get(), actor=cast.tobin, words="changed my mind")
    order.refresh_from_db()

    with pytest.raises(StateRefusal) as told:
        work.clear(order, actor=getattr(cast, who))

    assert codes_of(told) == "work.not_authorized"
    assert WorkOrder.objects.get().state == "written up"


def test_a_cheaper_method_is_not_what_was_agreed(cast):
    order = bays.written_up(cast)
    WorkOrder.objects.filter(pk=order.pk).update(facts={**order.facts, "method": "single drain"})
    order.refresh_from_db()

    with pytest.raises(StateRefusal) as told:
        work.clear(order, actor=cast.maren)

    assert codes_of(told) == "work.not_covered"


def test_a_part_that_was_not_agreed_is_not_covered(cast):
    order = bays.written_up(cast)
    parts = [*order.facts["parts"], {"number": "HF-9999", "name": "other", "quantity": 1}]
    WorkOrder.objects.filter(pk=order.pk).update(facts={**order.facts, "parts": parts})
    order.refresh_from_db()

    with pytest.raises(StateRefusal) as told:
        work.clear(order, actor=cast.tobin)

    assert codes_of(told) == "work.not_covered"


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_who_may_not_clear(cast, who):
    with pytest.raises(NotYours):
        work.clear(bays.written_up(cast), actor=getattr(cast, who))


def test_the_other_shop_s_work_does_not_exist(cast):
    order = bays.written_up(cast)

    for deed in (work.clear, lambda row, actor: work.resume(row, actor=actor, words="go on")):
        with pytest.raises((Http404, NotYours)):
            deed(order, actor=cast.lise)
    with pytest.raises(Http404):
        work.start(order, actor=cast.jory)


def test_what_is_assumed_is_never_cleared(cast):
    order = bays.written_up(cast)
    Identification.objects.filter(pk=registry.identification_of(order.visit.vehicle).pk).update(grade="assumed")

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.maren)

    assert codes_of(told) == "work.assumed"


def test_another_transmission_than_the_agreed_one_is_not_cleared(cast):
    order = bays.written_up(cast)
    Identification.objects.filter(pk=registry.identification_of(order.visit.vehicle).pk).update(unit=cast.unit("AL641"))

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.tobin)

    assert codes_of(told) == "work.other_unit"


def test_a_fluid_superseded_since_the_quote_is_stopped_with_its_successor_named(cast):
    order = bays.written_up(cast)
    successor = FluidSpecification.objects.get(code="FM-6L")
    FluidSpecification.objects.filter(code="FM-2").update(
        withdrawn_on=clock.today("UTC"), successor=successor, backward_fit=True
    )
    FluidProduct.objects.get(code="FEN2").meets.set([FluidSpecification.objects.get(code="FM-1")])

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.tobin)

    assert codes_of(told) == "work.specification"
    assert "Fenmark 6 Light" in told.value.message


def test_a_successor_that_fits_backward_is_noted_with_both_codes(cast):
    order = bays.written_up(cast)
    successor = FluidSpecification.objects.get(code="FM-6L")
    FluidSpecification.objects.filter(code="FM-2").update(
        withdrawn_on=clock.today("UTC"), successor=successor, backward_fit=True
    )

    cleared = work.clear(order, actor=cast.tobin)

    assert "FM-2" in cleared.rules["fluid_notes"]["fluid"]
    assert "FM-6L" in cleared.rules["fluid_notes"]["fluid"]


@pytest.mark.parametrize(
    ("code", "signs", "expected"),
    [
        ("K-03", (), "work.stop"),
        ("K-12", (), "work.stop"),
        ("K-07", ("dripping under pressure",), "work.stop"),
        ("K-09", (), "work.stop"),
        ("K-04", (), "work.decision"),
        ("K-01", ("pink milk",), "bay.coolant"),
    ],
)
def test_what_was_found_stands_in_the_way(cast, code, signs, expected):
    order = bays.written_up(cast)
    note_finding(order.visit, actor=cast.tobin, code=code, signs=signs, words="seen")

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.maren)

    assert codes_of(told) == expected


def test_a_decision_of_the_owner_lets_it_be_cleared(cast):
    order = bays.written_up(cast)
    note_finding(order.visit, actor=cast.tobin, code="K-04", words="two codes")
    override_finding(order.visit, actor=cast.maren, code="K-04", words="old codes, copied")

    assert work.clear(order, actor=cast.tobin).state == "cleared"


def test_clearing_twice_is_told_where_it_stands(cast):
    order = bays.cleared(cast)

    with pytest.raises(StateRefusal):
        work.clear(order, actor=cast.tobin)

    assert Paper.objects.filter(kind="procedure sheet").count() == 1


def test_a_technician_is_one_of_this_shop(cast):
    order = bays.written_up(cast)

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.tobin, technician=cast.jory.staff)

    assert codes_of(told) == "reference.unknown"


def test_a_hybrid_is_for_people_entered_as_trained(cast):
    order = bays.written_up(cast)
    order.facts["kind"] = "diagnosis"  # a method that the sheet gives for hybrids is not in the demonstration
    order.save()
    note_finding(order.visit, actor=cast.tobin, code="K-15", words="plug-in")

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.tobin, technician=cast.odo.staff)
    assert codes_of(told) == "technician.not_trained"

    cast.odo.staff.trained_for = ["hybrid drives"]
    cast.odo.staff.save()
    order.visit.refresh_from_db()
    assert work.clear(order, actor=cast.tobin, technician=cast.odo.staff).state == "cleared"


@pytest.mark.parametrize(
    ("changes", "expected"),
    [({"inspection_due_on": "2026-11-23"}, "bay.inspection"), ({"in_use": False}, "bay.out_of_use")],
)
def test_a_lift_that_may_not_lift_is_refused(cast, changes, expected):
    order = bays.cleared(cast)
    type(order.bay).objects.filter(pk=order.bay_id).update(**changes)
    order.refresh_from_db()

    with pytest.raises(Refusal) as told:
        work.start(order, actor=cast.odo)

    assert codes_of(told) == expected


def test_a_bay_of_the_other_shop_is_unknown(cast):
    with pytest.raises(Refusal) as told:
        work.clear(bays.written_up(cast), actor=cast.tobin, bay=cast.slt.bays.first())

    assert codes_of(told) == "reference.unknown"


def test_starting_brings_the_first_step_up(cast):
    order = bays.in_the_bay(cast)

    assert (order.state, bays.now(order).code) == ("in the bay", "lift")
    assert order.in_bay_at is not None
    assert TrailEntry.objects.filter(what="into the bay").count() == 1


def test_a_job_of_nobody_is_taken_by_who_opens_it(cast):
    order = work.clear(bays.written_up(cast), actor=cast.tobin)

    with pytest.raises(Refusal) as told:
        work.start(order, actor=cast.pilar)
    assert codes_of(told) == "bay.none"

    assert work.start(order, actor=cast.pilar, bay=bays.north(cast)).technician == cast.pilar.staff


def test_a_job_of_another_is_not_opened(cast):
    with pytest.raises(NotYours):
        work.start(bays.cleared(cast), actor=cast.pilar)


def test_a_yes_taken_back_before_the_bay_is_asked_for_again(cast):
    order = bays.cleared(cast)
    consents.take_back(order.authorizations.get(), actor=cast.tobin, words="no")
    order.refresh_from_db()

    with pytest.raises(StateRefusal) as told:
        work.start(order, actor=cast.odo)

    assert codes_of(told) == "work.not_authorized"


def test_a_watch_goes_on_by_the_technician(cast):
    order = work.hold(bays.in_the_bay(cast), actor=cast.odo, reason="waiting for a seal")
    assert (order.state, order.hold_grade) == ("on hold", "watch")

    order = work.resume(order, actor=cast.odo)

    assert (order.state, order.hold_reason, bays.now(order).code) == ("in the bay", "", "lift")


@pytest.mark.parametrize("grade", ["needs your decision", "stop"])
def test_a_decision_is_the_owner_s_with_words(cast, grade):
    order = work.hold(bays.in_the_bay(cast), actor=cast.odo, reason="fill plug rounded", grade=grade)

    with pytest.raises(NotYours):
        work.resume(order, actor=cast.odo, words="it will do")
    with pytest.raises(Refusal) as told:
        work.resume(order, actor=cast.maren)
    assert codes_of(told) == "hold.words"

    assert work.resume(order, actor=cast.maren, words="new plug agreed").state == "in the bay"


@pytest.mark.parametrize(
    ("given", "expected"),
    [({"reason": " "}, "hold.reason"), ({"reason": "because", "grade": "whatever"}, "hold.grade")],
)
def test_a_hold_says_why_and_how_grave(cast, given, expected):
    with pytest.raises(Refusal) as told:
        work.hold(bays.in_the_bay(cast), actor=cast.odo, **given)

    assert codes_of(told) == expected


def test_a_parts_keeper_does_not_resume(cast):
    order = work.hold(bays.in_the_bay(cast), actor=cast.odo, reason="waiting")

    with pytest.raises(NotYours):
        work.resume(order, actor=cast.sam)


@pytest.mark.parametrize("who", ["odo", "maren"])
def test_after_coolant_nobody_goes_on_and_the_try_is_on_the_trail(cast, who):
    order = work.hold(bays.in_the_bay(cast), actor=cast.odo, reason="milky")
    note_finding(order.visit, actor=cast.odo, code="K-01", signs=("pink milk",))

    with pytest.raises(Refusal) as told:
        work.resume(order, actor=getattr(cast, who), words="I say so")

    trail.write_refused()
    assert codes_of(told) == "bay.coolant"
    assert TrailEntry.objects.filter(what="refused: coolant found").last().after["tried"] == "resume"


def test_work_is_cut_short_by_the_owner_with_a_reassembly_note(cast):
    order = bays.in_the_bay(cast)

    with pytest.raises(NotYours):
        work.cut_short(order, actor=cast.odo, words="put together, dry")
    with pytest.raises(Refusal) as told:
        work.cut_short(order, actor=cast.maren, words="")
    assert codes_of(told) == "cut_short.words"

    order = work.cut_short(order, actor=cast.maren, words="put together, filled with what came out")
    order.visit.refresh_from_db()
    assert (order.state, order.visit.state) == ("cut short", "ready")
    assert order.close_out["cut_short"].startswith("put together")


def test_a_closed_way_stays_closed(cast):
    order = work.cut_short(bays.in_the_bay(cast), actor=cast.maren, words="put together")

    with pytest.raises(StateRefusal):
        work.cut_short(order, actor=cast.maren, words="once more")
    with pytest.raises(StateRefusal):
        work.hold(order, actor=cast.odo, reason="waiting")


def test_another_option_agreed_while_on_hold_brings_its_own_steps(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "flow_proof")
    order = work.hold(order, actor=cast.odo, reason="no flow", grade="needs your decision")
    version = quotes.revise(order.authorizations.get().quote, actor=cast.tobin)
    version = quotes.offer(version, actor=cast.tobin, edition=version.edition).version
    option = stage.option(version, "A")
    consents.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))
    order.refresh_from_db()

    order = work.resume(order, actor=cast.maren, words="the drain was agreed instead")

    codes = list(order.steps.exclude(state="done").order_by("order").values_list("code", flat=True))
    assert codes[:3] == ["drain", "drain_plug", "add"]
    assert "pump" not in codes
    assert bays.now(order).code == "drain"
    assert order.rules["close_out_items"][0][0] == "leftovers"
    assert order.steps.filter(code="lift").count() == 1


def test_the_table_of_moves_is_that_of_the_trade():
    assert {(m.source, m.target) for m in WORK_MOVES} == {
        ("written up", "cleared"),
        ("cleared", "in the bay"),
        ("in the bay", "on hold"),
        ("on hold", "in the bay"),
        ("in the bay", "level set"),
        ("level set", "in the bay"),
        ("level set", "second look done"),
        ("second look done", "closed"),
        ("level set", "closed"),
        ("cleared", "cut short"),
        ("in the bay", "cut short"),
        ("on hold", "cut short"),
        ("level set", "cut short"),
        ("second look done", "cut short"),
        ("cut short", "closed"),
    }


def test_findings_of_the_visit_are_those_that_count(cast):
    order = bays.in_the_bay(cast)
    note_finding(order.visit, actor=cast.odo, code="K-07", words="a weep at the pan")

    assert [one.code for one in visit_selectors.standing(order.visit)] == ["K-07"]
    assert work.hold(order, actor=cast.odo, reason="wiping the weep").state == "on hold"
