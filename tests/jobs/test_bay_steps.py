"""The order of the bay sheet: common practice, no source. The units are those of the invented demonstration."""

from __future__ import annotations

from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import UnitSheet
from shopserv.jobs import bay_words, courses
from shopserv.jobs.bay_stages import Place
from shopserv.jobs.bay_steps import build, close_out_items
from shopserv.jobs.services.methods import sheet_facts

HOUSE = courses.HouseNumbers(300, 300, 2_600, 3_800, 450, 3)
PLACE = Place(bay="North", bay_kind="two-post lift", rated_load_kg=4_500, odometer=88_412, density_15_g_m3=850_000)


def sheet_of(code):
    return UnitSheet.objects.get(unit__code=code, version=1)


def facts_for(sheet, method, **more):
    facts = sheet_facts(sheet)
    course = courses.default_course(method, facts, HOUSE, courses.fills(facts)[-1])
    fluid = {"code": "FEN2", "name": "Fenmark 2 Multi", "need_ml": course.new_ml, "low_need_ml": course.new_ml}
    return {
        "kind": "work",
        "title": courses.METHODS[method].words,
        "method": method,
        "course": course.as_dict(),
        "fluids": [fluid],
        **more,
    }


def steps(code, method, place=PLACE, **more):
    sheet = sheet_of(code)
    return build(facts_for(sheet, method, **more), catalog.values_of(sheet), place)


def named(made, code):
    return next(step for step in made if step.code == code)


def codes(made):
    return [step.code for step in made]


def test_a_line_exchange_runs_from_the_lift_to_the_odometer(cast):
    made = codes(steps("AL640", "line exchange"))

    assert made == [
        *("lift", "odometer_in", "run", "fluid_look", "leak_look", "fill_plug_first", "scan"),
        *("lines_open", "engine_stop", "flow_proof"),
        *("pump", "add") * 5,
        *("pump", "add", "lines_back", "lines_home", "cooler_full"),
        *("levelness", "cool_down_1", "cool_down_2", "start_engine", "sweep", "level"),
        *("plugs", "leak_idle", "adaptation", "road_test", "leak_again", "odometer_out"),
    ]


def test_nothing_moves_fluid_before_the_fill_plug_was_opened(cast):
    for sheet in UnitSheet.objects.filter(version=1).select_related("unit"):
        for method in sheet.methods:
            made = steps(sheet.unit.code, method)

            first = next(place for place, step in enumerate(made) if step.is_fluid)
            assert codes(made).index("fill_plug_first") < first, (sheet, method)


def test_every_method_of_every_unit_gives_a_sheet_that_can_be_kept_and_ends_at_a_level(cast):
    built = 0
    for sheet in UnitSheet.objects.filter(version=1).select_related("unit"):
        for method in sheet.methods:
            made = steps(sheet.unit.code, method)

            assert max(len(step.text) for step in made) <= 300
            assert codes(made).count("level") == 1
            assert codes(made)[-1] == "odometer_out"
            assert [step.code for step in made if "None" in step.text or "  " in step.text] == []
            built += 1
    assert built == sum(len(sheet.methods) for sheet in UnitSheet.objects.filter(version=1))
    assert built > 40


def test_the_flow_is_proved_and_the_stop_answered_before_the_first_pumped_stage(cast):
    for sheet in UnitSheet.objects.filter(version=1).select_related("unit"):
        for method in sheet.methods:
            made = codes(steps(sheet.unit.code, method))
            if "pump" in made:
                assert made.index("engine_stop") < made.index("flow_proof") < made.index("pump")
                assert made.index("lines_back") < made.index("lines_home") < made.index("cooler_full")
                assert made.index("cooler_full") < made.index("level") < made.index("leak_idle")
            else:
                assert "flow_proof" not in made


