"""Values at the border of the reference checks: strings with units in, exact numbers with dimensions inside."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc import measures
from shopserv.calc.errors import (
    BadDate,
    BadNumber,
    ConflictingInput,
    CurrencyMismatch,
    DimensionMismatch,
    MissingInput,
    NegativeMoney,
    OutOfRange,
    UnknownChoice,
    UnknownUnit,
)

NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII)
CURRENCY = re.compile(r"[A-Z]{3}(?:/h)?", re.ASCII)
DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
MONEY = ("money", "hourly rate")
UNITS_OF_MONEY = ("USD", "USD/h")
# 1e999999999 would fill the memory before anybody could say that it is out of range
LARGEST_EXPONENT = 4_000


@dataclass(frozen=True, slots=True)
class Value:
    """A number with its dimension, in the base unit of measures; temperatures in K, volumes in mL.

    unit   the unit that it was given in, where that matters
    """

    magnitude: Fraction | float
    dimension: str = "number"
    unit: str = ""

    @property
    def exact(self) -> Fraction:
        """The magnitude as a fraction."""
        return measures.exact(self.magnitude)

    def in_unit(self, name: str) -> Fraction:
        """The magnitude in another unit of the dimension."""
        return measures.from_base(self.magnitude, measures.unit(name, self.dimension))


def number(magnitude: Fraction | int | float) -> Value:
    """A pure number."""
    return Value(magnitude if isinstance(magnitude, float) else Fraction(magnitude))


def of(magnitude: Fraction | int | float, unit: str, dimension: str) -> Value:
    """A value of this magnitude in this unit."""
    return Value(measures.to_base(magnitude, measures.unit(unit, dimension)), dimension, unit)


def split(text: object) -> tuple[Decimal, str]:
    """Number and unit of a value string; the unit of a pure number is "".

    raises  BadNumber
    """
    if not isinstance(text, str):
        raise BadNumber(f"{text!r} is not a value string such as '10.0 L'.")
    figure, blank, name = text.partition(" ")
    if not NUMBER.fullmatch(figure) or (blank and (not name or name != name.strip() or NUMBER.match(name))):
        raise BadNumber(f"{text[:60]!r} is not a decimal number with one blank and a unit after it.")
    parsed = Decimal(figure)
    if parsed and not -LARGEST_EXPONENT <= parsed.adjusted() <= LARGEST_EXPONENT:
        raise OutOfRange(f"{text[:60]!r} is beyond all that is calculated here.")
    if not parsed:  # 0e999999 is nothing but zero, with the decimals that a look at cents needs
        return Decimal((0, (0,), max(-9, min(0, int(parsed.as_tuple().exponent))))), name
    return parsed, name


def parse(text: object, dimension: str) -> Value:
    """A value string of the wanted dimension.

    raises  BadNumber, UnknownUnit, DimensionMismatch, CurrencyMismatch, OutOfRange below absolute zero
    """
    figure, name = split(text)
    if dimension in MONEY and name not in measures.UNITS and CURRENCY.fullmatch(name):
        raise CurrencyMismatch(f"{text!r}: amounts are in USD here.")
    found = measures.unit(name, dimension)
    if dimension in MONEY:
        _refuse_parts_of_a_cent(figure)
    base = measures.to_base(Fraction(figure), found)
    if dimension == "temperature" and base < 0:
        raise OutOfRange(f"{text!r} is below absolute zero.")
    return Value(base, dimension, name)


def parse_any(text: object) -> tuple[Fraction, str]:
    """Number and unit name of a value string of any known dimension.

    raises  BadNumber, UnknownUnit, CurrencyMismatch
    """
    figure, name = split(text)
    if name not in measures.UNITS:
        if CURRENCY.fullmatch(name):
            raise CurrencyMismatch(f"{text!r}: amounts are in USD here.")
        raise UnknownUnit(f"{name!r} is no unit that is known here.")
    if name in UNITS_OF_MONEY:
        _refuse_parts_of_a_cent(figure)
    return Fraction(figure), name


def _refuse_parts_of_a_cent(figure: Decimal) -> None:
    exponent = figure.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -2:
        raise BadNumber(f"{figure} has more than two decimals; money has cents at most.")


def parse_date(text: object) -> date:
    """A calendar date written YYYY-MM-DD.

    raises  BadDate
    """
    if not isinstance(text, str) or not DAY.fullmatch(text):
        raise BadDate(f"{text!r} is not a date written YYYY-MM-DD.")
    try:
        return date.fromisoformat(text)
    except ValueError as cause:
        raise BadDate(f"{text!r} is not in the calendar.") from cause


_NOT_GIVEN: Any = object()


class Given:
    """The inputs of one check, read by name. An absent or null input is MissingInput unless a default is named."""

    def __init__(self, inputs: object) -> None:
        if not isinstance(inputs, Mapping):
            raise BadNumber(f"{str(inputs)[:60]!r} is not an object of inputs.")
        self.inputs: Mapping[str, Any] = inputs

    def has(self, name: str) -> bool:
        """Whether the input is given at all."""
        return self.inputs.get(name) is not None

    def raw(self, name: str) -> Any:
        """The input as it stands.

        raises  MissingInput
        """
        if not self.has(name):
            raise MissingInput(f"{name} is missing.")
        return self.inputs[name]

    def value(self, name: str, dimension: str = "number", default: str | None = None) -> Value:
        """A value of the wanted dimension; `default` is a value string."""
        return parse(default if default is not None and not self.has(name) else self.raw(name), dimension)

    def exact(self, name: str, dimension: str = "number", default: str | None = None) -> Fraction:
        """The same as a fraction in the base unit of the dimension."""
        return self.value(name, dimension, default).exact

    def celsius(self, name: str) -> Fraction:
        """A temperature in °C."""
        return self.value(name, "temperature").in_unit("degC")

    def fraction(self, name: str, default: str | None = None) -> Fraction:
        """A number in 0..1.

        raises  OutOfRange
        """
        return measures.within(self.exact(name, "number", default), 0, 1, name)

    def money(self, name: str, default: str | None = None, *, may_be_negative: bool = False) -> Decimal:
        """An amount of money.

        raises  NegativeMoney
        """
        return money(self.raw(name) if default is None or self.has(name) else default, name, may_be_negative)

    def moneys(self, name: str, *, is_optional: bool = False, may_be_negative: bool = False) -> list[Decimal]:
        """A list of amounts of money; empty if optional and absent."""
        return [money(one, name, may_be_negative) for one in self.items(name, is_optional=is_optional)]

    def values(self, name: str, dimension: str = "number") -> list[Value]:
        """A list of values of one dimension."""
        return [parse(one, dimension) for one in self.items(name)]

    def choice(self, name: str, allowed: Sequence[str], default: str | None = None) -> str:
        """One of the allowed words.

        raises  UnknownChoice
        """
        if default is not None and not self.has(name):
            return default
        word = self.raw(name)
        if not isinstance(word, str) or word not in allowed:
            raise UnknownChoice(f"{name} is {word!r}; it may be {', '.join(allowed)}.")
        return word

    def flag(self, name: str, default: bool) -> bool:
        """A JSON boolean.

        raises  UnknownChoice
        """
        word = self.raw(name) if self.has(name) else default
        if not isinstance(word, bool):
            raise UnknownChoice(f"{name} is {word!r}; it may be true or false.")
        return word

    def count(self, name: str, default: int | None = None, *, low: int | None = None, high: int | None = None) -> int:
        """A JSON integer within low..high.

        raises  BadNumber, OutOfRange
        """
        size = default if default is not None and not self.has(name) else self.raw(name)
        if not isinstance(size, int) or isinstance(size, bool):
            raise BadNumber(f"{name} is {size!r}; it must be a whole number.")
        if (low is not None and size < low) or (high is not None and size > high):
            raise OutOfRange(f"{name} is {size}; it may be {low} to {'any number' if high is None else high}.")
        return size

    def day(self, name: str) -> date:
        """A calendar date."""
        return parse_date(self.raw(name))

    def items(self, name: str, *, is_optional: bool = False) -> list[Any]:
        """A list; empty if optional and absent.

        raises  BadNumber if it is no list
        """
        if is_optional and not self.has(name):
            return []
        found = self.raw(name)
        if not isinstance(found, list):
            raise BadNumber(f"{name} is {str(found)[:60]!r}; it must be a list.")
        return found

    def objects(self, name: str, *, is_optional: bool = False) -> list[Given]:
        """A list of objects."""
        return [Given(one) for one in self.items(name, is_optional=is_optional)]

    def object(self, name: str) -> Given:
        """One object of inputs."""
        return Given(self.raw(name))

    def only_one(self, *names: str) -> str:
        """The name of the one of these that is given.

        raises  ConflictingInput, MissingInput
        """
        found = [name for name in names if self.has(name)]
        if len(found) > 1:
            raise ConflictingInput(f"Only one of {', '.join(names)} may be given.")
        if not found:
            raise MissingInput(f"One of {', '.join(names)} is missing.")
        return found[0]


def money(text: object, what: str, may_be_negative: bool = False) -> Decimal:
    """An amount in USD.

    raises  NegativeMoney and what parse raises
    """
    cents = parse(text, "money").exact * 100
    if cents < 0 and not may_be_negative:
        raise NegativeMoney(f"{what} is {text}; it may not be negative.")
    return Decimal(f"{cents.numerator}e-2")  # scaleb would round beyond 28 digits


def dimension_of(value: object, *allowed: str) -> str:
    """Which of the allowed dimensions a value string has.

    raises  BadNumber, UnknownUnit, DimensionMismatch
    """
    _, name = parse_any(value)
    for dimension in allowed:
        if dimension in measures.UNITS[name]:
            return dimension
    raise DimensionMismatch(f"{value!r} is none of {', '.join(allowed)}.")
