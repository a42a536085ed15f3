"""Opened packages before whole ones: what may be used up, in which order, and what is still to be opened."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from shopserv.calc.errors import NegativeMoney, OutOfRange, UnknownChoice
from shopserv.calc.measures import Real, exact
from shopserv.calc.packages import Choice, Package, cheapest

RULES = ("by-liter", "whole-packages")


@dataclass(frozen=True, slots=True)
class OpenPackage:
    """A package that was opened before.

    left_ml     what is still in it
    use_by      last day on which it may be used; none: no such day is known, so it is not used
    cost_cents  what the whole package cost, and
    size_ml     what it held, for the share of the cost that what is taken carries
    """

    label: str
    product: str
    batch: str
    left_ml: Real
    use_by: date | None
    size_ml: Real
    cost_cents: int


@dataclass(frozen=True, slots=True)
class Taken:
    """So much from one opened package, and its exact share of what the package cost, in cents."""

    label: str
    volume_ml: Fraction
    cost_cents: Fraction


@dataclass(frozen=True, slots=True)
class NotTaken:
    """An opened package that stays where it is, and why in one sentence."""

    label: str
    reason: str


@dataclass(frozen=True, slots=True)
class Cover:
    """What a need is filled from: opened packages first, then whole ones.

    cost_cents   exact: the shares of what is taken from opened packages, and the whole ones
    """

    taken: tuple[Taken, ...]
    not_taken: tuple[NotTaken, ...]
    whole: Choice
    cost_cents: Fraction


def opened_first(
    need_ml: Real,
    opened: Sequence[OpenPackage],
    packages: Sequence[Package],
    *,
    product: str,
    on: date,
    rule: str,
    batch: str | None = None,
) -> Cover:
    """Fill a need from opened packages of the same product, the earliest use-by first, and the rest from whole ones.

    need_ml  0 or more
    opened   those on the shelf; what may not be used is told with its reason
    rule     by-liter; under whole-packages nothing opened is used, for what is left over is its customer's
    batch    the one batch that the job is to have; none: any
    raises   UnknownChoice, OutOfRange, NegativeMoney, NoPackage where the rest is not covered
    source   house rule; earliest use-by first is common practice, no source
    check    10.0 L with 0.408 L open: the rest of 9.592 L from 2 jugs and 3 bottles, and 816 mL left at the end
    """
    need = exact(need_ml)
    if need < 0:
        raise OutOfRange(f"The need is {float(need):g} mL; it must not be negative.")
    if rule not in RULES:
        raise UnknownChoice(f"The rule is {rule!r}; it may be {', '.join(RULES)}.")
    taken: list[Taken] = []
    kept: list[NotTaken] = []
    for one in sorted(opened, key=lambda one: (one.use_by or date.max, exact(one.left_ml), one.label)):
        left = _checked(one)
        reason = _why_not(one, product=product, on=on, rule=rule, batch=batch)
        if not reason and left == 0:
            reason = "It is empty."
        if not reason and need == 0:
            reason = "It is not needed."
        if reason:
            kept.append(NotTaken(one.label, reason))
            continue
        volume = min(left, need)
        taken.append(Taken(one.label, volume, volume * one.cost_cents / exact(one.size_ml)))
        need -= volume
    whole = cheapest(need, packages)
    cost = whole.cost_cents + sum((one.cost_cents for one in taken), Fraction(0))
    return Cover(tuple(taken), tuple(kept), whole, cost)


def lasting(
    opened: Sequence[OpenPackage], needs: Sequence[tuple[date, Real]], *, product: str, on: date, rule: str
) -> Fraction:
    """How much of what stands open these jobs can use up, each package on its last day at the latest; in mL.

    needs    (day, mL) of each job, in any order
    on       today; what may not be used by any of them counts for nothing
    raises   UnknownChoice, OutOfRange, NegativeMoney
    source   exact: the earliest use-by first is the best order (a schedule by due dates)
    check    408 mL to be used by Oct 1 and 900 mL by Nov 1, jobs of 300 mL on Oct 1 and 700 mL on Oct 2: 300 + 700
    """
    if rule not in RULES:
        raise UnknownChoice(f"The rule is {rule!r}; it may be {', '.join(RULES)}.")
    used = Fraction(0)
    for one in sorted(opened, key=lambda one: one.use_by or date.max):
        left = _checked(one)
        if one.use_by is None or _why_not(one, product=product, on=on, rule=rule, batch=None):
            continue
        asked = sum((exact(need) for day, need in needs if day <= one.use_by), Fraction(0))
        used += min(left, asked - used)
    return used


def _checked(one: OpenPackage) -> Fraction:
    """What is left in a package that can be."""
    left, size = exact(one.left_ml), exact(one.size_ml)
    if size <= 0:
        raise OutOfRange(f"Package {one.label} holds {float(size):g} mL; it must hold more than nothing.")
    if not 0 <= left <= size:
        raise OutOfRange(f"{float(left):g} mL cannot be left in package {one.label}, which holds {float(size):g} mL.")
    if one.cost_cents < 0:
        raise NegativeMoney(f"Package {one.label} costs {one.cost_cents} cents; it may not be negative.")
    return left


def _why_not(one: OpenPackage, *, product: str, on: date, rule: str, batch: str | None) -> str:
    if rule == "whole-packages":
        return "Fluid is sold by the whole package: what is left over belongs to its customer."
    if one.product != product:
        return f"It holds {one.product}, not {product}."
    if batch is not None and one.batch != batch:
        return f"It is of batch {one.batch}, not {batch}."
    if one.use_by is None:
        return "Nobody noted until when it may be used."
    if one.use_by < on:
        return f"It was to be used by {one.use_by.isoformat()}."
    return ""
