"""What the search of the best order may leave aside, and the smallest amounts it counts with.

Sources: two stirred vessels in line as a system of linear equations (scipy.linalg.expm); quadrature of scipy; plain
enumeration of test_orders; the rest by hand.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp
from random import Random

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.linalg import expm

from shopserv.calc import orders
from shopserv.calc.orders import AllowedStages, LevelLimits, _Search, _State, best_orders
from shopserv.calc.stages import Add, Drain, Mix, UnitLayout, staged_exchange
from tests.calc.test_orders import BENCH, EXAMPLE, LIMITS, plainly, stages_of

ROUND = AllowedStages((), pours_while_pumping=True)


def search(layout=EXAMPLE, new_ml=10_000, limits=LIMITS, allowed=BENCH):
    return _Search(layout, new_ml, limits, allowed, 0.005)


def in_line(sump, room, still):
    """Share left of what is in the sump, after `still` through sump and rest in line."""
    flow = np.array([[-1 / sump, 0], [1 / sump, -1 / room]])
    return (expm(flow * still) @ [1, 0]).sum()


@pytest.mark.parametrize("drains", [0, 1, 2])
def test_the_bound_where_all_leaves_through_the_rest(drains):
    """Level 1,300 below full, 4,000 of 10,000 mL poured: 4,700 mL can still flow. One drain is allowed."""
    state = _State(-1300, 4000, 0.5, 0.9, drains)

    found = search().least_old(state)

    sump, rest, still = 0.5 * 2100, 0.9 * 4000, 4700
    both = rest * exp(-still / 4000) + sump * (in_line(2100 * 0.999, 4000, still) if drains else exp(-still / 4000))
    assert sump + rest - 0.9 * still < both
    assert found == pytest.approx(both / 7400, rel=1e-12)


def test_the_bound_where_little_can_still_leave():
    """900 mL still flow; none of it is older than the rest, which stands at 0.5, the sump at 0.9."""
    found = search(new_ml=900).least_old(_State(0, 0, 0.9, 0.1, 1))

    assert found == pytest.approx(max(0.9 * 3400 + 0.1 * 4000 - 0.1 * 900, 0) / 7400, rel=1e-12)


def test_the_bound_of_a_unit_without_a_rest():
    found = search(UnitLayout(3400, 3400, -1600), 1000).least_old(_State(-300, 200, 0.5, 0.5))

    assert found == pytest.approx((0.5 * 3100 - 0.5 * 500) / 3400, rel=1e-12)


def test_the_old_share_of_a_full_unit_is_the_mean_of_its_two_parts():
    assert search().old(_State(0, 0, 0.25, 0.75)) == pytest.approx((0.25 * 3400 + 0.75 * 4000) / 7400, rel=1e-15)


@pytest.mark.parametrize(
    ("changed", "drains", "is_line"),
    [
        ({}, 0, False),
        ({}, 1, True),
        ({"most_drains": 2}, 1, False),
        ({"most_drains": 2}, 2, True),
        ({"drain_ml": 0}, 0, True),
        ({"mixes": True}, 1, False),
        ({"mixes": True, "drain_ml": 0}, 0, False),
    ],
)
def test_what_is_in_the_sump_leaves_only_through_the_rest_without_mix_and_drain(changed, drains, is_line):
    assert search(allowed=replace(BENCH, **changed)).is_line(_State(0, 0, 1.0, 1.0, drains)) is is_line


def test_two_vessels_in_line_of_any_size():
    for room_ml, still in ((100, 50), (1000, 5000), (2100, 900), (12_000, 1)):
        unit = search(UnitLayout(3400 + room_ml, 3400, -1600))

        assert unit.in_line(still, exp(-still / room_ml)) == pytest.approx(
            in_line(2100 * 0.999, room_ml, still), rel=1e-9
        )


def test_a_sump_that_is_pumped_empty_holds_nothing_back():
    assert search(limits=LevelLimits(-1600), layout=UnitLayout(3000, 1600, -1600)).in_line(500, 0.7) == 0.7
    one_ml = search(limits=LevelLimits(-1600), layout=UnitLayout(3000, 1601, -1600))
    assert one_ml.in_line(500, 0.7) == pytest.approx(1399 * 0.7 / (1399 - 0.999), rel=1e-12)


@pytest.mark.parametrize(
    ("sump", "rest", "drains", "is_no_better"),
    [
        (0.5, 0.5, 1, True),  # alike
        (0.6, 0.5, 1, True),
        (0.5, 0.6, 1, True),
        (0.5, 0.5, 2, True),
        (0.4, 0.9, 1, False),
        (0.9, 0.4, 1, False),
        (0.9, 0.9, 0, False),
    ],
)
def test_a_state_is_kept_where_it_is_better_in_anything(sump, rest, drains, is_no_better):
    state, known = _State(0, 0, sump, rest, drains), _State(0, 0, 0.5, 0.5, 1)
    same, worse = [], [_State(0, 0, 0.95, 0.95, 3)]

    orders._keep(state, [known], same)
    orders._keep(state, [], worse)

    assert state.is_no_better_than(known) is is_no_better
    assert same == ([] if is_no_better else [state])
    assert worse == [state]  # what is worse in all gives way
    beside = [known]
    orders._keep(state, [], beside)
    assert beside == ([known] if is_no_better else [known, state])


def test_every_stage_leads_where_the_replay_of_the_exchange_goes():
    """Levels, fluid poured, drains and, at full, the share of what is left, of orders drawn by chance."""
    rng, ends = Random(13), 0
    allowed = AllowedStages((500, 1450), 2900, 2, pours_while_pumping=True, mixes=True, pump_sizes_ml=(700,))
    unit = search(allowed=allowed)
    for _ in range(40):
        state = _State(0, 0, 1.0, 1.0)
        stages = []
        for _ in range(6):
            after = sorted(unit.after(state), key=repr)
            if not after:
                break
            state = rng.choice(after)
            stages.append(state.stage)
            run = staged_exchange(EXAMPLE, stages)
            assert (state.level, state.used) == (run.levels_ml[-1], run.new_used_ml)
            assert state.drains == sum(isinstance(stage, Drain) for stage in stages)
            if state.level == 0:
                ends += 1
                assert unit.old(state) == pytest.approx(1 - run.fresh_stirred, abs=1e-12)
    assert ends > 30


def test_after_a_mix_the_unit_is_full_and_alike_in_both_parts():
    unit = search(allowed=replace(BENCH, mixes=True))
    before = _State(0, 2900, 0.25, 0.75, 1, Add(2900), _State(0, 0, 1.0, 1.0))

    mixed = next(state for state in unit.after(before) if isinstance(state.stage, Mix))

    mean = (0.25 * 3400 + 0.75 * 4000) / 7400
    assert mixed[:5] == (0, 2900, pytest.approx(mean), pytest.approx(mean), 1)


@pytest.mark.parametrize(
    ("layout", "limits", "level", "poured"),
    [
        (EXAMPLE, LIMITS, 0, 5800),
        (EXAMPLE, LIMITS, -1300, 900),
        (UnitLayout(4148, 3400, -3300), LevelLimits(-3300), 0, 1717),  # nearly emptied: the careful rule
        (UnitLayout(4148, 3400, -3300), LevelLimits(-3300), 0, 9000),  # and many turns of a small rest
        (UnitLayout(3800, 3400, -1600), LevelLimits(-1600), 0, 7000),
    ],
)
def test_what_the_rest_takes_while_it_pumps(layout, limits, level, poured):
    out, into, stays = search(layout, limits=limits).pump(level, poured)

    held, fall, room = layout.sump_capacity_ml + level, level - limits.low_ml, layout.dry_capacity_ml - 3400
    total = fall + poured

    def old(q):
        return exp(-q / held) if not fall else (1 - q * fall / total / held) ** (poured / fall)

    area, _ = quad(
        lambda q: old(q) * exp(-(total - q) / room) / room, 0, total, points=[total * 0.99], epsabs=1e-13, limit=500
    )
    assert (out, into, stays) == pytest.approx((old(total), area, exp(-total / room)), rel=1e-9, abs=1e-12)


def test_a_rest_of_nothing_takes_all_and_keeps_nothing():
    assert search(UnitLayout(3400, 3400, -1600)).pump(0, 0) == (1.0, 1.0, 0.0)


def test_the_smallest_pours_are_1_ml():
    """A sump of 2 mL, a rest of 3, a stop 1 mL below full."""
    tiny = UnitLayout(5, 2, -1)

    by_drain = best_orders(tiny, 1, LevelLimits(-1), AllowedStages((), 1, pumps=False))
    by_pump = best_orders(tiny, 1, LevelLimits(-1), AllowedStages(()))
    while_pumping = best_orders(tiny, 2, LevelLimits(-1), ROUND, worth=0)
    from_one = best_orders(tiny, 6, LevelLimits(-1, -1), replace(ROUND, drain_ml=1, drain_first=True), worth=0)

    assert [stages_of(one) for one in by_drain] == ["drain -1, add 1"]
    assert by_drain[0].fresh_stirred == pytest.approx(1 / 5)
    assert [stages_of(one) for one in by_pump] == ["pump 0, add 1"]
    # 1 mL old of the sump pushes 1 mL out of the rest: still all old; the sump then holds 1 of 2 new
    assert by_pump[0].fresh_stirred == pytest.approx(1 / 5)
    for found, given in (
        (while_pumping, (2, LevelLimits(-1), ROUND)),
        (from_one, (6, LevelLimits(-1, -1), replace(ROUND, drain_ml=1, drain_first=True))),
    ):
        expected = plainly(tiny, *given, 0, 0)
        assert [len(one.stages) for one in found] == [count for count, _ in expected]
        assert [one.fresh_stirred for one in found] == pytest.approx([share for _, share in expected], abs=2e-8)
    assert any("drain -1, pump 5" in stages_of(one) for one in from_one)
    assert any("pump 1" in stages_of(one) for one in while_pumping)


@pytest.mark.parametrize(("sump", "room", "is_alike"), [(1000, 999, True), (2001, 1999, True), (1001, 1000, False)])
def test_two_vessels_of_nearly_one_size_are_bounded_without_their_difference(sump, room, is_alike):
    """0.999 of the sump is nearer to the rest than a millionth of it, or not."""
    unit = search(UnitLayout(sump + 1300 + room, sump + 1300, -1300))

    found = unit.in_line(500, exp(-500 / room))

    assert (found == exp(-500 / room)) is is_alike
    if not is_alike:
        assert found == pytest.approx(in_line(0.999 * sump, room, 500), rel=1e-5)


def test_what_holds_unless_said():
    assert LevelLimits(-1) == LevelLimits(-1, start_ml=0, stand_ml=0, dips_ml=None)
    assert AllowedStages((1,)) == AllowedStages((1,), 0, 1, False, True, False, False, (), 14)
