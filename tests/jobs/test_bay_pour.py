"""After a drain as much is poured as came out: step, key and level follow what was measured."""

from __future__ import annotations

import pytest

from shopserv.jobs.bay_drain import pour_measured
from shopserv.jobs.bay_stages import Bench
from shopserv.jobs.services import bay
from tests.jobs import bay_stage as bays


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
