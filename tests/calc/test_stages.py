"""The staged exchange.

Sources: worked courses; a numerical solver of the defining equations (scipy) as another hand; mass balance; limits.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp

from shopserv.calc import errors
from shopserv.calc.fluid import Add, Batches, Drain, Mix, Pump, UnitLayout, staged_exchange
from shopserv.calc.rest import PlugRest, StirredRest, Stream, integral
from shopserv.calc.stages import Replay, singles
from tests.calc.worked import WORKED

LAYOUT = UnitLayout(7400, 3400, -1600)


def ml(liters):
    return Fraction(liters) * 1000


def read(text):
    """A stage as the worked examples write it."""
    word, *figures = text.split()
    if word == "pump":
        return Pump(*map(ml, figures))
    return {"add": Add, "drain": Drain, "mix": Mix}[word](*map(ml, figures))


@pytest.mark.parametrize("row", WORKED["courses"]["rows"], ids=lambda row: row["course"])
def test_the_courses_of_the_worked_example(row):
    found = staged_exchange(LAYOUT, [read(stage) for stage in row["stages"]])

    assert [f"{float(level / 1000):.2f}" for level in found.levels_ml] == row["levels_l"]
    assert f"{float(found.new_used_ml / 1000):.2f}" == row["new_l"]
    assert f"{float(found.removed_ml / 1000):.2f}" == row["removed_l"]
    assert f"{found.fresh_stirred:.4f}" == row["fraction_low"]
    assert f"{found.fresh_plug:.4f}" == row["fraction_high"]


def test_batches_are_adds_and_pumps():
    batched = staged_exchange(LAYOUT, [Pump(0, 300), Batches(5, 1740, 300), Add(1300)])
    single = staged_exchange(LAYOUT, [Pump(0, 300), *[Add(1740), Pump(0, 300)] * 5, Add(1300)])

    assert batched == single
    assert len(batched.levels_ml) == 12


def solved(layout, stages):
    """The same model by numerical integration: sump volume, its old volume, and the rest's old share, over q."""
    sump, rest = float(layout.sump_capacity_ml), float(layout.dry_capacity_ml - layout.sump_capacity_ml)
    held, old, g = sump, 1.0, 1.0
    for stage in stages:
        if isinstance(stage, Add):
            old *= held / (held + float(stage.volume_ml))
            held += float(stage.volume_ml)
        elif isinstance(stage, Drain):
            held = min(held, sump + float(stage.to_ml))
        elif isinstance(stage, Mix):
            old = g = (old * held + g * rest) / (held + rest)
        else:
            end = sump + float(layout.pickup_level_ml) + float(stage.stop_margin_ml)
            fall, poured = held - end, float(stage.add_ml)
            total = fall + poured
            if total == 0:
                continue

            def slope(q, y, held=held, fall=fall, poured=poured, total=total):
                volume = held - fall * q / total
                inward = -y[0] * poured / total / volume  # d o/dq of a stirred vessel with fresh fluid coming in
                return [inward, (y[0] - y[1]) / rest]

            end_state = solve_ivp(slope, (0, total), [old, g], rtol=1e-11, atol=1e-13, method="DOP853")
            (old, g), held = end_state.y[:, -1], end
    return 1 - (old * held + g * rest) / (held + rest)


volumes = st.integers(0, 4000)
ordinary = st.one_of(
    st.builds(Add, volumes),
    st.builds(Drain, st.integers(-3400, 500)),
    st.builds(Pump, volumes, st.integers(0, 400)),
    st.builds(Mix),
)


def course(stages, layout=LAYOUT):
    try:
        return staged_exchange(layout, stages)
    except errors.PumpCannotReach:
        assume(False)


@settings(max_examples=60, deadline=None)
@given(st.lists(ordinary, min_size=1, max_size=7))
def test_another_solver_finds_the_same_stirred_share(stages):
    found = course(stages)

    assert found.fresh_stirred == pytest.approx(solved(LAYOUT, stages), abs=1e-8)


def poured_by(stage, before_ml):
    """What a stage pours; a pump that would pump nothing does nothing, by the contract (Q = 0)."""
    if isinstance(stage, Add):
        return stage.volume_ml
    if not isinstance(stage, Pump):
        return 0
    pumped = before_ml - (LAYOUT.pickup_level_ml + stage.stop_margin_ml) + stage.add_ml
    return stage.add_ml if pumped else 0


@example([Pump(0, 0), Pump(1, 1)])
@given(st.lists(ordinary, max_size=8))
def test_no_fluid_is_made_or_lost(stages):
    found = course(stages)

    assert found.new_used_ml - found.removed_ml == found.over_at_end_ml
    before = (0, *found.levels_ml)
    assert found.new_used_ml == sum(map(poured_by, stages, before))
    if found.levels_ml:
        assert found.over_at_end_ml == found.levels_ml[-1]


