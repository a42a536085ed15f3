"""Every kind of unit of the scenario from clearing to ready, as the keys propose it."""

from __future__ import annotations

import pytest

from shopserv.billing import selectors as billing
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import bay as selectors
from shopserv.jobs.services import bay
from tests.jobs import bay_stage as bays


def level_as_it_comes(cast, order: WorkOrder) -> bay.LevelSet:
    """Poured in or run out at the level what the balance says so far, the plug closed as the sheet says."""
    step = bays.up_to(cast, order, "level")
    off = selectors.bay_sheet(cast.odo, order.number).balance_now.difference_ml
    tenths = round(off / 94.635)
    amounts = {"in_ml": max(0, -tenths), "out_ml": max(0, tenths)}
    setting = bay.Setting(
        sign_seen=True,
        engine="off" if step.limits["is_engine_off"] else "running",
        plug_closed_with=step.limits["plug_closed_with"],
    )
    return bays.level(cast, order, setting=setting, **amounts)


@pytest.mark.parametrize(
    ("number", "letter", "method"),
    [
        ("V-01", "A", "single drain"),
        ("V-01", "B", "repeated drain"),
        ("V-01", "D", "pan drop then line exchange"),
        ("V-03", "B", "line exchange with held-open thermostat"),
        ("V-05", "B", "pan drop then line exchange"),
        ("V-06", "C", "pan drop with filter"),
        ("V-08", "A", "separate sump service"),
        ("V-09", "C", "line exchange"),
        ("V-10", "C", "repeated drain"),
        ("V-12", "B", "standpipe drain then line exchange"),
    ],
)
def test_each_method_goes_through_the_bay_to_ready(cast, number, letter, method):
    order = bays.in_the_bay(cast, letter, number)
    assert order.facts["method"] == method

    done = level_as_it_comes(cast, order)
    bays.through_the_steps(cast, order)
    closed = bays.close_out(cast, order)
    if closed.look:
        bays.look(cast, order)

    order.refresh_from_db()
    order.visit.refresh_from_db()
    assert done.record.passes
    assert (closed.look is not None) == order.rules["look_asked"] == order.rules["is_exchange"]
    assert (order.state, order.visit.state) == ("second look done" if closed.look else "level set", "ready")
    assert billing.blockers(cast.tobin, order) == []


def test_a_flow_proof_before_a_pan_removal_counts_as_out_by_itself(cast):
    order = bays.in_the_bay(cast, "B", "V-05")
    bays.up_to(cast, order, "flow_proof")
    bays.finish(cast, order)

    sheet = selectors.bay_sheet(cast.odo, order.number)

    assert bays.now(order).code == "drain_pan"
    assert 580 <= sheet.out_ml <= 600  # 500 g
    assert sheet.balance_now.way == "by weight"
    assert [row["words"] for row in sheet.balance_now.working["inputs"]][-1:] == ["flow proof"]


@pytest.mark.parametrize(("grams", "taken"), [(450, 540), (600, 720)])  # of 833 kg/m³ as hot as it was read
def test_the_drain_expects_what_the_flow_proof_has_left(cast, grams, taken):
    order = bays.in_the_bay(cast, "B", "V-05")
    bays.up_to(cast, order, "flow_proof")
    planned = order.steps.get(code="drain_pan")
    bays.finish(cast, order, flow_g=grams)

    drain = bays.now(order)

    assert drain.code == "drain_pan"
    assert drain.limits["out_ml"] == pytest.approx(planned.limits["out_ml"] + 600 - taken, abs=2)
    assert f"about {readings.volume(drain.limits['out_ml'], 'us')} in it" in drain.text
    row, before = drain.needs[1], planned.needs[1]
    assert drain.needs[0] == planned.needs[0]  # how warm it is
    moved = drain.limits["out_ml"] - planned.limits["out_ml"]
    assert (row["low_base"], row["high_base"]) == (before["low_base"] + moved, before["high_base"] + moved)
    assert readings.typed(row["start"], row["unit"]) in drain.text


def test_a_flow_proof_before_a_pumped_stage_counts_to_that_stage_alone(cast):
    order = bays.in_the_bay(cast, "C", "V-01")
    bays.up_to(cast, order, "flow_proof")
    bays.finish(cast, order)

    sheet = selectors.bay_sheet(cast.odo, order.number)

    assert (sheet.out_ml, sheet.balance_now) == (0, None)


def test_a_cap_that_was_locked_is_opened_again_for_another_level(cast):
    order = bays.in_the_bay(cast, "C", "V-10")
    level_as_it_comes(cast, order)
    bays.through_the_steps(cast, order)

    bay.recheck(order, actor=cast.odo, words="read low", once_key="again")

    ahead = [step.code for step in order.steps.filter(state__in=("now", "ahead")).order_by("order")]
    assert ahead[:2] == ["cap_open", "levelness"]
    assert "cap_locked" in ahead
