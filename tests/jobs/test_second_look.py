"""The second look: who may, blind figures first, what a yes asks, and what a no does."""

from __future__ import annotations

import dataclasses
import json

import pytest
from django.http import Http404

from shopserv.billing import selectors as billing
from shopserv.billing.services import issue
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs.models import BayEvent, SecondLook
from shopserv.jobs.selectors import bay as selectors
from shopserv.jobs.services import bay
from shopserv.shop.models import RoleGrant, Staff, TrailEntry
from tests.jobs import bay_stage as bays


@pytest.mark.parametrize(("who", "name"), [("pilar", "Pilar Senderos"), ("maren", "Maren Holbeck")])
def test_a_yes_makes_the_work_through_and_the_visit_ready(cast, who, name):
    order = bays.closed_out(cast)

    look = bays.look(cast, order, who=getattr(cast, who))

    order.refresh_from_db()
    order.visit.refresh_from_db()
    assert (look.state, look.by.name, look.is_own, look.while_it_ran) == ("yes", name, False, False)
    assert (order.state, order.visit.state) == ("second look done", "ready")
    entry = TrailEntry.objects.get(what="second look")
    assert (entry.who, entry.after["answer"], entry.after["visit_ready"]) == (name, "yes", True)


def test_the_first_figures_are_nowhere_until_the_own_ones_are_in(cast):
    order = bays.closed_out(cast)
    hidden = order.second_looks.get().items

    before = selectors.second_look_for(cast.pilar, order.number)
    bay.give_figures(order, actor=cast.odo, by=cast.pilar.staff, pin=bays.pin(cast.pilar), own=bays.same_figures(order))
    after = selectors.second_look_for(cast.pilar, order.number)

    assert [row["what"] for row in hidden if row["is_risk"]] == ["sign", "tilt_fore_aft"]
    assert any(row["first"] is not None for row in hidden)
    assert all((item.first, item.first_shown, item.is_far) == (None, "", False) for item in before.items)
    assert all(row["first"] is None for row in before.look.items)
    assert (before.is_given, before.is_answerable, after.is_given, after.is_answerable) == (False, False, True, True)
    assert {item.what: item.first for item in after.items} == {row["what"]: row["first"] for row in hidden}
    assert [one.first_name for one in before.lookers] == ["Maren", "Pilar"]


def test_what_was_seen_while_it_ran_is_kept_until_the_answer(cast):
    order = bays.at_the_level(cast)
    sheet = selectors.second_look_for(cast.pilar, order.number)
    assert [(item.what, item.runs) for item in sheet.items] == [("sign", True), ("tilt_fore_aft", False)]

    bay.give_figures(
        order, actor=cast.odo, by=cast.pilar.staff, pin=bays.pin(cast.pilar), own={"sign": 1, "tilt_fore_aft": 0}
    )
    assert not BayEvent.objects.filter(work_order=order, person=cast.pilar.staff).exists()
    with pytest.raises(StateRefusal) as early:
        bays.look(cast, order, own=None)
    assert early.value.code == "look.none"

    bays.through_the_steps(cast, order)
    order = bays.close_out(cast, order).order
    look = bays.look(cast, order)

    assert look.seen_while_running["own"] == {"sign": 1, "tilt_fore_aft": 0}
    assert look.while_it_ran is True
    assert {row["what"]: row["own"] for row in look.items}["sign"] == 1


def test_the_technician_never_looks_over_the_own_work(cast):
    order = bays.closed_out(cast)

    for is_own, code in ((False, "look.same_person"), (True, "look.others")):
        with pytest.raises(Refusal) as told:
            bays.look(cast, order, who=cast.odo, is_own=is_own)
        assert told.value.code == code
    with pytest.raises(Refusal) as other:
        bays.look(cast, order, is_own=True)
    assert other.value.code == "look.others"
    assert order.second_looks.get().state == "asked for"


def test_who_has_pressed_on_the_job_is_no_second_person_even_after_a_change_of_technician(cast):
    order = bays.closed_out(cast)
    type(order).objects.filter(pk=order.pk).update(technician=cast.pilar.staff)
    order.refresh_from_db()

    with pytest.raises(Refusal) as told:
        bays.look(cast, order, who=cast.odo)

    assert told.value.code == "look.same_person"
    assert [one.first_name for one in selectors.second_look_for(cast.odo, order.number).lookers] == ["Maren"]


def test_an_own_look_so_marked_stands_only_where_nobody_else_is_entitled(cast):
    order = bays.closed_out(cast)
    Staff.objects.filter(name__startswith="Pilar").update(state="on leave")
    RoleGrant.objects.filter(staff=cast.maren.staff, grant="second look", shop=cast.brw).update(given=False)
    assert selectors.second_look_for(cast.odo, order.number).may_own

    look = bays.look(cast, order, who=cast.odo, is_own=True)

    assert (look.state, look.is_own, look.by) == ("yes", True, cast.odo.staff)
    assert TrailEntry.objects.get(what="second look").after["own_second_look_so_marked"] is True


