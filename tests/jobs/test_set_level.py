"""Setting the level: what is kept with it, and what does not pass."""

from __future__ import annotations

import pytest
from django.http import Http404

from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs.models import BayEvent, LevelRecord
from shopserv.jobs.services import bay, work
from shopserv.jobs.services.findings import note_finding
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage as bays


def at_level(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "level")
    return order


def test_the_level_is_kept_with_its_budget_and_moves_the_work_order(cast):
    order = at_level(cast)

    done = bays.level(cast, order, temp_mdegc=1_076)  # 107.6 °F

    order.refresh_from_db()
    record = order.level_records.get()
    assert (order.state, done.is_held, record.passes, record.attempt) == ("level set", False, True, 1)
    assert (record.temp_mdegc, record.temp_as_typed, record.temp_instrument) == (42_000, "107.6 °F", "TH-201")
    assert (record.sweep_done, record.cooler_full, record.dwell_s, record.sign) == (
        True,
        True,
        3,
        "drip at the overflow",
    )
    assert record.budget["limit_ml"] == 300
    assert record.budget["verdict"].startswith("twice 52 mL is within the 300 mL")
    assert bays.now(order).code == "plugs"
    assert TrailEntry.objects.filter(what="level set").count() == 1


def test_the_budget_is_that_of_the_worked_example(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "levelness")
    bay.finish_step(step, actor=cast.odo, presses=bays.as_asked(step, tilt_fore_aft=2, tilt_side=1), once_key="tilted")

    record = bays.level(cast, order, temp_mdegc=1_076).record

    assert [item["ml_tenths"] for item in record.budget["items"]] == [28, 653, 327, 82, 82, 400]
    assert (record.budget_ml_tenths, record.budget["riskiest"]) == (841, ["tilt fore-aft", "level sign"])


def test_the_same_key_again_sets_one_level(cast):
    order = at_level(cast)
    for _ in range(3):
        done = bay.set_level(
            order,
            actor=cast.odo,
            pin=bays.pin(cast.odo),
            setting=bays.DRIP,
            presses=bays.as_asked(order.steps.get(code="level")),
            once_key="level",
            answers=bays.AT_ONCE,
        )

    assert (done.order.state, LevelRecord.objects.count()) == ("level set", 1)


@pytest.mark.parametrize(
    ("other", "setting", "code"),
    [
        ({"temp_mdegc": 1_220}, bays.DRIP, "level.temperature"),
        ({"in_ml": 60}, bays.DRIP, "level.poured"),
        ({}, bay.Setting(True, engine="off", plug_closed_with="running"), "level.engine"),
        ({}, bay.Setting(True, plug_closed_with="off"), "level.plug"),
    ],
)
def test_what_speaks_against_it_is_asked_once_and_then_held_with_its_record(cast, other, setting, code):
    order = at_level(cast)

    with pytest.raises(Refusal) as asked:
        bays.level(cast, order, setting=setting, **other)
    assert (asked.value.code, asked.value.confirmable, LevelRecord.objects.count()) == (code, True, 0)

    held = bays.level(cast, order, setting=setting, confirmed=True, **other)
    order.refresh_from_db()
    assert (held.is_held, held.record.passes, order.state, order.hold_grade) == (True, False, "on hold", "watch")

    work.resume(order, actor=cast.odo)
    again = bays.level(cast, order, key="second")
    assert (again.record.attempt, again.record.passes, again.order.state) == (2, True, "level set")
    assert list(LevelRecord.objects.order_by("attempt").values_list("passes", flat=True)) == [False, True]


def test_a_vehicle_that_does_not_stand_level_does_not_pass(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "levelness")
    with pytest.raises(Refusal) as asked:
        bay.finish_step(step, actor=cast.odo, presses=bays.as_asked(step, tilt_side=9), once_key="t")
    assert asked.value.code == "bay.outside"
    bays.finish(cast, order)
    tilted = [bay.Press(what, 5, "0.1°", what) for what in ("tilt_side", "tilt_fore_aft")]
    bay.redo_step(step, actor=cast.odo, presses=tilted, words="stood on the grate", once_key="t-redo")

    with pytest.raises(Refusal) as told:
        bays.level(cast, order)

    assert told.value.code == "level.budget"
    assert told.value.message.startswith("Too unsure: twice 176 mL is more than the 300 mL")


