"""Fluid courses. Figures: worked examples on the demonstration data, and the definition of the staged exchange."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest
from django.http import Http404
from hypothesis import given
from hypothesis import strategies as st

from shopserv.demo.rows import scenario
from shopserv.jobs import best_course, courses
from shopserv.jobs.selectors.fluid_course import course_page

WORKED = json.loads((Path(__file__).parent / "worked_courses.json").read_text())["rows"]
EXAMPLE = courses.SheetFacts((7400, 7400), 2900, 3400, 3400, 1600, 1200)
HOUSE = courses.HouseNumbers(300, 300, 2600, 3800, 450, 3)


def facts_of(unit):
    fill = unit["total_fill_ml"]
    band = (unit.get("total_fill_low_ml", fill), unit.get("total_fill_high_ml", fill))
    return courses.SheetFacts(
        band if band[0] else None,
        unit["drain_ml"],
        unit["pan_ml"],
        unit["sump_ml"],
        unit["pickup_below_full_ml"],
        unit.get("dips_above_full_ml"),
        tuple(courses.Sump(**sump) for sump in unit.get("sumps", [])),
    )


def words_of(stage):
    op, liters = stage["op"], lambda name: f"{stage[name] / 1000:g}"
    return {
        "drain": lambda: f"drain {liters('to_ml')}",
        "add": lambda: f"add {liters('volume_ml')}",
        "pump": lambda: f"pump {liters('add_ml')} {liters('stop_margin_ml')}",
        "mix": lambda: "mix",
    }[op]()


@pytest.mark.once
@pytest.mark.parametrize("row", WORKED, ids=lambda row: f"{row['unit']} {row['method']} {row.get('fill', '')}".strip())
def test_every_default_course_comes_out_as_worked(row):
    facts = facts_of(next(unit for unit in scenario()["units"] if unit["code"] == row["unit"]))
    ends = facts.total_fill_ml or (None, None)
    fill = ends[row.get("fill") == "high"]

    course = courses.default_course(row["method"], facts, HOUSE, fill)

    assert [words_of(stage) for stage in course.stages] == row["stages"]
    assert course.new_ml == int(Fraction(row["new_l"]) * 1000)


@pytest.mark.once
@pytest.mark.parametrize(
    ("method", "low", "high"),
    [
        ("single drain", 392, 392),
        ("repeated drain", 775, 775),
        ("line exchange", 858, 942),
        ("pan drop then line exchange", 923, 1000),
    ],
)
def test_the_share_of_new_fluid_runs_from_stirred_to_plug_flow(method, low, high):
    course = courses.default_course(method, EXAMPLE, HOUSE, 7400)

    assert (round(course.fraction_low_ppm / 1000), round(course.fraction_high_ppm / 1000)) == (low, high)


@pytest.mark.once
def test_a_course_that_overfills_first_names_the_stage_at_which_parts_dip():
    stages = ({"op": "add", "volume_ml": 3400}, {"op": "pump", "add_ml": 3200}, {"op": "add", "volume_ml": 3400})

    course = courses.edited_course("line exchange", stages, EXAMPLE, HOUSE, 7400)

    assert (course.levels_ml, course.too_high) == ((3400, -1600, 1800), ("pump 3.2",))
    assert (course.new_ml, round(course.fraction_low_ppm / 100), round(course.fraction_high_ppm / 100)) == (
        10_000,
        7803,
        8297,
    )


@pytest.mark.once
@pytest.mark.parametrize(
    ("stages", "words"),
    [
        ([{"op": "drain", "to_ml": -2900}, {"op": "mix"}], "stage 2 (warm run) runs the engine below the pickup"),
        (
            [{"op": "drain", "to_ml": -2900}, {"op": "pump", "add_ml": 100, "stop_margin_ml": 300}],
            "stage 2 (pump) cannot",
        ),
        (
            [{"op": "add", "volume_ml": 100}, {"op": "drain", "to_ml": -9000}],
            "stage 2 (drain) cannot run: 9.5 qt (9.0 L) below full is below the bottom of the sump",
        ),
        (
            [{"op": "drain", "to_ml": -2900}, {"op": "mix"}, {"op": "pump", "add_ml": 0, "stop_margin_ml": 300}],
            "stage 2 (warm run) runs the engine below the pickup",
        ),
        ([{"op": "add", "volume_ml": -1}], "a stage pours less than nothing"),
        ([{"op": "stir"}], "there is no stage “stir”"),
    ],
)
def test_a_course_that_cannot_run_is_refused_with_its_reason(stages, words):
    with pytest.raises(courses.CannotPlan) as refused:
        courses.edited_course("line exchange", stages, EXAMPLE, HOUSE, 7400)

    assert words in str(refused.value)


@pytest.mark.once
@pytest.mark.parametrize("stages", [[], [{"op": "add", "volume_ml": 100}]])
def test_a_unit_that_cannot_be_is_named_as_such(stages):
    with pytest.raises(courses.CannotPlan, match="cannot have a sump of 3400 mL"):
        courses.edited_course("line exchange", stages, EXAMPLE, HOUSE, 3300)


@pytest.mark.once
def test_a_value_that_the_sheet_does_not_give_is_named():
    with pytest.raises(courses.CannotPlan, match="does not give “pickup below full”"):
        courses.default_course("line exchange", courses.SheetFacts((7400, 7400), 2900, 3400, 3400), HOUSE, 7400)
    with pytest.raises(courses.CannotPlan, match="does not give “pan”"):
        courses.default_course("pan drop with filter", courses.SheetFacts((7400, 7400), pan_ml=0), HOUSE, 7400)
    with pytest.raises(courses.CannotPlan, match="no sumps"):
        courses.default_course("separate sump service", EXAMPLE, HOUSE, 7400)


@pytest.mark.once
def test_drains_of_a_unit_of_unknown_fill_have_no_share():
    course = courses.default_course("single drain", courses.SheetFacts(drain_ml=3100), HOUSE, None)

    assert (course.new_ml, course.fraction_low_ppm, course.fraction_high_ppm) == (3400, None, None)


@pytest.mark.once
def test_twenty_percent_more_or_less_widens_the_share():
    course = courses.default_course("repeated drain", EXAMPLE, HOUSE, 7400)

    wide = courses.banded(course, EXAMPLE, Fraction(1, 5))

    assert (wide.fraction_low_ppm, wide.fraction_high_ppm) == (666_544, 899_491)  # as calc.course_bands has it
    assert (wide.over, course.over) == (("capacity_ml", "drained"), ())
    assert courses.banded(wide, EXAMPLE) == course


@pytest.mark.once
@given(
    fill=st.integers(6000, 15_000),
    sump=st.integers(2500, 5500),
    pickup=st.integers(700, 2400),
    method=st.sampled_from([m for m in courses.METHODS if m != "separate sump service"]),
)
def test_every_default_course_ends_full_and_never_runs_below_the_pickup(fill, sump, pickup, method):
    facts = courses.SheetFacts((fill, fill), sump - 300, sump, sump, pickup, 1200)

    course = courses.default_course(method, facts, HOUSE, fill)

    running = [level for stage, level in zip(course.stages, course.levels_ml, strict=True) if stage["op"] == "pump"]
    assert course.levels_ml[-1] == 0
    assert all(level >= -pickup for level in running)
    assert 0 < course.fraction_low_ppm <= course.fraction_high_ppm <= 1_000_000


def test_the_page_of_a_course_shows_three_other_orders_best_first(cast):
    page = course_page(cast.tobin, cast.vehicle("V-01"), "line exchange")

    shares = [other.fraction_low_ppm for _, other in page.others]
    assert next(name for name, _ in page.others) == "drain first, then one pump"
    assert len(shares) == 3
    assert shares == sorted(shares, reverse=True)
    assert dict(page.others)["overfill first"].too_high != ()
    assert (page.fault, page.loss_points, page.pickup_ml, page.dips_ml) == ("", 0, 1600, 1200)


def test_the_page_of_an_edited_course_says_what_it_loses_and_keeps_a_fault(cast):
    worse = [{"op": "add", "volume_ml": 3400}, {"op": "pump", "add_ml": 3200}, {"op": "add", "volume_ml": 3400}]
    vehicle = cast.vehicle("V-01")

    assert course_page(cast.tobin, vehicle, "line exchange", stages=worse).loss_points == 77
    bad = course_page(cast.tobin, vehicle, "line exchange", stages=[{"op": "drain", "to_ml": -2900}, {"op": "mix"}])
    assert "runs the engine below the pickup" in bad.fault
    with pytest.raises(Http404):
        course_page(cast.tobin, vehicle, "warp")


def test_the_page_of_an_unknown_fill_shows_both_ends(cast):
    page = course_page(cast.tobin, cast.vehicle("V-09"), "line exchange")

    assert (page.low.new_ml, page.high.new_ml) == (9_800, 11_200)


PLUG = ("single drain", "line exchange")


@pytest.mark.once
def test_the_best_order_opens_the_drain_first_with_no_more_fluid():
    best = best_course.best_course("line exchange", EXAMPLE, HOUSE, open_methods=PLUG)

    assert best.habit == courses.default_course("line exchange", EXAMPLE, HOUSE, 7400)
    assert [words_of(stage) for stage in best.course.stages[:3]] == ["drain -2.9", "add 2.9", "pump 0 0.3"]
    assert best.course.new_ml == best.habit.new_ml == 10_000
    assert (best.course.fraction_low_ppm, best.gain_ppm) == (882_746, 882_746 - 857_514)
    assert (best.saved_ml, best.opens_drain, best.why_not) == (800, True, "")
    assert max(best.course.levels_ml) <= HOUSE.batch_above_full_ml


@pytest.mark.once
def test_with_less_new_fluid_the_best_order_still_brings_the_share_of_the_habit():
    best = best_course.best_course("line exchange", EXAMPLE, HOUSE, open_methods=PLUG)
    less = courses.HouseNumbers(300, 300, 2600 - best.saved_ml, 3800, 450, 3)
    least = courses.HouseNumbers(300, 300, 2600 - best.saved_ml - best_course.SAVING_STEP_ML, 3800, 450, 3)

    enough = best_course.best_course("line exchange", EXAMPLE, less, open_methods=PLUG).course
    short = best_course.best_course("line exchange", EXAMPLE, least, open_methods=PLUG).course

    assert enough.fraction_low_ppm >= best.habit.fraction_low_ppm
    assert short.fraction_low_ppm < best.habit.fraction_low_ppm


@pytest.mark.once
@pytest.mark.parametrize(
    ("method", "facts", "open_methods", "why"),
    [
        ("line exchange", EXAMPLE, ("line exchange",), ""),  # the sheet lets nobody open a plug
        ("pan drop then line exchange", EXAMPLE, PLUG, ""),
        ("repeated drain", EXAMPLE, PLUG, ""),
        ("single drain", EXAMPLE, PLUG, "one drain; there is no other order"),
        ("separate sump service", courses.SheetFacts(sumps=(courses.Sump("a", 10, 5),)), PLUG, "each sump is drained"),
        ("separate sump service", EXAMPLE, PLUG, "the unit sheet lists no sumps"),
        ("repeated drain", courses.SheetFacts(drain_ml=3100), PLUG, "the unit sheet gives no fill or no sump"),
    ],
)
def test_where_the_habit_is_the_best_there_is_nothing_to_gain(method, facts, open_methods, why):
    best = best_course.best_course(method, facts, HOUSE, open_methods=open_methods)

    assert (best.course, best.gain_ppm, best.saved_ml, best.opens_drain) == (None, 0, 0, False)
    assert best.why_not.startswith(why)
    assert bool(best.why_not) == bool(why)


@pytest.mark.once
def test_the_best_order_of_a_fill_that_is_a_band_is_sought_for_its_high_end():
    facts = courses.SheetFacts((7200, 8600), 3100, 3800, 3800, 1700)

    best = best_course.best_course("line exchange", facts, HOUSE, open_methods=PLUG, units_first="metric")

    assert (best.habit.fill_ml, best.habit.new_ml, best.course.fill_ml) == (8600, 11_200, 8600)
    assert best.course.new_ml <= 11_200
    assert best.gain_ppm >= 15_000


@pytest.mark.once
def test_a_fifth_more_or_less_of_fill_and_drain_is_carried_to_levels_and_share():
    course = courses.default_course("repeated drain", EXAMPLE, HOUSE, 7400)

    doubt = best_course.doubted(course, EXAMPLE, minimum_ml=-300)

    assert (round(doubt.share.low, 4), round(doubt.share.high, 4)) == (0.6665, 0.8995)
    assert (doubt.levels_ml[1].low, doubt.levels_ml[1].high) == (-500, 580)
    assert [(one.stage, one.line, one.by_ml) for one in doubt.breaches] == [(n, "minimum", 200) for n in (3, 6, 8)]
    assert best_course.doubted(course, courses.SheetFacts(drain_ml=2900)) is None


@pytest.mark.once
def test_a_fill_that_is_a_band_widens_the_share_though_nothing_else_is_off():
    facts = courses.SheetFacts((7200, 8600), 3100, 3800, 3800, 1700)
    course = courses.default_course("line exchange", facts, HOUSE, 8600)

    doubt = best_course.doubted(course, facts, off=Fraction(0))

    assert round(doubt.share.low * 1_000_000) == course.fraction_low_ppm == 844_942
    assert round(doubt.share.high * 1_000_000) == course.fraction_high_ppm == 955_897
    assert course.over == ("capacity_ml",)
    assert doubt.share.low_if == {"capacity_ml": 8600}
    assert doubt.share.high_if == {"capacity_ml": 7200}
    assert not doubt.breaches


class Value:
    """A value of a sheet as a band."""

    def __init__(self, low, high=None):
        self.low, self.high, self.text = low, low if high is None else high, ""


@pytest.mark.once
def test_what_the_sheet_gives_as_a_band_is_carried_as_one():
    values = {
        "total_fill_ml": Value(7400),
        "drain_ml": Value(2900, 3100),
        "sump_ml": Value(3400, 3500),
        "pickup_below_full_ml": Value(1600, 1700),
    }
    facts = courses.facts_of(values, [])
    stages = [{"op": "drain", "to_ml": -2900}, {"op": "add", "volume_ml": 2900}]
    course = courses.edited_course("line exchange", stages, facts, HOUSE, 7400)

    doubt = best_course.doubted(course, facts, off=Fraction(0))

    assert facts.bands == {"drain_ml": (2900, 3100), "sump_ml": (3400, 3500), "pickup_below_full_ml": (1600, 1700)}
    assert (facts.drain_ml, facts.sump_ml, facts.pickup_below_full_ml) == (2900, 3400, 1600)
    assert [(round(level.low), level.high) for level in doubt.levels_ml] == [(-3100, -2900), (-200, 0)]
    assert doubt.share.low == doubt.share.likely_low == pytest.approx(2900 / 7400)
    assert doubt.share.high == pytest.approx(2900 / 7200)  # more out than was poured back
    assert set(doubt.share.high_if) == {"sump_ml", "pickup_ml", "drained"}


OPEN = courses.SheetFacts((7200, 8600), 3100, 3800, 3800, 1700, None)  # where turning parts dip is not on the sheet


def run_above(ml):
    return ({"op": "add", "volume_ml": ml}, {"op": "pump", "add_ml": 0}, {"op": "add", "volume_ml": 1700})


@pytest.mark.once
@pytest.mark.parametrize(
    ("stages", "facts", "said"),
    [
        (run_above(450), OPEN, ""),
        (run_above(451), OPEN, "stage 2 the engine runs 0.5 qt (0.5 L) above full"),
        (run_above(7000), OPEN, "no more than 0.5 qt (0.5 L) above full may run"),
        (run_above(7401), EXAMPLE, "stage 1 the fluid stands 7.8 qt (7.4 L) above full, and the whole"),
        (run_above(7400), EXAMPLE, ""),
        (run_above(451), EXAMPLE, ""),  # 1.2 L are on the sheet: warned of by name there
        ((*run_above(450), {"op": "add", "volume_ml": 300}), OPEN, ""),
        ((*run_above(450), {"op": "add", "volume_ml": 301}), OPEN, "it ends 0.3 qt (0.3 L) above full"),
        (run_above(450)[:2], OPEN, "it ends 1.8 qt (1.7 L) below full"),
    ],
)
def test_what_runs_too_high_or_ends_not_full_may_not_be_taken(stages, facts, said):
    stages = [
        {**row, "volume_ml": 1600} if facts is EXAMPLE and row.get("volume_ml") == 1700 else row for row in stages
    ]
    course = courses.edited_course("line exchange", stages, facts, HOUSE, 7400)

    why = courses.why_not_taken(course, facts, HOUSE)

    assert said in why
    assert bool(why) == bool(said)


@pytest.mark.once
def test_other_orders_that_run_too_high_say_why():
    course = courses.default_course("line exchange", OPEN, HOUSE, 8600)

    others = dict(courses.other_orders(course, OPEN, HOUSE))

    assert "turning parts dip is not on the unit sheet" in others["overfill first"]
    assert isinstance(others["one pour while it pumps"], courses.Course)


@pytest.mark.once
def test_a_drain_of_unknown_fill_ends_where_its_amounts_lead():
    short = [{"op": "drain", "to_ml": -3100}, {"op": "add", "volume_ml": 2000}]
    facts = courses.SheetFacts(None, 3100)

    course = courses.edited_course("single drain", short, facts, HOUSE, None)

    assert course.levels_ml == (-3100, -1100)
    assert "1.2 qt (1.1 L) below full" in courses.why_not_taken(course, facts, HOUSE)
