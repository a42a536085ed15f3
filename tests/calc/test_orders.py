"""The best order of stages.

Sources: plain enumeration of the same grammar, formulas written anew (quadrature of scipy for pours while it pumps);
the replay of the staged exchange; laws that always hold. The figures of the examples were computed here.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from shopserv.calc import errors
from shopserv.calc.orders import MOST_STAGES, AllowedStages, LevelLimits, Order, best_orders
from shopserv.calc.rest import Stream, integral, smooth_integral
from shopserv.calc.stages import Add, Drain, Mix, Pump, UnitLayout, staged_exchange

EXAMPLE = UnitLayout(7400, 3400, -1600)
LIMITS = LevelLimits(-1300, 0, 450, 1200)
BENCH = AllowedStages((1450, 1740), 2900)
HABIT = (Pump(0, 300), *[Add(1740), Pump(0, 300)] * 5, Add(1300))


def plainly(layout, new_ml, limits, allowed, worth, at_least):
    """Every order of the grammar, one after the other; the best share by count of stages, folded as the search does."""
    sump, room = layout.sump_capacity_ml, layout.dry_capacity_ml - layout.sump_capacity_ml
    low, drain = limits.low_ml, allowed.drain_ml
    dips = math.inf if limits.dips_ml is None else limits.dips_ml
    best = {}

    @cache
    def pumped(level, poured):
        held, fall = sump + level, level - low
        total = fall + poured

        def old(q):
            if not poured:
                return 1.0
            if not fall:
                return math.exp(-q / held)
            return max(0.0, 1 - q * fall / total / held) ** (poured / fall)

        if not room:
            return old(total), 1.0, 0.0
        area = quad(lambda q: old(q) * math.exp(-(total - q) / room) / room, 0, total, epsabs=1e-11, limit=200)[0]
        return old(total), area, math.exp(-total / room)

    def go(level, used, o, g, drains, count, last):
        if count and level == 0:
            best[count] = min(best.get(count, 1.0), (o * sump + g * room) / (sump + room))
        if count == allowed.most_stages:
            return
        if drain and drains < allowed.most_drains and level > -drain:
            go(-drain, used, o, g, drains + 1, count + 1, "drain")
        if count == 0 and allowed.drain_first:
            return
        left = new_ml - used
        if last != "add":
            for size in {*allowed.sizes_ml, -level}:
                if 0 < size <= left and limits.start_ml <= level + size <= limits.stand_ml:
                    thinned = o * (sump + level) / (sump + level + size)
                    go(level + size, used + size, thinned, g, drains, count + 1, "add")
        if not limits.start_ml <= level <= dips:
            return
        if allowed.pumps and last != "pump" and sump + level > 0:  # an empty sump cannot be pumped
            pours = {0, left + low, *allowed.pump_sizes_ml} if allowed.pours_while_pumping else {0}
            for size in pours:
                if 0 <= size <= left and level - low + size > 0:
                    a, b, c = pumped(level, size)
                    go(low, used + size, a * o, b * o + c * g, drains, count + 1, "pump")
        if allowed.mixes and level == 0 and count and last != "mix":
            mean = (o * sump + g * room) / (sump + room)
            go(0, used, mean, mean, drains, count + 1, "mix")

    go(0, 0, 1.0, 1.0, 0, 0, "")
    kept, least = [], 1 - at_least + 1e-9
    for count in sorted(best):
        if best[count] < least:
            least = best[count] - max(worth, 1e-9)
            kept.append((count, 1 - best[count]))
    return kept[::-1]


def small_case(rng):
    sump = rng.randint(2, 9) * 100
    pickup = rng.randint(0, sump // 100) * 100
    low = -rng.randint(0, pickup // 100) * 100
    layout = UnitLayout(sump + rng.choice([0, 100, 300, 700, 1500]), sump, -pickup)
    limits = LevelLimits(
        low, rng.choice([0, 0, low, 100]) if low else 0, rng.choice([0, 100, 200, 400]), rng.choice([None, 0, 100, 300])
    )
    limits = replace(limits, start_ml=max(low, limits.start_ml))
    sizes = tuple(rng.sample([100, 200, 300, 400, 500, 700], rng.randint(0, 2)))
    allowed = AllowedStages(
        sizes,
        rng.choice([0, 100, sump // 200 * 100, sump]),
        rng.randint(0, 2),
        rng.random() < 0.2,
        rng.random() < 0.85,
        rng.random() < 0.5,
        rng.random() < 0.4,
        tuple(rng.sample([100, 300, 600], rng.randint(0, 1))),
        rng.randint(1, 6),
    )
    return (
        layout,
        rng.randint(2, 16) * 100,
        limits,
        allowed,
        rng.choice([0.0, 0.0, 0.005, 0.05]),
        rng.choice([0, 0, 0.2, 0.4]),
    )


def test_the_search_finds_what_plain_enumeration_finds_in_2000_small_cases():
    rng, with_order, longest = random.Random(7400), 0, 0
    for _ in range(2000):
        layout, new_ml, limits, allowed, worth, at_least = small_case(rng)

        found = best_orders(layout, new_ml, limits, allowed, worth=worth, at_least=at_least)
        expected = plainly(layout, new_ml, limits, allowed, worth, at_least)

        assert [len(order.stages) for order in found] == [count for count, _ in expected], (layout, new_ml, allowed)
        for order, (_, share) in zip(found, expected, strict=True):
            assert order.fresh_stirred == pytest.approx(share, abs=2e-8)
            longest = max(longest, len(order.stages))
        with_order += bool(found)
    assert with_order > 800
    assert longest >= 5


@pytest.mark.parametrize(
    ("layout", "new_ml", "allowed", "dips"),
    [
        (UnitLayout(600, 300, -200), 1000, AllowedStages((500,), 100, mixes=True, most_stages=5), 100),
        (UnitLayout(800, 700, -100), 900, AllowedStages((200, 300), 100, mixes=True, most_stages=6), 0),
        (UnitLayout(600, 300, -300), 1300, AllowedStages((400, 300), 100, mixes=True, most_stages=5), 100),
    ],
)
def test_a_drain_that_is_still_to_come_is_worth_having(layout, new_ml, allowed, dips):
    """A state with fresher fluid and no drain left does not put aside one that may still drain."""
    limits = LevelLimits(-100, 0, 400, dips)

    found = best_orders(layout, new_ml, limits, allowed, worth=0)

    expected = plainly(layout, new_ml, limits, allowed, 0, 0)
    assert [(len(one.stages), round(one.fresh_stirred, 7)) for one in found] == [(n, round(s, 7)) for n, s in expected]


def stages_of(order: Order) -> str:
    words = {Add: "add {0.volume_ml}", Drain: "drain {0.to_ml}", Pump: "pump {0.add_ml}", Mix: "mix"}
    return ", ".join(words[type(stage)].format(stage) for stage in order.stages)


def test_batches_after_a_drain_bring_the_example_unit_further_with_the_same_fluid():
    best, *shorter = best_orders(EXAMPLE, 10_000, LIMITS, BENCH)
    habit = staged_exchange(EXAMPLE, HABIT)

    assert stages_of(best) == "drain -2900, add 2900, " + "pump 0, add 1450, " * 4 + "pump 0, add 1300"
    assert best.new_ml == habit.new_used_ml == 10_000
    assert (round(best.fresh_stirred, 4), round(best.fresh_plug, 4)) == (0.8827, 0.9777)
    assert (round(habit.fresh_stirred, 4), round(habit.fresh_plug, 4)) == (0.8575, 0.9421)
    assert all(len(one.stages) < len(best.stages) for one in shorter)
    assert [round(one.fresh_stirred, 4) for one in shorter] == sorted(
        (round(one.fresh_stirred, 4) for one in shorter), reverse=True
    )


def test_a_pour_while_it_pumps_takes_four_stages():
    best = best_orders(EXAMPLE, 10_000, LIMITS, replace(BENCH, pours_while_pumping=True))[0]

    assert stages_of(best) == "drain -2900, add 2900, pump 5800, add 1300"
    assert (round(best.fresh_stirred, 4), round(best.fresh_plug, 4)) == (0.8818, 0.9751)


def test_what_reaches_a_share_is_found_and_what_does_not_is_not():
    best = best_orders(EXAMPLE, 10_000, LIMITS, BENCH)[0]

    assert best_orders(EXAMPLE, 10_000, LIMITS, BENCH, at_least=best.fresh_stirred) == (best,)
    assert best_orders(EXAMPLE, 10_000, LIMITS, BENCH, at_least=best.fresh_stirred + 3e-9) == ()
    assert best_orders(EXAMPLE, 10_000, LIMITS, BENCH, at_least=1) == ()


def test_rounds_of_drains_are_the_best_where_only_drains_are_allowed():
    drains = AllowedStages((1450,), 2900, most_drains=3, pumps=False, mixes=True)

    best, *shorter = best_orders(EXAMPLE, 8700, LevelLimits(-1600), drains)

    assert stages_of(best) == "drain -2900, add 2900, mix, drain -2900, add 2900, mix, drain -2900, add 2900"
    assert round(best.fresh_stirred, 6) == 0.775124
    assert (stages_of(shorter[-1]), round(shorter[-1].fresh_stirred, 6)) == ("drain -2900, add 2900", 0.391892)
    assert not best_orders(EXAMPLE, 2899, LevelLimits(-1600), drains)


def test_a_method_that_begins_with_the_drain_does_so():
    pan = AllowedStages((2129,), 3400, 1, drain_first=True, pours_while_pumping=True)

    orders = best_orders(EXAMPLE, 11_200, LIMITS, pan)

    assert orders
    assert {stages_of(order).split(",")[0] for order in orders} == {"drain -3400"}
    assert not best_orders(EXAMPLE, 11_200, LIMITS, replace(pan, drain_ml=0))


@pytest.mark.parametrize(("dips", "stages"), [(450, 12), (449, 12), (0, 0), (299, 0)])
def test_the_engine_never_runs_above_the_line_where_parts_dip(dips, stages):
    allowed = AllowedStages((1600, 1750))
    orders = best_orders(EXAMPLE, 9800, replace(LIMITS, dips_ml=dips), allowed, worth=0.1)

    highest = [
        level
        for order in orders
        for stage, level in zip(order.stages[1:], staged_exchange(EXAMPLE, order.stages).levels_ml, strict=False)
        if isinstance(stage, Pump)
    ]
    assert max(highest, default=0) == {450: 450, 449: 300, 0: 0, 299: 0}[dips]


@st.composite
def units(draw):
    sump = draw(st.integers(20, 60)) * 100
    pickup = draw(st.integers(5, sump // 200)) * 100
    layout = UnitLayout(sump + draw(st.integers(0, 60)) * 100, sump, -pickup)
    limits = LevelLimits(-pickup + draw(st.integers(0, 3)) * 100, 0, 400, draw(st.sampled_from([None, 300, 1200])))
    allowed = AllowedStages(
        (1000, pickup + 100),
        sump - 300,
        draw(st.integers(0, 2)),
        pours_while_pumping=draw(st.booleans()),
        mixes=draw(st.booleans()),
        most_stages=8,
    )
    return layout, draw(st.integers(0, 120)) * 100, limits, allowed


@settings(deadline=None, max_examples=40)
@given(units())
def test_every_order_keeps_its_limits_and_its_sure_share_is_the_stirred_one(case):
    layout, new_ml, limits, allowed = case

    for order in best_orders(*case):
        run = staged_exchange(layout, order.stages)
        before, running = [0, *run.levels_ml], []
        for stage, start, end in zip(order.stages, before, run.levels_ml, strict=False):
            if isinstance(stage, Pump | Mix):
                running += [start, end]
        assert run.levels_ml[-1] == 0
        assert run.new_used_ml == run.removed_ml == order.new_ml <= new_ml
        assert order.fresh_stirred <= order.fresh_plug + 1e-12
        assert max(running, default=0) <= (math.inf if limits.dips_ml is None else limits.dips_ml)
        assert min(running, default=0) >= limits.low_ml
        assert max(run.levels_ml) <= limits.stand_ml
        assert sum(isinstance(stage, Drain) for stage in order.stages) <= allowed.most_drains


@settings(deadline=None, max_examples=30)
@given(units(), st.integers(1, 30))
def test_more_fluid_never_leaves_a_lower_share(case, more):
    layout, new_ml, limits, allowed = case

    less = best_orders(layout, new_ml, limits, allowed, worth=0)
    plenty = best_orders(layout, new_ml + more * 100, limits, replace(allowed, pours_while_pumping=False), worth=0)
    without = best_orders(layout, new_ml, limits, replace(allowed, pours_while_pumping=False), worth=0)

    def share(orders):
        return orders[0].fresh_stirred if orders else 0

    assert share(without) <= share(plenty) + 1e-9
    assert share(without) <= share(less) + 1e-9


@pytest.mark.parametrize(
    ("changed", "named"),
    [
        ({"layout": UnitLayout(3400, 3401, -1600)}, errors.BadUnitLayout),
        ({"limits": LevelLimits(-1601)}, errors.BadUnitLayout),
        ({"limits": LevelLimits(1)}, errors.BadUnitLayout),
        ({"allowed": AllowedStages((100,), 3401)}, errors.BadUnitLayout),
        ({"allowed": AllowedStages((100,), -1)}, errors.BadUnitLayout),
        ({"new_ml": -1}, errors.OutOfRange),
        ({"limits": LevelLimits(-1300, 0, -1)}, errors.OutOfRange),
        ({"limits": LevelLimits(-1300, -1301)}, errors.OutOfRange),
        ({"allowed": AllowedStages((100,), 0, -1)}, errors.OutOfRange),
        ({"allowed": AllowedStages((0, 100))}, errors.OutOfRange),
        ({"allowed": AllowedStages((100,), pump_sizes_ml=(0,))}, errors.OutOfRange),
        ({"allowed": AllowedStages((100,), most_stages=31)}, errors.OutOfRange),
        ({"allowed": AllowedStages((100,), most_stages=-1)}, errors.OutOfRange),
        ({"worth": -0.001}, errors.OutOfRange),
        ({"at_least": -0.001}, errors.OutOfRange),
        ({"at_least": 1.001}, errors.OutOfRange),
    ],
)
def test_what_makes_no_sense_is_named(changed, named):
    asked = {
        "layout": EXAMPLE,
        "new_ml": 10_000,
        "limits": LIMITS,
        "allowed": BENCH,
        "worth": 0.005,
        "at_least": 0,
    } | changed

    with pytest.raises(named, match=r"-1|0 mL|1 mL|31|0.001|1.001"):
        best_orders(
            asked["layout"],
            asked["new_ml"],
            asked["limits"],
            asked["allowed"],
            worth=asked["worth"],
            at_least=asked["at_least"],
        )


def test_the_ends_of_the_ranges_are_taken():
    ends = AllowedStages((1,), 3400, 0, most_stages=MOST_STAGES)

    assert best_orders(EXAMPLE, 0, LevelLimits(-1600, -1600), replace(ends, most_stages=0), worth=0) == ()
    assert best_orders(EXAMPLE, 0, LevelLimits(0), ends, worth=0) == ()


@pytest.mark.parametrize(
    ("held", "fall", "poured", "room"),
    [(3400, 1300, 5800, 4000), (5400, 4860, 1717, 748), (3400, -450, 900, 12_000), (2100, 0, 5000, 4000)],
)
def test_the_quick_integral_agrees_with_the_careful_one(held, fall, poured, room):
    stream = Stream(1.0, held, fall, poured)

    def taken(turn):
        return stream.old_at(turn * room) * math.exp(-turn)

    end = float(stream.pumped) / room
    assert smooth_integral(taken, end) == pytest.approx(integral(taken, end), abs=2e-13)


def test_the_quick_integral_is_exact_for_powers_up_to_the_39th():
    for power in (0, 1, 2, 17, 38, 39):
        assert smooth_integral(lambda x, power=power: x**power, 1.0) == pytest.approx(1 / (power + 1), rel=1e-13)
    assert abs(smooth_integral(lambda x: x**60, 1.0) - 1 / 61) > 1e-14  # beyond its degree it errs
