"""Vehicle numbers. Sources: 49 CFR 565.15(c) and (d) with synthetic numbers; vininfo as another hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from shopserv.calc import errors, vin

SIGNS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"
NUMBERS = st.text(SIGNS, min_size=17, max_size=17)


@pytest.mark.parametrize(
    ("number", "digit"),
    [
        ("11111111111111111", "1"),
        ("0AB01CD2*AK000123", "2"),
        ("0stu vwx8 *zk900123", "8"),
        ("0BRTK1A4-*-EB000028", "X"),
    ],
)
def test_synthetic_numbers_have_these_check_digits(number, digit):
    assert vin.check_digit(number) == digit


@given(NUMBERS)
def test_another_library_agrees_on_the_check_digit(number):
    number = f"0{number[1:]}"  # no maker's numbers begin so, and the library knows makers that have no check digit
    right = number[:8] + vin.check_digit(number) + number[9:]

    assert Vin(right).verify_checksum(check_year=False)
    assert vin.status(right) == "ok"


@given(NUMBERS, st.integers(0, 16), st.sampled_from(SIGNS))
def test_one_wrong_sign_shows_unless_it_counts_alike(number, place, sign):
    right = number[:8] + vin.check_digit(number) + number[9:]
    wrong = right[:place] + sign + right[place + 1 :]
    counts_alike = place != 8 and (vin.VALUES[right[place]] - vin.VALUES[sign]) * vin.WEIGHTS[place] % 11 == 0

    assert (vin.status(wrong) == "ok") is (counts_alike or sign == right[place])


@pytest.mark.parametrize(
    ("number", "error"),
    [
        ("0AB01CD2*AK00012", errors.BadVinLength),
        ("0AB01CD2*AK0001234", errors.BadVinLength),
        ("0AB01CO2*AK000123", errors.BadVinCharacter),
        ("0AB01CI2*AK000123", errors.BadVinCharacter),
        ("0AB01CQ2*AK000123", errors.BadVinCharacter),
        ("0AB01C*2*AK000123", errors.BadVinCharacter),
        ("0AB01C٢2*AK000123", errors.BadVinCharacter),
        ("", errors.BadVinLength),
    ],
)
def test_what_is_no_vehicle_number_has_no_check_digit(number, error):
    with pytest.raises(error):
        vin.check_digit(number)


def number_with(seventh, tenth):
    return f"0AB01C{seventh}20{tenth}K000123"


@pytest.mark.parametrize(
    ("code", "first"), [("A", 1980), ("H", 1987), ("J", 1988), ("Y", 2000), ("1", 2001), ("9", 2009)]
)
def test_the_tenth_sign_stands_for_a_year_in_each_cycle(code, first):
    """49 CFR 565.15, table VII."""
    assert vin.model_years(number_with("5", code), "light") == [first]
    assert vin.model_years(number_with("D", code), "light") == [first + 30]
    assert vin.model_years(number_with("5", code), "other") == [first, first + 30]


@pytest.mark.parametrize("code", "UZ0")
def test_three_signs_stand_for_no_year(code):
    with pytest.raises(errors.BadYearCode):
        vin.model_years(number_with("5", code), "other")


def test_the_number_itself_is_looked_at_before_the_year():
    with pytest.raises(errors.BadVinCharacter):
        vin.model_years("IAB01C520UK000123", "light")


@pytest.mark.parametrize(
    ("number", "year", "found"),
    [
        ("0A1234567", 1972, "pre_1981_short"),
        ("OIQ12", 1980, "pre_1981_short"),
        ("0ab01cd22ak000123", None, "ok"),
        ("0AB01CD23AK000123", 1972, "check_digit_differs"),
    ],
)
def test_the_state_of_a_number(number, year, found):
    assert vin.status(number, year) == found


@pytest.mark.parametrize(
    ("number", "year", "error"),
    [
        ("0A1234567", 1981, errors.BadVinLength),
        ("0A1234567", None, errors.BadVinLength),
        ("0A12", 1972, errors.BadVinLength),
        ("0A1234567/", 1972, errors.BadVinLength),
        ("0BRTK1A4OEB000028", None, errors.BadVinCharacter),
        ("0AB01CD2*AK000123", None, errors.BadVinCharacter),
    ],
)
def test_what_is_no_number_is_refused(number, year, error):
    with pytest.raises(error):
        vin.status(number, year)


@pytest.mark.parametrize(("number", "place"), [("QBRTK1A48EB000028", 1), ("0BRTK1A4OEB000028", 9)])
def test_the_sign_that_cannot_be_is_named_with_its_place(number, place):
    with pytest.raises(errors.BadVinCharacter, match=f"'[QO]' at position {place} "):
        vin.status(number)


def test_the_first_three_signs_name_the_maker():
    assert vin.world_maker("0ab 01cd2-2ak000123") == "0AB"
    assert vin.world_maker("0AB") == ""
