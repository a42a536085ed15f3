"""What a level budget and a flow proof show of their inputs, and the figures at their bounds.

Oil by temperature is worked here from the formula of API MPMS 11.1, lubricating oils, not by the module that is tried.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from shopserv.calc import bench, errors
from tests.calc.test_bench import budget, proof

LEVEL_INPUTS = [  # words, value, unit, name in `sources`, what is said without one, provenance
    ("total fill", "7400", "mL", "fill_ml", "unit sheet", "unit sheet"),
    ("density at 15 °C", "850", "kg/m³", "density_15", "fluid product", "product sheet"),
    ("fluid temperature", "42", "°C", "temperature_c", "read", "read"),
    ("stated error of the thermometer", "0.5", "K", "temperature_error_k", "instrument", "instrument"),
    ("tilt fore-aft", "0.2", "°", "tilt", "measured", "measured"),
    ("tilt side", "0.1", "°", "tilt", "measured", "measured"),
    ("stated error of the level tool", "0.1", "°", "tilt_error_deg", "instrument", "instrument"),
    ("fluid surface in the sump", "780", "cm²", "area_cm2", "unit sheet", "unit sheet"),
    ("overflow reading", "40", "mL", "reading", "common practice, no source", "assumed"),
    ("low mark to high mark", "600", "mL", "band_ml", "unit sheet", "unit sheet"),
]
FLOW_INPUTS = [
    ("weighed", "0.516", "kg", "measured", "scale"),
    ("in", "15", "s", "measured", "clock"),
    ("density at 15 °C of what comes out", "862", "kg/m³", "assumed", "common practice, no source"),
    ("fluid temperature", "60", "°C", "read", "read"),
    ("least cooler flow", "1.5", "L/min", "unit sheet", "unit sheet"),
    ("time to stop", "5", "s", "assumed", "common practice, no source"),
    ("stop margin", "0.3", "L", "house rules", "house rules"),
    ("scale error a weighing", "20", "g", "instrument", "instrument"),
    ("stated error of the thermometer", "2", "K", "instrument", "instrument"),
]


def inputs(found):
    return [tuple(row[key] for key in ("words", "value", "unit", "provenance", "source"))
            for row in found.working["inputs"]]  # fmt: skip


def factor(celsius, density):
    x = 0.6278 / density * (celsius - 15)
    return math.exp(-x * (1 + 0.8 * x))


def test_each_input_of_a_budget_says_where_it_comes_from():
    assert inputs(budget()) == [
        (words, value, unit, provenance, source) for words, value, unit, _, source, provenance in LEVEL_INPUTS
    ]


def test_each_input_of_a_budget_can_say_its_own_source():
    said = {name: f"said of {name}" for *_, name, _, _ in LEVEL_INPUTS}

    assert inputs(budget(sources=said)) == [
        (words, value, unit, "measured", said[name]) for words, value, unit, name, *_ in LEVEL_INPUTS
    ]
    from_house = inputs(budget(sources={"reading": "the shop's own figure"}))[8]
    assert from_house == ("overflow reading", "40", "mL", "house rules", "the shop's own figure")


def test_each_input_of_a_flow_says_where_it_comes_from():
    assert inputs(proof()) == FLOW_INPUTS


def test_the_items_of_a_budget_from_the_formulas_themselves():
    """V (F(T) / F(T + e) - 1), and area x way x tan of the tilt; the tool along each axis."""
    found = [item.ml for item in budget().items]
    tilt = [78_000 * mm * math.tan(math.radians(deg)) / 1_000
            for mm, deg in ((240, 0.2), (240, 0.1), (60, 0.1), (60, 0.1))]  # fmt: skip

    assert found == pytest.approx([7_400 * (factor(42, 850) / factor(42.5, 850) - 1), *tilt, 40], rel=1e-9)
    assert budget().root_sum_square_ml == pytest.approx(math.hypot(*found))


def test_the_shares_of_the_flow_from_the_formulas_themselves():
    liters = 0.516 / 0.862 / factor(60, 862)
    flow = liters * 60 / 15
    want = {
        "scale": 0.020 / 0.862 / factor(60, 862) * math.sqrt(2) * 4,
        "clock": flow * 0.5 / 15,
        "density": flow * 5 / 862,
        "temperature": liters * (factor(60, 862) / factor(62, 862) - 1) * 4,
    }
    found = proof()

    assert {part.what: part.ml for part in found.parts} == pytest.approx(want, rel=1e-9)
    band = math.hypot(*want.values())
    assert found.margin_most_l == pytest.approx((flow + 2 * band) * (5 + 2) / 60)
    assert [(row["less"], row["more"], row["moved"], row["note"]) for row in found.working["changes"]] == [
        (pytest.approx(flow - part), pytest.approx(flow + part), pytest.approx(part), "one band either way")
        for part in sorted(want.values(), reverse=True)
    ]


def test_the_time_to_stop_is_off_by_twice_its_doubt(monkeypatch):
    flow, band = proof().l_per_min, proof().band_l_min
    monkeypatch.setattr(bench, "STOP_DOUBT_S", 3)

    assert proof().margin_most_l == pytest.approx((flow + 2 * band) * (5 + 6) / 60)


def test_no_flow_over_no_minimum_cannot_be_told_apart():
    exact = {"mass_kg": 0, "minimum_l_min": 0, "scale_error_g": 0, "temperature_error_k": 0}

    assert (proof(**exact).l_per_min, proof(**exact).band_l_min) == (0, 0)
    assert (proof(**exact).flows, proof(**exact).is_clear) == (True, False)
    assert proof(**exact | {"mass_kg": Fraction(1, 10**6)}).is_clear is True


@pytest.mark.parametrize(("name", "words"), [("scale_error_g", "scale"), ("temperature_error_k", "thermometer")])
def test_an_error_below_nothing_is_named(name, words):
    with pytest.raises(errors.OutOfRange, match=f"^The error of the {words} is -0.01; it must not be negative"):
        proof(**{name: Fraction(-1, 100)})


def test_marks_without_the_surface_give_no_verdict_and_the_limit_all_the_same():
    found = budget(area_cm2=None)

    assert (found.limit_ml, found.passes) == (300, None)
    assert found.verdict == (
        "cannot be said: not known is level point or fluid surface, fore-aft, level point or fluid surface, side"
    )


def test_an_error_by_itself_has_no_share_before_it_stands_in_a_sum():
    assert bench.Part("scale", "scale", 3.0).share == bench.Item("level sign", "drip", 3.0).share == 0
    assert [part.share for part in bench.parts_of([bench.Part("a", "a", 3.0), bench.Part("b", "b", 4.0)])] == [
        pytest.approx(0.64),
        pytest.approx(0.36),
    ]