def test_a_pumped_stage_says_what_comes_when_to_stop_and_where_the_level_stands_then(cast):
    made = steps("AL640", "line exchange")
    first = next(step for step in made if "Stage 1 " in step.text)
    second = next(step for step in made if "Stage 3 " in step.text)

    assert (
        first.text
        == "Stage 1 of 12: engine idling in park, switch off at 1.0 qt in the bucket: what runs on brings it to "
        "at most 1.37 qt (1.30 L), never beyond."
    )
    assert first.limits["level_after"] == "1.37 qt (1.30 L) below full"
    assert first.limits["stop_sign"] == "switch off at 1.0 qt in the bucket, by scale or mark"
    assert (first.limits["pickup_ml"], first.limits["engine"]) == (1_600, "idling, park")
    assert bay_words.AIR in first.cautions
    assert second.needs[0]["start"] == 18  # tenths of a quart: 1,740 mL
    assert first.is_fluid


def test_only_the_stage_that_stands_too_high_is_warned_of(cast):
    sheet = sheet_of("AL640")
    facts = sheet_facts(sheet)
    stages = [
        {"op": "add", "volume_ml": 3_400},
        {"op": "pump", "add_ml": 3_200, "stop_margin_ml": 300},
        {"op": "add", "volume_ml": 1_300},
    ]
    course = courses.edited_course("line exchange", stages, facts, HOUSE, 7_400)
    made = build({**facts_for(sheet, "line exchange"), "course": course.as_dict()}, catalog.values_of(sheet), PLACE)

    warned = [step.text for step in made if any("turning parts dip" in caution for caution in step.cautions)]

    assert course.too_high == ("pump 3.2",)
    assert len(warned) == 1
    assert warned[0].startswith("Stage 2 of 3: engine idling in park, pour 3.4 qt (3.2 L)")


def test_a_pan_comes_off_with_magnet_filter_and_even_screws_before_it_is_filled(cast):
    made = codes(steps("AL640", "pan drop with filter"))

    start = made.index("drain_pan")
    assert made[start - 1 : start + 6] == ["drain", "drain_pan", "magnet", "filter", "pan_on", "drain_plug", "add"]


def test_repeated_drains_have_a_mixing_run_between_the_rounds(cast):
    made = [
        step.code for step in steps("AL640", "repeated drain") if step.code in ("drain", "drain_plug", "add", "mix")
    ]

    assert made == ["drain", "drain_plug", "add"] + ["mix", "drain", "drain_plug", "add"] * 2


def test_a_standpipe_goes_back_before_filling(cast):
    assert named(steps("BI870", "standpipe drain then line exchange"), "drain_plug").text.startswith(
        "Standpipe back in before any filling"
    )


def test_a_thermostat_held_open_is_let_go_before_the_level(cast):
    made = steps("BI850", "line exchange with held-open thermostat")

    order = codes(made)
    assert order.index("hold_open_in") < order.index("flow_proof")
    assert order.index("cooler_full") < order.index("hold_open_out") < order.index("level")
    assert "pin HO-3" in named(made, "hold_open_in").text
    assert ("hold_open_out", "hold-open pin is out") in close_out_items(made)


def test_a_line_is_opened_cold_before_the_thermostat_opens_by_heat(cast):
    made = steps("FI1060", "warm-open line exchange")

    order = codes(made)
    assert order.index("lines_open") < order.index("warm_open") < order.index("flow_proof")
    assert named(made, "warm_open").needs[0]["low_base"] == 88_000


def test_a_level_window_that_is_hot_is_warmed_up_to_and_a_cool_one_cooled_down_to(cast):
    hot, cool = codes(steps("DO440", "line exchange")), steps("AL640", "single drain")

    assert "warm_up" in hot
    assert "cool_down_1" not in hot
    assert named(cool, "start_engine").text.startswith("Start the engine at 97 °F (36 °C)")
    assert named(cool, "cool_down_2").limits["low_mdegc"] == 40_000


def test_a_level_with_the_engine_off_asks_for_no_sweep_and_no_engine(cast):
    made = steps("EL-D7", "separate sump service")

    assert not {"sweep", "start_engine", "cool_down_1"} & set(codes(made))
    assert [step.limits["sump"] for step in made if step.code in ("level_sump", "level")] == ["clutch", "gears"]
    assert named(made, "level").text.endswith("Plug in with the engine off.")