@given(st.lists(ordinary, max_size=8))
def test_the_share_is_a_share_and_no_more_than_was_poured(stages):
    found = course(stages)

    held = 7400 + found.over_at_end_ml
    for fresh in (found.fresh_stirred, found.fresh_plug):
        assert 0 <= fresh <= 1
        assert not math.isnan(fresh)
        assert fresh * float(held) <= float(found.new_used_ml) + 1e-6


@given(st.lists(ordinary, max_size=6))
def test_without_a_rest_both_variants_are_one(stages):
    found = course(stages, UnitLayout(3400, 3400, -1600))

    assert found.fresh_stirred == pytest.approx(found.fresh_plug, abs=1e-12)


@given(st.lists(ordinary, max_size=6))
def test_driving_makes_one_composition_without_changing_the_whole(stages):
    before, after = course(stages), course([*stages, Mix()])

    assert after.fresh_stirred == pytest.approx(before.fresh_stirred, abs=1e-12)
    assert after.fresh_plug == pytest.approx(before.fresh_plug, abs=1e-12)


@given(st.integers(1, 2900), st.integers(1, 4))
def test_drains_with_driving_between_are_plain_drains(volume, passes):
    found = staged_exchange(LAYOUT, [Drain(-volume), Add(volume), Mix()] * passes)

    assert found.fresh_stirred == pytest.approx(float(1 - (1 - Fraction(volume, 7400)) ** passes), abs=1e-12)
    assert found.fresh_plug == pytest.approx(found.fresh_stirred, abs=1e-12)


def test_a_level_sump_is_washed_out_exponentially():
    """At the pickup level with as much poured as pumped, o = exp(-q/s), and two equal vessels in series are known."""
    layout = UnitLayout(2000, 1000, 0)
    found = staged_exchange(layout, [Pump(1000)])

    sump, rest = math.exp(-1), 2 * math.exp(-1)  # (1 + u) exp(-u) for the second of two equal tanks
    assert found.fresh_stirred == pytest.approx(1 - (sump + rest) / 2, abs=1e-13)
    assert found.fresh_plug == pytest.approx(1 - (sump + (1 - sump)) / 2, abs=1e-13)


def test_the_pipe_of_plug_flow_remembers_what_left_the_sump():
    """Old fluid in the pipe is the integral of o(q) over its last liters, here by numerical quadrature."""
    stages = [Drain(-2900), Add(2900), Pump(5500), Add(1600)]
    found = staged_exchange(LAYOUT, stages)
    held, fall, poured, total, old = 3400.0, 1600.0, 5500.0, 7100.0, 500 / 3400

    def at(q):
        return old * ((held - fall * q / total) / held) ** (poured / fall)

    inside = quad(at, total - 4000, total)[0]
    assert found.fresh_plug == pytest.approx(1 - (at(total) * 1800 + inside) / 7400, abs=1e-12)


@pytest.mark.parametrize(
    ("layout", "stages", "error"),
    [
        ((0, 0, 0), [], errors.BadUnitLayout),
        ((7400, 0, 0), [], errors.BadUnitLayout),
        ((3000, 3400, 0), [], errors.BadUnitLayout),
        ((7400, 3400, 1), [], errors.BadUnitLayout),
        ((7400, 3400, -3401), [], errors.BadUnitLayout),
        ((7400, 3400, -1600), [Add(-1)], errors.OutOfRange),
        ((7400, 3400, -1600), [Pump(-1)], errors.OutOfRange),
        ((7400, 3400, -1600), [Pump(0, -1)], errors.OutOfRange),
        ((7400, 3400, -1600), [Batches(-1, 100)], errors.OutOfRange),
        ((7400, 3400, -1600), [Batches(1, -100)], errors.OutOfRange),
        ((7400, 3400, -1600), [Drain(-3401)], errors.DrainBelowEmpty),
        ((7400, 3400, -1600), [Drain(-2000), Pump()], errors.PumpCannotReach),
        ((7400, 3400, -1600), [Drain(-3400), Pump(2000)], errors.PumpCannotReach),
        ((7400, 3400, 0), [Pump(0, 100)], errors.PumpCannotReach),
    ],
)
def test_what_no_unit_does_is_refused(layout, stages, error):
    with pytest.raises(error):
        staged_exchange(UnitLayout(*layout), stages)


def test_a_sump_is_filled_up_while_the_pump_runs():
    found = staged_exchange(LAYOUT, [Drain(-2000), Pump(1000)])

    assert found.levels_ml == (-2000, -1600)
    assert found.removed_ml == 2600


def test_a_sump_that_is_pumped_dry_ends_empty():
    found = staged_exchange(UnitLayout(7400, 3400, -3400), [Pump(1000)])

    assert found.over_at_end_ml == -3400
    assert 0 < found.fresh_stirred < found.new_used_ml / 4000


