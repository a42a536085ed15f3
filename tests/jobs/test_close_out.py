"""Closing out: items, balance, odometer; back into the bay, and what is found there."""

from __future__ import annotations

import pytest
from django.http import Http404

from shopserv.billing import selectors as billing
from shopserv.billing.services import issue
from shopserv.common.errors import NotYours, Refusal, Stale, StateRefusal
from shopserv.jobs.models import BayStep, MassBalance, SecondLook
from shopserv.jobs.services import bay, work
from shopserv.jobs.services.findings import override_finding
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.selectors import last_counted
from shopserv.papers.models import Paper
from shopserv.shop import trail
from shopserv.shop.models import HouseRules, TrailEntry
from tests.jobs import bay_stage as bays


def ready_to_close(cast):
    return bays.through_the_steps(cast, bays.at_the_level(cast))


def test_a_close_out_keeps_balance_and_odometer_and_asks_for_a_second_look(cast):
    came = last_counted(cast.vehicle("V-01")).figure
    order = ready_to_close(cast)

    done = bays.close_out(cast, order)

    order.refresh_from_db()
    assert (order.state, order.closed_out_by, order.odometer_out) == ("level set", "Odo Brackley", came + 2)
    assert all(row == {"done": True, "words": ""} for row in order.close_out["items"].values())
    assert (done.balance.is_inside, done.balance.working["way"], done.balance.scale) == (True, "by volume", "")
    assert done.balance.verdict.startswith("closes by volume: ")
    assert (done.look.state, done.look.attempt, done.is_ready) == ("asked for", 1, False)
    assert OdometerReading.objects.filter(vehicle=order.visit.vehicle, source="service", figure=came + 2).exists()
    assert TrailEntry.objects.filter(what="closed out").count() == 1


def test_the_balance_of_the_worked_example_closes_by_weight(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "levelness")
    # What the course proposes is taken off again: the example was weighed as a whole.
    for number, way, words, grams in [
        (1, "in_g", "jug 1", 3_210), (2, "in_g", "jug 2", 3_210), (3, "in_g", "bottle 1", 803),
        (4, "in_g", "bottle 2", 802), (5, "in_g", "bottle 3", 803), (6, "left_g", "bottle 3", 339),
        (7, "out_g", "bucket 1", 5_394), (8, "out_g", "bucket 2", 3_082), (9, "out_g", "dish", 82),
    ]:  # fmt: skip
        bay.press(step, bay.Press(way, grams, "g", f"w{number}", words=words, instrument="SC-101"), actor=cast.odo)
    for one in order.events.filter(what__in=["in_ml", "out_ml"]).exclude(step=step):
        bay.press(one.step, bay.Press(one.what, 0, "0.1 qt", f"off-{one.pk}"), actor=cast.odo)
    bays.level(cast, order, temp_mdegc=1_076, out_ml=0)
    bays.through_the_steps(cast, order)

    done = bays.close_out(cast, order)

    balance = done.balance
    assert (balance.in_ml, balance.out_ml) == (10_191, 10_128)
    assert (balance.difference_ml_tenths, balance.is_inside) == (631, True)  # 62.7 mL, and 0.3 g of rounding
    assert (balance.scale, balance.thermometer, balance.at_mdegc) == ("SC-101", "TH-201", 42_000)


def test_the_scale_that_was_named_with_a_weight_is_the_one_that_is_kept(cast):
    order = bays.at_the_level(cast)
    for number, what in enumerate(("in_g", "left_g")):
        one = bay.Press(what, 480, "g", f"w{number}", words="bottle 3", instrument="SC-102")
        bay.press(bays.now(order), one, actor=cast.odo)
    bays.through_the_steps(cast, order)

    balance = bays.close_out(cast, order).balance

    inputs = {row["words"]: row for row in balance.working["inputs"]}
    assert (balance.scale, balance.working["way"]) == ("SC-102", "partly by weight")
    assert inputs["scale error, full and empty each"]["value"] == "20"  # not in the list of this shop: the usual error


def test_in_and_out_that_do_not_agree_want_words_and_a_second_look_whatever_the_rule(cast):
    HouseRules.objects.update(second_look="off")
    order = ready_to_close(cast)
    last = order.steps.order_by("-order").first()
    bay.press(last, bay.Press("out_ml", 20, "0.1 qt", "out", words="bucket 3"), actor=cast.odo)

    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order)
    assert (told.value.code, told.value.field) == ("close_out.balance", "balance_words")
    assert "does not close by volume" in told.value.message

    done = bays.close_out(cast, order, balance_words="a bottle tipped over")
    assert (done.balance.is_inside, done.look.state) == (False, "asked for")
    assert done.order.close_out["look_reason"] == "in and out do not agree: a bottle tipped over"


