"""Typed readings, volumes, temperatures, amounts of money and percentages. One strict parser for each."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.utils.translation import gettext as _

from shopserv.calc import measures
from shopserv.calc.money import round_half_up
from shopserv.common.fields import LARGEST_CENTS
from shopserv.common.parsing import numbers
from shopserv.common.parsing.numbers import FieldError

LARGEST_READING = 9_999_999
LARGEST_ML = 200_000
DISTANCES = {"mi": "mi", "mile": "mi", "miles": "mi", "km": "km", "kms": "km", "kilometer": "km", "kilometers": "km"}
VOLUMES = {
    **dict.fromkeys(("qt", "qts", "quart", "quarts"), "qt"),
    **dict.fromkeys(("l", "liter", "liters", "litre", "litres"), "L"),
    **dict.fromkeys(("ml", "milliliter", "milliliters"), "mL"),
    **dict.fromkeys(("gal", "gallon", "gallons"), "gal"),
    **dict.fromkeys(("pt", "pint", "pints"), "pt"),
    **dict.fromkeys(("fl oz", "floz", "fl. oz."), "fl_oz"),
}
TEMPERATURES = {"f": "degF", "°f": "degF", "degf": "degF", "c": "degC", "°c": "degC", "degc": "degC"}
COLDEST_MDEGC, HOTTEST_MDEGC = -60_000, 300_000
CURRENCY_SIGNS = {"$": "USD", "€": "EUR", "£": "GBP"}


@dataclass(frozen=True, slots=True)
class Reading:
    """An odometer reading: the figure, its unit ("mi" or "km") and what was typed."""

    figure: int
    unit: str
    as_typed: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A volume: whole mL, the value and unit as read, and what was typed."""

    ml: int
    value: Decimal
    unit: str
    as_typed: str


def odometer(typed: str, *, unit: str = "mi", sign: str = ".") -> Reading:
    """What the instrument shows; whether it may follow the last reading is for logbook to say.

    unit    of the instrument, where none is typed
    sign    decimal sign of the place
    raises  FieldError odometer.missing, .format, .unit, .ambiguous, .range
    """
    parts = numbers.split(typed, "odometer")
    read_unit = DISTANCES.get(parts.words.lower()) if parts.words else unit
    if numbers.exponent_of(parts.figure) is not None:
        raise FieldError("odometer.format", _("“%(typed)s”: type digits only.") % {"typed": numbers.clean(typed)})
    if read_unit is None:
        words = _("“%(unit)s” is not a unit known here. Use mi or km.") % {"unit": parts.words}
        raise FieldError("odometer.unit", words)
    _refuse_two_readings(parts.figure, sign)
    figure = int(numbers.decimal(parts.figure, "odometer", sign=sign, places=0, example=_group("91240", sign)))
    if figure < 0:
        raise FieldError("odometer.range", _("A reading cannot be below zero. Type what the instrument shows."))
    if figure > LARGEST_READING:
        raise FieldError("odometer.range", _("The largest reading accepted is %(most)s.") % {"most": "9,999,999"})
    return Reading(figure, read_unit, numbers.clean(typed))


def _refuse_two_readings(figure: str, sign: str) -> None:
    """A decimal sign before three digits may be a thousand of another country."""
    if re.fullmatch(rf"\d{{1,3}}({re.escape(sign)}\d{{3}})+", figure):
        whole, joined = figure.split(sign)[0], _group(figure.replace(sign, ""), sign)
        words = _("Is %(a)s or %(b)s meant by “%(typed)s”? Type the whole figure without “%(sign)s”.")
        raise FieldError("odometer.ambiguous", words % {"a": joined, "b": whole, "typed": figure, "sign": sign})


