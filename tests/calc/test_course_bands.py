"""Courses on units of which not everything is certain.

Sources: the replay of the staged exchange; mass balance, written anew; units scanned within the bands.
"""

from __future__ import annotations

import random
from dataclasses import fields, replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.course_bands import (
    FULL,
    MOST_TRIES,
    SURE,
    Band,
    Breach,
    LevelMarks,
    UnitBands,
    band,
    banded_course,
    certain,
    share_band,
)
from shopserv.calc.stages import Add, Batches, Drain, Mix, Pump, UnitLayout, staged_exchange

FIFTH = Fraction(1, 5)
EXAMPLE = UnitBands(certain(7400), certain(3400), certain(-1600))
DRAINS = [Drain(-2900), Add(2900), Mix(), Drain(-2900), Add(2900), Mix(), Drain(-2900), Add(2900)]
HABIT = [Pump(0, 300), Batches(5, 1740, 300), Add(1300)]
TWENTY = replace(EXAMPLE, capacity_ml=band(5920, 8880, 7400), drained=band(1 - FIFTH, 1 + FIFTH, 1))


@pytest.mark.parametrize(
    "stages",
    [
        DRAINS,
        HABIT,
        [Pump(8700, 300), Add(1300)],
        [Add(3400), Pump(3200), Add(3400)],
        [Drain(-1500), Pump(200, 300)],
        [],
    ],
)
def test_a_certain_unit_has_no_band_and_is_the_replay(stages):
    run = staged_exchange(UnitLayout(7400, 3400, -1600), stages)

    found = banded_course(EXAMPLE, stages)

    assert found.levels_ml == tuple(certain(level) for level in run.levels_ml)
    assert (found.share.low, found.share.high) == (run.fresh_stirred, max(run.fresh_stirred, run.fresh_plug))
    assert (found.share.likely_low, found.share.likely_high) == (found.share.low, found.share.high)
    assert (found.share.low_if, found.share.high_if, found.share.is_at_corner, found.share.tries) == ({}, {}, True, 1)


def test_a_fifth_of_fill_and_drain_widens_three_drains():
    by_fill = banded_course(replace(TWENTY, drained=SURE), DRAINS)
    both = banded_course(TWENTY, DRAINS)

    assert (round(by_fill.share.low, 6), round(by_fill.share.high, 6)) == (0.694603, 0.867244)
    assert (round(both.share.low, 6), round(both.share.high, 6)) == (0.666544, 0.899491)
    assert (round(both.share.likely_low, 6), both.share.tries, both.share.is_at_corner) == (0.775124, 25, True)
    assert both.share.low_if == {"capacity_ml": 8880, "drained": Fraction(4, 5)}
    assert both.share.high_if == {"capacity_ml": 5920, "drained": Fraction(6, 5)}
    assert both.levels_ml[:2] == (Band(-3400, -2900, -2320), Band(-500, 0, 580))  # the sump holds no more than 3,400 mL


def test_one_course_has_one_share_and_says_over_what_it_runs():
    stages = [Pump(0, 300), Batches(6, 1633, 300), Add(1400)]
    known = UnitBands(certain(8600), certain(3800), certain(-1700))
    open_fill = replace(known, capacity_ml=band(7200, 8600, 8600))

    sure, wide = share_band(known, stages), share_band(open_fill, stages)

    run = staged_exchange(UnitLayout(8600, 3800, -1700), stages)
    assert (sure.low, sure.high, sure.over, sure.tries) == (run.fresh_stirred, run.fresh_plug, (), 1)
    assert (round(sure.low, 4), round(sure.high, 4)) == (0.8449, 0.9426)
    assert (wide.low, wide.likely_low, wide.likely_high) == (sure.low, sure.low, sure.high)
    assert (round(wide.high, 4), wide.over, wide.tries) == (0.9559, ("capacity_ml",), 5)
    assert (wide.low_if, wide.high_if) == ({"capacity_ml": 8600}, {"capacity_ml": 7200})
    assert wide == banded_course(open_fill, stages).share
    # By liters: at 7.2 L the same is poured and pumped as was planned for 8.6 L.
    small = staged_exchange(UnitLayout(7200, 3800, -1700), stages)
    assert (wide.high, small.fresh_stirred > wide.low) == (small.fresh_plug, True)
    assert share_band(open_fill, stages, inside=0).tries == 2


def test_what_is_open_is_named_in_the_order_of_the_unit():
    assert TWENTY.open == ("capacity_ml", "drained")
    assert EXAMPLE.open == ()
    assert share_band(replace(TWENTY, sump_ml=band(3300, 3400)), []).over == ("capacity_ml", "sump_ml", "drained")


def test_pumped_stages_go_by_liters_whatever_the_unit_holds():
    found = banded_course(replace(EXAMPLE, start_ml=band(-200, 100, 0)), HABIT)

    assert found.levels_ml[:3] == (Band(-1500, -1300, -1200), Band(240, 440, 540), Band(-1500, -1300, -1200))
    assert found.levels_ml[-1] == Band(-200, 0, 100)


