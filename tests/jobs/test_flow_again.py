"""Too little flow is proved again before the next stage, whoever says that it was mended."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.services import bay, work
from tests.jobs import bay_stage as bays

pytestmark = pytest.mark.django_db


def press(cast, order, key, grams, **more):
    step = bays.now(order)
    rows = [bay.Press(one.what, one.value, one.unit, f"{key}-{one.what}") for one in bays.as_asked(step, flow_g=grams)]
    given = {"answers": bays.AT_ONCE, **more}
    return bay.finish_step(step, actor=cast.odo, presses=rows, once_key=f"{key}-done", **given)


def held(cast, grams=0):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "flow_proof")
    assert press(cast, order, "first", grams, is_confirmed=True).is_held
    order.refresh_from_db()
    return order


def test_no_flow_is_proved_again_with_new_readings(cast):
    order = held(cast)

    order = work.resume(order, actor=cast.odo) if order.hold_grade == "watch" else _decided(cast, order)

    step = bays.now(order)
    assert step.code == "flow_proof"
    with pytest.raises(Refusal) as told:
        bay.finish_step(step, actor=cast.odo, once_key="nothing new")
    assert told.value.code == "bay.needs"
    press(cast, order, "second", 500)
    assert bays.now(order).code != "flow_proof"


def _decided(cast, order):
    return work.resume(order, actor=cast.maren, words="line was pinched, freed")


def test_a_proof_that_failed_when_done_again_comes_up_before_the_next_stage(cast):
    order = bays.in_the_bay(cast)
    proof = bays.up_to(cast, order, "flow_proof")
    bays.finish(cast, order)
    following = bays.now(order).code
    rows = [bay.Press(one.what, one.value, one.unit, f"again-{one.what}") for one in bays.as_asked(proof, flow_g=0)]
    proof.refresh_from_db()
    bay.redo_step(proof, actor=cast.odo, presses=rows, words="it slowed down", once_key="again-done", is_confirmed=True)
    order.refresh_from_db()

    order = work.resume(order, actor=cast.odo) if order.hold_grade == "watch" else _decided(cast, order)

    assert (bays.now(order).code, bays.now(order).pk != proof.pk) == ("flow_proof", True)
    press(cast, order, "third", 500)
    assert bays.now(order).code == following
    orders = list(order.steps.order_by("order").values_list("order", flat=True))
    assert orders == list(range(1, len(orders) + 1))


@pytest.mark.control
def test_a_hold_for_something_else_asks_for_no_other_proof(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "flow_proof")
    bays.finish(cast, order)
    following = bays.now(order)
    work.hold(order, actor=cast.odo, reason="waits for a hose")

    order = work.resume(order, actor=cast.odo)

    assert bays.now(order).pk == following.pk
