"""What the shop learns. Checks: the table of Nair 1940 as printed from Dixon and Massey 1969 in Jarrard, Scientific
Methods, table 5 (its row of 7, 98.1, is a misprint of 98.4); scipy.stats (binom, quantile_test).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from shopserv.calc import errors, learns, oil
from shopserv.calc.balance import Amount
from shopserv.calc.working import from_dict

PUBLISHED = {  # n: rank and confidence in per cent at 95 %, then at 99 %
    6: (1, 96.9, None, None), 8: (1, 99.2, 1, 99.2), 9: (2, 96.1, 1, 99.6), 10: (2, 97.9, 1, 99.8),
    11: (2, 98.8, 1, 99.9), 12: (3, 96.1, 2, 99.4), 13: (3, 97.8, 2, 99.7), 14: (3, 98.7, 2, 99.8),
    15: (4, 96.5, 3, 99.3), 16: (4, 97.9, 3, 99.6), 18: (5, 96.9, 4, 99.2), 20: (6, 95.9, 4, 99.7),
    25: (8, 95.7, 6, 99.6), 30: (10, 95.7, 8, 99.5), 35: (12, 95.9, 10, 99.4), 40: (14, 96.2, 12, 99.4),
    50: (18, 96.7, 16, 99.3), 60: (22, 97.3, 20, 99.4), 65: (25, 95.4, 22, 99.4),
}  # fmt: skip
FILLS = (2880, 2910, 2930, 2940, 2950, 2960, 2970, 2990)


@pytest.mark.parametrize("count", PUBLISHED)
def test_rank_and_confidence_are_those_of_the_published_table(count):
    rank, percent, rank_99, percent_99 = PUBLISHED[count]

    assert learns.rank_for(count) == rank
    assert round(float(1 - learns.outside(count, rank)) * 100, 1) == percent
    if rank_99:
        assert learns.rank_for(count, Fraction(99, 100)) == rank_99
        assert round(float(1 - learns.outside(count, rank_99)) * 100, 1) == pytest.approx(percent_99, abs=0.051)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 9, 14, 25, 40, 200])
def test_the_chance_to_miss_is_that_of_the_binomial_of_scipy(count):
    for rank in range(1, (count + 1) // 2 + 1):
        assert float(learns.outside(count, rank)) == pytest.approx(2 * stats.binom.cdf(rank - 1, count, 0.5), rel=1e-12)


@pytest.mark.parametrize("count", [8, 9, 12, 17, 25, 40])
def test_the_interval_is_that_of_the_quantile_test_of_scipy(count):
    values = [math.sin(n * n) for n in range(count)]

    found = learns.middle(values)
    oracle = stats.quantile_test(values, p=0.5).confidence_interval(confidence_level=0.95)

    assert (float(found.low), float(found.high)) == (oracle.low, oracle.high)


def test_worked_by_hand():
    odd, even = learns.middle(range(9, 0, -1)), learns.middle(range(1, 9))

    assert odd == learns.Learned(9, Fraction(5), Fraction(2), Fraction(8), 2, Fraction(246, 256))
    assert even == learns.Learned(8, Fraction(9, 2), Fraction(1), Fraction(8), 1, Fraction(127, 128))
    assert (learns.outside(8, 1), learns.outside(8, 2)) == (Fraction(1, 128), Fraction(9, 128))
    assert [learns.rank_for(n) for n in range(13)] == [0, 0, 0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 3]
    assert learns.rank_for(6, Fraction(31, 32)) == 1
    assert [learns.rank_for(n, Fraction(1, 5)) for n in (0, 1, 2, 7, 8, 9)] == [0, 0, 1, 3, 4, 4]
    assert (learns.outside(1, 1), learns.outside(9, 5), learns.outside(8, 4)) == (1, 1, Fraction(186, 256))
    assert learns.outside(10_000, 1) == Fraction(2, 2**10_000)
    assert learns.rank_for(6, Fraction(31, 32) + Fraction(1, 10**9)) == 0
    assert learns.rank_for(10_000) == 4902 == int(stats.binom.ppf(0.025, 10_000, 0.5))


def test_fewer_than_eight_have_a_median_and_no_interval():
    seven, none = learns.middle(FILLS[:7]), learns.middle([])

    assert seven == learns.Learned(7, Fraction(2940), None, None, 0, Fraction(0))
    assert none == learns.Learned(0, None, None, None, 0, Fraction(0))
    assert (seven.missing, none.missing, learns.middle(FILLS).missing) == (1, 8, 0)
    assert learns.middle(range(9)).missing == 0
    assert learns.middle([1], least=1) == learns.Learned(1, Fraction(1), None, None, 0, Fraction(0))


@pytest.mark.parametrize(
    ("printed", "verdict"),
    [
        ((2900, 2900), "inside"),
        ((2880, 2880), learns.INSIDE),
        ((2990, 2990), learns.INSIDE),
        ((2879, 2879), learns.BELOW),
        ((2991, 2991), learns.ABOVE),
        ((2700, 2880), learns.INSIDE),
        ((2990, 3100), learns.INSIDE),
        ((2700, 3100), learns.INSIDE),
        (None, learns.UNKNOWN),
    ],
)
def test_the_sheet_against_what_was_measured(printed, verdict):
    found = learns.against(FILLS, printed, what="out by the drain plug", unit="mL")

    assert found.verdict == verdict
    assert found.needs_decision is (verdict in ("below", "above"))
    assert found.printed == printed


def test_too_few_say_nothing_of_the_sheet():
    found = learns.against(FILLS[:7], (1, 1), what="out by the drain plug", unit="mL")

    assert (found.verdict, found.needs_decision) == (learns.TOO_FEW, False)
    assert [step.words for step in found.working.steps] == ["median"]
    assert (found.working.value, found.working.low, found.working.high) == (2940, None, None)


def test_the_working_has_every_value_the_sheet_and_the_rank():
    found = learns.against(
        FILLS, (2800, 3000), what="out by the drain plug", unit="mL", source="invented", rule="poured"
    )
    kept = found.working.as_dict()

    assert [row["value"] for row in kept["inputs"]] == [*(str(n) for n in FILLS), "2900"]
    assert [row["symbol"] for row in kept["inputs"]][:2] == ["x_{(1)}", "x_{(2)}"]
    assert kept["inputs"][1] == {
        "symbol": "x_{(2)}",
        "words": "measured, 2 of 8 by size",
        "value": "2910",
        "unit": "mL",
        "provenance": "measured",
        "source": "poured",
    }
    assert kept["inputs"][-1] == {
        "symbol": "s",
        "words": "out by the drain plug, printed",
        "value": "2900",
        "unit": "mL",
        "provenance": "unit sheet",
        "source": "invented",
        "low": "2800",
        "high": "3000",
    }
    assert [(row["words"], row["value"], row["unit"]) for row in kept["steps"]] == [
        ("median", "2945", "mL"),
        ("rank", 1, ""),
        ("low end", "2880", "mL"),
        ("high end", "2990", "mL"),
        ("confidence of the interval", "127/128", ""),
    ]
    assert (kept["figure"], kept["value"], kept["low"], kept["high"], kept["unit"]) == (
        "out by the drain plug",
        "2945",
        "2880",
        "2990",
        "mL",
    )
    assert [row["formula"] for row in kept["steps"]] == [
        r"\tilde x",
        r"k = \max\{k : 1 - 2 P(B_{n,1/2} < k) \ge 0.95\}",
        r"x_{(k)}",
        r"x_{(n+1-k)}",
        r"1 - 2 P(B_{n,1/2} < k)",
    ]
    assert kept["formulas"] == [r"P(x_{(k)} \le m \le x_{(n+1-k)}) = 1 - 2 \sum_{i<k} \binom{n}{i} 2^{-n}"]
    assert (kept["sources"], kept["assumptions"], kept["formula"]) == (
        [learns.SOURCE],
        ["jobs are independent of each other and of one kind"],
        "middle of the measured values; the interval counts in from both ends as far as 95 % allow",
    )
    assert from_dict(kept).value == "2945"


def test_a_single_printed_value_has_no_band_in_the_working():
    row = learns.against(FILLS, (2900, 2900), what="w", unit="mL").working.as_dict()["inputs"][-1]

    assert row["value"] == "2900"
    assert "low" not in row


WEIGHED = [Amount("in", "can", mass_g=2550), Amount("in", "jug", volume_ml=100), Amount("out", "level", volume_ml=40)]


def test_the_fill_since_the_last_drain_at_the_temperature_of_the_shelf():
    found = learns.fill_to_level(WEIGHED, 850, 40)

    # 3 L at 15 °C by mass, brought to 20 °C; the overflow of 40 mL at 40 °C is 39.4 mL there.
    by_hand = (
        3000 / oil.oil_volume_correction(20) + 100 - 40 * oil.oil_volume_correction(40) / oil.oil_volume_correction(20)
    )
    assert found == Fraction(round(by_hand * 10), 10) == Fraction(30717, 10)


def test_a_volume_is_read_at_its_own_temperature_where_it_has_one():
    warm = [Amount("in", "can", volume_ml=1000, at_c=60), Amount("left", "can", volume_ml=100)]

    found = learns.fill_to_level(warm, 850, 20)

    assert found == Fraction(round((oil.oil_volume_at(1000, 60, 20) - 100) * 10), 10)
    assert found < 900


def test_an_empty_vessel_adds_nothing_and_little_is_still_a_fill():
    assert learns.fill_to_level([Amount("in", "a", volume_ml=1000), Amount("in", "b", volume_ml=0)], 850, 40) == 1000
    assert learns.fill_to_level([Amount("in", "a", volume_ml=Fraction(1, 2))], 850, 40) == Fraction(1, 2)


@pytest.mark.parametrize("amounts", [[], [Amount("in", "a", volume_ml=10), Amount("out", "b", volume_ml=10, at_c=20)]])
def test_a_fill_of_nothing_is_refused(amounts):
    with pytest.raises(errors.OutOfRange, match="0 mL stayed in since the last drain"):
        learns.fill_to_level(amounts, 850, 40)


def at(minutes):
    return datetime(2026, 11, 24, 8, tzinfo=UTC) + timedelta(minutes=minutes)


@pytest.mark.parametrize(
    ("presses", "holds", "worked"),
    [
        ((0, 10, 70, 100), ((20, 60),), (60, 40, 0)),
        ((100, 0, 70, 10), ((20, 60),), (60, 40, 0)),
        ((0, 45), (), (45, 0, 0)),
        ((0, 45.5), (), (0, 0, 45.5)),
        ((0, 30, 90, 120), (), (60, 0, 60)),
        ((0, 30), ((-10, 5), (25, 40)), (20, 10, 0)),
        ((0, 30, 60), ((10, 50),), (20, 40, 0)),
        ((0, 30), ((40, 50), (-5, -1)), (30, 0, 0)),
        ((0, 100), ((0, 60),), (40, 60, 0)),
        ((5, 5), (), (0, 0, 0)),
        ((0, 30), ((10, 10),), (30, 0, 0)),
    ],
)
def test_holds_and_pauses_are_taken_out(presses, holds, worked):
    found = learns.worked_time([at(one) for one in presses], [(at(a), at(b)) for a, b in holds])

    assert (found.work, found.held, found.paused) == worked


def test_a_second_is_a_sixtieth_of_a_minute_and_the_pause_may_be_another():
    assert learns.worked_time([at(0), at(0) + timedelta(seconds=1)]).work == Fraction(1, 60)
    assert learns.worked_time([at(0), at(20)], pause_min=19).paused == 20


def test_needed_by_sold_time():
    assert learns.ratio(90, 15) == 1
    assert learns.ratio(63, 14) == Fraction(3, 4)
    assert learns.ratio(Fraction(1, 2), 1) == Fraction(1, 12)


@pytest.mark.parametrize(
    ("made", "error", "words"),
    [
        (lambda: learns.ratio(90, 0), errors.MissingInput, "0 tenths were sold"),
        (lambda: learns.ratio(90, -1), errors.MissingInput, "-1 tenths were sold"),
        (lambda: learns.ratio(0, 1), errors.OutOfRange, "0 minutes at work"),
        (lambda: learns.ratio(-1, 1), errors.OutOfRange, "-1 minutes at work"),
        (lambda: learns.worked_time([at(0)]), errors.MissingInput, "One press has no length"),
        (lambda: learns.worked_time([at(0), at(1)], [(at(1), at(0))]), errors.OutOfRange, "ends before it begins"),
        (lambda: learns.outside(0, 1), errors.OutOfRange, "0 values and rank 1"),
        (lambda: learns.outside(10_001, 1), errors.OutOfRange, "10001 values"),
        (lambda: learns.outside(8, 0), errors.OutOfRange, "rank 0"),
        (lambda: learns.outside(8, 5), errors.OutOfRange, "rank 5"),
        (lambda: learns.outside(9, 6), errors.OutOfRange, "rank 6"),
        (lambda: learns.rank_for(-1), errors.OutOfRange, "-1 values"),
        (lambda: learns.rank_for(10_001), errors.OutOfRange, "10001 values"),
        (lambda: learns.rank_for(8, Fraction(0)), errors.OutOfRange, "8 values at 0"),
        (lambda: learns.rank_for(8, Fraction(1)), errors.OutOfRange, "8 values at 1"),
        (lambda: learns.middle([float("nan")]), errors.OutOfRange, "finite"),
        (lambda: learns.against(FILLS, (2, 1), what="fill", unit="mL"), errors.OutOfRange, "fill: printed 2 to 1 mL"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(made, error, words):
    with pytest.raises(error) as told:
        made()

    assert words in str(told.value)


@pytest.mark.parametrize("count", [6, 8, 9, 12])
def test_the_interval_holds_the_median_exactly_as_often_as_it_says(count):
    """Counted out: each value falls below or above the true median with chance 1/2, all 2 ** n ways."""
    rank = learns.rank_for(count)

    held = sum(rank <= below.bit_count() <= count - rank for below in range(2**count))

    assert Fraction(held, 2**count) == 1 - learns.outside(count, rank)


@settings(max_examples=80)
@given(st.lists(st.integers(0, 12_000), min_size=8, max_size=40))
def test_low_median_high_stand_in_their_order_and_keep_it_when_all_are_moved(values):
    found, moved = learns.middle(values), learns.middle([value + 100 for value in values])

    assert min(values) <= found.low <= found.median <= found.high <= max(values)
    assert found.confidence >= Fraction(95, 100)
    assert (moved.low, moved.median, moved.high) == (found.low + 100, found.median + 100, found.high + 100)
