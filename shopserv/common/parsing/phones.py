"""Typed telephone numbers, by the numbering plans that the library `phonenumbers` keeps."""

from __future__ import annotations

import re
from dataclasses import dataclass

import phonenumbers
from django.utils.translation import gettext as _

from shopserv.common.parsing import numbers
from shopserv.common.parsing.numbers import FieldError

_TOO = {
    phonenumbers.ValidationResult.TOO_SHORT: "short",
    phonenumbers.ValidationResult.IS_POSSIBLE_LOCAL_ONLY: "short",
    phonenumbers.ValidationResult.TOO_LONG: "long",
}
_SIGNS = re.compile(r"[0-9+()./\- ]+((ext\.?|x|extension) ?\d{1,7})?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Phone:
    """A number in E.164, its extension or "", and what was typed."""

    e164: str
    extension: str
    as_typed: str


def phone(typed: str, *, country: str = "US") -> Phone:
    """A number that can be dialed, of `country` where it has no country code.

    raises  FieldError phone.missing, phone.invalid
    """
    text = numbers.clean(typed)
    if not text:
        raise FieldError("phone.missing", _("Nothing was typed. A telephone number is needed."))
    if len(text) > numbers.LONGEST or not _SIGNS.fullmatch(text):
        words = _("Allowed are digits, blanks, + ( ) - . / and “ext.” with an extension. Leave the rest out.")
        raise FieldError("phone.invalid", words)
    try:
        number = phonenumbers.parse(text, country)
    except phonenumbers.NumberParseException as cause:
        raise FieldError("phone.invalid", _too_short(country)) from cause
    result = phonenumbers.is_possible_number_with_reason(number)
    if result != phonenumbers.ValidationResult.IS_POSSIBLE:
        is_long = _TOO.get(result) == "long"
        raise FieldError("phone.invalid", _too_long(country) if is_long else _too_short(country))
    extension = number.extension or ""
    number.extension = None
    return Phone(phonenumbers.format_number(number, phonenumbers.PhoneNumberFormat.E164), extension, text)


def phone_words(e164: str, *, country: str = "US") -> str:
    """A number in E.164 as people of `country` read it; another country's with its code."""
    number = phonenumbers.parse(e164, country)
    ours = phonenumbers.country_code_for_region(country) == number.country_code
    style = phonenumbers.PhoneNumberFormat.NATIONAL if ours else phonenumbers.PhoneNumberFormat.INTERNATIONAL
    return phonenumbers.format_number(number, style)


def _too_short(country: str) -> str:
    words = _(
        "Too short for a number of %(country)s. Type it with its area code, or keep it as given: nothing is sent to it."
    )
    return words % {"country": country}


def _too_long(country: str) -> str:
    words = _(
        "Too long for a number of %(country)s. Begin with + and the country code, or leave out what does not belong."
    )
    return words % {"country": country}
