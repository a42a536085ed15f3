"""How far an invoice may go beyond what was agreed, and what still fits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.errors import MissingInput, OutOfRange, UnknownChoice
from shopserv.calc.money import Number, cut_down, round_half_up
from shopserv.calc.pricing import not_negative

KINDS = ("none", "percent", "amount", "lesser_of", "greater_of")
BASES = ("total", "before_tax")


@dataclass(frozen=True, slots=True)
class ToleranceRule:
    """A rule of a place: its kind, what it is made of, at most how much, and on which total it stands."""

    kind: str
    percent: Number | None = None
    amount: Decimal | None = None
    cap: Decimal | None = None
    base: str = "total"


def base_of(rule: ToleranceRule, total: Decimal, tax: Decimal = Decimal(0)) -> Decimal:
    """The agreed total on the basis of the rule: with tax, or before it.

    raises   UnknownChoice, NegativeMoney
    """
    if rule.base not in BASES:
        raise UnknownChoice(f"The base is {rule.base!r}; it may be {', '.join(BASES)}.")
    not_negative(total, "The authorized total")
    not_negative(tax, "The authorized tax")
    return total if rule.base == "total" else round_half_up(Fraction(total) - Fraction(tax))


def tolerance(rule: ToleranceRule, total: Decimal, tax: Decimal = Decimal(0)) -> Decimal:
    """What may be invoiced above the agreed total, cut down to the cent.

    raises   UnknownChoice, MissingInput for a part the kind needs, OutOfRange, NegativeMoney
    source   16 CCR 3354; Fla. Stat. 559.909; RCW 46.71.025; the rules are data, look up the present text before use
    check    greater of 10 % and 10.00, at most 50.00, on 442.95: 44.29
    """
    if rule.kind not in KINDS:
        raise UnknownChoice(f"The kind is {rule.kind!r}; it may be {', '.join(KINDS)}.")
    base = Fraction(base_of(rule, total, tax))
    allowed = _allowed(rule, base)
    if rule.cap is not None:
        allowed = min(allowed, Fraction(not_negative(rule.cap, "The cap")))
    return cut_down(allowed)


def _allowed(rule: ToleranceRule, base: Fraction) -> Fraction:
    if rule.kind == "none":
        return Fraction(0)
    if rule.kind == "percent":
        return base * _percent(rule)
    if rule.kind == "amount":
        return _amount(rule)
    both = (base * _percent(rule), _amount(rule))
    return min(both) if rule.kind == "lesser_of" else max(both)


def _percent(rule: ToleranceRule) -> Fraction:
    if rule.percent is None:
        raise MissingInput(f"The rule {rule.kind} needs a percent.")
    share = Fraction(rule.percent)
    if share < 0:
        raise OutOfRange(f"A tolerance of {float(share * 100):g} % is below zero.")
    return share


def _amount(rule: ToleranceRule) -> Fraction:
    if rule.amount is None:
        raise MissingInput(f"The rule {rule.kind} needs an amount.")
    return Fraction(not_negative(rule.amount, "The amount"))


def limit(rule: ToleranceRule, total: Decimal, tax: Decimal = Decimal(0)) -> Decimal:
    """The most that may be invoiced without a new yes, on the basis of the rule.

    check    before-tax rule of 10 % on 442.95 with 8.32 of tax: 478.09
    """
    return round_half_up(Fraction(base_of(rule, total, tax)) + Fraction(tolerance(rule, total, tax)))


def needs_consent(rule: ToleranceRule, total: Decimal, proposed: Decimal, tax: Decimal = Decimal(0)) -> bool:
    """Whether `proposed`, on the basis of the rule, is more than the limit."""
    return not_negative(proposed, "The proposed total") > limit(rule, total, tax)


def most_tenths(left_cents: int, cost_of: Callable[[int], int], most: int = 999) -> int:
    """The most further tenths of labor that still fit, where each count has its own cost (supplies with a cap, tax).

    cost_of   cents of so many further tenths, never falling
    most      beyond it nobody asks
    raises    OutOfRange for a negative `most`
    check     44.29 left, 15.00 a tenth and 5 % supplies: 2 tenths
    """
    if most < 0:
        raise OutOfRange(f"At most {most} tenths is below none.")
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if cost_of(middle) <= left_cents else (low, middle - 1)
    return low


@dataclass(frozen=True, slots=True)
class Room:
    """What still fits: the money, whole tenths of labor with their supplies, and what is left after those."""

    left: Decimal
    extra_tenths: int
    left_after: Decimal


def room_left(left: Decimal, one_tenth: Decimal) -> Room:
    """The largest whole number of extra labor tenths that still fits into `left`.

    one_tenth   price of a tenth of an hour with its supplies, above 0
    raises      OutOfRange
    check       44.29 left at 15.75 a tenth: 2 tenths, 12.79 after
    """
    if one_tenth <= 0:
        raise OutOfRange(f"A tenth of an hour at {one_tenth} is not above zero.")
    tenths = max(0, Fraction(left) // Fraction(one_tenth))
    return Room(left, tenths, round_half_up(Fraction(left) - tenths * Fraction(one_tenth)))
