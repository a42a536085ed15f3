"""What every typed figure has in common: which signs it may have, and what its commas and points mean.

A figure is refused rather than guessed at: "7,4" may be 7.4 or 74, and a factor of ten is a wrong fill.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

LONGEST = 60  # characters; the rest is no figure
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2007\u2009\u202f\t"), " ")
_MINUS = {ord("−"): "-", ord("–"): "-"}
_EXPONENT = re.compile(r"([+-]?\d+(?:[.,]\d+)?)\s*[eE]\s*([+-]?\d+)")
_FIGURE = re.compile(r"[+-]?\s?[\d][\d.,' ]*|[+-]?\s?[.,]\d+")
HUGE_EXPONENT = 9


class FieldError(ValueError):
    """Why a typed text is not taken: cause, then what would do.

    code     part of the interface, e.g. "money.places"
    message  a sentence or two in the reader's language, without the name of the field
    """

    def __init__(self, code: str, message: str) -> None:
        super().__init__(message)
        self.code, self.message = code, message


@dataclass(frozen=True, slots=True)
class Split:
    """A figure and the words after it (or the sign of money before it)."""

    figure: str
    words: str


def clean(typed: str) -> str:
    """`typed` with plain spaces and a plain minus, none at its ends."""
    return typed.translate(_SPACES).translate(_MINUS).strip()


def split(typed: str, kind: str) -> Split:
    """Take `typed` apart into figure and unit.

    raises  FieldError <kind>.missing, <kind>.format
    """
    text = clean(typed)
    if not text:
        raise FieldError(f"{kind}.missing", _("Nothing was typed. A number is needed."))
    if len(text) > LONGEST:
        raise FieldError(f"{kind}.format", _("Too long for a number. Type digits only."))
    if any(c.isdigit() and not c.isascii() for c in text):
        raise FieldError(f"{kind}.format", _("“%(typed)s” has other digits than 0-9. Use 0-9.") % {"typed": text})
    exponent = _EXPONENT.match(text)
    found = exponent or _FIGURE.match(text)
    if not found:
        raise FieldError(f"{kind}.format", _("“%(typed)s” is not a number. A number is needed.") % {"typed": text})
    words = text[found.end() :].strip()
    if any(c.isdigit() for c in words):
        raise FieldError(f"{kind}.format", _("“%(typed)s” holds two values. One value is needed.") % {"typed": text})
    return Split(found.group().strip(), words)


def exponent_of(figure: str) -> Decimal | None:
    """The value of a figure in exponent form, cut to ±10 ** HUGE_EXPONENT; None for any other figure."""
    found = _EXPONENT.fullmatch(figure)
    if not found:
        return None
    mantissa = Decimal(found[1].replace(",", "."))
    power = int(found[2]) if len(found[2]) < 8 else (-HUGE_EXPONENT if found[2][0] == "-" else HUGE_EXPONENT)
    return mantissa.scaleb(max(-HUGE_EXPONENT, min(HUGE_EXPONENT, power)))


def decimal(figure: str, kind: str, *, sign: str = ".", places: int = 3, example: str = "1,234.5") -> Decimal:
    """The value of a figure without exponent.

    sign      decimal sign of the place: "." or ","
    places    how many places after it may be typed
    raises    FieldError <kind>.format, <kind>.ambiguous (a single group that may be a fraction), <kind>.places
    """
    other = "," if sign == "." else "."
    dot, group = re.escape(sign), re.escape(other)
    plain = figure.replace("'", " ").lstrip("+").replace("- ", "-").strip()
    if re.fullmatch(rf"-?\d{{1,3}}(([{group} ])\d{{3}}(\2\d{{3}})*)?({dot}\d+)?|-?\d*{dot}\d+|-?\d+{dot}?", plain):
        value = Decimal(re.sub(rf"[{group} ]", "", plain).replace(sign, "."))
        if -int(value.as_tuple().exponent) > places:
            raise FieldError(f"{kind}.places", _places_words(figure, places))
        return value
    if re.fullmatch(rf"-?\d+{group}\d+", plain):
        fraction, joined = plain.replace(other, sign), plain.replace(other, "")
        words = _("Is %(a)s or %(b)s meant by “%(typed)s”? Type it with “%(sign)s” before the decimals.")
        raise FieldError(f"{kind}.ambiguous", words % {"a": fraction, "b": joined, "typed": figure, "sign": sign})
    words = _("“%(typed)s” is not written as a number is here. Write it as %(example)s.")
    raise FieldError(f"{kind}.format", words % {"typed": figure, "example": example})


def _places_words(figure: str, places: int) -> str:
    if not places:
        return _("“%(typed)s” has places after the point. A whole number is needed.") % {"typed": figure}
    words = _("“%(typed)s” has more than %(places)s places after the point. It was not rounded; type at most so many.")
    return words % {"typed": figure, "places": places}
