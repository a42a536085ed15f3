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
from shopserv.jobs import courses
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
        ([{"op": "drain", "to_ml": -2900}, {"op": "mix"}], "stage 2 (mix) runs the engine below the pickup"),
        ([{"op": "drain", "to_ml": -2900}, {"op": "pump", "add_ml": 100, "stop_margin_ml": 300}], ""),
        ([{"op": "drain", "to_ml": -9000}], ""),
        ([{"op": "add", "volume_ml": -1}], "a stage pours less than nothing"),
        ([{"op": "stir"}], "there is no stage “stir”"),
    ],
)
def test_a_course_that_cannot_run_is_refused_with_its_reason(stages, words):
    with pytest.raises(courses.CannotPlan) as refused:
        courses.edited_course("line exchange", stages, EXAMPLE, HOUSE, 7400)

    assert words in str(refused.value)


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

    low, high = courses.spread(course, EXAMPLE)

    assert (round(low / 100), round(high / 100)) == (6946, 8672)


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