def quantity(typed: str, *, unit: str | None = None, sign: str = ".") -> Quantity:
    """A volume above zero, as whole mL.

    unit    the unit printed beside the field ("qt", "L", "mL"); None where one must be typed
    raises  FieldError quantity.missing, .format, .unit, .unit_missing, .ambiguous, .places, .range
    """
    parts = numbers.split(typed, "quantity")
    name = _volume_unit(parts.words, unit)
    if (huge := numbers.exponent_of(parts.figure)) is not None:
        _refuse_size(huge, name)
        raise FieldError("quantity.format", _("“%(typed)s”: type it without an exponent.") % {"typed": parts.figure})
    value = numbers.decimal(parts.figure, "quantity", sign=sign, places=3)
    _refuse_size(value, name)
    return Quantity(measures.whole(_ml(value, name)), value, name, numbers.clean(typed))


def _volume_unit(words: str, unit: str | None) -> str:
    if not words:
        if unit is None:
            raise FieldError("quantity.unit_missing", _("The unit is missing. Add qt, L or mL."))
        return unit
    if found := VOLUMES.get(words.lower()):
        return found
    if re.search(r"[/;]| to ", words):
        raise FieldError("quantity.format", _("One value is needed, not two."))
    near = difflib.get_close_matches(words.lower(), VOLUMES, n=1, cutoff=0.5)
    offered = VOLUMES[near[0]] if near else _("qt, L or mL")
    said = _("“%(unit)s” is not a unit known here. Is %(offered)s meant?") % {"unit": words, "offered": offered}
    raise FieldError("quantity.unit", said)


def _refuse_size(value: Decimal, unit: str) -> None:
    if value < 0:
        words = _("A quantity below zero is only possible on a part return line. Add one, or leave the sign out.")
        raise FieldError("quantity.range", words)
    if value == 0:
        raise FieldError("quantity.range", _("A quantity above zero is needed, or the line is to be removed."))
    ml = _ml(value, unit)
    if ml > LARGEST_ML:
        raise FieldError("quantity.range", _("The largest quantity is 200 L (211.3 qt)."))
    if measures.whole(ml) == 0:
        raise FieldError("quantity.range", _("The smallest step is 1 mL (0.001 L)."))


def _ml(value: Decimal, unit: str) -> Fraction:
    return measures.convert(Fraction(value), unit, "mL")


def temperature(typed: str, *, unit: str = "degF", sign: str = ".") -> int:
    """Thousandths of a °C.

    unit    "degF" or "degC", where none is typed
    raises  FieldError temperature.missing, .format, .unit, .ambiguous, .places, .range
    """
    parts = numbers.split(typed, "temperature")
    name = TEMPERATURES.get(parts.words.lower().replace(" ", "")) if parts.words else unit
    if name is None:
        words = _("“%(unit)s” is not a unit known here. Use °F or °C.") % {"unit": parts.words}
        raise FieldError("temperature.unit", words)
    if numbers.exponent_of(parts.figure) is not None:
        words = _("“%(typed)s”: type it without an exponent.") % {"typed": parts.figure}
        raise FieldError("temperature.format", words)
    value = numbers.decimal(parts.figure, "temperature", sign=sign, places=1, example="107.6")
    exact = Fraction(value)
    mdegc = measures.f_to_mdegc(exact) if name == "degF" else measures.whole(exact * 1_000)
    if not COLDEST_MDEGC <= mdegc <= HOTTEST_MDEGC:
        words = _("%(typed)s is not between −76 and 572 °F (−60 and 300 °C). Read it once more.")
        raise FieldError("temperature.range", words % {"typed": numbers.clean(typed)})
    return mdegc


def money(typed: str, *, currency: str = "USD", sign: str = ".", may_be_negative: bool = False) -> int:
    """Whole cents of an amount in the currency of the business.

    raises  FieldError money.missing, .format, .places, .range, .currency
    """
    text = numbers.clean(typed)
    minus, text = ("-", text[1:].lstrip()) if text.startswith("-") else ("", text)
    named = CURRENCY_SIGNS.get(text[:1])
    parts = numbers.split(minus + (text[1:] if named else text), "money")
    named = named or CURRENCY_SIGNS.get(parts.words, parts.words.upper())
    if named and not re.fullmatch("[A-Z]{3}", named):
        raise FieldError("money.format", _money_form(typed, sign))
    if named and named != currency:
        words = _("The shop bills in %(ours)s and nothing is converted. Type the amount in %(ours)s.")
        raise FieldError("money.currency", words % {"ours": currency})
    cents = _cents(parts.figure, typed, sign)
    if cents < 0 and not may_be_negative:
        raise FieldError(
            "money.range", _("An amount cannot be below zero: a reduction goes in a discount line with a reason.")
        )
    if abs(cents) > LARGEST_CENTS:
        raise FieldError("money.range", _("The largest amount is %(most)s.") % {"most": "9,999,999.99"})
    return cents


