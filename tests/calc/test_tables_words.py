"""Words that files, forms and stored sums use: each is understood, and no other."""

from __future__ import annotations

import pytest

from shopserv.calc import bench, errors, templog
from shopserv.calc.working import From


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("Sump °C", "degC"),
        ("Sump degC", "degC"),
        ("temp (C)", "degC"),
        ("temp [C]", "degC"),
        ("temp_c", "degC"),
        ("temp C", "degC"),
        ("Temperature Celsius", "degC"),
        ("Sump °F", "degF"),
        ("Sump degF", "degF"),
        ("temp (F)", "degF"),
        ("temp [F]", "degF"),
        ("temp_f", "degF"),
        ("temp F", "degF"),
        ("Temperature Fahrenheit", "degF"),
        ("temp", None),
        ("temp in Kelvin", None),
    ],
)
def test_the_column_of_temperature_is_known_by_its_name_and_its_unit_by_the_end(name, unit):
    head = templog.head_of(f"Number,{name},Time\n1,80,0\n")

    assert (head.time, head.heat, head.unit) == (2, 1, unit)


@pytest.mark.parametrize("name", ["Time", "date", "Stamp"])
def test_the_column_of_time_is_known_by_its_name(name):
    assert templog.head_of(f"number;temp;{name}\n1;80;0\n").time == 2


@pytest.mark.parametrize("name", ["Sump", "oil c", "warm"])
def test_another_word_names_no_temperature(name):
    assert templog.head_of(f"time,{name}\n0,80\n").heat is None


def test_a_log_of_more_than_50000_rows_is_refused_before_it_is_read():
    text = "time,temp C\n" + "0,80\n" * 50_001

    with pytest.raises(errors.OutOfRange, match="more than 50,000 rows"):
        templog.read(text, templog.head_of(text))


def test_where_values_come_from_is_stored_by_these_words():
    assert [str(one) for one in From] == [
        "measured",
        "read",
        "typed",
        "unit sheet",
        "product sheet",
        "instrument",
        "house rules",
        "terms",
        "law",
        "published",
        "modeled",
        "assumed",
        "computed",
    ]


def test_the_formula_of_a_level_says_when_it_passes():
    # twice the uncertainty within half the band between the marks: as the words of the verdict say, too
    assert [one for one in bench.BUDGET_FORMULAS if r"\le" in one] == [r"2u \le \tfrac12 (V_{high} - V_{low})"]
