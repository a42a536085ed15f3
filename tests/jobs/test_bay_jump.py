"""Two temperatures at the steps to the level that cannot belong together: asked, answered, kept on the trail."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.bay_bench import Tool
from shopserv.jobs.bay_events import REDO
from shopserv.jobs.bay_jump import WHY, jumped
from shopserv.jobs.models import BayEvent, BayStep
from shopserv.jobs.services import bay
from shopserv.shop.models import Shop, TrailEntry
from tests.jobs import bay_stage as bays

BEGAN = datetime(2026, 11, 24, 15, 41, tzinfo=UTC)
SHOP = Shop(units_first="us", time_zone="America/New_York")
LIMITS = {"low_mdegc": 40_000, "high_mdegc": 45_000, "idle_rise_mk": 4_000}
FILL = {**LIMITS, "fill_ml": 7_400, "cooler_ml": 600}
STEPS = [
    BayStep(pk=n, order=10 + n, code=code, limits=limits, shop=SHOP)
    for n, (code, limits) in enumerate(
        (
            ("flow_proof", {}),
            ("cool_down_1", LIMITS),
            ("cool_down_2", LIMITS),
            ("start_engine", LIMITS),
            ("level_sump", {"sump": "clutch"}),
            ("level", FILL),
            ("lines_open", {}),
        ),
        start=1,
    )
]
TH = Tool("thermometer", "TH-1", Fraction(1))


def event(n, step, what, value, minutes, unit="0.1 °F", **more):
    at = BEGAN + timedelta(minutes=minutes)
    return BayEvent(pk=n, step=STEPS[step - 1], what=what, value=value, unit=unit, words="", received_at=at, **more)


def fahrenheit(figure):
    return round((figure - 32) / 1.8 * 1000)


def asked(*rows, of=6, tools=(TH,), now=None):
    events = [event(n, *row) if len(row) < 5 else event(n, *row[:4], **row[4]) for n, row in enumerate(rows, start=1)]
    return jumped(STEPS[of - 1], STEPS, events, tools, now)


HOT = (3, "temp_mdegc", fahrenheit(152), 0)
COLD = (6, "temp_mdegc", fahrenheit(109), 0.5)


def test_152_and_109_degrees_in_the_same_minute_are_asked_with_times_and_instruments():
    said = asked(HOT, COLD)

    assert said.startswith(
        "Step 13 read 152.0 °F (66.7 °C) at 10:41 AM, by thermometer TH-1; now 109.0 °F (42.8 °C) at 10:41 AM, by "
        "thermometer TH-1. In that time it can come to "
    )
    assert "Likely: digits exchanged, in either; one digit wrong, in either; typed later than read. " in said
    assert said.endswith("Read it once more and type it, or choose how both can be right.")


def test_an_instrument_that_nobody_named_is_said_to_be_so():
    two = (TH, Tool("thermometer", "TH-2", Fraction(1)))

    assert asked(HOT, COLD, tools=two).count("instrument not named") == 2
    assert asked(HOT, (*COLD, {"instrument": "TH-2"}), tools=two).count("instrument not named") == 1
    scanned = asked(HOT, COLD, now=Tool("scan tool", "SC-1", Fraction(2)))
    assert "by thermometer TH-1; now" in scanned
    assert "by scan tool SC-1" in scanned
    assert "another instrument" in scanned


@pytest.mark.parametrize(
    "rows",
    [
        (HOT, (*COLD[:3], 60)),  # an hour
        (HOT, (6, "temp_mdegc", fahrenheit(145), 0.5)),
        ((5, "temp_mdegc", fahrenheit(152), 0), COLD),  # another sump
        ((*HOT, {"is_from_paper": True}), COLD),
        (HOT, (*COLD, {"is_from_paper": True})),
        (HOT, (6, "in_ml", 6_000, 0.2), COLD),  # six liters of cold fluid
        (HOT, (6, "in_g", 5_100, 0.2), COLD),
        (COLD,),
        ((6, "temp_mdegc", fahrenheit(152), 0), COLD),  # pressed again: corrected
        (HOT,),
    ],
)
def test_what_can_be_is_not_asked(rows):
    assert asked(*rows) == ""


@pytest.mark.parametrize(
    ("rows", "of", "is_asked"),
    [
        ([(7, 131, 0), (1, 230, 1)], 1, True),  # 55 °C at the line, 110 °C in the bucket a minute on
        ([(7, 131, 0), (1, 175, 1)], 1, False),  # two minutes of the converter give 28.6 K
        ([(7, 131, 0), (1, 70, 1)], 1, False),  # what stood in the cooler
        ([(1, 152, 0), (6, 109, 0.5)], 6, True),
        ([(1, 230, 0), (2, 300, 5)], 2, False),
        ([(7, 131, 0), (1, 70, 1), (2, 150, 1.5)], 2, False),  # the sump was warmer than the bucket
        ([(7, 131, 0), (1, 70, 1), (2, 300, 1.5)], 2, True),
    ],
)
def test_line_and_bucket_are_compared_too(rows, of, is_asked):
    said = asked(*((step, "temp_mdegc", fahrenheit(figure), minutes) for step, figure, minutes in rows), of=of)

    assert bool(said) is is_asked


def test_what_was_poured_makes_a_hot_reading_unlikely():
    rows = [(1, "temp_mdegc", fahrenheit(230), 0), (6, "in_ml", 9_800, 2), (2, "temp_mdegc", fahrenheit(300), 5)]

    assert asked(*rows, of=2).startswith("Step 11 read 230.0 °F (110.0 °C) at 10:41 AM")


def test_a_little_cold_fluid_explains_no_such_fall():
    assert asked(HOT, (6, "in_ml", 100, 0.2), COLD)


def test_with_the_engine_off_the_curve_of_this_job_says_how_fast_it_falls():
    first = [(2, "temp_mdegc", 78_000, 0), (2, "ambient_mdegc", 18_000, 0), (3, "temp_mdegc", 70_000, 9)]

    def third(mdegc, minutes):
        return asked(*first, (3, REDO, None, minutes), (3, "temp_mdegc", mdegc, minutes), of=3)

    # 52 K above the air fall with 62.9 min; the early edge of that, and the errors, reach a few K lower.
    assert third(61_500, 20) == ""
    assert third(52_000, 20).startswith("Step 13 read 158.0 °F (70.0 °C) at 10:50 AM")
    assert "the engine ran" in third(80_000, 20)
    assert third(75_000, 0.5 + 9).count("Likely: ") == 1  # above what hot metal gives


def test_once_the_engine_was_started_a_rise_is_its_work():
    rows = [(2, "temp_mdegc", 70_000, 0), (4, "done", None, 1), (3, "temp_mdegc", 80_000, 5)]

    assert asked(*rows, of=3) == ""
    assert "the engine ran" in asked(rows[0], rows[2], of=3)


@pytest.mark.django_db
def test_the_level_asks_keeps_what_was_read_and_tells_the_answer_on_the_trail(cast):
    order = bays.in_the_bay(cast)
    step = bays.up_to(cast, order, "level")
    order.refresh_from_db()

    def level(**more):
        rows = [bay.Press(one.what, one.value, one.unit, f"l-{one.what}") for one in bays.as_asked(step, out_ml=4)]
        return bay.set_level(order, actor=cast.odo, pin=bays.pin(cast.odo), setting=bays.DRIP, presses=rows,
                             once_key="l", **more)  # fmt: skip

    for answers in (bay.Answers(), bay.Answers(why_jump="because")):
        with pytest.raises(Refusal) as said:
            level(answers=answers)
        assert (said.value.code, said.value.field, said.value.confirmable) == ("bay.jump", "temp_mdegc", False)
    with pytest.raises(Refusal) as said:
        level(is_confirmed=True)
    assert said.value.code == "bay.jump"
    assert not order.level_records.exists()

    assert level(answers=bay.Answers(why_jump="late")).record.passes
    kept = TrailEntry.objects.filter(what="level set").latest("pk").after
    assert kept["why"] == WHY["late"]
    assert kept["jump"].startswith("Step ")
