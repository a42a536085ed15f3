"""Level budget, cool-down and flow. Figures: worked examples on invented data."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv import calc
from shopserv.calc import bench, errors, working


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


def test_the_cool_down_clock_of_the_worked_example():
    found = bench.cool_down(first=(0, 78), second=(9, 70), ambient_c=18, window_c=(40, 45), idle_rise_k=4)

    assert f"{found.time_constant_min:.2f}" == "62.89"
    assert (f"{found.window_opens_in_min:.1f}", f"{found.window_closes_in_min:.1f}") == ("41.2", "54.1")
    assert (found.start_engine_at_c, f"{found.start_engine_in_min:.1f}") == (36.0, "66.7")
    assert found.verdict == "start the engine at 36 °C, in 67 min"


def test_in_air_that_is_too_warm_the_clock_says_so():
    found = bench.cool_down(first=(0, 78), second=(9, 70), ambient_c=41, window_c=(40, 45), idle_rise_k=4)

    assert (found.window_closes_in_min, found.start_engine_in_min) == (None, None)
    assert found.window_opens_in_min > 0
    assert found.verdict == "the air is too warm to wait for 36 °C"
    assert [row["words"] for row in found.working["steps"]] == ["time constant", "high edge in"]


def test_fluid_that_is_cool_already_waits_for_nothing():
    found = bench.cool_down(first=(0, 38), second=(9, 35), ambient_c=18, window_c=(40, 45), idle_rise_k=4)

    assert found.start_engine_in_min == 0
    assert found.verdict == "start the engine now: the fluid is at or below 36 °C"


@pytest.mark.parametrize(
    ("second", "refused"),
    [((0, 70), errors.DateOrder), ((9, 80), errors.NotCooling), ((9, 17), errors.OutOfRange)],
)
def test_readings_that_make_no_cooling_are_refused(second, refused):
    with pytest.raises(refused):
        bench.cool_down(first=(0, 78), second=second, ambient_c=18, window_c=(40, 45), idle_rise_k=4)


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
    assert (found.flows, found.margin_holds) == (True, True)
    assert found.verdict == "2.48 L a minute; 0.21 L run on until the engine stands, within the stop margin"


def test_too_little_flow_allows_no_pumped_stage():
    found = proof(mass_kg=Fraction(3, 10))

    assert found.flows is False
    assert found.verdict.endswith("less than the sheet asks; thermostat shut or line blocked, no pumped stage")


def test_a_strong_flow_asks_for_an_earlier_stop():
    found = proof(mass_kg=1)

    assert (found.flows, found.margin_holds) == (True, False)
    assert found.verdict.endswith("more than the stop margin: stop earlier")


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
        bench.cool_down(first=(0, 78), second=(9, 70), ambient_c=18, window_c=(40, 45), idle_rise_k=4),
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