def _cents(figure: str, typed: str, sign: str) -> int:
    if numbers.exponent_of(figure) is not None:
        raise FieldError("money.format", _money_form(typed, sign))
    try:
        return int(numbers.decimal(figure, "money", sign=sign, places=2) * 100)
    except FieldError as error:
        if error.code == "money.places":
            words = _("“%(typed)s”: amounts have two places, unit prices too. It was not rounded; type two places.")
            raise FieldError("money.places", words % {"typed": figure}) from error
        raise FieldError("money.format", _money_form(typed, sign)) from error


def _money_form(typed: str, sign: str) -> str:
    words = _("“%(typed)s” is not written as an amount is here. Write it as %(example)s.")
    return words % {"typed": numbers.clean(typed), "example": "1,234.56" if sign == "." else "1.234,56"}


def percent(typed: str, *, kind: str = "discount", most: int = 100, sign: str = ".") -> int:
    """Parts per million of a percentage; 4 places at most.

    kind    begins the codes: discount, tax, share
    raises  FieldError <kind>.missing, .format, .unit, .ambiguous, .places, .range
    """
    parts = numbers.split(typed, kind)
    if parts.words not in ("", "%"):
        raise FieldError(f"{kind}.unit", _("“%(unit)s” is not %%. Type a percentage.") % {"unit": parts.words})
    if numbers.exponent_of(parts.figure) is not None:
        raise FieldError(f"{kind}.format", _("“%(typed)s”: type it without an exponent.") % {"typed": parts.figure})
    value = numbers.decimal(parts.figure, kind, sign=sign, places=4, example="6.25")
    if not 0 <= value <= most:
        raise FieldError(f"{kind}.range", _percent_range(value, kind, most))
    return int(value * 10_000)


def _percent_range(value: Decimal, kind: str, most: int) -> str:
    if kind != "tax":
        words = _("%(value)s %% is not between 0 and %(most)s %%. Type a percentage between them.")
        return words % {"value": f"{value:f}", "most": most}
    words = _("A rate lies between 0 and %(most)s %%.") % {"most": most}
    if 0 < value / 100 <= most:
        words += " " + _("Is %(near)s meant?") % {"near": round_half_up(value / 100, 2)}
    return words


def tax_rate(typed: str, *, sign: str = ".") -> int:
    """Parts per million of a rate of tax, 0 to 60 %.

    raises  FieldError tax.missing, .format, .unit, .ambiguous, .places, .range
    """
    return percent(typed, kind="tax", most=60, sign=sign)


def whole(typed: str, *, kind: str, least: int = 0, most: int = LARGEST_READING, sign: str = ".") -> int:
    """A whole number without unit, such as tenths of an hour.

    raises  FieldError <kind>.missing, .format, .ambiguous, .places, .range
    """
    parts = numbers.split(typed, kind)
    if parts.words or numbers.exponent_of(parts.figure) is not None:
        raise FieldError(f"{kind}.format", _("“%(typed)s”: type digits only.") % {"typed": numbers.clean(typed)})
    value = int(numbers.decimal(parts.figure, kind, sign=sign, places=0, example="18"))
    if not least <= value <= most:
        words = _("%(value)s is not between %(least)s and %(most)s. Type a number between them.")
        raise FieldError(f"{kind}.range", words % {"value": value, "least": least, "most": f"{most:,}"})
    return value


def _group(digits: str, sign: str) -> str:
    grouped = f"{int(digits):,}"
    return grouped if sign == "." else grouped.replace(",", ".")