def test_without_the_grant_or_the_pin_nobody_looks(cast):
    order = bays.closed_out(cast)
    RoleGrant.objects.filter(staff=cast.pilar.staff, grant="second look").update(given=False)

    with pytest.raises(NotYours):
        bays.look(cast, order)
    with pytest.raises(NotYours):
        bays.look(cast, order, actor=cast.tobin)
    with pytest.raises(Refusal) as pin:
        bays.look(cast, order, who=cast.maren, pin="0000")
    with pytest.raises(Http404):
        bays.look(cast, order, actor=cast.jory)
    assert pin.value.code == "pin.wrong"


@pytest.mark.parametrize(
    ("own", "code", "field"),
    [
        ({"tilt_side": None}, "look.missing", "tilt_side"),
        ({"tilt_fore_aft": 9}, "look.far", "tilt_fore_aft"),
        ({"plugs": 0}, "look.far", "plugs"),
        ({"odometer": 12}, "look.far", "odometer"),
        ({"color": 1}, "look.item", "color"),
        ({"plugs": 2}, "look.item", "plugs"),
    ],
)
def test_no_yes_over_what_is_missing_or_far_from_the_first(cast, own, code, field):
    order = bays.closed_out(cast)

    with pytest.raises(Refusal) as told:
        bays.look(cast, order, own=bays.same_figures(order, **own))

    assert (told.value.code, told.value.field) == (code, field)
    order.refresh_from_db()
    assert (order.state, SecondLook.objects.get().state) == ("level set", "asked for")


def test_a_far_figure_shows_both_and_may_be_read_again(cast):
    order = bays.closed_out(cast)
    with pytest.raises(Refusal) as told:
        bays.look(cast, order, own=bays.same_figures(order, tilt_fore_aft=9))
    assert (
        told.value.message == "tilt fore-aft: 0.9° against 0.0°. Read it once more; if it stays so, the answer is no."
    )

    assert bays.look(cast, order).state == "yes"


@pytest.mark.parametrize("answer", ["no", "could not see"])
def test_n19_a_no_says_why_and_after_rework_another_look_stands_beside_it(cast, answer):
    order = bays.closed_out(cast)
    with pytest.raises(Refusal) as told:
        bays.look(cast, order, answer)
    assert told.value.code == "look.words"

    first = bays.look(cast, order, answer, words="level is low")
    order.refresh_from_db()
    assert (first.state, order.state, order.visit.state) == ("no", "level set", "in work")
    assert first.words == ("level is low" if answer == "no" else "could not see: level is low")
    assert selectors.bay_line(cast.odo)[0].whose_move == "ours"

    bay.recheck(order, actor=cast.odo, words="level was low", once_key="r")
    bays.level(cast, order, key="second", in_ml=1, out_ml=0)
    bays.through_the_steps(cast, order)
    order = bays.close_out(cast, order, key="again").order
    second = bays.look(cast, order)

    assert list(order.second_looks.order_by("attempt").values_list("attempt", "state")) == [(1, "no"), (2, "yes")]
    assert order.level_records.count() == 2
    assert second.attempt == 2


def test_something_small_mended_is_looked_at_again_without_the_bay(cast):
    order = bays.closed_out(cast)
    with pytest.raises(StateRefusal):
        bay.ask_again(order, actor=cast.odo, words="marked the plugs")
    bays.look(cast, order, "no", words="a plug is not marked")

    again = bay.ask_again(order, actor=cast.odo, words="marked the plugs")

    assert (again.attempt, again.state) == (2, "asked for")
    assert bays.look(cast, order).state == "yes"


def test_own_figures_come_first(cast):
    order = bays.closed_out(cast)

    for answer in ("yes", "no"):
        with pytest.raises(Refusal) as told:
            bays.look(cast, order, answer, own=None, words="level is low")
        assert told.value.code == "look.figures"
    with pytest.raises(Refusal) as odd:
        bays.look(cast, order, "perhaps")
    assert odd.value.code == "look.answer"


def test_the_line_of_looks_and_the_sheet_carry_no_price(cast):
    order = bays.closed_out(cast)

    waiting = selectors.looks_waiting(cast.pilar)
    said = json.dumps([dataclasses.asdict(row) for row in waiting], default=str)

    assert [(row.number, row.technician, row.is_running, row.mine) for row in waiting] == [
        (order.number, "Odo", False, False)
    ]
    assert "cents" not in said
    assert selectors.looks_waiting(cast.jory) == ()


def test_v01_from_clearing_to_the_invoice(cast):
    order = bays.closed_out(cast)
    bays.look(cast, order)
    order.refresh_from_db()

    assert billing.blockers(cast.tobin, order) == []
    invoice = issue(order, actor=cast.tobin, edition=order.edition)

    order.refresh_from_db()
    service = order.visit.vehicle.services.get(work_order_number=order.number)
    assert (order.state, invoice.total_cents) == ("closed", 44_295)
    assert (service.method, service.technician, service.figure) == ("line exchange", "Odo Brackley", order.odometer_out)
    read = [event.value for event in order.events.filter(what="in_ml")]
    assert service.liters_in_ml == sum(read)  # as it was poured, not as warm as it was checked
    assert service.note.startswith("level at 104.0 °F (40.0 °C) by thermometer")
