"""After a drain as much is poured as came out: step, key and level follow what was measured."""

from __future__ import annotations

import pytest

from shopserv.catalog import selectors as catalog
from shopserv.common.errors import Refusal
from shopserv.jobs import bay_readings as readings
from shopserv.jobs import courses
from shopserv.jobs.bay_course import stop_measured
from shopserv.jobs.bay_drain import pour_measured
from shopserv.jobs.bay_stages import Bench
from shopserv.jobs.bay_steps import build
from shopserv.jobs.selectors.fluid_course import over_the_line
from shopserv.jobs.services import bay
from shopserv.web.counter.columns import order_words
from tests.jobs import bay_stage as bays
from tests.jobs.test_bay_steps import HOUSE, PLACE, facts_for, named, sheet_facts, sheet_of, steps


def test_a_round_that_ends_where_it_began_pours_what_came():
    bench = Bench({}, {}, "us", 300)
    limits = {"level_after_ml": 0, "in_ml": 3123, "into": "3.3 qt (3.12 L)"}
    needs = [bench.need("in_ml", "poured in", 3123, 900)]

    text, new, expected = pour_measured(
        bench, "Stage 2: pour 3.3 qt (3.12 L) of Oil, engine off.", limits, needs, 0, 2650
    )

    assert text == "Stage 2: pour 2.8 qt (2.65 L) of Oil, engine off. By what came out."
    assert (new["in_ml"], new["into"], new["by_what_came_out"]) == (2650, "2.8 qt (2.65 L)", "2.8 qt (2.65 L)")
    assert [(row["start"], row["low_base"], row["high_base"]) for row in expected] == [(28, 2350, 2950)]
    again = pour_measured(bench, text, new, expected, 0, 2840)
    assert again[0] == "Stage 2: pour 3.0 qt (2.84 L) of Oil, engine off. By what came out."


@pytest.mark.parametrize(
    ("began", "after", "came", "pours"),
    [(0, 500, 2650, 3150), (300, 0, 2650, 2350), (0, -500, 2650, 2150), (900, 0, 800, 0)],
)
def test_a_round_that_ends_elsewhere_pours_so_much_more_or_less(began, after, came, pours):
    limits = {"level_after_ml": after, "in_ml": 1, "into": "x"}

    new = pour_measured(Bench({}, {}, "metric", 300), "pour x of Oil", limits, [], began, came)[1]

    assert new["in_ml"] == pours


@pytest.mark.django_db
def test_a_drain_that_brings_less_asks_for_less_and_done_again_for_what_it_brings_then(cast):
    order = bays.in_the_bay(cast, "A")
    drain = bays.up_to(cast, order, "drain")
    planned = drain.limits["out_ml"]
    keys = round(planned * 0.85 / 94.6353)  # in the limits of the drain, in tenths of a quart
    bays.finish(cast, order, out_ml=keys)

    pour, came = order.steps.get(code="add"), round(keys * 94.6353)
    drain.refresh_from_db()
    assert drain.limits["level_after_ml"] == -came
    assert drain.limits["level_after"] == f"{keys / 10:.2f} qt ({came // 10 / 100:.2f} L) below full"
    assert (pour.limits["in_ml"], pour.limits["level_after_ml"], pour.needs[0]["start"]) == (came, 0, keys)
    assert pour.text.endswith("By what came out.")
    assert f"pour {keys / 10:.1f} qt" in pour.text

    again = [
        bay.Press(one.what, one.value, one.unit, f"again-{one.once_key}")
        for one in bays.as_asked(drain, out_ml=keys + 2)
    ]
    bay.redo_step(drain, actor=cast.odo, presses=again, words="read again", once_key="r", answers=bays.AT_ONCE)
    pour.refresh_from_db()
    assert pour.needs[0]["start"] == keys + 2


@pytest.mark.django_db
def test_after_plug_and_pan_the_pour_is_both_together(cast):
    order = bays.in_the_bay(cast, "D")
    bays.up_to(cast, order, "drain_pan")
    before = order.steps.get(code="drain")
    first = order.steps.filter(limits__op="add", order__gt=before.order).order_by("order").first()
    assert "by_what_came_out" not in first.limits  # of the round the pan is to come

    pan = bays.now(order)
    less = pan.needs[-1]["start"] - 1
    bays.finish(cast, order, out_ml=less)

    first.refresh_from_db()
    apart = [step for step in order.steps.all() if step.limits.get("counts_apart")]
    by_keys = round((before.needs[1]["start"] + less) * 94.6353)
    assert not apart or first.limits["in_ml"] > by_keys  # with what the flow proof took
    assert apart or abs(first.limits["in_ml"] - first.limits["level_after_ml"] - by_keys) <= 1


def pumped(pickup_known=True, first=()):
    sheet = sheet_of("AL640")
    stages = [*first, {"op": "pump", "add_ml": 6_500, "stop_margin_ml": 300}, {"op": "add", "volume_ml": 1_300}]
    course = courses.edited_course("line exchange", stages, sheet_facts(sheet), HOUSE, 7_400)
    values = catalog.values_of(sheet)
    if not pickup_known:
        values = {name: value for name, value in values.items() if name != "pickup_below_full_ml"}
    return build({**facts_for(sheet, "line exchange"), "course": course.as_dict()}, values, PLACE)


