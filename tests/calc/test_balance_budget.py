"""What makes the band of a balance, and what it says where in and out do not agree.

Sources: JCGM 100:2008 (GUM), 5.1.2 and 5.2.2, in closed form; JCGM 101:2008, by drawn errors.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopserv.calc import oil
from shopserv.calc.balance import Amount, balance
from tests.calc.test_balance import reckoned, worked_example

WEIGHED = [
    Amount("in", "jug", mass_g=4_000),
    Amount("in", "jug 2", mass_g=4_000),
    Amount("out", "bucket", mass_g=8_100),
]


def parts(found):
    return {part.what: round(part.ml, 2) for part in found.parts}


def test_the_band_of_the_worked_example_by_its_parts():
    found = reckoned(worked_example())

    assert [(part.what, part.words) for part in found.parts] == [
        ("density", "density of what came out"),
        ("scale", "9 vessels weighed, 10 g each by itself"),
    ]
    assert parts(found) == {"density": 58.75, "scale": 35.29}
    assert [round(part.share, 4) for part in found.parts] == [0.7348, 0.2652]
    assert found.band_ml == pytest.approx(math.hypot(58.7494, 35.2941), abs=1e-3)


def test_the_band_is_what_drawn_errors_give():
    """Scale errors of 10 g a vessel and a density that is off by 5 kg/m³, ten thousand times."""
    rng = np.random.default_rng(3)
    densities = rng.normal(862, 5, 10_000)
    in_ml = sum(a.mass_g * (-1 if a.way == "left" else 1) + rng.normal(0, 10, 10_000)
                for a in worked_example() if a.way != "out")  # fmt: skip
    out_g = sum(float(a.mass_g) + rng.normal(0, 10, 10_000) for a in worked_example() if a.way == "out")
    warm = [oil.oil_volume_correction(42, density) for density in (850, 862)]
    drawn = in_ml.astype(float) / 0.850 / warm[0] - out_g / densities * 1000 / warm[1]

    found = reckoned(worked_example())

    assert found.difference_ml == pytest.approx(drawn.mean(), abs=3 * drawn.std() / 100)
    assert found.band_ml == pytest.approx(drawn.std(), rel=0.03)
    assert np.mean(np.abs(drawn - found.difference_ml) < 2 * found.band_ml) == pytest.approx(0.954, abs=0.01)


def test_a_scale_that_is_off_by_a_share_cancels_nearly():
    true = reckoned(worked_example())
    off = reckoned([Amount(a.way, a.words, mass_g=a.mass_g * 51 / 50) for a in worked_example()])

    assert off.difference_ml - true.difference_ml == pytest.approx(2 * true.by_gain_ml, abs=1e-9)
    assert round(true.by_gain_ml, 3) == 0.627
    assert 2 * true.by_gain_ml < true.band_ml / 50


def test_one_per_cent_counts_what_was_weighed_alone():
    mixed = reckoned([Amount("in", "jugs", volume_ml=9_000), WEIGHED[2], Amount("left", "rest", mass_g=850)], at_c=15)

    assert mixed.by_gain_ml == pytest.approx(-(8_100 / 0.862 + 1_000) / 100)


def test_many_vessels_on_one_side_may_err_all_the_same_way():
    """Eight jugs in, one bucket out: by themselves 3 x 10 g, all high 7 x 10 g; the larger counts."""
    rows = [Amount("in", f"jug {n}", mass_g=1_000) for n in range(8)] + [Amount("out", "bucket", mass_g=8_000)]

    found = reckoned(rows)

    assert parts(found)["scale"] == pytest.approx(10 * 7 / 0.85, abs=0.01)
    assert next(part.words for part in found.parts if part.what == "scale") == (
        "9 vessels weighed, 10 g all the same way"
    )
    four = reckoned([*rows[:3], rows[-1]])  # 2 either way
    assert parts(four)["scale"] == pytest.approx(10 * 2 / 0.85, abs=0.01)
    assert "each by itself" in next(part.words for part in four.parts if part.what == "scale")


def test_a_leftover_counts_against_what_went_in():
    """Three in, three left, one out: of one sign are 3 - 3 - 1, by themselves root of 7."""
    rows = [Amount("in", "a", mass_g=900)] * 3 + [Amount("left", "b", mass_g=100)] * 3

    assert parts(reckoned([*rows, Amount("out", "bucket", mass_g=8_000)]))["scale"] == pytest.approx(
        10 * math.sqrt(7) / 0.85, abs=0.01
    )


def test_an_overdue_scale_counts_twice():
    assert parts(reckoned(WEIGHED, is_scale_overdue=True))["scale"] == 40.75
    assert parts(reckoned(WEIGHED))["scale"] == 20.38
    assert parts(reckoned(WEIGHED[:1]))["scale"] == pytest.approx(11.76, abs=0.01)
    assert reckoned(WEIGHED[:1]).parts[0].words == "1 vessel weighed, 10 g each by itself"


def test_volumes_have_shares_for_reading_and_for_warmth_on_each_side():
    found = reckoned(
        [Amount("in", "a", volume_ml=3_000), Amount("in", "b", volume_ml=4_000), Amount("out", "c", volume_ml=6_900)],
        at_c=20,
    )

    assert parts(found) == {
        "jugs": round(0.02 * math.hypot(3_000, 4_000, 6_900), 2),
        "temperature in": round(oil.level_error_temperature(7_000, 850, 20, 25), 2),
        "temperature out": round(oil.level_error_temperature(6_900, 862, 20, 25), 2),
    }
    assert [part.what for part in found.parts] == ["jugs", "temperature in", "temperature out"]


def test_what_came_out_hot_and_was_taken_as_cold_is_found():
    """10 L of 862 kg/m³ at 65 °C are 9.667 L at 20 °C: by volume, 333 mL too much came out."""
    cold = oil.oil_volume_at(10_000, 65, 20, 862)
    rows = [Amount("in", "cans", volume_ml=cold), Amount("out", "bucket", volume_ml=10_000)]

    found = balance(rows, at_c=20, density_in=850, density_out=862, scale_error_g=10)

    assert round(found.difference_ml) == round(cold - 10_000) == -333
    assert found.is_inside is True  # a jug is good to 2 %: such a difference is no proof

    weighed = [Amount("in", "cans", mass_g=cold / 1000 * 862 * oil.oil_volume_correction(20, 862)), rows[1]]
    several = [Amount("out", f"cup {n}", volume_ml=400) for n in range(25)]
    sure = balance([weighed[0], *several], at_c=20, density_in=862, density_out=862, scale_error_g=1)
    hot = next(cause for cause in sure.causes if cause.words.startswith("what came out was read hot (65 °C)"))

    assert sure.is_inside is False
    assert hot.low_ml == hot.high_ml == pytest.approx(cold - 10_000)
    assert hot.left_ml == pytest.approx(0, abs=1e-6)
    assert sure.cause == hot.words


def test_a_temperature_that_was_noted_is_no_cause():
    rows = [Amount("in", "cans", mass_g=9_000), Amount("out", "bucket", volume_ml=6_000, at_c=65)]

    assert [cause.words for cause in reckoned(rows).causes] == [
        "spilled, a vessel that was not entered, or the unit was low before",
        "the scale weighs up to 2 % off, and not all was weighed",
    ]
    one_sided = reckoned(rows).causes[1]
    assert (one_sided.low_ml, one_sided.high_ml) == pytest.approx(
        (-0.02 * reckoned(rows).in_ml, 0.02 * reckoned(rows).in_ml)
    )


def test_the_verdict_names_the_likeliest_of_several_causes():
    rows = [*worked_example(), Amount("in", "bottle 4", mass_g=803.3)]
    known = [("a bottle that was entered and not poured", 946), ("the cooler is not full", -450),
             ("a leftover that was not weighed", 0, 946)]  # fmt: skip

    found = reckoned(rows, known=known)

    assert [cause.words for cause in found.causes] == [
        "a bottle that was entered and not poured",
        "spilled, a vessel that was not entered, or the unit was low before",
        "a leftover that was not weighed",
        "the cooler is not full",
    ]
    assert [cause.explains for cause in found.causes][:2] == [True, True]
    assert found.verdict.endswith("likeliest: a bottle that was entered and not poured")
    assert reckoned(worked_example(), known=known).causes == ()


def test_inside_ends_at_twice_the_band():
    band = reckoned(WEIGHED, at_c=15).band_ml
    out_ml = 8_000 / 0.85 - 2 * band

    def shifted(by):
        return reckoned([*WEIGHED[:2], Amount("out", "b", mass_g=(out_ml + by) * 0.862)], at_c=15).is_inside

    assert shifted(3) is True
    assert shifted(-3) is False


def test_the_working_has_figure_band_steps_and_what_would_change_it():
    kept = reckoned(worked_example()).working

    assert (kept["figure"], kept["unit"], round(kept["value"], 1)) == ("in less out", "mL", 62.7)
    assert [round(kept[end], 1) for end in ("low", "high")] == [-74.3, 199.8]
    assert [(row["words"], round(row["value"], 1)) for row in kept["steps"]][9:] == [
        ("in", 10191.1),
        ("out", 10128.4),
        ("in less out", 62.7),
        ("band, by density of what came out", 58.7),
        ("band, by 9 vessels weighed, 10 g each by itself", 35.3),
        ("band", 68.5),
        ("what a scale 1 % off would add", 0.6),
    ]
    assert [(row["words"], round(row["moved"], 2)) for row in kept["changes"]] == [
        ("density of what came out", 58.75),
        ("9 vessels weighed, 10 g each by itself", 35.29),
    ]
    assert {row["formula"] for row in kept["steps"][:9]} == {r"V = m / \rho(T)"}
    assert reckoned([Amount("in", "a", volume_ml=1)]).working["steps"][0]["formula"] == r"V = V_r\,F(T_r) / F(T)"
