"""How much of the fluid is fresh: drains, line exchange, and what that makes of age and water."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal, localcontext
from fractions import Fraction

from shopserv.calc.errors import (
    DrainExceedsCapacity,
    MissingInput,
    OutOfRange,
    UnknownChoice,
    Unreachable,
)
from shopserv.calc.measures import Real, exact, within

MODELS = ("stirred", "plug", "tanks")
MOST_TANKS = 200
CLOSE_ENOUGH = Fraction(1, 10**9)
TOO_SMALL = Fraction(1, 10**30)


def fresh_fraction_passes(capacity: Real, drained: Sequence[Real], start: Real = 0) -> Fraction:
    """Share of fresh fluid after drains, each filled up and mixed.

    capacity, drained   volumes in one unit
    start               share that is fresh before, 0 to 1
    returns             0 to 1, exact
    raises              OutOfRange, DrainExceedsCapacity
    source              mass balance
    check               three drains of 2.9 of 7.4 L: 0.775124
    """
    old = 1 - within(start, 0, 1, "The share that is fresh at the start")
    fill = _capacity(capacity)
    for volume in drained:
        old *= 1 - _drain(volume, fill) / fill
    return 1 - old


def passes_needed(capacity: Real, drained: Real, target: Real) -> int:
    """How many drains of one size bring the share of fresh fluid to `target`, within 1e-9 of it.

    capacity, drained   volumes in one unit; drained with each pass
    target              share, at most 1; 0 or less needs no drain
    raises              OutOfRange, DrainExceedsCapacity, Unreachable
    source              mass balance
    check               4 of 10 L for 0.784: 3; 2.9 of 7.4 L for 80 %: 4
    """
    goal = exact(target)
    if goal <= 0:
        return 0
    if goal > 1:
        raise OutOfRange(f"The target is {float(goal):g}; a share is at most 1.")
    fill = _capacity(capacity)
    kept = 1 - _drain(drained, fill) / fill
    if kept == 1 or (goal == 1 and kept > 0):
        raise Unreachable("This drain never brings the fresh share to the target.")
    return _passes_until(kept, 1 - goal + CLOSE_ENOUGH)


def _passes_until(kept: Fraction, allowed: Fraction) -> int:
    """Smallest n with kept ** n <= allowed."""
    if allowed >= 1:
        return 0
    if kept <= allowed:
        return 1
    if 1 - kept < TOO_SMALL:  # 80 digits could not tell such a drain from none
        raise OutOfRange("The drain is so small against the capacity that no number of drains can be named.")
    with localcontext(prec=80):
        passes = _ln(allowed) / _ln(kept)
    count = int(passes)
    if count > 2_000:  # beyond, an exact tie would need numbers of more digits than anybody can give
        return math.ceil(passes)
    while kept**count > allowed:
        count += 1
    return count


def _ln(value: Fraction) -> Decimal:
    return (Decimal(value.numerator) / Decimal(value.denominator)).ln()


def fresh_fraction_exchange(capacity: Real, volume: Real, model: str, tanks: int | None = None) -> Fraction | float:
    """Share of fresh fluid after `volume` went in while as much came out.

    capacity, volume   in one unit
    model              stirred, plug, or tanks (that many equal stirred vessels in series, 1 to 200)
    returns            0 to 1; exact for plug flow
    raises             OutOfRange, UnknownChoice, MissingInput without the number of tanks
    source             residence time theory: ideal mixer, plug flow, tanks in series
    check              8 of 8 L stirred: 0.632121; 12 of 8 L, 1 tank: 0.776870
    """
    _check_model(model, tanks)
    fill = _capacity(capacity)
    turns = exact(volume) / fill
    if turns < 0:
        raise OutOfRange(f"The exchanged volume is {float(exact(volume)):g}; it must not be negative.")
    if model == "plug":
        return min(Fraction(1), turns)
    if model == "stirred":
        return -math.expm1(-float(turns))
    return 1 - _stale_in_tanks(float(turns), tanks or 1)


def fresh_fraction_band(
    capacity: Real, volume: Real, model: str, tanks: int | None = None, spread: Real = Fraction(1, 5)
) -> tuple[Fraction | float, Fraction | float]:
    """The fresh share if the unit holds more than thought by `spread`, and if it holds less.

    spread    0 to below 1
    returns   low, high
    raises    OutOfRange and what fresh_fraction_exchange raises
    source    judgment, no source: a fifth
    check     10 of 7.4 L stirred: 0.6757 to 0.8153
    """
    wide = exact(spread)
    if not 0 <= wide < 1:
        raise OutOfRange(f"The spread is {float(wide):g}; it may be 0 to below 1.")
    fill = exact(capacity)
    return (
        fresh_fraction_exchange(fill * (1 + wide), volume, model, tanks),
        fresh_fraction_exchange(fill * (1 - wide), volume, model, tanks),
    )


def exchange_volume_needed(capacity: Real, target: Real, model: str, tanks: int | None = None) -> Fraction | float:
    """The volume that brings the fresh share to `target`; the inverse of fresh_fraction_exchange.

    target    0 to 1
    returns   in the unit of the capacity; exact for plug flow
    raises    OutOfRange, UnknownChoice, MissingInput, Unreachable for 1 with anything but plug flow
    source    see fresh_fraction_exchange
    check     8 L to one half, stirred: 5.545177 L; 7.4 L to 90 %, 3 tanks: 10.3979 L
    """
    _check_model(model, tanks)
    fill = _capacity(capacity)
    goal = within(target, 0, 1, "The target")
    if model == "plug" or goal == 0:
        return fill * goal
    if goal == 1:
        raise Unreachable("Stirred fluid never becomes wholly fresh; the target must be below 1.")
    left = float(1 - goal)
    turns = -math.log1p(-float(goal)) if goal < Fraction(1, 2) else -math.log(left)
    if model == "tanks":
        turns = _turns_in_tanks(left, tanks or 1)
    return float(fill) * turns


def _stale_in_tanks(turns: float, tanks: int) -> float:
    """Mean old share over equal tanks in series: sum of (1 - k/n) Poisson(k; n u) over k < n."""
    load = tanks * turns
    if load > 745:  # exp(-load) is zero to a float, and so is all that it multiplies
        return 0.0
    share, terms = math.exp(-load), []
    for k in range(tanks):
        terms.append((1 - k / tanks) * share)
        share *= load / (k + 1)
    return min(1.0, math.fsum(terms))


def _turns_in_tanks(left: float, tanks: int) -> float:
    """Bisect for the number of turns at which this old share is left."""
    low, high = 0.0, 1.0
    while _stale_in_tanks(high, tanks) > left:
        low, high = high, 2 * high
    while low < (middle := (low + high) / 2) < high:  # until no float lies between
        low, high = (middle, high) if _stale_in_tanks(middle, tanks) > left else (low, middle)
    return middle


def fluid_age_after(fresh: Real, age_before: Real, age_new: Real = 0) -> Fraction:
    """Mean age of the fluid after an exchange.

    fresh    share, 0 to 1
    ages     distances or months in one unit, 0 or more
    raises   OutOfRange
    source   mean of a mixture
    check    0.63 fresh of 62,000 mi: 22,940 mi
    """
    return _mixed(fresh, age_before, age_new, "The age")


def water_after_exchange(fresh: Real, before: Real, new: Real) -> Fraction:
    """Water content after an exchange, from that of old and new fluid.

    fresh         share, 0 to 1
    before, new   shares by mass (or both in ppm), 0 or more
    raises        OutOfRange
    source        mean of a mixture
    check         0.75 fresh, 1,200 and 80 ppm: 360 ppm
    """
    return _mixed(fresh, before, new, "The water content")


def _mixed(fresh: Real, before: Real, new: Real, what: str) -> Fraction:
    share = within(fresh, 0, 1, "The fresh share")
    old, fill = exact(before), exact(new)
    if old < 0 or fill < 0:
        raise OutOfRange(f"{what} is {float(min(old, fill)):g}; it must not be negative.")
    return (1 - share) * old + share * fill


def bucket_volume(added: Sequence[Real], end_level: Real, start_level: Real = 0) -> Fraction:
    """What must have come out: start level and everything added, less the level at the end.

    levels    volumes above full, negative below, in the unit of the added volumes
    raises    OutOfRange if less than nothing came out
    source    mass balance
    check     4 + 4 qt added, 3 qt below full at the end: 11 qt
    """
    out = exact(start_level) + sum((exact(one) for one in added), Fraction(0)) - exact(end_level)
    if out < 0:
        raise OutOfRange(f"By these levels {float(out):g} came out; it cannot be less than nothing.")
    return out


def _capacity(value: Real) -> Fraction:
    fill = exact(value)
    if fill <= 0:
        raise OutOfRange(f"The capacity is {float(fill):g}; it must be above 0.")
    return fill


def _drain(value: Real, capacity: Fraction) -> Fraction:
    volume = exact(value)
    if volume < 0:
        raise OutOfRange(f"The drained volume is {float(volume):g}; it must not be negative.")
    if volume > capacity:
        raise DrainExceedsCapacity(f"{float(volume):g} drained is more than the {float(capacity):g} it holds.")
    return volume


def _check_model(model: str, tanks: int | None) -> None:
    if model not in MODELS:
        raise UnknownChoice(f"The model is {model!r}; it may be {', '.join(MODELS)}.")
    if model != "tanks":
        return
    if tanks is None:
        raise MissingInput("The number of tanks is missing.")
    if not isinstance(tanks, int) or isinstance(tanks, bool) or not 1 <= tanks <= MOST_TANKS:
        raise OutOfRange(f"The number of tanks is {tanks!r}; it may be 1 to {MOST_TANKS}.")
