"""Where the lines of our drawings stand.

source   geometry: levels in order stand in order, what is equal stands level; figures of the demonstration scenario
"""

from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.common import drawing
from shopserv.common.drawing.ink import nice_step, px

pytestmark = pytest.mark.once
UNIT = {"pickup_below_full_ml": 1_600, "dips_above_full_ml": 1_200, "stop_margin_ml": 300}


@pytest.mark.parametrize(("value", "text"), [(12.25, "12.2"), (12, "12"), (-0.01, "0"), (100, "100"), (0.55, "0.6")])
def test_a_coordinate_has_a_point_in_every_language(value, text):
    assert px(value) == text


@pytest.mark.parametrize(("span", "step"), [(1, 1), (100_000, 10_000), (101_000, 20_000), (63_180, 10_000), (450, 50)])
def test_graduations_are_ones_twos_and_fives(span, step):
    assert nice_step(span) == step


def test_one_full_line_goes_through_all_tubes_of_all_options():
    drains, pumped = [-3_200, 0], [-1_300, 0, 440, -1_300, 0]
    scale = drawing.tube_scale([*drains, *pumped], **UNIT)

    rows = [drawing.tube_row(levels, scale) for levels in (drains, pumped)]

    assert {row.marks.full for row in rows} == {rows[0].tubes[0].fluid_top}
    assert [tube.label for tube in rows[0].tubes] == ["", "1", "2"]
    assert rows[0].tubes[2].fluid_top == rows[0].marks.full


def test_dip_line_full_and_pickup_stand_one_below_the_other():
    drawn = drawing.tube_row([-1_300], drawing.tube_scale([-1_300], **UNIT)).marks

    assert float(drawn.dips) < float(drawn.full) < float(drawn.stop_top) < float(drawn.pickup)
    assert float(drawn.stop_top) + float(drawn.stop_height) == pytest.approx(float(drawn.pickup), abs=0.11)


def test_what_is_not_known_has_no_line():
    scale = drawing.tube_scale([-3_200], pickup_below_full_ml=None, dips_above_full_ml=None, stop_margin_ml=300)

    drawn = drawing.tube_row([-3_200], scale).marks

    assert (drawn.dips, drawn.pickup, drawn.stop_top, drawn.stop_height) == ("", "", "", "")


def test_a_dot_marks_a_stage_that_runs_the_engine():
    row = drawing.tube_row([-1_300, 0], drawing.tube_scale([-1_300], **UNIT), engine=[True, False])

    assert [tube.runs_engine for tube in row.tubes] == [False, True, False]


@pytest.mark.parametrize(("stages", "width"), [(2, "51.2"), (12, "204"), (14, "204")])
def test_many_tubes_stand_closer_so_that_their_column_holds_them(stages, width):
    row = drawing.tube_row([0] * stages, drawing.tube_scale([0], **UNIT))

    assert row.width == width
    assert float(row.tubes[-1].cap_right) <= float(width)


@given(st.lists(st.integers(-6_000, 2_000), min_size=1, max_size=14))
def test_a_higher_level_is_never_drawn_lower_and_all_stay_in_their_tubes(levels):
    row = drawing.tube_row(levels, drawing.tube_scale(levels, **UNIT))
    tops = [float(tube.fluid_top) for tube in row.tubes[1:]]

    assert all(
        (a - b) * (x - y) <= 0 for a, x in zip(levels, tops, strict=True) for b, y in zip(levels, tops, strict=True)
    )
    assert all(6 <= top <= 126 for top in tops)


def test_the_level_tube_hatches_what_is_not_certain():
    scale = drawing.tube_scale([0], **UNIT)

    sure, unsure = drawing.level_tube(0, scale), drawing.level_tube(0, scale, within_ml=84)

    assert sure.band_height == ""
    assert float(unsure.band_top) < float(unsure.level_y) < float(unsure.band_top) + float(unsure.band_height)


def test_a_share_tube_is_full_only_for_all_of_it():
    assert drawing.share_tube(1_000_000).fluid_top == "2"
    assert drawing.share_tube(0).fluid_height == "0"
    assert drawing.share_tube(861_000, 942_000).band_height == "4.7"


def test_a_share_bar_is_solid_to_its_low_end_and_hatched_to_its_high_end():
    bar = drawing.share_bar(860_000, 940_000)

    assert (bar.solid, bar.band_from, bar.band) == ("86%", "86%", "8%")
    assert drawing.share_bar(390_000).band == ""


