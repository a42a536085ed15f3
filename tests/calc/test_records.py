"""Keeping, particle codes, used oil. Sources: ISO 4406 scale table; 40 CFR 279.10, 279.22, 279.53, 279.63."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, records


@pytest.mark.parametrize(
    ("start", "years", "until"),
    [
        ("2026-11-24", 3, "2029-11-24"),
        ("2024-02-29", 1, "2025-02-28"),
        ("2024-02-29", 4, "2028-02-29"),
        ("2026-11-24", 0, "2026-11-24"),
    ],
)
def test_a_record_is_kept_to_the_same_day(start, years, until):
    assert records.retention_until(date.fromisoformat(start), years) == date.fromisoformat(until)


@pytest.mark.parametrize("years", [-1, 8000])
def test_years_that_cannot_be_kept_are_refused(years):
    with pytest.raises(errors.OutOfRange):
        records.retention_until(date(2026, 11, 24), years)


@pytest.mark.parametrize(
    ("counts", "code"),
    [
        (("2500", "320", "40"), "18/15/12"),
        (("2500.01", "320.01", "40.01"), "19/16/13"),
        (("2500000", "2500000", "2500000"), "28/28/28"),
        (("2500001", "0.01", "0"), ">28/0/0"),
        (("0.02", "0.011", "0.01"), "1/1/0"),
    ],
)
def test_a_scale_number_holds_its_own_limit(counts, code):
    assert records.iso4406_code(*map(Fraction, counts)) == code


@given(st.integers(1, 28))
def test_each_scale_number_is_about_twice_the_one_before(number):
    ratio = records.SCALE_LIMITS[number] / records.SCALE_LIMITS[number - 1]

    assert Fraction(19, 10) <= ratio <= Fraction(21, 10)


def test_counts_fall_with_size_and_are_not_negative():
    with pytest.raises(errors.BadCounts):
        records.iso4406_code(500, 2000, 50)
    with pytest.raises(errors.BadCounts):
        records.iso4406_code(500, 50, 51)
    with pytest.raises(errors.OutOfRange):
        records.iso4406_code(5, 2, -1)


@pytest.mark.parametrize(
    ("ppm", "role", "is_presumed"),
    [
        (1000, "generator", False),
        (1001, "generator", True),
        (1000, "processor", True),
        (1000, "burner", True),
        (999, "burner", False),
        (0, "processor", False),
    ],
)
def test_halogens_make_used_oil_presumed_hazardous(ppm, role, is_presumed):
    assert records.used_oil_presumption(Fraction(ppm, 10**6), role) is is_presumed


def test_roles_places_and_contents_that_do_not_exist_are_refused():
    with pytest.raises(errors.OutOfRange):
        records.used_oil_presumption(Fraction(-1, 10**6))
    with pytest.raises(errors.UnknownChoice):
        records.used_oil_presumption(0, "carrier")
    with pytest.raises(errors.UnknownChoice):
        records.used_oil_label("bucket")


@pytest.mark.parametrize("place", ["container", "aboveground_tank", "underground_fill_pipe"])
def test_the_label_is_the_two_words_of_the_rule(place):
    assert records.used_oil_label(place) == "Used Oil"


def test_the_last_year_of_the_calendar_is_still_a_year():
    assert records.retention_until(date(9998, 2, 3), 1) == date(9999, 2, 3)
