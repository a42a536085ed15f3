"""The watch over a scale: running sums over full packages, and how soon they tell.

Sources: Lucas and Crosier, Technometrics 24 (1982) 199, table 1; Vance, Journal of Quality Technology 18 (1986) 189,
table 1; Waldmann, Technometrics 28 (1986) 61, tables 1, 3, 5 (all three as quoted in the examples of the R package spc
0.7); the row of limit 5 as in the NIST/SEMATECH e-Handbook, 6.3.2.3, and Abramowitz and Stegun, table 25.4 (memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import drift, errors
from shopserv.calc.drift import Weighing, one_sided, run_length, watch

FULL_G = 3205.355824719537  # 3785 mL at 20 °C of 850 kg/m³ at 15 °C


def jugs(*shares, words="jug"):
    return [
        Weighing(f"{words} {n}", FULL_G * (1 + share), 3_785, 850) for n, share in enumerate(shares, start=1)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("shift", "weighings", "digits"),
    [(0, 168, 0), (0.25, 74.2, 1), (0.5, 26.6, 1), (0.75, 13.3, 1), (1, 8.38, 2), (1.5, 4.75, 2), (2, 3.34, 2),
     (2.5, 2.62, 2), (3, 2.19, 2), (4, 1.71, 2), (5, 1.31, 2)],
)  # fmt: skip
def test_run_lengths_are_those_of_the_published_table_for_a_limit_of_four(shift, weighings, digits):
    assert round(run_length(shift, 0.5, 4), digits) == weighings
    assert run_length(-shift, 0.5, 4) == pytest.approx(run_length(shift, 0.5, 4), rel=1e-12)


@pytest.mark.parametrize(
    ("shift", "weighings", "digits"), [(0, 465, 0), (0.5, 38.0, 1), (1, 10.4, 1), (2, 4.01, 2), (4, 2.01, 2)]
)
def test_run_lengths_of_the_limit_that_the_house_takes(shift, weighings, digits):
    assert round(run_length(shift), digits) == weighings


@pytest.mark.parametrize(
    ("shift", "slack", "limit", "weighings", "within"),
    [
        (2.5, 0.25, 8, 4.1500836225, 5e-7),
        (-0.25, 0, 10, 2071.51, 0.1),
        (0, 0, 10, 124.66, 0.005),
        (0.5, 0, 10, 20.37, 0.005),
        (1, 0, 10, 10.75, 0.005),
        (-0.5, 0.5, 3, 1963, 0.5),
        (0, 0.5, 3, 117.6, 0.05),
        (0.5, 0.5, 3, 17.35, 0.005),
    ],
)
def test_one_side_alone_is_that_of_the_published_tables(shift, slack, limit, weighings, within):
    assert one_sided(shift, slack, limit) == pytest.approx(weighings, abs=within)


def test_run_length_is_what_simulated_weighings_take():
    rng = np.random.default_rng(11)
    z = rng.normal(1.0, 1.0, (4_000, 120))
    up, length = np.zeros(4_000), np.zeros(4_000)
    for n in range(120):
        up = np.maximum(0, up + z[:, n] - 0.5)
        length = np.where((length == 0) & (up >= 5), n + 1, length)

    assert (length > 0).all()
    assert one_sided(1, 0.5, 5) == pytest.approx(length.mean(), abs=4 * length.std() / np.sqrt(4_000))


def test_nodes_are_those_of_the_handbook():
    found = sorted(drift.gauss_legendre(5))

    assert [round(x, 10) for x, _ in found] == [-0.9061798459, -0.5384693101, 0, 0.5384693101, 0.9061798459]
    assert [round(w, 10) for _, w in found] == [0.2369268851, 0.4786286705, 0.5688888889, 0.4786286705, 0.2369268851]


@pytest.mark.parametrize(("slack", "limit"), [(0.5, 0), (0.5, -1), (-0.1, 5)])
def test_a_watch_that_cannot_be_is_refused(slack, limit):
    with pytest.raises(errors.OutOfRange, match="the limit must be above 0"):
        one_sided(0, slack, limit)


def test_slack_may_be_nothing_and_a_limit_small():
    assert one_sided(0, 0, 0.1) == pytest.approx(2.17, abs=0.01)


def test_two_per_cent_show_at_the_second_weighing_when_the_deviation_is_half_a_per_cent():
    found = watch(jugs(0.02, 0.02), scale_error_g=0)

    assert [round(point.z, 6) for point in found.points] == [4, 4]
    assert [round(point.up, 6) for point in found.points] == [3.5, 7]
    assert [point.down for point in found.points] == [0, 0]
    assert [point.is_alarm for point in found.points] == [False, True]
    assert (found.alarm_at, found.side, found.since) == (1, "high", 0)
    assert found.off == pytest.approx(0.02)
    assert found.words == "the scale seems to weigh about 2.0 % too much, by 2 packages since jug 1"


def test_a_large_drift_is_told_to_a_tenth_of_a_per_cent():
    assert "about 10.0 % too much" in watch(jugs(0.1, 0.1), scale_error_g=0).words


def test_a_scale_that_weighs_too_little_is_found_on_the_other_side():
    found = watch(jugs(0.001, -0.02, -0.02, -0.02), scale_error_g=0)

    assert [round(point.down, 6) for point in found.points] == [0, 3.5, 7, 10.5]
    assert (found.alarm_at, found.side, found.since) == (2, "low", 1)
    assert found.off == pytest.approx(-0.02)
    assert found.words == "the scale seems to weigh about 2.0 % too little, by 3 packages since jug 2"


def test_the_alarm_stands_at_five_and_not_below():
    below, at = watch(jugs(0.0274), scale_error_g=0), watch(jugs(0.0276), scale_error_g=0)

    assert (below.alarm_at, round(below.points[0].up, 2)) == (None, 4.98)
    assert (at.alarm_at, round(at.points[0].up, 2)) == (0, 5.02)
    assert at.words.endswith("by 1 package since jug 1")


def test_a_true_scale_gives_no_alarm_and_says_how_far_it_is_from_one():
    found = watch(jugs(0.004, -0.003, 0.005), scale_error_g=0)

    assert (found.alarm_at, found.side, found.since, found.off) == (None, "", None, None)
    assert found.words == "no drift seen in 3 packages: the larger sum stands at 0.5 of 5"


def test_sums_fall_back_and_a_new_run_begins_where_it_left_zero():
    found = watch(jugs(0.006, -0.004, 0.02, 0.02), scale_error_g=0)

    assert [round(point.up, 6) for point in found.points] == [0.7, 0, 3.5, 7]
    assert found.since == 2


def test_an_alarm_that_fell_below_the_limit_is_over():
    found = watch(jugs(0.02, 0.02, -0.02, -0.02), scale_error_g=0)

    assert [point.is_alarm for point in found.points] == [False, True, False, True]
    assert (found.side, found.since, found.alarm_at) == ("low", 2, 3)


def test_the_standing_alarm_began_where_its_side_reached_the_limit_first():
    found = watch(jugs(0.02, 0.02, 0.02, 0.02), scale_error_g=0)

    assert (found.alarm_at, round(found.points[-1].up, 6), round(found.off, 6)) == (1, 14, 0.02)


def test_a_package_that_cannot_have_been_full_is_told_and_not_counted():
    found = watch(jugs(0.02, -0.4, 0.02), scale_error_g=0)

    assert [point.is_counted for point in found.points] == [True, False, True]
    assert [round(point.up, 6) for point in found.points] == [3.5, 3.5, 7]
    assert found.off == pytest.approx(0.02)
    assert found.words.endswith(
        "by 2 packages since jug 1; 1 package more than 15 % off not counted: not full, another package, "
        "or a scale that is far off"
    )


def test_what_is_too_far_off_has_a_bound():
    assert watch(jugs(0.1499), scale_error_g=0).points[0].is_counted is True
    assert watch(jugs(-0.1501), scale_error_g=0).points[0].is_counted is False


def test_where_nothing_counts_nothing_is_known():
    assert watch([], scale_error_g=10).words == "no full package was weighed since the last check: nothing is known"
    assert watch(jugs(-0.5, 0.3), scale_error_g=10).words == (
        "no full package was weighed since the last check: nothing is known; 2 packages more than 15 % off "
        "not counted: not full, another package, or a scale that is far off"
    )
    assert watch(jugs(0.001), scale_error_g=10).words.startswith("no drift seen in 1 package: ")


def test_a_coarse_scale_and_a_small_package_count_for_less():
    assert drift.deviation(3_217, 20) == pytest.approx(0.007978142)
    assert drift.deviation(804, 20) == pytest.approx(0.025373, abs=1e-6)
    assert drift.deviation(1, 0) == 0.005
    assert watch(jugs(0.02, 0.02), scale_error_g=20).alarm_at is None


@pytest.mark.parametrize(("mass", "error"), [(0, 10), (-1, 10), (100, -1)])
def test_a_deviation_of_nothing_is_refused(mass, error):
    with pytest.raises(errors.OutOfRange, match="the mass must be above 0"):
        drift.deviation(mass, error)


def test_a_full_package_weighs_its_label_at_the_temperature_of_the_label():
    assert drift.share_off(Weighing("", 3_216.6, 3_785, 850)) == pytest.approx(0.003507934)
    assert drift.share_off(Weighing("", FULL_G, 3_785, 850)) == pytest.approx(0, abs=1e-12)


def test_a_package_may_be_of_any_size_above_nothing():
    assert drift.share_off(Weighing("", 0.8469, 1, 850)) == pytest.approx(0.000052, abs=1e-5)


@pytest.mark.parametrize("ml", [0, -1])
def test_a_package_that_holds_nothing_is_refused(ml):
    with pytest.raises(errors.OutOfRange, match="it must hold more than nothing"):
        drift.share_off(Weighing("", 3_000, ml, 850))


@given(st.lists(st.floats(-0.1, 0.1), max_size=12))
def test_the_two_sides_are_mirrors_and_never_below_nothing(shares):
    found, other = watch(jugs(*shares), scale_error_g=0), watch(jugs(*[-share for share in shares]), scale_error_g=0)

    assert [point.up for point in found.points] == pytest.approx([point.down for point in other.points], abs=1e-9)
    assert all(point.up >= 0 and point.down >= 0 for point in found.points)


def exactly(monkeypatch, off, spread):
    """One weighing, with a share off and a deviation that floats hold exactly."""
    monkeypatch.setattr(drift, "share_off", lambda _: off)
    monkeypatch.setattr(drift, "deviation", lambda *_: spread)
    return watch(jugs(0.0), scale_error_g=0)


def test_a_sum_that_meets_the_limit_is_the_alarm(monkeypatch):
    found = exactly(monkeypatch, 5.5 / 64, 1 / 64)

    assert (found.points[0].up, found.points[0].is_alarm, found.alarm_at, found.side) == (5.0, True, 0, "high")


def test_a_package_just_as_far_off_as_may_be_counts(monkeypatch):
    assert exactly(monkeypatch, 0.15, 1.0).points[0].is_counted
    assert exactly(monkeypatch, -0.15, 1.0).points[0].is_counted
