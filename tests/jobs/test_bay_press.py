"""Presses, steps and what is asked before one is done."""

from __future__ import annotations

import random

import pytest
from django.http import Http404

from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs import bay_events
from shopserv.jobs.models import BayEvent, Visit
from shopserv.jobs.services import bay, work
from shopserv.jobs.services.bay_press import flow_of
from shopserv.jobs.services.findings import note_finding
from shopserv.logbook.selectors import last_counted
from shopserv.logbook.services import note_reading
from shopserv.shop import trail
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage as bays


def out(key, value=14, what="out_ml", unit="0.1 qt", **more):
    return bay.Press(what=what, value=value, unit=unit, once_key=key, **more)


def test_a_press_is_kept_in_the_base_unit_with_what_was_typed(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")

    event = bay.press(step, out("k1", tablet="bench 2", instrument="SC-101"), actor=cast.odo)

    assert (event.what, event.value, event.unit, event.as_typed) == ("out_ml", 1_325, "0.1 qt", "1.4 qt")
    assert (event.person, event.tablet, event.instrument) == (cast.odo.staff, "bench 2", "SC-101")
    assert TrailEntry.objects.filter(what="bay reading").count() == 1


def test_each_press_sent_three_times_in_any_order_gives_the_same_rows(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    before = BayEvent.objects.count()
    presses = [out(f"k{number}", value=number) for number in range(1, 8)] * 3
    random.Random(4).shuffle(presses)

    for one in presses:
        bay.press(step, one, actor=cast.odo)

    rows = BayEvent.objects.filter(once_key__startswith="k").order_by("value")
    assert BayEvent.objects.count() == before + 7
    assert list(rows.values_list("once_key", flat=True)) == [f"k{number}" for number in range(1, 8)]
    assert TrailEntry.objects.filter(what="bay reading").count() == 7


def test_done_pressed_three_times_finishes_one_step(cast):
    order = bays.in_the_bay(cast)
    step = bays.now(order)

    for _ in range(3):
        found = bay.finish_step(step, actor=cast.odo, once_key="done-1")

    assert (found.step.state, found.is_held) == ("done", False)
    assert bays.now(order).order == 2
    assert TrailEntry.objects.filter(what="step done").count() == 1


def test_a_step_that_is_not_up_is_not_finished(cast):
    order = bays.in_the_bay(cast)
    last = order.steps.order_by("-order").first()

    with pytest.raises(StateRefusal) as told:
        bay.finish_step(last, actor=cast.odo, once_key="x")

    assert told.value.message.startswith("Step 36 is ahead; step 1 is up: Set the vehicle on the lift")


def test_a_reading_that_is_missing_is_asked_for_by_name(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "flow_proof")

    with pytest.raises(Refusal) as told:
        bay.finish_step(step, actor=cast.odo, once_key="x")

    assert (told.value.code, told.value.field) == ("bay.needs", "flow_g")
    assert BayEvent.objects.filter(once_key="x").count() == 0


def test_a_value_outside_is_asked_once_with_both_values_and_then_holds(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    much = bays.as_asked(step, out_ml=25)

    with pytest.raises(Refusal) as asked:
        bay.finish_step(step, actor=cast.odo, presses=much, once_key="d")
    found = bay.finish_step(step, actor=cast.odo, presses=much, once_key="d", is_confirmed=True)

    order.refresh_from_db()
    assert (asked.value.code, asked.value.confirmable) == ("bay.outside", True)
    assert asked.value.message.startswith(
        "pumped out: 2.5 qt was read, never beyond 1.37 qt (1.30 L). Air may have been drawn: engine off, look into "
    )
    assert (found.is_held, order.state, order.hold_grade) == (True, "on hold", "watch")
    assert bays.now(order) == step
    assert "2.5 qt was read" in order.hold_reason


def test_after_the_hold_a_new_reading_lets_it_be_finished(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "engine_stop")
    bays.finish(cast, order)
    step = bays.now(order)
    cold = bays.as_asked(step, flow_g=100)
    with pytest.raises(Refusal) as asked:
        bay.finish_step(step, actor=cast.odo, presses=cold, once_key="d")
    bay.finish_step(step, actor=cast.odo, presses=cold, once_key="d", is_confirmed=True)
    order.refresh_from_db()
    assert (asked.value.code, order.hold_grade) == ("bay.flow", "needs your decision")
    assert "no pumped stage" in order.hold_reason

    work.resume(order, actor=cast.maren, words="the line was kinked")
    anew = [bay.Press("flow_g", 516, "g", "again"), bay.Press("temp_mdegc", 1400, "0.1 °F", "warmth again")]
    again = bay.finish_step(step, actor=cast.odo, presses=anew, once_key="d2", answers=bays.AT_ONCE)

    assert again.told.startswith("2.62 qt (2.48 L) a minute")
    assert bays.now(order).code == "pump"


def test_the_engine_is_stopped_by_something_that_has_a_name(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "engine_stop")

    with pytest.raises(Refusal) as told:
        bay.finish_step(step, actor=cast.odo, presses=bays.as_asked(step, engine_stop=0), once_key="d")

    assert told.value.code == "bay.engine_stop"


def test_in_and_out_that_drift_apart_are_asked_with_the_number(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "pump")
    bays.finish(cast, order)
    bays.finish(cast, order, in_ml=20)  # a little more in than the 1.8 qt of the course, inside its limits

    with pytest.raises(Refusal) as asked:
        bays.finish(cast, order, out_ml=16)  # a little less out, inside its limits too

    assert asked.value.code == "bay.balance"
    assert asked.value.message == "In and out so far: 0.5 qt (0.4 L) above what the course says. Is that right?"


def test_the_flow_proof_says_where_each_pumped_stage_is_switched_off(cast):
    order = bays.in_the_bay(cast)
    proof = bays.up_to(cast, order, "flow_proof")
    pumps = order.steps.filter(code="pump").order_by("order")
    assert {step.limits["switch_off"] for step in pumps[:2]} == {"1.0 qt", "1.5 qt"}  # 0.3 L less, the house margin

    bays.finish(cast, order, flow_g=400)

    flow = flow_of(proof, list(order.events.select_related("step").order_by("pk")))
    most = flow.margin_most_l * 1000
    for step in pumps:
        off = float(step.limits["switch_off"].removesuffix(" qt")) * 946.353
        assert step.limits["out_ml"] - 95 - most <= off <= step.limits["out_ml"] - most
        assert f"switch off at {step.limits['switch_off']} in the bucket" in step.text
        assert f"switch off at {step.limits['switch_off']} in the bucket" in step.limits["stop_sign"]
        assert step.limits["runs_on"].endswith("by the flow proof")
    assert 120 < most < 300

    faster = [out("again", 700, "flow_g", "g"), out("warm", 140, "temp_mdegc", "°F")]
    bay.redo_step(proof, actor=cast.odo, presses=faster, words="it was cold", once_key="redo", answers=bays.AT_ONCE)

    first = order.steps.filter(code="pump").order_by("order")[0]
    assert (pumps[0].limits["switch_off"], first.limits["switch_off"]) == ("1.1 qt", "0.9 qt")


def goes_on_beyond(cast, order, tenths):
    """A stage pumped beyond its stop: held, looked at, gone on with."""
    step = bays.now(order)
    given = {"actor": cast.odo, "presses": [out(f"b{step.order}", tenths)]}
    assert bay.finish_step(step, once_key=f"h{step.order}", is_confirmed=True, **given).is_held
    order.refresh_from_db()
    work.resume(order, actor=cast.odo)
    return bay.finish_step(step, actor=cast.odo, once_key=f"g{step.order}")


def test_a_pumped_stage_that_reaches_the_pickup_is_told_by_name(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    assert (step.limits["pickup_ml"], step.needs[0]["high"]) == (1_600, 13)
    for tenths in (14, 17):  # 1.32 L, beyond the stop by less than a key, and 1.61 L
        with pytest.raises(Refusal) as asked:
            bays.finish(cast, order, out_ml=tenths)
        assert asked.value.code == "bay.outside"
        assert "never beyond 1.37 qt (1.30 L). Air may have been drawn" in asked.value.message
    assert not goes_on_beyond(cast, order, 16).is_held
    bays.finish(cast, order)

    with pytest.raises(Refusal) as told:
        goes_on_beyond(cast, order, 19)

    assert (told.value.code, told.value.field) == ("bay.pickup", "out_ml")
    assert "leave the level 1.7 qt (1.6 L) below full: the pickup lies 1.7 qt (1.6 L) below full" in told.value.message
    assert "the pump drew air. Engine off." in told.value.message


def test_what_came_beyond_the_stop_is_asked_once_holds_once_and_then_goes_on(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    beyond = [out("b1", 14)]
    assert bay.finish_step(step, actor=cast.odo, presses=beyond, once_key="d1", is_confirmed=True).is_held
    order.refresh_from_db()
    work.resume(order, actor=cast.odo)

    with pytest.raises(Refusal) as asked:  # another figure is another question
        bay.finish_step(step, actor=cast.odo, presses=[out("b2", 15)], once_key="d2")
    assert asked.value.code == "bay.outside"
    assert not bay.finish_step(step, actor=cast.odo, once_key="d3").is_held


def test_a_line_is_not_opened_hot_whoever_confirms_it(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "lines_open")

    for degrees, confirmed in ((162, False), (162, True), (141, True)):
        hot = [out(f"h{degrees}{confirmed}", degrees, "temp_mdegc", "°F")]
        with pytest.raises(Refusal) as told:
            bay.finish_step(
                step, actor=cast.odo, presses=hot, once_key=f"d{degrees}{confirmed}", is_confirmed=confirmed
            )
        assert (told.value.code, told.value.confirmable) == ("bay.hot", False)
    assert told.value.message.startswith("The fluid reads 141 °F (60.6 °C): a line is never broken hot")
    assert "let it cool to 140 °F (60 °C) or below, read it once more" in told.value.message

    bay.finish_step(step, actor=cast.odo, presses=[out("cold", 140, "temp_mdegc", "°F")], once_key="later")
    assert bays.now(order).code != "lines_open"


def test_only_a_step_that_may_be_skipped_is_skipped_and_with_a_reason(cast):
    order = bays.in_the_bay(cast)

    with pytest.raises(Refusal) as told:
        bay.skip_step(bays.now(order), actor=cast.odo, words="no time", once_key="s")
    assert told.value.code == "bay.may_not_skip"

    scan = bays.up_to(cast, order, "scan")
    with pytest.raises(Refusal) as told:
        bay.skip_step(scan, actor=cast.odo, words=" ", once_key="s")
    assert told.value.code == "bay.words"

    for _ in range(2):
        bay.skip_step(scan, actor=cast.odo, words="no socket on this van", once_key="s")
    scan.refresh_from_db()
    assert (scan.state, scan.skip_reason, bays.now(order).code) == ("skipped", "no socket on this van", "lines_open")


def test_what_is_redone_counts_anew_and_the_old_stays_to_be_read(cast):
    order = bays.in_the_bay(cast)
    first = bays.up_to(cast, order, "pump")
    bays.finish(cast, order)

    bay.redo_step(first, actor=cast.odo, presses=[out("r1", 12)], words="read again", once_key="r")

    first.refresh_from_db()
    events = list(order.events.select_related("step").order_by("pk"))
    assert first.state == "redone"
    assert bay_events.totals(events) == (0, 1_136)
    assert [e.value for e in events if e.what == "out_ml"] == [1_230, 1_136]

    bay.redo_step(first, actor=cast.odo, presses=[out("r2", 13)], words="and again", once_key="rr")
    first.refresh_from_db()
    assert (first.state, bay_events.totals(list(order.events.all()))) == ("redone", (0, 1_230))


@pytest.mark.parametrize(("words", "expected"), [("", "bay.words"), ("read again", "bay.step")])
def test_a_step_ahead_is_not_redone_and_a_redo_says_why(cast, words, expected):
    order = bays.in_the_bay(cast)
    step = bays.now(order)
    if expected == "bay.words":
        bays.finish(cast, order)
        step.refresh_from_db()

    with pytest.raises(Refusal) as told:
        bay.redo_step(step, actor=cast.odo, words=words, once_key="r")

    assert told.value.code == expected


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"key": ""}, "bay.once_key"),
        ({"key": "x" * 81}, "bay.once_key"),
        ({"key": "a", "value": -1}, "bay.amount"),
        ({"key": "a", "unit": "g"}, "bay.unit"),
        ({"key": "a", "what": "color"}, "bay.what"),
    ],
)
def test_a_press_that_makes_no_sense_is_refused(cast, given, expected):
    order = bays.in_the_bay(cast)

    with pytest.raises(Refusal) as told:
        bay.press(bays.now(order), out(**given), actor=cast.odo)

    assert told.value.code == expected


def test_a_key_of_another_job_is_not_taken_twice(cast):
    order = bays.in_the_bay(cast)
    other = bays.in_the_bay(cast, "A", "V-08")
    bay.press(bays.now(order), out("k"), actor=cast.odo)

    with pytest.raises(Refusal) as told:
        bay.press(bays.now(other), out("k"), actor=cast.odo)

    assert told.value.code == "idempotency.mismatch"


@pytest.mark.parametrize("deed", ["press", "finish", "skip", "redo"])
def test_the_job_is_the_technician_s_own(cast, deed):
    order = bays.in_the_bay(cast)
    step = bays.now(order)
    deeds = {
        "press": lambda actor: bay.press(step, out("k"), actor=actor),
        "finish": lambda actor: bay.finish_step(step, actor=actor, once_key="k"),
        "skip": lambda actor: bay.skip_step(step, actor=actor, words="why not", once_key="k"),
        "redo": lambda actor: bay.redo_step(step, actor=actor, words="why not", once_key="k"),
    }

    for actor in (cast.pilar, cast.tobin, cast.maren, cast.sam):
        with pytest.raises(NotYours):
            deeds[deed](actor)
    with pytest.raises(Http404):
        deeds[deed](cast.jory)
    assert BayEvent.objects.count() == 0


def test_after_coolant_nothing_goes_in_but_what_came_out_is_noted(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    note_finding(order.visit, actor=cast.odo, code="K-01", signs=("pink milk",))

    with pytest.raises(Refusal) as told:
        bay.press(step, out("k1", what="in_ml"), actor=cast.odo)
    with pytest.raises(Refusal) as done:
        bays.finish(cast, order)
    bay.press(step, out("k2"), actor=cast.odo)

    trail.write_refused()
    assert (told.value.code, done.value.code) == ("bay.coolant", "bay.coolant")
    assert BayEvent.objects.filter(what="out_ml", once_key="k2").exists()
    assert TrailEntry.objects.filter(what="refused: coolant found").count() >= 2


def test_a_cleared_order_takes_no_press_and_the_level_has_its_own_page(cast):
    order = bays.cleared(cast)
    with pytest.raises(StateRefusal):
        bay.press(order.steps.first(), out("k"), actor=cast.odo)

    work.start(order, actor=cast.odo)
    level = order.steps.get(code="level")
    with pytest.raises(StateRefusal) as told:
        bay.finish_step(level, actor=cast.odo, once_key="x")
    with pytest.raises(StateRefusal) as redone:
        bay.redo_step(level, actor=cast.odo, words="again", once_key="x")

    assert (told.value.code, redone.value.code) == ("bay.use_level", "bay.use_level")


def test_amounts_take_the_weight_where_a_step_has_both(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "pump")
    bay.press(step, out("v", 14), actor=cast.odo)
    bay.press(step, out("w", 1_100, what="out_g", unit="g"), actor=cast.odo)

    found = [one for one in bay_events.amounts(order.events.select_related("step")) if one.way == "out"]

    assert [(one.mass_g, one.volume_ml) for one in found] == [(1_100, None)]
    assert bay_events.level_now(list(order.events.all())) == -1_300


def read_at_intake(cast, figure):
    """The example vehicle in the bay, its odometer read at intake and again in the bay."""
    order = bays.written_up(cast)
    reading = note_reading(order.visit.vehicle, actor=cast.tobin, figure=figure, unit="mi", source="intake")
    Visit.objects.filter(pk=order.visit_id).update(reading=reading)
    order.refresh_from_db()
    work.clear(order, actor=cast.tobin, bay=bays.north(cast), technician=cast.odo.staff)
    work.start(order, actor=cast.odo)
    return order


def test_an_odometer_out_below_the_one_read_in_the_bay_is_refused_and_cannot_be_confirmed(cast):
    came = last_counted(cast.vehicle("V-01")).figure
    order = read_at_intake(cast, came)
    bays.up_to(cast, order, "odometer_in")
    bays.finish(cast, order, odometer=came + 2)
    bays.level(cast, order)
    while bays.now(order).code != "odometer_out":
        bays.finish(cast, order)
    step = bays.now(order)
    below = bays.as_asked(step, odometer=came + 1)

    with pytest.raises(Refusal) as told:
        bay.finish_step(step, actor=cast.odo, presses=below, once_key="d", is_confirmed=True)
    bays.finish(cast, order, odometer=came + 2)

    assert (told.value.code, told.value.field, told.value.confirmable) == ("odometer.below", "odometer", False)
    assert told.value.message.startswith(
        f"{came + 1:,} mi is below {came + 2:,} mi, read at step 2 of this visit. Read the odometer once more"
    )
    step.refresh_from_db()
    assert step.state == "done"


def test_an_odometer_read_higher_in_the_bay_afterwards_refuses_the_close_out(cast):
    came = last_counted(cast.vehicle("V-01")).figure
    order = read_at_intake(cast, came)
    bays.level(cast, order)
    while order.steps.filter(state="now").exists():
        bays.finish(cast, order)
    first = order.steps.get(code="odometer_in")
    again = [bay.Press("odometer", came + 3, "mi", "r-1")]
    bay.redo_step(first, actor=cast.odo, presses=again, words="misread before", once_key="r")

    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order)

    assert told.value.code == "odometer.below"


def test_what_is_asked_names_the_reading_that_it_is_about(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "levelness")

    with pytest.raises(Refusal) as told:
        bay.finish_step(step, actor=cast.odo, presses=bays.as_asked(step, tilt_side=9), once_key="d")

    assert (told.value.code, told.value.field) == ("bay.outside", "tilt_side")


def test_the_engine_is_asked_about_while_the_fluid_is_above_its_window(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "start_engine")

    with pytest.raises(Refusal) as asked:
        bay.finish_step(step, actor=cast.odo, once_key="e")
    found = bay.finish_step(step, actor=cast.odo, once_key="e", is_confirmed=True)

    assert (asked.value.code, asked.value.confirmable) == ("bay.early_start", True)
    assert asked.value.message.endswith("running, it warms. Does the engine run already?")
    assert "must cool below 113 °F (45 °C) before the engine starts" in asked.value.message
    assert (found.is_held, bays.now(order).code) == (False, "sweep")
    assert "must cool below" in TrailEntry.objects.filter(what="step done").latest("pk").after["early"]
