"""Level budget, cool-down and flow. Figures: worked examples on invented data."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv import calc
from shopserv.calc import bench, errors, oil, working


def budget(**more):
    """The level of the example unit as it was set at 42 °C on the locks."""
    return bench.level_budget(
        **{
            "fill_ml": 7_400,
            "density_15": 850,
            "temperature_c": 42,
            "temperature_error_k": Fraction(1, 2),
            "axes": [
                bench.Axis("fore-aft", Fraction(2, 10), 240),
                bench.Axis("side", Fraction(1, 10), 60),
            ],
            "tilt_error_deg": Fraction(1, 10),
            "area_cm2": 780,
            "reading": ("overflow reading", 40),
            "band_ml": 600,
            **more,
        }
    )


def test_the_budget_of_the_worked_example_item_by_item():
    found = budget()

    assert [(item.words, f"{item.ml:.1f}") for item in found.items] == [
        ("thermometer 0.5 K", "2.8"),
        ("vehicle on the locks 0.2° fore-aft, 240 mm", "65.3"),
        ("level tool 0.1° fore-aft, 240 mm", "32.7"),
        ("vehicle on the locks 0.1° side, 60 mm", "8.2"),
        ("level tool 0.1° side, 60 mm", "8.2"),
        ("overflow reading", "40.0"),
    ]
    assert f"{found.root_sum_square_ml:.1f}" == "84.1"
    assert (found.limit_ml, found.passes, found.missing) == (300.0, True, ())
    assert found.verdict == "twice 84 mL is within the 300 mL from the middle of the marks to the edge"


def test_the_numbers_to_read_again_are_those_with_the_largest_shares():
    assert budget().riskiest() == ("tilt fore-aft", "level sign")
    assert budget().riskiest(9) == ("tilt fore-aft", "level sign", "tilt side", "temperature")


def test_a_tilt_of_half_a_degree_spends_more_than_the_band_allows():
    found = budget(axes=[bench.Axis("fore-aft", Fraction(1, 2), 240), bench.Axis("side", 0, 60)])

    assert found.passes is False
    assert found.verdict == "twice 172 mL is more than the 300 mL from the middle of the marks to the edge"


@pytest.mark.parametrize(
    ("left_out", "missing"),
    [
        ({"fill_ml": None}, ("total fill",)),
        ({"area_cm2": None}, ("level point or fluid surface, fore-aft", "level point or fluid surface, side")),
        ({"band_ml": None}, ("low mark to high mark",)),
    ],
)
def test_what_the_sheet_does_not_give_is_named_and_not_made_up(left_out, missing):
    found = budget(**left_out)

    assert found.missing == missing
    assert [row["value"] for row in found.working["inputs"]].count("not known") == 1
    assert found.working["assumptions"] == [f"not known: {what}" for what in missing]


def test_without_the_surface_or_the_band_no_verdict_is_given():
    assert (budget(area_cm2=None).passes, budget(band_ml=None).passes) == (None, None)
    assert budget(fill_ml=None).passes is True
    assert budget(band_ml=None).verdict == "cannot be said: not known is low mark to high mark"


def test_fluid_held_back_in_the_converter_counts_to_the_sign():
    found = budget(converter_ml=100)

    assert (found.items[-1].what, found.items[-1].ml) == ("level sign", 100.0)
    assert found.root_sum_square_ml == pytest.approx((budget().root_sum_square_ml ** 2 + 100**2) ** 0.5)


@given(st.fractions(0, 5), st.fractions(0, 5))
def test_more_tilt_never_makes_a_level_surer(one, other):
    less, more = sorted((one, other))

    def at(tilt):
        return budget(axes=[bench.Axis("fore-aft", tilt, 240)]).root_sum_square_ml

    assert at(less) <= at(more)


def test_the_parts_of_the_budget_and_what_the_largest_leaves():
    found = budget()

    assert [(part.what, round(part.ml, 1), round(part.share, 3)) for part in found.parts] == [
        ("tilt fore-aft", 73.1, 0.754),
        ("level sign", 40.0, 0.226),
        ("tilt side", 11.6, 0.019),
        ("temperature", 2.8, 0.001),
    ]
    assert [round(item.share, 3) for item in found.items] == [0.001, 0.603, 0.151, 0.009, 0.009, 0.226]
    assert found.advice == "largest: tilt fore-aft, 75 % of the squares; without its error 42 mL would be left"
    assert sum(part.share for part in found.parts) == pytest.approx(1)


def test_a_budget_of_nothing_has_no_largest_part():
    found = budget(fill_ml=None, area_cm2=None, reading=("drip", 0))

    assert (found.root_sum_square_ml, found.parts, found.advice, found.riskiest()) == (0, (), "", ())
    assert [item.share for item in found.items] == [0]


def test_the_budget_is_what_drawn_errors_give():
    """Each item drawn by its own law: tilt and tool by the plane surface, warmth by the oil, the sign by itself."""
    rng = np.random.default_rng(7)
    drawn = rng.normal(0, 40, 20_000)
    for tilt, tool, mm in ((0.2, 0.1, 240), (0.1, 0.1, 60)):
        drawn += 780 * mm / 10 * np.tan(np.radians(rng.normal(0, tilt, 20_000) + rng.normal(0, tool, 20_000)))
    drawn += 7_400 * 0.000764 * rng.normal(0, 0.5, 20_000)

    assert budget().root_sum_square_ml == pytest.approx(drawn.std(), rel=0.02)


def test_the_working_of_a_budget_says_what_each_error_changes():
    kept = budget().working

    assert (kept["figure"], kept["unit"], round(kept["value"], 1), round(kept["high"], 1)) == (
        "how far the level may be off", "mL", 84.1, 168.3,
    )  # fmt: skip
    assert [(row["words"], round(row["less"], 1), round(row["more"], 1), round(row["moved"], 1))
            for row in kept["changes"]] == [
        ("tilt fore-aft", 41.7, 152.0, 42.4),
        ("level sign", 74.0, 109.0, 10.1),
        ("tilt side", 83.3, 86.5, 0.8),
        ("temperature", 84.1, 84.3, 0.0),
    ]  # fmt: skip
    assert [(row["words"], round(row["value"], 1)) for row in kept["steps"]][-5:] == [
        ("root of the sum of squares", 84.1),
        ("share of tilt fore-aft", 75.4),
        ("share of level sign", 22.6),
        ("share of tilt side", 1.9),
        ("share of temperature", 0.1),
    ]
    assert [row["formula"] for row in kept["steps"][:6]] == [
        r"V\,(F(T) / F(T + e) - 1)", *[r"A\,L \tan\alpha"] * 4, "as the sign itself allows",
    ]  # fmt: skip


def proof(**more):
    """The flow of the worked example."""
    return bench.flow_proof(
        **{
            "mass_kg": Fraction(516, 1000),
            "seconds": 15,
            "density_15": 862,
            "at_c": 60,
            "minimum_l_min": Fraction(3, 2),
            "seconds_to_stop": 5,
            "stop_margin_l": Fraction(3, 10),
            **more,
        }
    )


def test_the_flow_of_the_worked_example():
    found = proof()

    assert (f"{found.l_per_min:.3f}", f"{found.runs_on_l:.3f}") == ("2.476", "0.206")
    assert (found.flows, found.margin_holds) == (True, False)
    assert found.verdict == (
        "2.48 L a minute; 0.21 L, at most 0.33 L, run on until the engine stands, which may be more than the stop "
        "margin of 0.30 L: stop by the scale, a little early"
    )


def test_the_stop_margin_is_held_against_what_may_run_on_at_most():
    """600 g in 15 s at 40 °C: 0.24 L run on, by a scale of 20 g at most 0.37 L; a margin of 0.30 L does not hold."""
    strong = proof(mass_kg=Fraction(6, 10), at_c=40)

    assert (f"{strong.runs_on_l:.2f}", f"{strong.margin_most_l:.2f}", strong.margin_holds) == ("0.24", "0.37", False)
    assert "within" not in strong.verdict
    assert proof(stop_margin_l=Fraction(33, 100)).verdict.endswith(
        "0.21 L, at most 0.33 L, run on until the engine stands, within the stop margin of 0.33 L"
    )


def test_the_band_of_the_flow_by_its_parts():
    found = proof()

    assert f"{found.band_l_min:.3f}" == "0.160"
    assert [(part.what, round(part.ml, 4), round(part.share, 3)) for part in found.parts] == [
        ("scale", 0.1357, 0.724),
        ("clock", 0.0825, 0.268),
        ("density", 0.0144, 0.008),
        ("temperature", 0.0038, 0.001),
    ]
    assert f"{found.margin_most_l:.3f}" == "0.326"
    assert (found.is_clear, proof(minimum_l_min=None).is_clear) == (True, None)


def test_the_band_of_the_flow_is_what_drawn_errors_give():
    rng = np.random.default_rng(9)
    grams = 516 + rng.normal(0, 20, 20_000) - rng.normal(0, 20, 20_000)
    seconds, density = 15 + rng.normal(0, 0.5, 20_000), rng.normal(862, 5, 20_000)
    drawn = grams / (density * oil.oil_volume_correction(60, 862)) * 60 / seconds

    assert proof().band_l_min == pytest.approx(drawn.std(), rel=0.03)


def test_a_finer_scale_narrows_the_band_and_a_longer_time_as_well():
    fine = proof(scale_error_g=2)
    longer = proof(mass_kg=Fraction(1032, 1000), seconds=30)

    assert {part.what: round(part.ml, 4) for part in fine.parts}["scale"] == 0.0136
    assert fine.parts[0].what == "clock"
    assert longer.band_l_min == pytest.approx(proof().band_l_min / 2, rel=0.02)
    assert {part.what for part in proof(scale_error_g=0, temperature_error_k=0).parts} == {"clock", "density"}


@pytest.mark.parametrize(
    ("minimum", "flows", "is_clear", "words"),
    [
        (Fraction(215, 100), True, True, "2.48 L a minute; 0.21 L, at most 0.33 L, run on"),
        (
            Fraction(217, 100),
            True,
            False,
            "2.48 L a minute, so near the minimum of the sheet that weighing longer would tell;",
        ),
        (Fraction(275, 100), False, False, "no pumped stage; so near the minimum that weighing longer would tell"),
        (Fraction(285, 100), False, True, "no pumped stage"),
    ],
)
def test_a_flow_near_the_minimum_says_that_it_cannot_be_told_apart(minimum, flows, is_clear, words):
    found = proof(minimum_l_min=minimum)

    assert (found.flows, found.is_clear) == (flows, is_clear)
    assert words in found.verdict
    assert ("weighing longer" in found.verdict) is not is_clear


@pytest.mark.parametrize("less", [{"scale_error_g": -1}, {"temperature_error_k": -1}])
def test_an_error_below_nothing_is_refused(less):
    with pytest.raises(errors.OutOfRange, match=r"is -1; it must not be negative"):
        proof(**less)


def test_the_working_of_a_flow_has_band_steps_and_what_would_change_it():
    kept = proof().working

    assert (kept["figure"], kept["unit"]) == ("cooler flow", "L/min")
    assert [round(kept[name], 3) for name in ("value", "low", "high")] == [2.476, 2.157, 2.795]
    assert [(row["words"], round(row["value"], 3)) for row in kept["steps"]] == [
        ("liters", 0.619),
        ("flow", 2.476),
        ("runs on", 0.206),
        ("flow, by scale, full and empty", 0.136),
        ("flow, by clock", 0.083),
        ("flow, by density of what comes out", 0.014),
        ("flow, by temperature", 0.004),
        ("band of the flow", 0.160),
        ("runs on at most", 0.326),
    ]
    assert [(row["words"], round(row["less"], 2), round(row["more"], 2)) for row in kept["changes"]][:2] == [
        ("scale, full and empty", 2.34, 2.61),
        ("clock", 2.39, 2.56),
    ]


def test_too_little_flow_allows_no_pumped_stage():
    found = proof(mass_kg=Fraction(3, 10))

    assert found.flows is False
    assert ": less than the sheet asks; thermostat shut or line blocked, no pumped stage" in found.verdict


def test_a_strong_flow_asks_for_an_earlier_stop():
    found = proof(mass_kg=1)

    assert (found.flows, found.margin_holds) == (True, False)
    assert found.verdict.endswith("engine stands, more than the stop margin of 0.30 L: stop earlier")


def test_without_a_minimum_on_the_sheet_the_flow_is_only_told():
    found = proof(minimum_l_min=None)

    assert found.flows is None
    assert found.working["assumptions"] == ["not known: least cooler flow of the unit sheet"]
    assert "the sheet gives no minimum" in found.verdict


@pytest.mark.parametrize("times", [{"seconds": 0}, {"seconds_to_stop": -1}])
def test_no_time_gives_no_flow(times):
    with pytest.raises(errors.OutOfRange):
        proof(**times)


def test_every_working_is_plain_and_says_where_its_inputs_come_from():
    for found in (
        budget(sources={"temperature_c": "thermometer TH-201"}),
        proof(),
    ):
        kept = json.loads(json.dumps(found.working))

        assert kept["version"] == calc.VERSION
        assert kept["formula"]
        assert all(row["source"] for row in kept["inputs"])
    assert budget(sources={"temperature_c": "thermometer TH-201"}).working["inputs"][2] == {
        "symbol": "",
        "words": "fluid temperature",
        "value": "42",
        "unit": "°C",
        "provenance": "measured",
        "source": "thermometer TH-201",
    }


def test_a_working_in_the_long_form_is_kept_whole():
    kept = bench.worked(
        "area = width x height",
        [
            working.Given("w", "width", Fraction(7, 2), "m", working.From.MEASURED, "tape", low=3),
            ("height", 4, "m", "read"),
        ],
        [working.Step("area", "A = w h", 14.0004, "m2"), ("area", 14.0004, "m2")],
        ["the floor is square"],
        figure="area",
        value=Fraction(14),
        unit="m2",
        formulas=("A = w h",),
    )

    assert kept == {
        **working.Working("area", 14, "m2", formulas=("A = w h",)).as_dict(),
        "value": "14",
        "formula": "area = width x height",
        "inputs": [
            {
                "symbol": "w",
                "words": "width",
                "value": "7/2",
                "unit": "m",
                "provenance": "measured",
                "source": "tape",
                "low": 3,
                "high": None,
            },
            {"symbol": "", "words": "height", "value": "4", "unit": "m", "provenance": "read", "source": "read"},
        ],
        "steps": [
            {"words": "area", "formula": "A = w h", "value": 14.0004, "unit": "m2"},
            {"words": "area", "formula": "", "value": 14.0, "unit": "m2"},
        ],
        "assumptions": ["the floor is square"],
    }


def test_a_level_just_sure_enough_is_sure():
    """Forty milliliters of the sign alone: twice that is half of 160."""
    alone = {"fill_ml": None, "axes": [], "reading": ("sign", 40)}

    assert budget(**alone, band_ml=160).passes is True
    assert budget(**alone, band_ml=Fraction(1599, 10)).passes is False


def test_a_thermometer_that_is_off_is_taken_to_be_too_low():
    warm = oil.level_error_temperature(7_400, 850, 42, Fraction(85, 2))
    cool = oil.level_error_temperature(7_400, 850, 42, Fraction(83, 2))

    assert budget().items[0].ml == warm != -cool


def test_a_flow_at_its_bounds():
    assert proof(seconds=Fraction(1, 2), seconds_to_stop=0).runs_on_l == 0
    assert proof(seconds_to_stop=Fraction(1, 2)).runs_on_l == pytest.approx(proof().runs_on_l / 10)
    for wrong in ({"seconds": 0}, {"seconds_to_stop": Fraction(-1, 100)}):
        with pytest.raises(errors.OutOfRange):
            proof(**wrong)
    flow = proof().l_per_min
    assert proof(minimum_l_min=flow).flows is True
    assert proof(stop_margin_l=proof().margin_most_l).margin_holds is True
    assert ", within the stop margin" in proof(stop_margin_l=proof().margin_most_l).verdict
    assert proof(stop_margin_l=proof().margin_most_l * 0.999).margin_holds is False
    assert "which may be more" in proof(stop_margin_l=proof().runs_on_l).verdict
    assert proof(stop_margin_l=proof().runs_on_l * 0.999).verdict.endswith(": stop earlier")


def test_the_verdict_of_the_flow_is_said_in_the_volumes_of_the_place():
    found = proof()

    assert bench.flow_said(found, Fraction(3, 10), lambda liters: f"{liters:.2f} L") == found.verdict
    words = bench.flow_said(found, 1, lambda liters: f"<{liters:.3f}>")
    assert words == (
        f"<{found.l_per_min:.3f}> a minute; <{found.runs_on_l:.3f}>, at most <{found.margin_most_l:.3f}>, run on until "
        "the engine stands, within the stop margin of <1.000>"
    )