@pytest.mark.django_db
def test_a_pump_with_pouring_says_how_far_the_bucket_may_run_ahead(cast):
    made = named(pumped(), "pump")

    # The pickup lies 1,600 mL below full, less the margin of 300 mL: 1.30 L, 1.37 qt not rounded up.
    said = " Bucket never more than 1.37 qt (1.30 L) ahead of what you poured; falling behind: engine off."
    assert made.text.endswith(said)
    assert (made.limits["ahead_ml"], made.limits["air_ml"]) == (1_300, 1_600)
    overfilled = named(pumped(first=[{"op": "add", "volume_ml": 500}]), "pump")  # so much higher it begins
    assert "never more than 1.90 qt (1.80 L) ahead" in overfilled.text
    assert "ahead of what you poured" not in named(pumped(pickup_known=False), "pump").text
    assert "ahead of what you poured" not in named(steps("AL640", "line exchange"), "pump").text


@pytest.mark.django_db
@pytest.mark.parametrize(("runs_on", "ahead"), [(200, 1_300), (300, 1_300), (450, 1_150), (1_700, 0)])
def test_what_runs_on_by_measure_comes_off_what_it_may_run_ahead(cast, runs_on, ahead):
    bench, made = Bench({}, {}, "us", 300), named(pumped(), "pump")

    text, limits = stop_measured(bench, made.text, made.limits, runs_on)

    assert limits["ahead_ml"] == ahead
    assert f"never more than {bench.to_hundredths(ahead)} ahead" in text
    again, back = stop_measured(bench, text, limits, 200)
    assert back["ahead_ml"] == 1_300
    assert "never more than 1.37 qt (1.30 L) ahead" in again


def test_an_order_says_that_it_is_poured_while_it_pumps():
    course = {"stages": [{"op": "pump", "add_ml": 6_500}, {"op": "pump"}, {"op": "add", "volume_ml": 1_300}]}

    assert order_words(course, "us") == "pour 6.9 while it pumps, pump, in 1.4"


@pytest.mark.django_db
def test_how_far_a_course_runs_above_the_line_at_its_worst(cast):
    facts = sheet_facts(sheet_of("AL640"))
    stages = [{"op": "add", "volume_ml": 1_201}, {"op": "pump", "add_ml": 0, "stop_margin_ml": 300}]
    course = courses.edited_course("line exchange", stages, facts, HOUSE, 7_400)

    over = over_the_line(course, 1_200)

    assert (over.stage, over.level_ml, over.by_ml) == (2, 1_201, 1)
    assert over_the_line(course, 1_201) is None
    assert over_the_line(course, None) is None


def out_row(units_first, holds, sump):
    row = readings.need("out_ml", "out", units_first=units_first, start=3_100, low=2_500, high=3_700)
    return {**row, "holds_base": holds, "sump_base": sump}


def test_more_than_the_unit_holds_asks_for_the_unit_and_more_than_the_sump_with_both():
    metric, us = out_row("metric", 7_100, 3_400), out_row("us", 7_100, 3_400)

    assert readings.more_than_holds(metric, 7_100, "metric") == ""
    assert readings.more_than_holds(metric, 7_400, "metric") == (
        "out: 7.4 L (7.8 qt) was read, and the unit holds 7.1 L (7.5 qt). Was it 7.4 qt (7.0 L)?"
    )
    assert readings.more_than_holds(us, 7_760, "us") == (  # 8.2 qt
        "out: 8.2 qt (7.8 L) was read, and the unit holds 7.5 qt (7.1 L). "
        "Read as the other unit it is 8.2 L (8.7 qt), which does not fit either: look at the scale of the vessel."
    )
    assert readings.more_than_sump(metric, 3_400, "metric") == ""
    assert readings.more_than_sump(metric, 3_500, "metric") == (
        " The sump holds 3.4 L (3.6 qt). Was it 3.5 qt (3.3 L)?"
    )
    bare = readings.need("out_ml", "out", units_first="us")
    assert readings.more_than_holds(bare, 99_000, "us") == readings.more_than_sump(bare, 99_000, "us") == ""


@pytest.mark.django_db
def test_no_drain_brings_more_than_the_unit_holds_and_more_than_its_sump_is_asked(cast):
    step = bays.up_to(cast, bays.in_the_bay(cast, "A"), "drain")
    row = next(row for row in step.needs if row["what"] == "out_ml")
    assert (row["holds_base"], row["sump_base"]) == (7_400, max(3_400, row["high_base"]))

    def finish(tenths, **more):
        return bay.finish_step(
            step, actor=cast.odo, presses=bays.as_asked(step, out_ml=tenths), once_key="f", answers=bays.AT_ONCE, **more
        )

    for try_ in (
        lambda: finish(85, is_confirmed=True),
        lambda: bay.press(step, bay.Press("out_ml", 85, "0.1 qt", "p"), actor=cast.odo),
    ):
        with pytest.raises(Refusal, match="the unit holds") as said:
            try_()
        assert (said.value.code, said.value.confirmable) == ("bay.never_read", False)
    with pytest.raises(Refusal, match="The sump holds") as said:
        finish(74)
    assert (said.value.code, said.value.confirmable) == ("bay.outside", True)
    assert "7.4 qt was read" in said.value.message
    assert "7.4 L (7.8 qt)" in said.value.message
