"""Money as Decimal in sums, whole cents at the edges; the one rounding function."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

Number = Decimal | Fraction | int


def round_half_up(value: Number, places: int = 2) -> Decimal:
    """`value` with so many decimals, halves away from zero.

    value    Decimal, Fraction or int of any size
    returns  Decimal with exactly `places` decimals
    source   Streamlined Sales and Use Tax Agreement section 324: to the third decimal, up from half a cent
    check    0.125 gives 0.13, -0.125 gives -0.13
    """
    exact = Fraction(value)
    return _decimal(half_up(exact.numerator * 10**places, exact.denominator), places)


def half_up(numerator: int, denominator: int) -> int:
    """A quotient as the next whole number, halves away from zero: round_half_up where all are whole numbers.

    denominator   above 0
    check         5 / 2 gives 3, -5 / 2 gives -3
    """
    size = (2 * abs(numerator) + denominator) // (2 * denominator)
    return size if numerator >= 0 else -size


def cut_down(value: Number, places: int = 2) -> Decimal:
    """`value` with so many decimals, towards minus infinity: a tolerance never allows part of a cent too much.

    check    44.295 gives 44.29
    """
    exact = Fraction(value) * 10**places
    return _decimal(exact.numerator // exact.denominator, places)


def _decimal(size: int, places: int) -> Decimal:
    return Decimal(f"{size}e-{places}")  # scaleb would round beyond the digits of the context


def cents(amount: Decimal) -> int:
    """Whole cents of an amount that has no part of a cent.

    raises  ValueError for a part of a cent, which would be a fault of ours
    """
    exact = Fraction(amount) * 100
    if exact.denominator != 1:
        raise ValueError(f"{amount} is no whole number of cents")
    return exact.numerator


def amount(cents: int) -> Decimal:
    """The amount of so many whole cents."""
    return _decimal(cents, 2)
