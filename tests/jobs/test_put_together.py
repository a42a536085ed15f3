"""Work ended early: what was opened is shut, filled and looked at before the vehicle is ready."""

from __future__ import annotations

import pytest

from shopserv.billing import selectors as bills
from shopserv.billing import services as billing
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.bay_events import level_now
from shopserv.jobs.services import bay, work
from shopserv.jobs.services.findings import note_finding
from tests.jobs import bay_stage as bays

pytestmark = pytest.mark.django_db
WORDS = "the customer changed his mind; closed and filled again"


def open_codes(order):
    return list(order.steps.filter(state__in=("ahead", "now")).order_by("order").values_list("code", flat=True))


def ended_behind(cast, letter, code):
    """Ended early when the step of `code` was done."""
    order = bays.in_the_bay(cast, letter)
    bays.up_to(cast, order, code)
    bays.finish(cast, order)
    order.refresh_from_db()
    return work.cut_short(order, actor=cast.maren, words=WORDS)


def test_after_the_drain_the_plug_the_fluid_and_the_level_are_ahead(cast):
    order = ended_behind(cast, "A", "drain")

    order.visit.refresh_from_db()
    codes = open_codes(order)
    assert (order.state, order.visit.state) == ("in the bay", "in work")
    assert codes[:3] == ["drain_plug", "add", "levelness"]
    assert [code for code in codes if code in ("level", "plugs", "leak_idle", "leak_again", "odometer_out")] == [
        "level",
        "plugs",
        "leak_idle",
        "leak_again",
        "odometer_out",
    ]
    assert not {"lines_back", "lines_home", "cooler_full", "adaptation", "mix"} & set(codes)
    add = order.steps.get(state="ahead", code="add")
    assert add.limits["in_ml"] == -level_now(list(order.events.all()))


def test_open_lines_are_connected_filled_and_pulled_at(cast):
    order = ended_behind(cast, "C", "lines_open")

    codes = open_codes(order)
    assert next(code for code in codes if code.startswith(("lines", "cooler"))) == "lines_back"
    assert codes.index("cooler_full") < codes.index("level")
    assert "lines_home" in codes
    assert "drain_plug" not in codes


@pytest.mark.control
def test_nothing_is_handed_over_while_it_stands_open(cast):
    order = ended_behind(cast, "A", "drain")

    with pytest.raises(StateRefusal):
        billing.hand_over(order.visit, actor=cast.tobin, words="he is in a hurry")
    with pytest.raises(Refusal) as told:
        work.cut_short(order, actor=cast.maren, words="now really")

    assert told.value.code == "cut_short.steps"
    order.visit.refresh_from_db()
    assert order.visit.state == "in work"


def test_put_together_closed_out_and_seen_it_is_cut_short_and_ready_and_not_billed(cast):
    order = ended_behind(cast, "A", "drain")
    bays.level(cast, order, out_ml=0)
    order.refresh_from_db()
    bays.through_the_steps(cast, order)
    bays.close_out(cast, order)
    order.visit.refresh_from_db()
    before = order.visit.state

    bays.look(cast, order)

    order.refresh_from_db()
    order.visit.refresh_from_db()
    assert before == "in work"
    assert (order.state, order.visit.state) == ("cut short", "ready")
    assert order.close_out["cut_short"] == WORDS
    assert bills.not_invoiced(cast.tobin, order.visit) == []
    assert billing.hand_over(order.visit, actor=cast.tobin).state == "gone"


def test_where_nothing_was_opened_it_is_ready_at_once(cast):
    order = bays.in_the_bay(cast, "A")
    bays.up_to(cast, order, "fluid_look")

    order = work.cut_short(order, actor=cast.maren, words=WORDS)

    order.visit.refresh_from_db()
    assert (order.state, order.visit.state) == ("cut short", "ready")


def test_with_coolant_in_it_it_is_shut_and_nothing_goes_in(cast):
    order = bays.in_the_bay(cast, "A")
    bays.up_to(cast, order, "drain")
    bays.finish(cast, order)
    bay.find_coolant(order, actor=cast.odo, signs=["pink milk", "glycol strip positive"], once_key="milk")
    order.refresh_from_db()

    order = work.cut_short(order, actor=cast.maren, words="shut, empty, on the truck")
    codes = open_codes(order)
    for _ in codes:
        bays.finish(cast, order)
    order.refresh_from_db()
    order = work.cut_short(order, actor=cast.maren, words="shut, empty, not to be driven")

    order.visit.refresh_from_db()
    assert codes == ["drain_plug", "plugs", "odometer_out"]
    assert not order.steps.filter(code="add", state="done").exists()
    assert (order.state, order.visit.state) == ("cut short", "ready")


def test_a_stop_of_the_work_does_not_stop_putting_it_together(cast):
    order = ended_behind(cast, "A", "drain")
    note_finding(order.visit, actor=cast.odo, code="K-14", words="needles")
    work.hold(order, actor=cast.odo, reason="waits for a washer")

    order = work.resume(order, actor=cast.odo)

    assert order.state == "in the bay"
    assert bays.now(order).code == "drain_plug"
