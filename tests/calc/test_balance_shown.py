"""What a balance shows besides its figures: its words at their bounds, what would change it, what may have happened.

Worked by hand at 15 °C, where a volume is mass / density: 850 kg/m³ in, 862 kg/m³ out.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from shopserv.calc import balance
from shopserv.calc.balance import Amount
from tests.calc.test_balance import reckoned, worked_example


def jug(ml, way="in"):
    return Amount(way, "jug", volume_ml=ml)


def weighed(ml, way="out"):
    """So many mL of used fluid in a bucket on the scale."""
    return Amount(way, "bucket", mass_g=Fraction(ml) * 862 / 1000)


@pytest.mark.parametrize(
    ("ml", "words"),
    [
        (1_000, "as much went in as came out"),
        (Fraction(10_004, 10), "as much went in as came out"),
        (Fraction(9_996, 10), "as much went in as came out"),
        (Fraction(10_006, 10), "1 mL more went in than came out"),
        (Fraction(9_994, 10), "1 mL more came out than went in"),
    ],
)
@pytest.mark.parametrize("by_two", [False, True])
def test_a_difference_that_rounds_to_nothing_leans_to_neither_side(ml, words, by_two):
    found = reckoned([jug(ml), jug(1_000, "out")], at_c=15, by_two_weighings=by_two)

    assert found.verdict.startswith(f"closes by volume: {words}, ")
    assert found.difference_ml == pytest.approx(float(ml) - 1_000)


def test_nothing_in_a_vessel_closes_though_its_band_is_nothing():
    empty = reckoned([jug(0)])

    assert (empty.difference_ml, empty.band_ml, empty.is_inside, empty.causes) == (0, 0, True, ())


@pytest.mark.parametrize(
    ("ml", "of", "words"),
    [
        (100, 9_900, "with 1 % of it by weight"),
        (99, 9_901, "with less than 1 % of it by weight"),
        (160, 9_840, "with 2 % of it by weight"),
        (8_000, 2_000, "with 80 % of it by weight"),
    ],
)
def test_the_share_that_was_weighed_at_its_bounds(ml, of, words):
    said = reckoned([weighed(ml), jug(of)], at_c=15, by_two_weighings=True).verdict

    assert f" {words}, the rest by volume: " in said


def test_a_scale_that_is_two_per_cent_off_counts_what_was_weighed_in_less_out():
    """4 L in and 3 L out by weight, 8 L in by jug: the scale alone makes 2 % of 1 L, either way."""
    rows = [Amount("in", "can", mass_g=3_400), weighed(3_000), jug(8_000)]
    scale = next(one for one in reckoned(rows, at_c=15).causes if one.words.startswith("the scale weighs"))

    assert (scale.low_ml, scale.high_ml) == pytest.approx((-20, 20))
    assert reckoned(rows, at_c=15).by_gain_ml == pytest.approx(10)


def test_what_would_change_it_is_one_band_either_way():
    """Two jugs: 2 % of 3 L and 4 L are 100 mL together; 1 L more went in."""
    found = reckoned([jug(4_000), jug(3_000, "out")], at_c=15)
    jugs = next(row for row in found.working["changes"] if row["words"] == "volumes read off a jug")

    assert jugs == {
        "words": "volumes read off a jug",
        "less": pytest.approx(900),
        "more": pytest.approx(1_100),
        "moved": pytest.approx(100),
        "unit": "mL",
        "note": "one band either way",
    }


def test_the_working_keeps_what_may_have_happened():
    """1 L more in, by weight; a bottle of 950 mL leaves 50 mL, more than twice the band of 11.8 mL."""
    rows = [Amount("in", "can", mass_g=850)]
    found = reckoned(rows, at_c=15, known=[("a bottle that was not poured", 950)])
    kept = found.working["causes"]

    assert [row["words"] for row in kept] == [one.words for one in found.causes]
    bottle = next(row for row in kept if row["words"] == "a bottle that was not poured")
    assert (bottle["low_ml"], bottle["high_ml"]) == (950, 950)
    assert bottle["left_ml"] == pytest.approx(50)
    assert bottle["explains"] is False  # 10 g of 850 kg/m³ are 11.8 mL, twice it 23.5
    assert found.band_ml == pytest.approx(10 / 0.85)
    density = math.exp(-((50 / found.band_ml) ** 2) / 2) / (found.band_ml * math.sqrt(2 * math.pi))
    spill = 0.5 * (math.erf(1_000 / found.band_ml / math.sqrt(2)) + math.erf(1_000 / found.band_ml / math.sqrt(2)))
    assert bottle["weight"] == pytest.approx(density / (density + spill / 2_000))
    assert reckoned(worked_example()).working["causes"] == []


def test_the_sizes_without_a_source_are_named_as_they_are_reckoned():
    assert (balance.DENSITY_DOUBT, balance.JUG_SHARE, balance.JUG_DOUBT_K) == (5, 0.02, 5)
    assert reckoned([jug(1)]).working["sources"][-1] == "5 kg/m³, 2 % and 5 K: common practice, no source"
