"""Temperature logs: what is named, what counts, how it is weighed.

Sources: arithmetic of straight lines; the exact integral of the wear along a line (logarithmic mean), worked out here.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors, intervals, templog

F = Fraction
HEAD = "Time,Sump °C"


def log(*rows, head=HEAD, **asked):
    text = "\n".join([head, *rows])
    return templog.read(text, templog.head_of(text), **asked)


def every(seconds, *degrees):
    """Samples at an even pace from midnight."""
    begin = datetime(2026, 11, 24, tzinfo=UTC)
    return [templog.Sample(n + 2, begin + timedelta(seconds=n * seconds), F(t)) for n, t in enumerate(degrees)]


@pytest.mark.parametrize(
    ("head", "found"),
    [
        ("Time,Sump °C", (",", 0, 1, "degC")),
        ("temp_f;datetime", (";", 1, 0, "degF")),
        ('"Date"\t"Fluid temperature"', ("\t", 0, 1, None)),
        ("t,Outside temp °C,Sump temp °C", (",", None, None, None)),
        ("Time,x", (",", 0, None, None)),
        ("start time,end time,sump temp (C)", (",", None, 2, "degC")),
        ("\ufeffTime,Temp [F]", (",", 0, 1, "degF")),
    ],
)
def test_the_head_names_columns_and_unit(head, found):
    said = templog.head_of(f"\n{head}\n1,2\n")

    assert (said.delimiter, said.time, said.heat, said.unit) == found


def test_names_stand_without_quotes_and_blanks():
    assert templog.head_of('"Time" , "Temp"\n1,2').names == ("Time", "Temp")


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "a line of column names"), ("Time,Temp °C\n\n", "a line of column names"), ("Time\n1\n", "one column")],
)
def test_a_file_that_is_no_log_is_refused(text, words):
    with pytest.raises(errors.MissingInput, match=words):
        templog.head_of(text)


def test_a_plain_log_counts_all_of_its_lines():
    found = log("2026-11-24 10:00:00,80", "2026-11-24T10:00:10.5,80.5", "", "2026-11-24 10:00:20,−1")

    assert [(one.line, one.celsius) for one in found.samples] == [(2, F(80)), (3, F("80.5"))]
    assert found.samples[1].at - found.samples[0].at == timedelta(seconds=10.5)
    assert found.faults == (templog.Fault(5, "-81.5 K since line 3 is faster than fluid can change."),)
    assert found.gaps == ()


def test_seconds_since_the_start_are_a_time_too():
    found = log("0,80", "2.5,81")

    assert found.samples[1].at - found.samples[0].at == timedelta(seconds=2.5)
    assert found.samples[0].at == datetime(2000, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("typed", "order", "moment"),
    [
        ("11/24/2026 10:42:05", "mdy", (2026, 11, 24, 10, 42, 5, 0)),
        ("24.11.2026 10:42", "dmy", (2026, 11, 24, 10, 42, 0, 0)),
        ("3/4/2026 1:02:03.5 PM", "mdy", (2026, 3, 4, 13, 2, 3, 500_000)),
        ("3/4/2026 12:00:00 AM", "dmy", (2026, 4, 3, 0, 0, 0, 0)),
        ("3/4/2026T12:00:00pm", "mdy", (2026, 3, 4, 12, 0, 0, 0)),
        ("23:59:59.1234567", "mdy", (2000, 1, 1, 23, 59, 59, 123_456)),
        ("2026-11-24T10:42:05+02:00", "mdy", (2026, 11, 24, 10, 42, 5, 0)),
    ],
)
def test_a_time_is_read_as_loggers_write_it(typed, order, moment):
    later = "12/31/2099 10:00" if order == "mdy" else "31.12.2099 10:00"

    assert log(f"{typed},80", f"{later},80", order=order).samples[0].at == datetime(*moment, tzinfo=UTC)


@pytest.mark.parametrize(
    ("typed", "order"),
    [
        ("24/11/2026 10:42", "mdy"),
        ("11/24/2026 10:42", "dmy"),
        ("11/24/2026 13:00 PM", "mdy"),
        ("11/24/2026 0:30 AM", "mdy"),
        ("11/24/2026 24:00", "mdy"),
        ("11/24/26 10:00", "mdy"),
        ("10:60", "mdy"),
    ],
)
def test_a_time_that_cannot_be_is_named(typed, order):
    found = log(f"{typed},80", "1,80", "2,80", order=order)

    assert "is no time; written like 2026-11-24 10:42:00, 11/24/2026 10:42:00 AM" in found.faults[0].why


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("90.5", "90.5 s"),
        ("999999999", "2031-09-09 01:46:39"),
        ("1000000000", "2001-09-09 01:46:40"),
        ("1795516925", "2026-11-24 10:42:05"),
        ("999999999999", "33658-09-27 01:46:39"),
        ("1795516925123", "2026-11-24 10:42:05"),
    ],
)
def test_counted_times_are_since_the_start_or_since_1970(typed, words):
    head = "Time,Temp °C"
    if len(words) > 19:  # beyond the calendar
        assert log(f"{typed},80", "1,80", "2,80", head=head).faults[0].line == 2
        return
    found = log(f"{typed},80", "9000000000000,80", head=head)

    assert templog.said(found.samples[0].at) == words


TYPED = st.text(st.sampled_from('0123456789-:/.,;T +°CFa\t\n"x'), max_size=80)


@settings(max_examples=60)
@given(TYPED, TYPED, st.sampled_from(templog.UNITS), st.sampled_from(templog.ORDERS))
def test_whatever_is_in_a_file_is_read_or_refused_by_name(head, text, unit, order):
    try:
        found = templog.read(
            f"{head}\n{text}", templog.head_of(f"{head}\n{text}"), time=0, heat=1, unit=unit, order=order
        )
        strips = templog.strips(found.samples)
    except errors.CalcError:
        return

    assert all(-45 <= one.celsius <= 180 for one in found.samples)
    assert all(one.seconds >= 0 for one in strips)


@given(st.text(max_size=20), st.text(max_size=12))
def test_whatever_is_in_a_line_is_a_sample_or_a_fault(time, heat):
    found = log("0;80", f"{time};{heat}".replace("\n", " "), "4000;80", head="Time;Temp °C")

    assert len(found.samples) + len(found.faults) >= 2


def test_fahrenheit_is_read_as_such():
    assert log("0,176", "10,212", head="Time,Temp °F").samples[0].celsius == 80
    assert log("0,176", "99,212", head="Time,Temp", unit="degF").samples[1].celsius == 100


@pytest.mark.parametrize(
    ("row", "why"),
    [
        ("noon,80", "“noon” is no time"),
        ("1e9,80", "is no time"),
        ("999999999999999.0,80", "is no time"),
        ("9999999999999999,80", "is no time"),
        ("60", "it has 1 values"),
        ("60,warm", "“warm” is no temperature"),
        ("60,", "“” is no temperature"),
        ("60,8e1", "is no temperature"),
        ("60,80.x", "is no temperature"),
        ("60,80.", "is no temperature"),
        ("60,1000000000000.0", "1000000000000.0 °C cannot be"),
        ("60,٨٠", "is no temperature"),
        ("60,-45.1", "-45.1 °C cannot be; a sump has -45 to 180 °C (-49 to 356 °F)."),
        ("60,180.1", "180.1 °C cannot be"),
        ("10,70", "its time is not later than that of line 2."),
        ("9,70", "its time is not later than that of line 2."),
        ("20,90.1", "+20.1 K since line 2 is faster than fluid can change."),
    ],
)
def test_each_line_that_cannot_be_is_named_with_its_reason(row, why):
    found = log("10,70", row, "100,70")

    assert [one.line for one in found.faults] == [3]
    assert why in found.faults[0].why
    assert [one.line for one in found.samples] == [2, 4]


def test_a_line_is_named_in_the_unit_of_its_file():
    assert log("0,176", "60,999.0", "120,176", head="Time,Temp °F").faults[0].why.startswith("999.0 °F cannot be")


@pytest.mark.parametrize("row", ["20,90", "20,50", "200,-45", "610,180", "11,+71,5"])
def test_the_bounds_themselves_count(row):
    found = log("10;70", row.replace(",", ";", 1), "900;70", head="Time;Temp °C")

    assert found.faults == ()
    assert len(found.samples) == 3


def test_after_a_gap_the_fluid_may_have_any_temperature():
    assert log("0,80", "601,10").gaps == ((3, F(601)),)
    assert log("0,80", "600,10").gaps == ()
    assert log("0,80", "600,10").faults == ()


@pytest.mark.parametrize(
    ("asked", "error", "words"),
    [
        ({"time": 2}, errors.UnknownChoice, "no column 3 for the time"),
        ({"heat": -1}, errors.UnknownChoice, "no column 0 for the temperature"),
        ({"unit": "K"}, errors.UnknownUnit, "'K' is no unit of a log"),
        ({"unit": "degC", "order": "ymd"}, errors.UnknownChoice, "'ymd' is no order of a day"),
        ({}, errors.MissingInput, "whether it is in °C or in °F"),
    ],
)
def test_what_is_asked_must_be_there(asked, error, words):
    with pytest.raises(error, match=words):
        log("0,80", "1,80", head="Time,Temp", **asked)


def test_which_column_is_asked_where_the_head_does_not_say():
    rows = ("0,5,80", "1,5,81")

    with pytest.raises(errors.MissingInput, match="Which column is the temperature cannot be told from"):
        log(*rows, head="Time,Air temp °C,Sump temp °C")
    with pytest.raises(errors.MissingInput, match="Which column is the time"):
        log(*rows, head="a,b,Sump temp °C")
    assert log(*rows, head="Time,Air temp °C,Sump temp °C", heat=2).samples[1].celsius == 81
    assert log(*rows, head="a,b,Sump temp °C", time=0).samples[1].celsius == 81


def test_two_lines_must_count():
    with pytest.raises(errors.InsufficientReadings, match=r"1 of 2 lines count; two are needed. Line 3: “x” is no"):
        log("0,80", "1,x")
    with pytest.raises(errors.InsufficientReadings, match=r"1 of 1 lines count; two are needed.$"):
        log("0,80")


def test_a_log_has_an_end(monkeypatch):
    monkeypatch.setattr(templog, "MOST_ROWS", 2)

    assert len(log("0,80", "1,80").samples) == 2
    with pytest.raises(errors.OutOfRange, match="more than 2 rows"):
        log("0,80", "1,80", "2,80")


def test_a_straight_line_spends_its_time_evenly_in_the_steps():
    found = templog.strips(every(80, 80, 100))

    assert found == tuple(templog.Strip(low, F(20), F(low) + F("2.5")) for low in (80, 85, 90, 95))
    assert templog.strips(every(80, 100, 80)) == found
    assert templog.bins_of(found)[0] == (F(1, 4), F("82.5"))


def test_a_constant_temperature_is_one_step_even_on_its_edge():
    assert templog.strips(every(10, 85, 85)) == (templog.Strip(85, F(10), F(85)),)
    assert templog.strips(every(10, 82, 84)) == (templog.Strip(80, F(10), F(83)),)
    assert templog.strips(every(10, 80, 85)) == (templog.Strip(80, F(10), F("82.5")),)
    assert templog.strips(every(30, 84, 87)) == (
        templog.Strip(80, F(10), F("84.5")),
        templog.Strip(85, F(20), F(86)),
    )
    assert templog.strips(every(10, -3, -1)) == (templog.Strip(-5, F(10), F(-2)),)


def test_time_in_gaps_does_not_count():
    one, other = every(601, 80, 90)
    third = templog.Sample(4, other.at + timedelta(seconds=60), F(90))

    assert templog.strips([one, other, third]) == (templog.Strip(90, F(60), F(90)),)
    with pytest.raises(errors.InsufficientReadings, match="more than 10 minutes"):
        templog.strips([one, other])
    assert templog.strips(every(600, 80, 80))[0].seconds == 600


def test_no_time_has_no_shares():
    with pytest.raises(errors.InsufficientReadings, match="no time that counts"):
        templog.bins_of([])


DEGREES = st.lists(st.integers(40, 130), min_size=2, max_size=12)


@settings(max_examples=40)
@given(DEGREES)
def test_all_of_the_time_is_in_some_step_and_the_mean_is_kept(degrees):
    found = templog.strips(every(60, *degrees))

    assert sum(one.seconds for one in found) == 60 * (len(degrees) - 1)
    assert sum(share for share, _ in templog.bins_of(found)) == 1
    ends = sum(F(a + b, 2) for a, b in pairwise(degrees)) / (len(degrees) - 1)
    assert float(templog.mean(found)) == pytest.approx(float(ends), abs=1e-6)  # edges at whole microseconds
    assert all(one.low_c <= one.mean_c <= one.low_c + 5 for one in found)


@settings(max_examples=40)
@given(DEGREES)
def test_the_steps_wear_as_the_lines_between_the_samples_do(degrees):
    """Along a straight line the mean of 2^(T/step) is the logarithmic mean of its ends; steps of 5 K lose 0.5 %."""
    wear = [2 ** ((t - 79.4) / 11.1) for t in degrees]
    exact = math.fsum(a if a == b else (b - a) / math.log(b / a) for a, b in pairwise(wear)) / (len(wear) - 1)
    found = math.fsum(
        float(s) * 2 ** ((float(t) - 79.4) / 11.1) for s, t in templog.bins_of(templog.strips(every(60, *degrees)))
    )

    assert found == pytest.approx(exact, rel=5e-3)


@settings(max_examples=40)
@given(DEGREES, st.integers(1, 20))
def test_a_cooler_log_never_wears_more(degrees, kelvin):
    warm, cool = (
        intervals.thermal_factor(templog.bins_of(templog.strips(every(60, *(t - less for t in degrees)))))
        for less in (0, kelvin)
    )

    assert cool <= warm


def test_the_time_that_counts_its_mean_and_the_days_of_a_log():
    text = "Time,Sump °C\n2026-11-20 23:50:00,80\n2026-11-21 00:00:00,100\n2026-11-21 00:05:00,100"
    log = templog.read(text, templog.head_of(text))
    steps = templog.strips(log.samples)

    assert templog.duration(steps) == 900
    assert templog.mean(steps) == (600 * 90 + 300 * 100) / Fraction(900)
    assert templog.days_of(log) == (date(2026, 11, 20), date(2026, 11, 21))
    own = "Time,Sump °C\n0,80\n60,80"
    assert templog.days_of(templog.read(own, templog.head_of(own))) is None