def test_a_pump_that_draws_air_takes_no_more_and_is_named_with_its_amount_and_cause():
    found = banded_course(
        replace(EXAMPLE, start_ml=band(-312, 0, 0), capacity_ml=band(7200, 8600)), [Pump(0, 300), Add(1300)]
    )

    assert found.levels_ml == (Band(-1600, -1300, -1300), Band(-300, 0, 0))
    assert found.breaches == (Breach(1, "pickup", Fraction(12), {"start_ml": Fraction(-312)}),)


def test_an_uncertain_pickup_is_named_as_the_cause():
    at_margin = banded_course(replace(EXAMPLE, pickup_ml=band(-1600, -1300, -1600)), HABIT)
    beyond = banded_course(replace(EXAMPLE, pickup_ml=band(-1600, -1299, -1600)), HABIT)

    assert not at_margin.breaches
    assert beyond.breaches == (Breach(1, "pickup", Fraction(1), {"pickup_ml": Fraction(-1299)}),)  # then 1 mL is kept


def test_what_is_likely_to_cross_a_line_has_no_cause_among_the_bands():
    overfill = [Add(3400), Pump(3200), Add(3400)]

    found = banded_course(TWENTY, overfill, LevelMarks(1200, -300))

    assert found.breaches == (Breach(2, "dips", Fraction(2200), {}),)
    assert not banded_course(TWENTY, overfill, LevelMarks(3400, 1800)).breaches
    assert banded_course(TWENTY, overfill, LevelMarks(3399, 1801)).breaches == (
        Breach(2, "dips", Fraction(1), {}),
        Breach(3, "minimum", Fraction(1), {}),
    )


def test_a_warm_run_below_the_minimum_or_the_pickup_is_named():
    low = replace(EXAMPLE, drained=band(1, FIFTH * 6, 1))

    found = banded_course(low, DRAINS[:3], LevelMarks(minimum_ml=-300))
    starved = banded_course(EXAMPLE, [Drain(-2900), Mix()], LevelMarks(minimum_ml=-3000))

    assert found.breaches == (Breach(3, "minimum", Fraction(200), {"drained": Fraction(6, 5)}),)
    assert starved.breaches == (Breach(2, "pickup", Fraction(1300), {}),)


def test_an_emptied_sump_takes_what_is_poured_while_nothing_is_pumped():
    empty = UnitBands(certain(3400), certain(3400), certain(-3400), start_ml=band(-3400, 0, 0))

    found = banded_course(empty, [Pump(0, 3000), Pump(100, 3000), Add(300)])

    assert found.levels_ml == (Band(-3400, -400, -400), Band(-3300, -400, -400), Band(-3000, -100, -100))
    assert found.breaches[0] == Breach(1, "pickup", Fraction(400), {"start_ml": Fraction(-3400)})


def test_units_that_cannot_be_are_left_out():
    thin = UnitBands(band(3000, 5000, 4000), band(3400, 4200, 3600), certain(-3500))

    found = banded_course(thin, [Drain(-3400), Add(3400)], inside=1)

    assert found.share.tries == 5  # of 12; of the others the sump is beyond the fill, or the pickup below the sump
    with pytest.raises(errors.BadUnitLayout):
        banded_course(replace(thin, capacity_ml=band(3000, 5000, 3500)), [Add(1)])


@pytest.mark.parametrize(("inside", "tries"), [(0, 3**2), (1, 3**2), (2, 5**2), (3, 5**2), (28, 31**2)])
def test_so_many_values_are_tried_inside(inside, tries):
    assert banded_course(TWENTY, [Add(100)], inside=inside).share.tries == tries


def test_with_another_sump_an_end_of_the_share_may_stand_inside_the_band():
    found = banded_course(
        replace(EXAMPLE, sump_ml=band(2600, 4200, 3400)), [Drain(-1400), Pump(1800, 300), Mix()], inside=7
    )

    low, high = found.share.low_if["sump_ml"], found.share.high_if["sump_ml"]
    assert (low, found.share.is_at_corner) == (2600, False)
    assert 2600 < high < 4200


def test_a_sump_that_holds_1_ml_can_be_pumped():
    tiny = UnitBands(certain(5), certain(2), certain(-1))

    found = banded_course(tiny, [Drain(-1), Pump(3)])

    assert found.levels_ml == (certain(-1), certain(-1))
    assert found.share.low == staged_exchange(UnitLayout(5, 2, -1), [Drain(-1), Pump(3)]).fresh_stirred > 0.5