def test_torque_not_fitted_and_not_known_are_three_things(cast):
    cedar = named(steps("CE-V45", "single drain"), "plugs")
    without = build({**facts_for(sheet_of("AL640"), "single drain")}, {}, PLACE)

    assert cedar.limits == {"drain plug": "26 lb·ft (35 N·m)"}
    assert cedar.text.startswith("Tighten to their figures: drain plug. A new washer")
    assert "plugs" not in codes(steps("DO440", "line exchange"))
    assert "plugs" not in dict(close_out_items(steps("DO440", "line exchange")))
    assert named(steps("AL640", "single drain"), "plugs").limits["fill plug"] == "26 lb·ft (35 N·m)"
    assert named(without, "plugs").limits["fill plug"] == "not known: use the vehicle maker's figure"


def test_a_unit_without_a_fill_plug_is_filled_at_its_filler(cast):
    assert named(steps("DO440", "line exchange"), "fill_plug_first").text.startswith("FILL FIRST")


def test_adaptation_stands_there_only_if_the_sheet_asks(cast):
    assert "adaptation" in codes(steps("CE-V45", "single drain"))  # drive cycle
    assert "adaptation" not in codes(steps("BI870", "single drain"))  # none


def test_adaptation_after_an_exchange_is_asked_after_one_or_where_it_was_sold(cast):
    drained = steps("AL640", "single drain")
    sheet = sheet_of("AL640")
    facts = {**facts_for(sheet, "single drain"), "operations": ["adaptation run"]}

    assert "adaptation" not in codes(drained)
    assert "adaptation" not in dict(close_out_items(drained))
    assert "adaptation" in codes(steps("AL640", "line exchange"))
    assert "adaptation" in codes(build(facts, catalog.values_of(sheet), PLACE))
    assert "adaptation" in codes(build({**facts, "operations": [], "added": [facts]}, catalog.values_of(sheet), PLACE))


def test_an_unknown_fill_says_to_stop_at_the_level_sign(cast):
    level = named(steps("GO510", "line exchange"), "level")

    assert level.limits["fill"] == "7.6 to 9.1 qt (7.2 to 8.6 L): stop at the level sign"


def test_a_stored_levelness_is_offered_only_where_there_is_one(cast):
    pit = Place(stored_tilt=(6, 2))

    stored = named(steps("AL640", "single drain", place=pit), "levelness")
    measured = named(steps("AL640", "single drain"), "levelness")

    assert [row["start"] for row in stored.needs] == [6, 2]
    assert "stored for this bay" not in measured.limits
    assert (measured.needs[0]["low"], measured.needs[0]["high"]) == (-5, 5)


def test_a_diagnosis_moves_no_fluid(cast):
    made = build({"kind": "diagnosis", "title": "diagnosis, first hour", "course": None}, {}, PLACE)

    assert [step for step in made if step.is_fluid] == []
    assert codes(made)[-2:] == ["diagnosis", "odometer_out"]


def test_the_close_out_confirms_what_this_job_had(cast):
    line, drain = steps("BI870", "line exchange"), steps("BI870", "single drain")
    pan = steps("AL640", "pan drop with filter")

    assert [code for code, _ in close_out_items(line)] == [
        *("leftovers", "lines_home", "clips", "pull_test", "plugs", "leak_idle", "road_test", "leak_again")
    ]
    assert [code for code, _ in close_out_items(drain)] == [
        *("leftovers", "plugs", "leak_idle", "road_test", "leak_again")
    ]
    assert "pan" in dict(close_out_items(pan))


def test_a_sheet_that_knows_nothing_still_gives_an_order_and_makes_nothing_up(cast):
    made = build(facts_for(sheet_of("AL640"), "line exchange"), {}, Place())

    level = named(made, "level")
    assert level.text == bay_words.NO_LEVEL
    assert level.limits["low_mdegc"] is None
    assert named(made, "levelness").limits["tilt limit"] == "not known"
    assert named(made, "lines_open").limits["flows out by"] == "not known"
    assert named(made, "level").limits["fill"] == "not known: stop at the level sign"
    assert (level.limits["band_ml"], level.limits["area_cm2"]) == (None, None)
