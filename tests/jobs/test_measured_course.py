"""The share of new fluid by the measured liters."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace

import pytest

from shopserv.billing.services import issue
from shopserv.jobs import courses, measured_course
from shopserv.jobs.selectors import recomputed
from shopserv.jobs.selectors.bay_workings import bay_workings
from shopserv.logbook.models import ServiceRecord
from tests.jobs import bay_stage as bays

SHEET = courses.SheetFacts(total_fill_ml=(7_200, 8_600), drain_ml=3_100, sump_ml=3_800, pickup_below_full_ml=1_700)
DRAIN = {"op": "drain", "to_ml": -3_100}, {"op": "add", "volume_ml": 3_100}
COURSE = {"kind": "drains", "fill_ml": 8_600, "stages": DRAIN, "levels_ml": [-3_100, 0]}
STEPS = [
    SimpleNamespace(pk=1, code="drain", state="done", limits={"op": "drain", "level_after_ml": -3_100}),
    SimpleNamespace(pk=2, code="add", state="done", limits={"op": "add", "level_after_ml": 0}),
    SimpleNamespace(pk=3, code="level", state="done", limits={"sump": ""}),
]


def read(*rows):
    """Readings as (step, what, mL)."""
    steps = {step.pk: step for step in STEPS}
    return [
        SimpleNamespace(pk=pk, step_id=step, step=steps.get(step), what=what, value=value, words=words)
        for pk, (step, what, value, words) in enumerate(rows, start=1)
    ]


def share(*rows, course=COURSE, sheet=SHEET):
    return measured_course.done(course, sheet, STEPS, read(*rows))


def ppm(part, whole):
    return round(part / whole * 1_000_000)


def test_a_drain_counts_by_what_came_out_and_went_in_over_the_band_of_the_fill():
    kept = share((1, "out_ml", 2_650, ""), (2, "in_ml", 2_750, ""))

    assert kept["share_ppm"] == [ppm(2_750, 8_700), ppm(2_750, 7_300)] == [316_092, 376_712]
    assert measured_course.share(kept) == tuple(kept["share_ppm"])
    assert measured_course.words(kept) == "share by the measured liters"


def test_what_is_poured_and_runs_out_at_the_level_is_part_of_it():
    kept = share((1, "out_ml", 2_600, ""), (2, "in_ml", 2_600, ""), (3, "in_ml", 200, ""), (3, "out_ml", 100, ""))

    sump_old = 1_200 / 3_800 * (3_800 / 4_000)  # of a sump of 3.8 L the old part, thinned by what was poured on it
    low = 1 - (8_600 - 3_800 + sump_old * 3_900) / 8_700
    high = 1 - (7_200 - 3_800 + sump_old * 3_900) / 7_300
    assert kept["share_ppm"] == [ppm(low, 1), ppm(high, 1)]


def test_a_stage_that_nobody_measured_stands_as_planned_and_is_named():
    kept = share((1, "out_ml", 2_600, ""))

    assert [row["is_measured"] for row in kept["stages"]] == [True, False]
    assert (kept["stages"][1]["in_ml"], kept["share_ppm"]) == (3_100, [ppm(3_100, 9_100), ppm(3_100, 7_700)])
    assert measured_course.words(kept) == "share by the measured liters, 1 of 2 stages as planned"
    assert share() == {}
    assert measured_course.words({}) == ""


def test_a_leftover_of_a_package_counted_in_as_a_whole_was_not_poured():
    kept = share((1, "out_ml", 2_700, ""), (2, "in_ml", 3_000, "jug"), (None, "left_ml", 300, "jug"))

    assert kept["share_ppm"] == [ppm(2_700, 8_600), ppm(2_700, 7_200)]


def test_without_a_sump_on_the_sheet_all_is_mixed_as_one_and_without_a_fill_nothing_is_said():
    course = {**COURSE, "fill_ml": None}
    rows = (1, "out_ml", 2_000, ""), (2, "in_ml", 2_000, "")

    assert share(*rows, course=course)["share_ppm"] == [ppm(2_000, 8_600), ppm(2_000, 7_200)]
    assert share(*rows, course=course, sheet=courses.SheetFacts(drain_ml=3_100)) == {}


def test_sumps_each_by_their_own_liters():
    steps = [
        SimpleNamespace(pk=1, code="drain", state="done", limits={"op": "drain", "level_after_ml": 0}),
        SimpleNamespace(pk=2, code="add", state="done", limits={"op": "add", "level_after_ml": 0}),
    ]
    course = {
        "kind": "sumps",
        "fill_ml": 1_000,
        "stages": [{**row, "sump": "front"} for row in DRAIN],
        "levels_ml": [-3_100, 0],
    }
    sheet = courses.SheetFacts(sumps=(courses.Sump("front", 4_000, 3_100),))

    kept = measured_course.done(course, sheet, steps, read((1, "out_ml", 2_000, ""), (2, "in_ml", 1_900, "")))

    assert kept["share_ppm"] == [ppm(1_900, 3_900)] * 2


@pytest.mark.parametrize(("out", "told"), [(3_800, 3_800), (4_500, 3_800)])
def test_no_more_comes_out_than_the_sump_holds(out, told):
    kept = share((1, "out_ml", out, ""), (2, "in_ml", 3_800, ""))

    assert kept["share_ppm"] == [ppm(told, 8_600), ppm(told, 7_200)]


def test_the_logbook_takes_the_measured_share_and_it_computes_again(cast):
    order = bays.closed_out(cast)
    bays.look(cast, order)
    order.refresh_from_db()

    issue(order, actor=cast.tobin, edition=order.edition)

    kept = order.close_out["fluid"]
    row = ServiceRecord.objects.get(work_order_number=order.number)
    assert [row.fraction_low_ppm, row.fraction_high_ppm] == kept["share_ppm"]
    assert kept["share_ppm"][0] != order.facts["course"]["fraction_low_ppm"]
    assert "share by the measured liters" in row.note
    found = bay_workings(cast.tobin, order.number)[1]["share"].as_dict()
    assert (found["low"], found["high"]) == (found["value"], str(Fraction(kept["share_ppm"][1], 1_000_000)))
    assert len(found["steps"]) == len(kept["stages"])
    again = recomputed.of_course_done(order)
    assert again.stored == again.computed


HOUSE = courses.HouseNumbers(300, 300, 1_400, 500, 1_400, 3)


def test_a_pumped_course_that_was_read_as_planned_leaves_the_planned_share():
    course = courses.default_course("line exchange", SHEET, HOUSE, 8_600)
    steps, rows, before = [], [], 0
    for pk, (stage, level) in enumerate(zip(course.stages, course.levels_ml, strict=True), start=1):
        limits = {"op": stage["op"], "level_after_ml": level}
        steps.append(SimpleNamespace(pk=pk, code=stage["op"], state="done", limits=limits))
        poured = stage.get("volume_ml", 0) + stage.get("add_ml", 0)
        rows += [(pk, "in_ml", poured, "")] if poured else []
        rows += [(pk, "out_ml", before + poured - level, "")] if stage["op"] == "pump" else []
        before = level

    def of(read_rows):
        kept = measured_course.done(course.as_dict(), SHEET, steps, read(*read_rows))
        assert all(row["is_measured"] for row in kept["stages"])
        return kept["share_ppm"]

    assert of(rows) == [course.fraction_low_ppm, course.fraction_high_ppm]
    less = [(pk, what, value - 200 if pk == 3 else value, words) for pk, what, value, words in rows]
    assert of(less)[0] < course.fraction_low_ppm  # 0.2 L less of one batch, poured and pumped


def test_what_cannot_have_happened_leaves_the_planned_share_and_says_so():
    course = {**COURSE, "stages": [DRAIN[0], {"op": "pump"}], "levels_ml": [-3_100, -3_100]}
    steps = [
        SimpleNamespace(pk=1, code="drain", state="done", limits={"op": "drain", "level_after_ml": -3_100}),
        SimpleNamespace(pk=2, code="pump", state="done", limits={"op": "pump", "level_after_ml": -3_100}),
    ]

    kept = measured_course.done(course, SHEET, steps, read((1, "out_ml", 3_800, ""), (2, "out_ml", 500, "")))

    assert list(kept) == ["cannot"]  # the pump drew from an empty sump
    assert measured_course.words(kept) == "share as planned: what was measured does not fit the unit of the sheet"
