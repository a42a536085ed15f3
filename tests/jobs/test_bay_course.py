"""What a technician signs for: pan, plugs, cap, sumps, parts, amounts, by the kind of bay. Units are invented."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc import measures
from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import Part, UnitSheet
from shopserv.jobs import bay_words
from shopserv.jobs.bay_readings import KEYS
from shopserv.jobs.bay_stages import Place
from shopserv.jobs.bay_steps import build, close_out_items
from tests.jobs.test_bay_steps import PLACE, codes, facts_for, named, sheet_of, steps

TWO_FLUIDS = [
    {"code": "FEN6L", "name": "Fenmark 6 Light", "need_ml": 5_000, "low_need_ml": 5_000, "sump": "clutch"},
    {"code": "FEN2", "name": "Fenmark 2 Multi", "need_ml": 2_100, "low_need_ml": 2_100, "sump": "gears"},
]


def parts(*numbers):
    return [{"number": row.number, "name": row.name, "quantity": 1} for row in Part.objects.filter(number__in=numbers)]


def billed_parts(code, method):
    rows = Part.objects.filter(fits__code=code)
    return parts(*(row.number for row in rows if method in row.used_by))


def twin_clutch(**more):
    sheet = sheet_of("EL-D7")
    facts = facts_for(sheet, "separate sump service", fluids=TWO_FLUIDS, **more)
    return build({**facts, "fluids": TWO_FLUIDS}, catalog.values_of(sheet), PLACE, sheet.sumps)


def test_a_pan_with_a_drain_plug_is_drained_first_and_the_plug_goes_back(cast):
    made = steps("CE-V45", "pan drop with filter")
    order = codes(made)

    first, pan = named(made, "drain"), named(made, "drain_pan")

    assert order[order.index("drain") :][:7] == [
        *("drain", "drain_pan", "magnet", "filter", "pan_on", "drain_plug", "add")
    ]
    assert "first the drain plug, about 5.3 qt (5.0 L)" in first.text
    assert (first.limits["out_ml"], pan.limits["out_ml"]) == (5_000, 600)
    assert "After the plug drain it still holds about 0.6 qt" in pan.text
    assert named(made, "drain_plug").text == "Drain plug in with a new washer: 26 lb·ft (35 N·m)."


def test_a_standpipe_goes_back_after_the_pan_as_well(cast):
    made = steps("BI870", "pan drop then line exchange")

    order = codes(made)

    assert order.index("pan_on") < order.index("drain_plug") < order.index("add")
    assert named(made, "drain_plug").text.startswith("Standpipe back in before any filling")


def test_a_pan_without_a_plug_comes_down_full_and_says_so(cast):
    pan = named(steps("DO440", "pan drop with filter"), "drain_pan")

    assert pan.text.endswith("There is no drain plug: the pan comes down full, about 5.0 qt (4.7 L) in it.")
    assert "lower one corner first and let it run into the drip tray" in pan.cautions[0]
    assert not {"drain", "drain_plug"} & set(codes(steps("DO440", "pan drop with filter")))


def test_a_flow_proof_before_a_drain_is_out_by_itself_and_the_drain_expects_the_less(cast):
    apart, pumped = steps("DO440", "pan drop then line exchange"), steps("DO440", "line exchange")

    assert named(apart, "flow_proof").limits["counts_apart"] is True
    assert "counts as out by itself" in named(apart, "flow_proof").text
    assert named(apart, "drain_pan").limits["out_ml"] == 4_700 - 600
    assert "after the flow proof" in named(apart, "drain_pan").text
    assert "counts_apart" not in named(pumped, "flow_proof").limits
    assert "counts to the first stage" in named(pumped, "flow_proof").text


def test_a_locked_cap_is_opened_first_and_locked_again_after_the_level(cast):
    made = steps("CE-V45", "single drain")
    order = codes(made)

    assert order.index("cap_open") < order.index("fill_plug_first") < order.index("level") < order.index("cap_locked")
    assert ("cap_locked", "dipstick in, cap on and locked") in close_out_items(made)
    assert "cap_open" not in codes(steps("FI1060", "single drain"))


def test_cold_fluid_is_run_warm_before_a_level_with_the_engine_off(cast):
    made = twin_clutch()
    order = codes(made)

    warm = named(made, "warm_up")

    assert order[order.index("warm_up") :][:3] == ["warm_up", "level_sump", "level"]
    assert max(place for place, code in enumerate(order) if code == "add") < order.index("warm_up")
    assert "run the engine as the vehicle maker says until the fluid is inside 95 °F (35 °C) to" in warm.text
    assert "then stop it" in warm.text
    assert (warm.needs[0]["low_base"], warm.needs[0]["high_base"]) == (35_000, 45_000)
    assert bay_words.SWEEP in warm.cautions


def test_of_two_sumps_each_step_names_its_sump_its_fluid_and_its_figure(cast):
    made = twin_clutch()

    first = named(made, "fill_plug_first").text
    drains = [step.text for step in made if step.code == "drain"]
    adds = [step.text for step in made if step.code == "add"]
    levels = [step for step in made if step.code in ("level_sump", "level")]

    assert first.startswith("FILL PLUGS FIRST")
    assert "clutch sump (Fenmark 6 Light) and gears sump (Fenmark 2 Multi)" in first
    assert ["clutch sump, Fenmark 6 Light" in drains[0], "gears sump, Fenmark 2 Multi" in drains[1]] == [True, True]
    assert [text.split("pour ")[1] for text in adds] == [
        "5.0 qt (4.7 L) of Fenmark 6 Light into the clutch sump, engine off.",
        "1.9 qt (1.8 L) of Fenmark 2 Multi into the gears sump, engine off.",
    ]
    assert [(step.limits["fill"], step.limits["fill_ml"]) for step in levels] == [
        ("5.5 qt (5.2 L)", 5_200),
        ("2.0 qt (1.9 L)", 1_900),
    ]
    assert levels[0].text.startswith("Level, clutch sump, Fenmark 6 Light.")
    assert levels[0].needs[1]["words"] == "poured at the level, clutch sump"
    assert [step.text.split(":")[0] for step in made if step.code == "drain_plug"] == ["Clutch sump", "Gears sump"]


def test_the_outside_cartridge_has_a_step_of_its_own_before_fluid_goes_in(cast):
    made = twin_clutch(parts=parts("HF-5001", "HF-5002"))
    order = codes(made)

    own = named(made, "fit_part")

    assert own.text.startswith("Change the outside cartridge with ring (HF-5001)")
    assert order.index("drain") < order.index("fit_part") < order.index("add")
    assert named(made, "drain_plug").limits["new part"] == "plug washers, set of three (HF-5002)"


def test_every_billed_part_of_every_unit_and_method_stands_at_a_step(cast):
    seen = 0
    for sheet in UnitSheet.objects.filter(version=1).select_related("unit"):
        for method in sheet.methods:
            rows = billed_parts(sheet.unit.code, method)
            made = steps(sheet.unit.code, method, parts=rows)

            said = " ".join(str(step.limits.get("new part", "")) for step in made)
            assert [row["number"] for row in rows if row["number"] not in said] == [], (sheet, method)
            seen += len(rows)
    assert seen > 20


def test_a_part_that_was_added_later_is_fitted_too_and_a_tool_is_none(cast):
    added = [{"title": "valve", "parts": parts("HF-6004", "HF-9001")}]

    own = [step.text for step in steps("FI1060", "single drain", added=added) if step.code == "fit_part"]

    assert [text.split(" as the")[0] for text in own] == ["Fit the in-unit thermostat valve (HF-6004)"]


@pytest.mark.parametrize(("code", "method"), [("BI870", "pan drop then line exchange"), ("BI870", "line exchange")])
def test_where_the_parts_list_has_no_seals_the_office_is_asked_before_the_line_goes_home(cast, code, method):
    without = named(steps(code, method), "lines_back")
    seals = named(steps(code, method, parts=parts("HF-1003")), "lines_back")

    assert without.cautions[-1] == "The parts list has no seals for the lines: ask the office before a line goes home."
    assert seals.limits["new part"] == "fill plug ring and cooler line seals (HF-1003)"
    assert not any("parts list has no" in said for said in seals.cautions)


def test_what_is_pumped_is_never_shown_beyond_the_course_and_what_is_poured_adds_up(cast):
    pumped = 0
    for sheet in UnitSheet.objects.filter(version=1).select_related("unit"):
        for method in sheet.methods:
            for units_first, key in (("us", "0.1 qt"), ("metric", "0.1 L")):
                facts = facts_for(sheet, method)
                made = build(facts, catalog.values_of(sheet), Place(units_first=units_first))
                for step in (one for one in made if one.code == "pump"):
                    begins = KEYS[key].exact(step.needs[0]["start"])
                    assert begins <= step.limits["out_ml"] < begins + KEYS[key].exact(1) + 1
                    assert f"{step.limits['out_ml'] // 10 / 100:.2f} L" in step.text.split("brings it to ")[1]
                    off = Fraction(step.limits["switch_off"].split(" ")[0]) * 10
                    assert KEYS[key].exact(int(off)) + 300 <= step.limits["out_ml"] or off == 1
                    _never_dry(step, KEYS[key])
                    pumped += 1
    poured = [step.text for step in steps("AL640", "line exchange") if step.code == "add"]
    liters = [Fraction(text.split("(")[1].split(" L")[0]) for text in poured]
    assert sum(liters) == 10
    assert measures.ml_to_qt(1_300) > Fraction(13, 10)
    assert pumped > 40


def _never_dry(step, key):
    """With what was planned poured in, the highest figure that is taken leaves the level above the pickup."""
    low = step.limits["level_after_ml"] - (key.exact(step.needs[0]["high"]) - step.limits["out_ml"])
    assert low > -step.limits["pickup_ml"]


def test_a_pit_is_no_lift_and_on_runways_the_wheels_stand(cast):
    pit = steps("AL640", "repeated drain", place=Place(bay_kind="pit"))
    four = steps("AL640", "repeated drain", place=Place(bay_kind="four-post lift"))
    two = steps("AL640", "repeated drain", place=Place(bay_kind="two-post lift"))

    of_pit = [words for step in pit for words in (step.text, *step.cautions, *map(str, step.limits))]
    assert [words for words in of_pit if "onto the locks" in words or "on the lift" in words] == []
    assert not any(bay_words.UNDER in step.cautions or bay_words.SWEEP in step.cautions for step in pit)
    assert named(pit, "lift").text.startswith("Drive over the pit")
    assert "rated_load" not in named(pit, "lift").limits
    assert named(four, "lift").text.endswith("wheels on the runways.")
    assert bay_words.SWEEP_DOWN in named(four, "mix").cautions
    assert bay_words.UNDER in named(four, "levelness").cautions
    assert bay_words.SWEEP in named(two, "mix").cautions
    assert "onto the locks" in named(two, "levelness").text