def test_where_no_look_is_asked_the_visit_is_ready_at_once(cast):
    HouseRules.objects.update(second_look="off")
    order = ready_to_close(cast)

    done = bays.close_out(cast, order)

    order.visit.refresh_from_db()
    assert (done.look, done.is_ready, order.visit.state) == (None, True, "ready")
    with pytest.raises(StateRefusal) as told:
        bay.recheck(done.order, actor=cast.odo, words="one more look", once_key="r")
    assert told.value.code == "bay.ready"


def test_a_leftover_of_what_was_poured_by_stages_is_noted_and_takes_nothing_off(cast):
    order = ready_to_close(cast)

    done = bays.close_out(cast, order, presses=[bay.Press("left_ml", 4, "0.1 qt", "left")])

    noted = done.order.close_out["leftover"]
    assert (noted["left_ml"], noted["bought_ml"], noted["poured_ml"]) == (379, 10_408, done.balance.poured_ml)
    assert noted["apart_ml"] == 379 - (10_408 - done.balance.poured_ml)
    assert not [row for row in done.balance.working["inputs"] if row["source"] == "left"]
    assert done.balance.is_inside


def test_a_leftover_that_does_not_agree_with_what_was_bought_and_poured_says_the_difference(cast):
    order = ready_to_close(cast)
    presses = [bay.Press("left_ml", 20, "0.1 qt", "left")]

    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order, presses=presses)
    done = bays.close_out(cast, order, presses=presses, balance_words="a bottle of the last job stood there")

    assert (told.value.code, told.value.field) == ("close_out.leftover", "left_ml")
    assert told.value.message.startswith("2.0 qt (1.9 L) left over was read; 11.0 qt (10.4 L) bought less ")
    assert told.value.message.endswith(" apart. Read again what is in doubt, or say what happened.")
    assert done.order.close_out["leftover"]["left_ml"] == 1_893


def test_no_more_is_left_over_than_was_issued_nor_than_one_package_holds(cast):
    order = ready_to_close(cast)

    def left(tenths, words=""):
        press = bay.Press("left_ml", tenths, "0.1 qt", f"left {tenths} {words}")
        with pytest.raises(Refusal) as told:
            bays.close_out(cast, order, presses=[press], balance_words=words)
        assert (told.value.code, told.value.field) == ("close_out.leftover", "left_ml")
        return told.value.message

    assert left(1200, "all of it came back").startswith("120.0 qt (113.6 L) left over was read, and 11.0 qt (10.4 L)")
    assert "9.0 qt (8.5 L) left over was read; the largest package, a " in left(90)
    assert "goes back to the shelf and is not left over" in left(90)


@pytest.mark.parametrize("code", ["leftovers", "lines_home", "pull_test", "plugs", "leak_again"])
def test_an_item_not_confirmed_refuses_the_close_out_even_with_words(cast, code):
    order = ready_to_close(cast)

    for given in (None, False, "no time for it"):
        with pytest.raises(Refusal) as told:
            bays.close_out(cast, order, items={**bays.all_items(order), code: given})
        assert (told.value.code, told.value.field) == ("close_out.item", code)
    assert MassBalance.objects.count() == 0


def test_what_was_skipped_is_said_with_its_reason(cast):
    order = bays.at_the_level(cast)
    while bays.now(order).code != "adaptation":
        bays.finish(cast, order)
    bay.skip_step(bays.now(order), actor=cast.odo, words="customer did not want it", once_key="skip")
    bays.through_the_steps(cast, order)

    done = bays.close_out(cast, order, items={**bays.all_items(order), "adaptation": None})

    kept = done.order.close_out
    assert kept["items"]["adaptation"] == {"done": False, "words": "customer did not want it"}
    assert [row[2] for row in kept["not_done"]] == ["customer did not want it"]


def test_open_steps_an_old_page_and_a_wrong_pin_refuse_it(cast):
    order = bays.at_the_level(cast)
    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order)
    assert told.value.code == "close_out.steps"
    assert told.value.message.startswith("6 steps are open")
    bays.through_the_steps(cast, order)
    with pytest.raises(Stale):
        bays.close_out(cast, order, edition=order.edition - 1)
    with pytest.raises(Refusal) as pin:
        bays.close_out(cast, order, pin="0000")
    assert pin.value.code == "pin.wrong"


def test_an_odometer_that_went_back_is_asked_about_and_nothing_is_closed_out(cast):
    order = bays.at_the_level(cast)
    while order.steps.filter(state="now").exists():
        bays.finish(cast, order)  # the key stands at 0, nobody read it at intake

    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order)

    assert told.value.code == "odometer.went_back"
    assert MassBalance.objects.count() == 0


