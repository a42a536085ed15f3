"""Tax by rate: once a document, half-up, or line by line where a place wants it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.errors import OutOfRange, UnknownChoice
from shopserv.calc.money import Number, round_half_up

METHODS = ("document", "line")


@dataclass(frozen=True, slots=True)
class TaxLine:
    """An amount (may be negative) and the rate on it (0.0625 for 6.25 %)."""

    amount: Decimal
    rate: Number


@dataclass(frozen=True, slots=True)
class TaxSum:
    """The tax in all, by rising rate, and the total with it."""

    total_tax: Decimal
    by_rate: tuple[tuple[Fraction, Decimal], ...]
    total_with_tax: Decimal


def tax_by_rate(lines: Sequence[TaxLine], method: str = "document") -> TaxSum:
    """Tax on lines, rates equal in value being one rate.

    method   document: amounts summed by rate, tax rounded half-up once a rate; line: rounded line by line, then summed
    raises   OutOfRange for a negative rate, UnknownChoice
    source   Streamlined Sales and Use Tax Agreement section 324 allows both; EN 16931 BT-117 sums by rate
    check    four lines of 0.65 at 8.25 %: 0.21 by document, 0.20 by line
    """
    if method not in METHODS:
        raise UnknownChoice(f"The method is {method!r}; it may be {', '.join(METHODS)}.")
    grouped: dict[Fraction, list[Decimal]] = {}
    for line in lines:
        rate = Fraction(line.rate)
        if rate < 0:
            raise OutOfRange(f"A tax rate of {float(rate):g} is below zero.")
        grouped.setdefault(rate, []).append(line.amount)
    by_rate = tuple((rate, _tax(amounts, rate, method)) for rate, amounts in sorted(grouped.items()))
    total = _sum(tax for _, tax in by_rate)
    return TaxSum(total, by_rate, _sum([total, *(line.amount for line in lines)]))


def _tax(amounts: Sequence[Decimal], rate: Fraction, method: str) -> Decimal:
    if method == "line":
        return _sum(round_half_up(Fraction(amount) * rate) for amount in amounts)
    return round_half_up(sum(map(Fraction, amounts), Fraction(0)) * rate)


def _sum(amounts: object) -> Decimal:
    """A sum of amounts in whole cents, whatever its size; Decimal's own addition would round beyond 28 digits."""
    return round_half_up(sum(map(Fraction, amounts), Fraction(0)))  # type: ignore[call-overload]
