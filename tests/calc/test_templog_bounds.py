"""Temperature logs at their bounds: heads as loggers write them, lengths, pauses, steps of no time."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from shopserv.calc import errors, templog
from tests.calc.test_templog import F, every, log


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Sump °C", "degC"), ("Sump DegC", "degC"), ("Sump(C)", "degC"), ("Sump[c]", "degC"), ("sump_C", "degC"),
        ("Sump C", "degC"), ("Sump Celsius", "degC"),
        ("Sump °F", "degF"), ("Sump degf", "degF"), ("Sump(F)", "degF"), ("Sump[f]", "degF"), ("sump_F", "degF"),
        ("Sump F", "degF"), ("Sump Fahrenheit", "degF"),
        ("Sump", None), ("Celsius sump", None), ("Sumpc", None), ("Sumpf", None),
    ],
)  # fmt: skip
def test_the_unit_is_what_a_name_ends_with(name, unit):
    assert templog.unit_of(name) == unit


@pytest.mark.parametrize("time_name", ["TIME", "Date", "Stamp"])
@pytest.mark.parametrize("heat_name", ["Temp", "a °C", "a °f", "degC of a", "DEGF of a"])
def test_the_columns_are_told_by_their_words(time_name, heat_name):
    head = templog.head_of(f"n,{heat_name},{time_name}\n1,2,3")

    assert (head.time, head.heat) == (2, 1)


def test_a_letter_that_stands_often_parts_no_columns():
    head = templog.head_of('"XX Time";"XX Temp °C"\n1;2')

    assert (head.delimiter, head.names) == (";", ("XX Time", "XX Temp °C"))


def test_only_the_mark_of_byte_order_is_taken_off_the_head():
    assert templog.head_of("\ufeffX temp °C,Time\n1,2").names == ("X temp °C", "Time")


def test_a_mark_of_byte_order_before_an_empty_line_is_no_line():
    text = "\ufeff\nTime,Temp °C\n0,80\n1,81"

    assert [one.line for one in templog.read(text, templog.head_of(text)).samples] == [3, 4]


def test_what_is_quoted_of_a_line_is_cut_at_thirty_letters():
    found = log(f"{'t' * 29}uv,80", f"5,{'h' * 29}uv", "6,80", "7,80")

    assert [one.why for one in found.faults] == [
        f"“{'t' * 29}u” is no time; written like 2026-11-24 10:42:00, 11/24/2026 10:42:00 AM or in seconds.",
        f"“{'h' * 29}u” is no temperature.",
    ]


def test_the_fastest_change_counts_up_to_the_longest_pause(monkeypatch):
    monkeypatch.setattr(templog, "FASTEST_K_S", F(1, 100))

    assert log("0,80", "600,86").faults == ()
    assert log("0,80", "600,86.1", "700,80").faults == (
        templog.Fault(3, "+6.1 K since line 2 is faster than fluid can change."),
    )
    assert log("0,80", "600.000001,86.1").faults == ()


@pytest.mark.parametrize(
    ("typed", "moment"),
    [
        ("999999999", datetime(2000, 1, 1, tzinfo=UTC) + timedelta(seconds=999_999_999)),
        ("1000000000000", datetime(2001, 9, 9, 1, 46, 40, tzinfo=UTC)),  # in ms: a thousand million s since 1970
        ("1732444925.1234567", datetime(2024, 11, 24, 10, 42, 5, 123_456, tzinfo=UTC)),  # as a float is written whole
        (f"7.{'5' * 30}", datetime(2000, 1, 1, 0, 0, 7, 555_555, tzinfo=UTC)),  # 32 characters
        ("3/4/2026 1:02:03.25", datetime(2026, 3, 4, 1, 2, 3, 250_000, tzinfo=UTC)),
        ("3/4/2026 1:02", datetime(2026, 3, 4, 1, 2, tzinfo=UTC)),
    ],
)
def test_a_moment_as_it_is_written(typed, moment):
    assert log(f"{typed},80", "9000000000000,80").samples[0].at == moment


@pytest.mark.parametrize("typed", [f"7.{'5' * 31}", "1.2.3", "."])
def test_too_many_digits_or_points_are_no_time(typed):
    assert "is no time" in log(f"{typed},80", "8,80", "9,80").faults[0].why


@pytest.mark.parametrize(
    ("typed", "celsius"),
    [
        ("80.27777777777777", F(8_027_777_777_777_777, 10**14)),  # 176.5 °F as a float is written whole
        (f"8.{'0' * 30}", F(8)),
        ("80,5", F(161, 2)),
        ("+80.5", F(161, 2)),
    ],
)
def test_a_temperature_as_it_is_written(typed, celsius):
    assert log(f"0;{typed}", "100;80", head="Time;Temp °C").samples[0].celsius == celsius


@pytest.mark.parametrize("typed", [f"8.{'0' * 31}", "X80", "80.5,1", "8,0.5", "1,080.5", "80,", "+"])
def test_what_is_no_number_is_no_temperature(typed):
    found = log(f"0;{typed}", "100;80", "200;80", head="Time;Temp °C")

    assert found.faults == (templog.Fault(2, f"“{typed[:30]}” is no temperature."),)


def test_a_log_of_fifty_thousand_rows_is_the_longest():
    with pytest.raises(errors.OutOfRange, match="more than 50,000 rows"):
        log(*["0,80"] * 50_001)


def test_a_step_that_is_left_at_once_has_no_time():
    """A millionth of a kelvin of ten in two seconds: a fifth of a microsecond; half a microsecond and more is one."""
    edge = [F(80) - F(1, 10**6), F(90)]

    assert templog.strips(every(2, *edge)) == (
        templog.Strip(80, F(1), F("82.5")), templog.Strip(85, F(1), F("87.5")),
    )  # fmt: skip
    six = templog.strips(every(6, *edge))
    assert [(one.low_c, one.seconds) for one in six] == [
        (75, F(1, 10**6)), (80, F(3) - F(1, 10**6)), (85, F(3)),
    ]  # fmt: skip


def test_a_step_that_is_just_filled_is_one_step():
    assert templog._pieces(F(80), F(85), F(10)) == [(80, F(10), F("82.5"))]
    assert templog._pieces(F(85), F(85), F(10)) == [(85, F(10), F(85))]
    assert [low for low, _, _ in templog._pieces(F("85.1"), F(80), F(10))] == [80, 85]


def test_less_than_a_second_has_shares_too():
    assert templog.bins_of([templog.Strip(80, F(1, 4), F(82)), templog.Strip(85, F(1, 4), F(86))]) == (
        (F(1, 2), F(82)), (F(1, 2), F(86)),
    )  # fmt: skip
    with pytest.raises(errors.InsufficientReadings):
        templog.bins_of([templog.Strip(80, F(0), F(82))])


def test_the_days_of_a_log_are_those_of_its_first_and_last_line():
    found = log("2026-11-20 10:00,80", "2026-11-21 10:00,80", "2026-11-23 10:00,80")

    assert templog.days_of(found) == (date(2026, 11, 20), date(2026, 11, 23))


def test_a_long_log_of_fine_figures_keeps_its_sums_short():
    """Two thousand crossings of an edge by temperatures of 14 digits: the sums stay whole microseconds."""
    degrees = [F(f"{'79' if n % 2 else '80'}.{(n * 7_919_777_777_777) % 10**14:014d}") for n in range(2_000)]
    found = templog.strips(every(1, *degrees))

    assert all((one.seconds * 10**6).denominator == 1 for one in found)
    assert templog.duration(found) == 1_999


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Trans temp (°C)", "degC"), ("Trans temp [°C]", "degC"), ("Trans temp (degC)", "degC"), ("T (deg. C)", "degC"),
        ("Trans temp (°F)", "degF"), ("Temp / ºF", "degF"), ("Temp ˚ C", "degC"), ("Temp ℃", "degC"), ("℉", "degF"),
        ("Temp (degrees F)", "degF"), ("Temp [Celsius]", "degC"), ("Temp (fahrenheit)", "degF"), ("T/C", "degC"),
        ("Temp (rev c)", None), ("Temp °C mean", None), ("Temp deg", None), ("degree", None), ("Temp (°C))", None),
    ],
)  # fmt: skip
def test_the_unit_of_the_temperature_may_stand_in_brackets(name, unit):
    assert templog.unit_of(name) == unit


@pytest.mark.parametrize(
    ("name", "ticks"),
    [
        ("Time (ms)", "ms"), ("time_msec", "ms"), ("Time millis", "ms"), ("Time/milliseconds", "ms"),
        ("time millisecond", "ms"), ("Time (s)", "s"), ("Time [S]", "s"), ("t/sec", "s"), ("t secs", "s"),
        ("Time_seconds", "s"), ("time second", "s"), ("Time (min)", "min"), ("t/mins", "min"), ("Time minutes", "min"),
        ("time minute", "min"), ("t/h", "h"), ("Time [hr]", "h"), ("Time hrs", "h"), ("elapsed hours", "h"),
        ("time (hour)", "h"),
        ("Time", None), ("Times", None), ("Time (min:s)", None), ("Timems", None), ("Time (s) of log", None),
        ("Time (day)", None),
    ],
)  # fmt: skip
def test_the_unit_of_the_time_is_what_its_name_ends_with(name, ticks):
    assert templog.ticks_of(name) == ticks


@pytest.mark.parametrize("name", ["t/h", "T (s)", "t s", "t_ms", "t[min]", "Elapsed [s]"])
def test_a_column_is_of_time_by_its_sign_where_a_unit_of_time_follows(name):
    head = templog.head_of(f"{name},Trans temp (°C)\n0,80")

    assert (head.time, head.heat, head.unit) == (0, 1, "degC")
    assert head.ticks == templog.ticks_of(name)


@pytest.mark.parametrize("name", ["t", "elapsed", "tons/h", "test s", "t/°C"])
def test_a_column_is_not_of_time_without_sign_or_unit(name):
    assert templog.head_of(f"{name},Time\n0,80").time == 1


@pytest.mark.parametrize(("name", "last"), [("ms", 90_000), ("s", 90), ("min", 1.5), ("h", 0.025)])
def test_ninety_seconds_are_ninety_in_each_unit(name, last):
    for found in (
        log("0,80", f"{last},81", head=f"Time ({name}),Sump °C"),
        log("0,80", f"{last},81", ticks=name),
        log("0,80", f"{last},81", head="Time (s),Sump °C", ticks=name),
    ):
        assert templog.lasts(found) == 90
        assert templog.said(found.samples[-1].at) == "90 s"


def test_a_unit_of_time_that_is_none_is_refused():
    with pytest.raises(errors.UnknownUnit, match="'d' is no unit of a time; it may be ms, s, min, h"):
        log("0,80", "1,80", ticks="d")


def test_what_no_log_lasts_counts_since_1970_in_the_unit_named():
    seconds = [log(f"{n},80", f"{n + 1},80", head="Time (s),T °C").samples[0].at for n in (10**9 - 2, 10**9)]
    parts = [log(f"{n},80", f"{n + 1},80", head="Time (ms),T °C").samples[0].at for n in (10**12 - 2, 10**12)]

    assert [one.year for one in seconds] == [one.year for one in parts] == [2031, 2001]
    bare = [log(f"{n},80", f"{n + 1000},80").samples[0].at for n in (10**9 - 2000, 10**9, 10**12)]
    assert [one.year for one in bare] == [2031, 2001, 2001]


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("\ufeffTime,T °C\n\n5,80\n500,80\n90000,80\n\n", 89_995),
        ("Time (s),T °C\n0,80\n90,80", None),
        ("Time,T °C\n10:00,80\n90,80", None),
        ("Time,T °C\n0,80\n10:00,80", None),
        ("Time,T °C\n0,80\n999999999,80", 999_999_999),
        ("Time,T °C\n0,80\n1000000000,80", None),
    ],
)
def test_what_a_bare_count_spans_is_told_so_that_its_unit_can_be_asked(text, counts):
    assert templog.counted(text, templog.head_of(text), 0) == counts


def test_a_row_without_the_column_and_a_column_that_is_not_there_count_nothing():
    text = "T °C,Time\n80\n80,5"
    head = templog.head_of(text)

    assert [templog.counted(text, head, place) for place in (1, -1, 2)] == [None] * 3


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(90, "90 s"), (F("0.5"), "0.5 s"), (F("119.5"), "119.5 s"), (120, "2.0 min"), (7_199, "120.0 min"),
     (7_200, "2.0 h"), (3_600_000, "1,000.0 h")],
)  # fmt: skip
def test_a_length_is_told_in_a_unit_that_suits_it(seconds, words):
    assert templog.length(F(seconds)) == words
