"""A drain that is hot is stopped by name, until it is cooler or somebody is protected and read the procedure."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.bay_drain import HOT_MDEGC
from shopserv.jobs.services import bay
from shopserv.jobs.services.bay_press import GEAR_WORDS
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage as bays

pytestmark = pytest.mark.django_db
GEAR = bay.Answers(is_gear_on=True)


def warm(figure, key):
    return bay.Press("temp_mdegc", figure, "0.1 °F", key)


def finish(step, cast, key, fahrenheit, **more):
    rows = [warm(fahrenheit, f"{key}-t"), *[one for one in bays.as_asked(step) if one.what != "temp_mdegc"]]
    return bay.finish_step(step, actor=cast.odo, presses=rows, once_key=key, **more)


def test_a_hot_drain_is_stopped_at_its_figure_and_again_when_it_is_done(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast, "A"), "drain")
    assert [row["what"] for row in step.needs] == ["temp_mdegc", "out_ml"]
    assert step.limits["hot_mdegc"] == HOT_MDEGC == 60_000

    for try_ in (lambda: bay.press(step, warm(1401, "p"), actor=cast.odo), lambda: finish(step, cast, "f", 1401)):
        with pytest.raises(Refusal) as said:
            try_()
        assert said.value.message == (
            "Stop before the drain is opened: the fluid reads 140 °F (60.1 °C) and burns skin within seconds. "
            "Let it cool to 140 °F (60 °C) or below and read it once more."
        )
        assert (said.value.code, said.value.confirmable, said.value.tick_words) == ("bay.hot_drain", True, GEAR_WORDS)
    with pytest.raises(Refusal) as said:  # another tick is no gear
        finish(step, cast, "f", 1401, is_confirmed=True)
    assert said.value.code == "bay.hot_drain"
    assert not step.events.exists()

    bay.press(step, warm(1400, "p2"), actor=cast.odo)  # the bound itself is not hot
    finish(step, cast, "f2", 1400)
    step.refresh_from_db()
    assert step.state == "done"
    assert "hot" not in TrailEntry.objects.filter(what="step done").latest("pk").after


def test_with_gear_on_it_is_opened_and_the_trail_says_so(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast, "A"), "drain")

    bay.press(step, warm(1760, "p"), actor=cast.odo, answers=GEAR)
    assert TrailEntry.objects.filter(what="bay reading").latest("pk").after["hot"] == GEAR_WORDS
    finish(step, cast, "f", 1760)  # said once at this step

    step.refresh_from_db()
    assert step.state == "done"
    assert TrailEntry.objects.filter(what="step done").latest("pk").after["hot"] == GEAR_WORDS
    assert [event.words for event in step.events.filter(what="gear on")] == [GEAR_WORDS]
    with pytest.raises(Refusal, match="Stop before the drain"):  # done again it is asked again
        bay.redo_step(step, actor=cast.odo, presses=[warm(1760, "r-t")], words="read again", once_key="r")
    again = [warm(1760, "rr-t"), bay.Press("out_ml", step.needs[1]["start"], "0.1 qt", "rr-out")]
    bay.redo_step(step, actor=cast.odo, presses=again, words="read again", once_key="r", answers=GEAR)


def test_the_gear_is_on_for_the_figure_it_was_said_at_and_a_hotter_one_is_asked(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast, "A"), "drain")
    bay.press(step, warm(1700, "p"), actor=cast.odo, answers=GEAR)
    assert [event.value for event in step.events.filter(what="gear on")] == [76_667]

    bay.press(step, warm(1700, "same"), actor=cast.odo)
    with pytest.raises(Refusal, match="the fluid reads 170 °F") as said:
        bay.press(step, warm(1701, "hotter"), actor=cast.odo)
    assert said.value.code == "bay.hot_drain"
    with pytest.raises(Refusal, match="the fluid reads 290 °F"):
        finish(step, cast, "f", 2900)

    finish(step, cast, "f", 2900, answers=GEAR)
    assert step.events.filter(what="gear on").latest("pk").value == 143_333


def test_above_the_hottest_nothing_is_drained_whatever_is_ticked(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast, "A"), "drain")

    for try_ in (
        lambda: bay.press(step, warm(3021, "p"), actor=cast.odo, answers=GEAR),
        lambda: finish(step, cast, "f", 3021, answers=GEAR, is_confirmed=True),
    ):
        with pytest.raises(Refusal, match="nothing is drained, gear or no gear") as said:
            try_()
        assert (said.value.code, said.value.confirmable) == ("bay.hot", False)
    assert not step.events.exists()

    bay.press(step, warm(3020, "p2"), actor=cast.odo, answers=GEAR)  # the bound itself


def test_a_pan_that_comes_down_full_asks_and_one_after_its_plug_was_asked_there(cast):
    full, after = bays.in_the_bay(cast, "B", "V-05"), bays.in_the_bay(cast, "D")

    pans = [order.steps.get(code="drain_pan") for order in (full, after)]

    assert ["temp_mdegc" in [row["what"] for row in pan.needs] for pan in pans] == [True, False]
    assert ["hot_mdegc" in pan.limits for pan in pans] == [True, False]
    assert after.steps.get(code="drain").limits["hot_mdegc"] == HOT_MDEGC
    step = bays.up_to(cast, full, "drain_pan")
    with pytest.raises(Refusal, match="Stop before the pan comes off"):
        bay.press(step, warm(1760, "p"), actor=cast.odo)


def test_a_cooler_line_is_never_opened_hot_whatever_is_ticked(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast), "lines_open")

    for try_ in (
        bay.press,
        lambda *rows, **more: bay.finish_step(step, presses=[warm(1401, "f-t")], once_key="f", **more),
    ):
        with pytest.raises(Refusal, match="a line is never broken hot") as said:
            try_(step, warm(1401, "p"), actor=cast.odo, answers=GEAR)
        assert not said.value.confirmable