def test_the_road_puts_what_was_done_in_order_and_today_at_its_figure():
    strip = drawing.road_strip(
        63_180,
        now_words="today 63,180",
        readings=[33_524, 36_543, 63_180],
        stops=[(0, "Apr 2019, first fluid"), (31_890, "Dec 2023, drain and fill, 39 % new")],
        due_at=(45_501, "due by distance 45,501"),
        band=(80_100, 93_500),
        band_above="next due",
        band_below="80,100 to 93,500 mi",
        words="road to 100,000 mi",
    )

    assert [label.words for _, label in strip.graduations][:3] == ["0", "10,000", "20,000"]
    assert strip.graduations[-1][1].words == "100,000 mi"
    assert strip.now_x == strip.readings[-1] == "696.5"
    assert [stop.label.words for stop in strip.stops] == ["Apr 2019, first fluid", "Dec 2023, drain and fill, 39 % new"]
    assert strip.band.startswith(f"M{strip.now_x} 58L")
    assert strip.band_above.words == "next due"


def test_words_that_would_run_into_others_on_both_sides_are_left_out():
    strip = drawing.road_strip(
        60_000,
        now_words="today",
        stops=[(10_000, "a" * 60), (12_000, "short"), (16_000, "b" * 200)],
        words="services close together",
    )

    assert [stop.label.words if stop.label else "" for stop in strip.stops] == ["", "short", ""]
    assert strip.stops[0].words == "a" * 60


def test_words_without_room_to_the_right_stand_to_the_left_of_their_tick_or_are_cut_at_their_comma():
    long = "Aug 2024, cooler-line fluid exchange, thermostat held open, 88 % new"
    strip = drawing.road_strip(
        97_260,
        unit="mi",
        now_words="Oct 13, 2026 97,260",
        stops=[(0, "Aug 2019, first fluid"), (79_120, long)],
        words="",
    )
    close = drawing.road_strip(
        97_260, now_words="Oct 13, 2026 97,260", stops=[(45_000, "Feb 2022, first fluid"), (79_120, long)], words=""
    )

    assert (strip.stops[1].label.anchor, strip.stops[1].label.words) == ("end", long)
    assert close.stops[1].label.words == "Aug 2024"


def test_todays_words_are_raised_over_a_service_of_today_and_the_services_words_keep_clear_of_the_notch():
    strip = drawing.road_strip(63_202, now_words="today 63,202", stops=[(63_202, "Nov 2026, drain and fill")], words="")
    alone = drawing.road_strip(63_202, now_words="today 63,202", stops=[(31_000, "drain")], words="")

    assert strip.now_y < 32 < alone.now_y  # a tick begins at 32
    assert strip.stops[0].label.words == "Nov 2026, drain and fill"
    assert abs(float(strip.stops[0].label.x) - float(strip.now_x)) > 9


@given(st.integers(1, 400_000), st.lists(st.integers(0, 400_000), max_size=8))
def test_no_words_of_what_was_done_run_into_each_other(now, figures):
    strip = drawing.road_strip(
        now, now_words="today", stops=[(f, "Nov 2026, drain and fill, 39 % new") for f in sorted(figures)], words=""
    )
    spans = sorted(span_of(stop.label) for stop in strip.stops if stop.label)

    assert all(0 <= low < high <= 1104 for low, high in spans)
    assert all(a[1] < b[0] for a, b in pairwise(spans))


def span_of(label):
    wide = len(label.words) * 6.6
    left = float(label.x) - {"start": 0, "middle": wide / 2, "end": wide}[label.anchor]
    return left, left + wide


@given(st.integers(0, 400_000), st.lists(st.integers(0, 400_000), max_size=6))
def test_everything_stays_on_the_road(now, figures):
    strip = drawing.road_strip(
        now, now_words="today", readings=figures, stops=[(f, "service") for f in sorted(figures)], words=""
    )

    for x in (strip.now_x, *strip.readings, *(stop.x for stop in strip.stops), *(x for x, _ in strip.graduations)):
        assert 4 <= float(x) <= 1100


def test_the_clock_that_governs_runs_past_its_mark():
    bar = drawing.clock_bar(69, here=33, here_words="33 here", sheet=60, sheet_words="60 on the sheet")

    assert float(bar.here) < float(bar.sheet) < float(bar.age)
    assert (bar.here_anchor, bar.sheet_anchor) == ("middle", "middle")


