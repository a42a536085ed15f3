"""What was found stands on the vehicle until it is lifted, whatever a later slip says."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services import quotes, visits
from shopserv.jobs.services.findings import note_finding, override_finding
from tests.jobs import bay_stage as bays
from tests.jobs import stage

pytestmark = pytest.mark.django_db


def left_and_back(cast, **answers):
    """Taken in with an answer, left without work, taken in again with every answer no."""
    first = stage.take_in(cast, "V-01", answers=answers)
    visits.leave(first, actor=cast.tobin, words="will come again")
    return first, stage.take_in(cast, "V-01")


def test_a_stop_comes_back_with_the_vehicle_and_bars_the_plan(cast):
    first, again = left_and_back(cast, slips=visits.Answer(True, "engages late"))

    found = selectors.standing(again)
    plan = quotes.plan_for(cast.tobin, again.vehicle, visit=again)
    row = next(row for row in selectors.counter_desk(cast.tobin).rows if row.pk == again.pk)

    assert [(one.code, one.visit, one.grade) for one in found] == [("K-02", first.number, "stop")]
    assert not [one for one in plan.options if one.kind == "work"]
    assert row.grade == "stop"
    assert again.vehicle.forecasts.get(is_current=True).grade == "stop"


def test_without_a_visit_the_plan_counts_it_as_well(cast):
    first = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "late")})
    visits.leave(first, actor=cast.tobin, words="will come again")

    plan = quotes.plan_for(cast.tobin, first.vehicle)

    assert [one.code for one in plan.findings] == ["K-02"]


@pytest.mark.control
def test_once_decided_it_stands_no_longer(cast):
    _, again = left_and_back(cast, slips=visits.Answer(True, "engages late"))

    stage.diagnosed(again)
    override_finding(again, actor=cast.maren, code="K-02", words="solenoid replaced", shown="BRW-WO-2026-0001")
    visits.leave(again, actor=cast.tobin, words="comes tomorrow")
    third = stage.take_in(cast, "V-01")

    assert selectors.standing(third) == ()


def test_the_first_visit_stays_as_it_was(cast):
    first, again = left_and_back(cast, slips=visits.Answer(True, "engages late"))
    stage.diagnosed(again)
    note_finding(again, actor=cast.odo, code="K-02", state="not confirmed", words="driven, shifts on time")

    first.refresh_from_db()
    assert [one.state for one in selectors.standing(first)] == ["suspected"]


def test_never_changed_is_over_when_it_was_changed(cast):
    order = bays.closed_out(cast)
    note_finding(order.visit, actor=cast.odo, code="K-11", words="never")
    override_finding(order.visit, actor=cast.maren, code="K-11", words="told", shown="signed")
    note_finding(order.visit, actor=cast.odo, code="K-06", words="smelled of another")
    bays.look(cast, order)
    visits.Visit.objects.filter(pk=order.visit_id).update(state="gone", left_at=visits.clock.now())

    assert selectors.standing(stage.take_in(cast, "V-01", odometer=None)) == ()


def test_coolant_of_an_earlier_visit_is_lifted_by_the_owner_after_a_diagnosis_alone(cast):
    first = stage.take_in(cast, "V-01")
    note_finding(first, actor=cast.odo, code="K-01", signs=["laboratory"])
    visits.leave(first, actor=cast.tobin, words="towed")
    again = stage.take_in(cast, "V-01")

    with pytest.raises(Refusal) as told:
        note_finding(again, actor=cast.maren, code="K-01", state="not confirmed", words="radiator new")

    assert told.value.code == "finding.only_laboratory"
    assert bool(selectors.standing(again))
    stage.diagnosed(again)
    note_finding(again, actor=cast.maren, code="K-01", state="not confirmed", words="radiator new, flushed")
    assert not any(one.stands for one in selectors.standing(again))
