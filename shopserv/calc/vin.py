"""Vehicle numbers by 49 CFR 565.15: normal form, check digit, model year."""

from __future__ import annotations

import re

from shopserv.calc.errors import BadVinCharacter, BadVinLength, BadYearCode

VALUES = dict(zip("ABCDEFGHJKLMNPRSTUVWXYZ", (1, 2, 3, 4, 5, 6, 7, 8, 1, 2, 3, 4, 5, 7, 9, *range(2, 10)), strict=True))
VALUES |= {str(digit): digit for digit in range(10)}
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"
FIRST_YEAR, CYCLE = 1980, 30
CLASSES = ("light", "other")
SHORT = re.compile(r"[A-Z0-9]{5,16}", re.ASCII)
OLD_BEFORE = 1981


def normal_form(typed: str) -> str:
    """The number in capitals without blanks and hyphens."""
    return re.sub(r"[\s-]", "", typed).upper()


def check_digit(vin: str) -> str:
    """The check digit that position 9 should show; position 9 itself is not read.

    returns   0 to 9 or X
    raises    BadVinLength, BadVinCharacter
    source    49 CFR 565.15(c), tables III to V
    check     1M8GDM9A_KP042788: X
    """
    plain = normal_form(vin)
    if len(plain) != 17:
        raise _bad_length(plain)
    for place, sign in enumerate(plain, 1):
        if place != 9 and sign not in VALUES:
            raise BadVinCharacter(f"{sign!r} at position {place} is never used in a VIN.")
    total = sum(VALUES[sign] * weight for sign, weight in zip(plain, WEIGHTS, strict=True) if weight)
    return "X" if total % 11 == 10 else str(total % 11)


def model_years(vin: str, vehicle_class: str) -> list[int]:
    """The model years that position 10 stands for, rising.

    vehicle_class   light (passenger car, or multipurpose vehicle or truck up to 4,536 kg): position 7 tells the cycle;
                    other: both years
    raises          BadVinLength, BadVinCharacter, BadYearCode
    source          49 CFR 565.15(d)(1), table VI
    """
    check_digit(vin)
    plain = normal_form(vin)
    if plain[9] not in YEAR_CODES:
        raise BadYearCode(f"{plain[9]!r} at position 10 stands for no model year.")
    first = FIRST_YEAR + YEAR_CODES.index(plain[9])
    if vehicle_class == "light":
        return [first if plain[6].isdigit() else first + CYCLE]
    return [first, first + CYCLE]


def status(vin: str, model_year: int | None = None) -> str:
    """Whether the number holds: ok, check_digit_differs, or pre_1981_short for an old one of 5 to 16 signs.

    raises   BadVinCharacter, BadVinLength
    source   49 CFR 565.15; before 1981 there was no common form
    """
    plain = normal_form(vin)
    if len(plain) == 17:
        for place, sign in enumerate(plain, 1):
            if sign not in VALUES:
                raise BadVinCharacter(f"{sign!r} at position {place} is never used in a VIN.")
        return "ok" if check_digit(plain) == plain[8] else "check_digit_differs"
    if model_year is not None and model_year < OLD_BEFORE and SHORT.fullmatch(plain):
        return "pre_1981_short"
    raise _bad_length(plain)


def _bad_length(plain: str) -> BadVinLength:
    return BadVinLength(f"{len(plain)} characters were given; a VIN has 17.")


def world_maker(vin: str) -> str:
    """The first three signs, which name the maker; "" for a number that is too short."""
    plain = normal_form(vin)
    return plain[:3] if len(plain) == 17 else ""