def test_units_at_the_edge_of_what_can_be_are_tried():
    all_sump = UnitBands(band(3400, 3600, 3600), certain(3400), band(-3400, 0, -100))
    smallest = UnitBands(certain(3400), band(1, 3400, 3400), certain(0))

    assert banded_course(all_sump, [Add(1)], inside=0).share.tries == 2 * 3
    assert banded_course(smallest, [Add(1)], inside=0).share.tries == 2
    assert banded_course(replace(smallest, sump_ml=band(0, 3400, 3400)), [Add(1)], inside=0).share.tries == 1


def test_as_many_units_as_may_be_are_tried_and_no_more():
    three = UnitBands(band(7000, 8000, 7000), certain(3400), band(-1700, -1600, -1700), start_ml=band(0, 9, 0))
    five = UnitBands(*(band(low, low + 90, low + 10) for low in (7000, 3400, -1700)), band(1, 3, 2), band(0, 90, 10))

    assert banded_course(three, [Add(100)], inside=8).share.tries == MOST_TRIES
    with pytest.raises(errors.OutOfRange):
        banded_course(three, [Add(100)], inside=9)
    assert banded_course(replace(five, drained=band(1, 3, 1)), [Add(100)], inside=0).share.tries == 2 * 3**4
    assert banded_course(replace(five, drained=band(1, 4, 2)), [Add(100)], inside=0).share.tries == 3**5
    with pytest.raises(errors.OutOfRange):
        banded_course(replace(five, drained=band(1, 4, 2)), [Add(100)], inside=1)


@pytest.mark.parametrize("inside", [-1, 30])
def test_too_many_or_too_few_tries_are_named(inside):
    with pytest.raises(errors.OutOfRange, match=f"^{inside} values inside each band make .* at most {MOST_TRIES}"):
        banded_course(TWENTY, [Add(100)], inside=inside)


def test_bands_stand_in_order():
    assert band(1, 3) == Band(1, 2, 3)
    assert band("7.2", "8.6", "7.2") == Band(Fraction("7.2"), Fraction("7.2"), Fraction("8.6"))
    assert (certain(5).is_wide, band(5, 6).is_wide, FULL.is_wide) == (False, True, False)
    assert band(0, 4).points(1) == (0, 4, 2)
    assert band(0, 4, 1).points(3) == (0, 4, 1, 2, 3)
    assert band(0, 4).points(3) == (0, 4, 2, 1, 3)
    for low, likely, high in ((3, 2, 4), (1, 5, 4), (4, 4, 3)):
        with pytest.raises(errors.OutOfRange, match="not in order"):
            band(low, high, likely)


stage = st.one_of(
    st.integers(1, 30).map(lambda n: Add(n * 100)),
    st.integers(0, 25).map(lambda n: Drain(-n * 100)),
    st.just(Mix()),
    st.integers(0, 40).map(lambda n: Pump(n * 100, 300)),
)


@settings(deadline=None, max_examples=12)
@given(st.lists(stage, max_size=6), st.integers(0, 10**6))
def test_any_unit_within_the_bands_ends_within_them(stages, seed):
    unit = replace(EXAMPLE, drained=TWENTY.drained, start_ml=band(-200, 200, 0), pickup_ml=band(-1700, -1400, -1600))
    rng = random.Random(seed)
    try:
        found = banded_course(unit, stages, inside=0)
    except errors.PumpCannotReach:
        return

    for _ in range(10):
        levels = _levels(stages, {name.name: _any(rng, getattr(unit, name.name)) for name in fields(unit)})
        for level, ends in zip(levels, found.levels_ml, strict=True):
            assert ends.low <= level <= ends.high


@settings(deadline=None, max_examples=12)
@given(st.lists(stage, min_size=1, max_size=5), st.integers(0, 10**6))
def test_the_share_with_the_fill_alone_ends_at_its_corners(stages, seed):
    unit = replace(EXAMPLE, capacity_ml=band(5920, 8880, 7400))
    rng = random.Random(seed)
    try:
        found = banded_course(unit, stages, inside=0)
    except errors.PumpCannotReach:
        return

    for _ in range(8):
        one = banded_course(replace(unit, capacity_ml=certain(_any(rng, unit.capacity_ml))), stages)
        assert found.share.low - 1e-12 <= one.share.low <= one.share.high <= found.share.high + 1e-12


def _any(rng, ends):
    return ends.low + (ends.high - ends.low) * Fraction(rng.randint(0, 60), 60)


def _levels(stages, unit):
    """Levels of one unit by nothing but adding and subtracting, with the likely unit beside it for what is pumped."""
    likely, level, levels = Fraction(0), unit["start_ml"], []
    for one in stages:
        if isinstance(one, Add):
            likely, level = likely + one.volume_ml, level + one.volume_ml
        elif isinstance(one, Drain):
            likely, level = min(likely, one.to_ml), min(level, max(one.to_ml * unit["drained"], -unit["sump_ml"]))
        elif isinstance(one, Pump):
            out = likely + one.add_ml + 1300
            if out:
                level += one.add_ml
                level = min(level, max(level - out, unit["pickup_ml"]))
                likely = Fraction(-1300)
        levels.append(level)
    return levels