def test_labels_of_marks_close_together_turn_away_from_each_other():
    bar = drawing.clock_bar(10, here=33, here_words="33 here", sheet=36, sheet_words="36 on the sheet")

    assert (bar.here_anchor, bar.sheet_anchor) == ("end", "start")


@pytest.mark.parametrize(("age", "here", "sheet"), [(30_657, 32_000, 40_000), (69, 33, 60), (3, 60_000, 60_000)])
def test_the_words_of_a_clock_end_on_their_sheet(age, here, sheet):
    bar = drawing.clock_bar(
        age, here=here, here_words=f"{here:,} here", sheet=sheet, sheet_words=f"{sheet:,} on the sheet"
    )
    wide = len(bar.sheet_words) * 5.1  # measured in a browser: "40,000 on the sheet" takes 96 of 500

    assert float(bar.sheet) + (wide if bar.sheet_anchor == "start" else wide / 2) <= 500
    if bar.sheet_anchor == "middle":
        assert float(bar.sheet) - float(bar.here) >= 110


TUESDAY = date(2026, 11, 24)


def test_weeks_begin_on_the_monday_before_this_one():
    weeks = drawing.weeks_around(TUESDAY)

    assert (weeks.first, weeks.width) == (date(2026, 11, 16), 372)
    assert len(weeks.lines) == 13


def test_bars_count_week_by_week():
    bars = drawing.week_bars(drawing.weeks_around(TUESDAY), [8, 3, 0])

    assert [(bar.figure, bar.day) for bar in bars] == [("8", "11/16"), ("3", ""), ("", "11/30")]
    assert float(bars[0].height) == pytest.approx(27.2)


def test_a_hundred_vehicles_in_a_week_stay_in_the_drawing():
    assert float(drawing.week_bars(drawing.weeks_around(TUESDAY), [100])[0].y) >= 6


def test_a_due_line_is_barred_at_the_likely_day_and_hatched_around_it():
    weeks = drawing.weeks_around(TUESDAY)

    line = drawing.due_line(weeks, date(2026, 12, 21), date(2026, 12, 14), date(2026, 12, 28))

    assert (line.likely, line.band_from, line.band_width) == ("155", "124", "62")
    assert (line.past_days, line.tail, line.is_later) == (0, "", False)


def test_a_vehicle_past_due_has_its_days_or_a_line_up_to_today():
    weeks = drawing.weeks_around(TUESDAY)

    assert drawing.due_line(weeks, date(2023, 12, 12)).past_days == 1_078
    assert drawing.due_line(weeks, date(2026, 11, 20)).tail == weeks.today_x
    assert drawing.due_line(weeks, TUESDAY + timedelta(days=400)).is_later is True


def test_a_reading_stands_in_its_window_where_it_is_inside():
    scale = drawing.scale(107.6, low=90, high=130, window=(104, 113))

    assert float(scale.window_from) < float(scale.reading) < float(scale.window_from) + float(scale.window_width)
    assert [label for _, _, label in scale.graduations if label] == ["90", "100", "110", "120", "130"]
    assert drawing.scale(None, low=90, high=130, window=(104, 113)).notch == ""


def test_measured_values_stand_in_their_order_and_the_notch_at_what_is_printed():
    drawn = drawing.spread([3_010, 3_045, 3_080], 3_045, (3_010, 3_080), (2_900, 2_900))

    x = [float(one) for one in drawn.ticks]
    assert 12 < x[0] < x[1] < x[2] < 308
    assert drawn.middle == drawn.ticks[1]
    assert float(drawn.band_from) == x[0]
    assert float(drawn.band_width) == pytest.approx(x[2] - x[0], abs=0.11)
    assert (drawn.printed_width, drawn.notch) == ("", f"M{drawn.printed_from} 8 l-5 -7 h10 Z")
    assert float(drawn.printed_from) < x[0]
    assert [mark for _, mark in drawn.marks] == [2_900, 3_000, 3_100]


def test_one_measured_value_stands_in_the_middle_and_a_printed_band_has_a_width():
    alone = drawing.spread([2_950], 2_950)
    band = drawing.spread([2_950], 2_950, None, (2_900, 3_000))

    assert (alone.ticks, alone.band_from, alone.notch) == (("160",), "", "")
    assert (band.printed_from, band.printed_width) == ("67.5", "185")
    assert band.notch.startswith("M160 ")