@pytest.mark.parametrize(("value", "unit"), [(40, "°F"), (400, "0.1 °F"), (104, "°C")])
def test_b136_a_figure_that_fits_only_in_the_other_unit_is_asked_with_both_readings(cast, value, unit):
    order = at_level(cast)
    step = bays.now(order)
    presses = [one for one in bays.as_asked(step) if one.what != "temp_mdegc"]
    presses.append(bay.Press("temp_mdegc", value, unit, "warm"))

    for is_confirmed in (False, True):
        with pytest.raises(Refusal) as asked:
            bay.set_level(
                order, actor=cast.odo, pin=bays.pin(cast.odo), setting=bays.DRIP, presses=presses, once_key="b136",
                is_confirmed=is_confirmed,
            )  # fmt: skip

    assert (asked.value.code, asked.value.field, asked.value.status) == ("level.unit", "temp_mdegc", 422)
    both = "40 °C = 104.0 °F; 40 °F = 4.4 °C" if unit != "°C" else "104 °C = 219.2 °F; 104 °F = 40.0 °C"
    assert both in asked.value.message
    order.refresh_from_db()
    assert (order.state, LevelRecord.objects.count()) == ("in the bay", 0)
    assert not BayEvent.objects.filter(once_key="warm").exists()


def test_without_its_sign_or_its_readings_no_level_is_set(cast):
    order = at_level(cast)
    with pytest.raises(Refusal) as told:
        bays.level(cast, order, setting=bay.Setting(sign_seen=False, plug_closed_with="running"))
    assert (told.value.code, told.value.confirmable) == ("level.sign", False)

    with pytest.raises(Refusal) as missing:
        bay.set_level(order, actor=cast.odo, pin=bays.pin(cast.odo), setting=bays.DRIP, once_key="x")
    assert (missing.value.code, missing.value.field) == ("bay.needs", "temp_mdegc")

    with pytest.raises(Refusal) as source:
        bays.level(cast, order, setting=bay.Setting(True, temp_source="hand", plug_closed_with="running"))
    assert source.value.code == "level.source"


def test_the_level_carries_a_name_and_a_pin_and_waits_for_its_step(cast):
    order = bays.in_the_bay(cast)
    early = {"setting": bays.DRIP, "once_key": "x"}
    with pytest.raises(StateRefusal) as told:
        bay.set_level(order, actor=cast.odo, pin=bays.pin(cast.odo), **early)
    assert told.value.code == "bay.use_level"
    with pytest.raises(Refusal) as wrong:
        bay.set_level(order, actor=cast.odo, pin="9876", **early)
    assert wrong.value.code == "pin.wrong"
    for actor in (cast.pilar, cast.tobin, cast.maren):
        with pytest.raises(NotYours):
            bay.set_level(order, actor=actor, pin=bays.pin(actor), **early)
    with pytest.raises(Http404):
        bay.set_level(order, actor=cast.jory, pin=bays.pin(cast.jory), **early)


def test_after_coolant_no_level_is_set(cast):
    order = at_level(cast)
    note_finding(order.visit, actor=cast.odo, code="K-01", signs=("pink milk",))

    with pytest.raises(Refusal) as told:
        bays.level(cast, order)

    assert told.value.code == "bay.coolant"


def test_a_tilt_that_nobody_measured_is_not_level(cast):
    order = bays.in_the_bay(cast)
    asked = order.steps.get(code="levelness").needs
    order.steps.filter(code="levelness").update(needs=[row for row in asked if row["what"] != "tilt_side"])

    with pytest.raises(Refusal) as told:
        bays.level(cast, order)

    assert (told.value.code, told.value.field) == ("bay.needs", "tilt_side")
    assert LevelRecord.objects.count() == 0