def replaced(cast, figure, **more):
    """Close-out with the odometer at `figure`, answered as a replaced one; (old last, new first, what counts now)."""
    order = bays.at_the_level(cast)
    while order.steps.filter(state="now").exists():
        at_the_way_out = bays.now(order).code == "odometer_out"
        bays.finish(cast, order, **({"odometer": figure} if at_the_way_out else {}))
    vehicle, came = order.visit.vehicle, last_counted(order.visit.vehicle)
    asked = {"is_replaced": False, "old_figure": came.figure + 4, "old_is_estimate": True, "first_figure": 0, **more}
    done = bays.close_out(cast, order, why_lower="replaced", instruments=asked).order
    change = vehicle.odometer_changes.latest("pk")
    now = last_counted(vehicle)
    return (change.old_last_figure - came.figure, change.new_first_figure, now.figure, now.instrument - came.instrument,
            done.odometer_out)  # fmt: skip


def test_a_replaced_odometer_begins_a_new_instrument_and_keeps_where_the_old_one_stood(cast):
    assert replaced(cast, 12) == (4, 0, 12, 1, 12)


def test_an_odometer_replaced_by_one_that_shows_more_is_told_by_its_box(cast):
    assert replaced(cast, 99_000, is_replaced=True, first_figure=98_990) == (4, 98_990, 99_000, 1, 99_000)


def test_an_odometer_that_goes_on_from_the_old_one_was_not_replaced(cast):
    came = last_counted(cast.vehicle("V-01")).figure

    with pytest.raises(Refusal) as told:
        replaced(cast, came + 5, is_replaced=True)

    assert (told.value.code, told.value.field) == ("odometer.old_one", "first_figure")
    assert f"shows {came + 5:,} mi and read {came:,} mi on " in told.value.message
    assert "One that began at 0 mi on " in told.value.message


def test_a_new_odometer_set_to_what_the_old_one_stood_at_is_taken(cast):
    came = last_counted(cast.vehicle("V-01")).figure

    assert replaced(cast, came + 5, is_replaced=True, first_figure=came + 4)[1:3] == (came + 4, came + 5)


def test_only_at_level_set_by_the_technician_and_once(cast):
    early = bays.in_the_bay(cast)
    with pytest.raises(StateRefusal):
        bays.close_out(cast, early)
    bays.level(cast, early)
    order = bays.through_the_steps(cast, early)
    for actor in (cast.pilar, cast.tobin, cast.maren):
        with pytest.raises(NotYours):
            bays.close_out(cast, order, actor=actor, pin=bays.pin(actor))
    with pytest.raises(Http404):
        bays.close_out(cast, order, actor=cast.jory, pin=bays.pin(cast.jory))

    first = bays.close_out(cast, order)
    again = bays.close_out(cast, order)
    assert first.balance == again.balance
    with pytest.raises(StateRefusal) as told:
        bays.close_out(cast, order, key="another")
    assert told.value.code == "bay.closed_out"
    assert (MassBalance.objects.count(), SecondLook.objects.count()) == (1, 1)


def test_a_closed_out_job_taken_back_keeps_what_it_said_and_is_closed_out_anew(cast):
    order = bays.closed_out(cast)
    first = order.balance

    for _ in range(2):
        bay.recheck(order, actor=cast.odo, words="level looks low", once_key="r")

    order.refresh_from_db()
    first.refresh_from_db()
    assert (order.state, order.closed_out_at, order.odometer_out) == ("in the bay", None, None)
    assert (first.work_order, first.set_aside_of) == (None, order)
    assert order.close_out["earlier"][0]["by"] == "Odo Brackley"
    assert bays.now(order).code == "levelness"
    assert list(Paper.objects.filter(number=order.number).values_list("version", flat=True)) == [1, 2]
    assert TrailEntry.objects.filter(what="back into the bay").count() == 1

    bays.level(cast, order, key="second", in_ml=1, out_ml=0)
    bays.through_the_steps(cast, order)
    done = bays.close_out(cast, order, key="close again")
    assert done.balance.in_ml == first.in_ml + 96  # 0.1 qt from the shelf at the warmth of the check
    assert list(order.level_records.values_list("attempt", "passes")) == [(1, True), (2, True)]
    assert (done.look.attempt, SecondLook.objects.count()) == (1, 1)  # the one that waited begins anew


def test_a_recheck_says_why_and_is_the_technician_s(cast):
    order = bays.at_the_level(cast)
    with pytest.raises(Refusal) as told:
        bay.recheck(order, actor=cast.odo, words=" ", once_key="r")
    assert told.value.code == "bay.words"
    with pytest.raises(NotYours):
        bay.recheck(order, actor=cast.pilar, words="level looks low", once_key="r")