def test_nothing_happens_without_stages_or_at_the_pickup():
    assert staged_exchange(LAYOUT, []).fresh_plug == 0
    found = staged_exchange(LAYOUT, [Drain(-1600), Pump()])
    assert (found.levels_ml, found.fresh_stirred) == ((-1600, -1600), 0)


def test_a_unit_drained_to_the_last_drop_keeps_a_share():
    found = staged_exchange(UnitLayout(3400, 3400, -1600), [Add(3400), Drain(-3400)])

    assert found.fresh_stirred == found.fresh_plug == 0.5


def test_fresh_fluid_into_an_empty_sump_is_fresh():
    found = staged_exchange(UnitLayout(3400, 3400, -1600), [Drain(-3400), Add(3400)])

    assert found.fresh_stirred == 1


@given(st.lists(st.builds(Drain, st.integers(-3400, 3400)), max_size=5))
def test_a_drain_never_raises_the_level(stages):
    levels = [Fraction(0), *staged_exchange(LAYOUT, stages).levels_ml]

    assert levels == sorted(levels, reverse=True)


@pytest.mark.parametrize(
    ("function", "end", "area"),
    [
        (math.exp, 1.0, math.e - 1),
        (lambda x: x**0.5, 1.0, 2 / 3),
        (lambda x: 1 / (1 + x * x), 1.0, math.pi / 4),
        (lambda x: math.exp(-x), 60.0, 1.0),
        (lambda x: (1 - x) ** 12.5, 1.0, 1 / 13.5),
    ],
)
def test_the_quadrature_finds_known_areas(function, end, area):
    assert integral(function, end) == pytest.approx(area, rel=1e-12)


@given(st.integers(1, 3400), st.integers(1, 3000), st.integers(0, 9000))
def test_a_stream_carries_away_what_the_sump_loses(held, fall, poured):
    fall = min(fall, held)
    stream = Stream(0.7, Fraction(held), Fraction(fall), Fraction(poured))

    left = stream.old_at_end() * (held - fall)
    assert stream.old_mass_left(0.0) == pytest.approx(0.7 * held)
    assert stream.old_mass_left(float(stream.pumped)) == pytest.approx(left, abs=1e-9 * held)


def test_a_rest_of_no_volume_takes_nothing():
    stream = Stream(0.5, Fraction(10), Fraction(5), Fraction(0))
    for rest in (StirredRest(0.0), PlugRest(0.0)):
        rest.take(stream)
        assert rest.old_mass() == 0


def test_many_turns_of_a_small_rest_leave_what_came_last():
    """A rest of 1 mL behind a stream of liters holds what the sump holds at the end."""
    found = staged_exchange(UnitLayout(3401, 3400, -1600), [Pump(5000)])

    share = np.exp(math.log(1800 / 3400) * 5000 / 1600)
    assert found.fresh_stirred == pytest.approx(1 - share, abs=1e-5)
    assert found.fresh_plug == pytest.approx(found.fresh_stirred, abs=1e-5)


def test_nothing_poured_into_an_empty_sump_leaves_it_empty():
    found = staged_exchange(LAYOUT, [Drain(-3400), Add(0)])

    assert (found.over_at_end_ml, found.fresh_stirred) == (-3400, 0)


def test_a_unit_may_be_as_small_as_it_likes_but_its_pickup_stands_no_higher_than_full():
    assert staged_exchange(UnitLayout(Fraction(1, 2), Fraction(1, 2), 0), []).fresh_plug == 0
    assert staged_exchange(UnitLayout(1, 1, 0), [Add(1)]).fresh_plug == 0.5
    with pytest.raises(errors.BadUnitLayout):
        staged_exchange(UnitLayout(5, 5, Fraction(1, 2)), [])


def test_an_empty_sump_can_be_left_empty_but_not_poured_through():
    layout = UnitLayout(7400, 3400, -3400)
    found = staged_exchange(layout, [Drain(-3400), Pump(0, 0)])
    assert found.levels_ml == (-3400, -3400)
    with pytest.raises(errors.PumpCannotReach):
        staged_exchange(layout, [Drain(-3400), Pump(Fraction(1, 2), 0)])


def test_a_course_may_begin_above_or_below_full():
    for start in (200, -300):
        replay = Replay(3400, -1600, StirredRest(4000.0), start)
        replay.run(Drain(-1600))
        assert (replay.held, replay.removed) == (1800, 1600 + start)


def test_no_batch_at_all_is_no_stage():
    assert singles(Batches(0, 100)) == []
    assert singles(Batches(2, 100, 5)) == [Add(100), Pump(0, 5), Add(100), Pump(0, 5)]