@pytest.mark.parametrize("where", ["in the bay", "level set"])
def test_coolant_stops_at_once_for_all_and_for_ever(cast, where):
    order = bays.in_the_bay(cast) if where == "in the bay" else bays.at_the_level(cast)

    for _ in range(3):
        found = bay.find_coolant(order, actor=cast.odo, signs=("pink milk",), once_key="stop")
    sure = bay.find_coolant(order, actor=cast.odo, signs=("glycol strip positive",), once_key="strip")

    order.refresh_from_db()
    assert (found.is_held, found.standing.state, sure.standing.state) == (True, "suspected", "confirmed")
    assert (order.state, order.hold_grade) == ("on hold", "stop")
    assert order.hold_reason.startswith("coolant in the fluid, confirmed: no exchange; not to be driven")
    assert order.visit.findings.count() == 2
    fluid = BayStep.objects.filter(work_order=order, is_fluid=True).last()
    for actor in (cast.odo, cast.maren):
        with pytest.raises(Refusal) as told:
            work.resume(order, actor=actor, words="it was only a little")
        assert told.value.code == "bay.coolant"
    with pytest.raises(Refusal):
        bay.finish_step(fluid, actor=cast.odo, once_key="go on")
    trail.write_refused()
    assert TrailEntry.objects.filter(what="refused: coolant found").count() == 3


def test_a_weep_is_noted_and_work_goes_on_but_a_decision_waits_for_the_owner(cast):
    order = bays.in_the_bay(cast)

    weep = bay.find(order, actor=cast.odo, code="K-07", signs=("weep",), once_key="weep")
    assert (weep.is_held, order.state) == (False, "in the bay")

    codes = bay.find(order, actor=cast.odo, code="K-04", words="ratio, gear 3", once_key="codes")
    assert (codes.is_held, codes.order.hold_grade) == (True, "needs your decision")
    with pytest.raises(Refusal):
        work.resume(codes.order, actor=cast.odo)


@pytest.mark.parametrize(("who", "error"), [("pilar", NotYours), ("tobin", NotYours), ("jory", Http404)])
def test_a_finding_in_the_bay_is_the_technician_s(cast, who, error):
    order = bays.in_the_bay(cast)

    with pytest.raises(error):
        bay.find_coolant(order, actor=getattr(cast, who), signs=("pink milk",), once_key="stop")


def test_a_decision_at_the_level_is_followed_by_another_level(cast):
    order = bays.at_the_level(cast)
    found = bay.find(order, actor=cast.odo, code="K-04", words="ratio, gear 3", once_key="codes")
    assert (found.is_held, found.order.steps.filter(state="now").exists()) == (True, False)
    override_finding(order.visit, actor=cast.maren, code="K-04", words="an old code, cleared")
    work.resume(order, actor=cast.maren, words="go on")

    order.refresh_from_db()
    assert (order.state, bays.now(order).code) == ("in the bay", "levelness")
    bays.level(cast, order, key="second", out_ml=0)
    bays.through_the_steps(cast, order)
    assert bays.close_out(cast, order).balance.is_inside


def test_what_was_skipped_before_and_done_since_has_to_be_confirmed(cast):
    order = bays.at_the_level(cast)
    step = bays.now(order)
    bay.press(step, bay.Press("temp_mdegc", 1_040, "0.1 °F", "touched"), actor=cast.odo)
    bay.recheck(order, actor=cast.odo, words="level looks low", once_key="r")
    step.refresh_from_db()
    assert (step.code, step.state, step.skip_reason) == ("plugs", "skipped", "taken back into the bay")
    bays.level(cast, order, key="second", out_ml=0)
    bays.through_the_steps(cast, order)

    with pytest.raises(Refusal) as told:
        bays.close_out(cast, order, items={**bays.all_items(order), "plugs": "marked them before"})

    assert (told.value.code, told.value.field) == ("close_out.item", "plugs")


def reopened(order):
    order.steps.filter(code="plugs").update(state="ahead")


def not_closed_out(order):
    type(order).objects.filter(pk=order.pk).update(closed_out_at=None)


def without_balance(order):
    MassBalance.objects.filter(work_order=order).update(work_order=None, set_aside_of=order)


def not_looked_at(order):
    type(order).objects.filter(pk=order.pk).update(state="level set")


@pytest.mark.parametrize("missing", [reopened, not_closed_out, without_balance, not_looked_at])
def test_i11_with_any_one_missing_nothing_is_closed(cast, missing):
    order = bays.closed_out(cast)
    bays.look(cast, order)
    assert billing.blockers(cast.tobin, billing.work_order_for(cast.tobin, order.number)) == []
    missing(order)
    order = billing.work_order_for(cast.tobin, order.number)

    assert len(billing.blockers(cast.tobin, order)) == 1
    with pytest.raises(Refusal) as told:
        issue(order, actor=cast.tobin, edition=order.edition)
    assert told.value.code == "invoice.missing"
