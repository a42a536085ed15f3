"""What heat and moisture leave of an interval, and what a partial exchange earns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from shopserv.calc.errors import OutOfRange, SharesDoNotSumToOne
from shopserv.calc.measures import Real, exact, within

REFERENCE_C = Fraction(794, 10)
DOUBLING_STEP_K = Fraction(111, 10)
MOST = Fraction(5, 2)
STEP = 500
CLOSE_TO_ONE = Fraction(1, 10**6)
MOST_DOUBLINGS = 1_000


def thermal_factor(
    bins: Sequence[tuple[Real, Real]], reference_c: Real = REFERENCE_C, doubling_step_k: Real = DOUBLING_STEP_K
) -> float:
    """How much heat shortens the life of the fluid; 1 or more.

    bins      (share of the time, °C of the fluid); the shares sum to 1 within 1e-6
    raises    SharesDoNotSumToOne, OutOfRange for a negative share or a step that is not above 0
    source    common practice, no source: wear doubles for every 20 °F (11.1 K) above 175 °F (79.4 °C)
    check     0.70 at 80, 0.20 at 95, 0.10 at 108 °C: 1.853
    """
    step, reference = exact(doubling_step_k), exact(reference_c)
    if step <= 0:
        raise OutOfRange(f"A doubling step of {float(step):g} K is not above zero.")
    shares = [exact(share) for share, _ in bins]
    if any(share < 0 for share in shares):
        raise OutOfRange("A share of the time cannot be below zero.")
    if abs(sum(shares, Fraction(0)) - 1) > CLOSE_TO_ONE:
        raise SharesDoNotSumToOne(f"The shares sum to {float(sum(shares, Fraction(0))):g}; they must sum to 1.")
    wear = []
    for share, (_, celsius) in zip(shares, bins, strict=True):
        doublings = (exact(celsius) - reference) / step
        if doublings > MOST_DOUBLINGS:
            raise OutOfRange(f"{float(celsius):g} °C is beyond all that a fluid could bear.")
        wear.append(float(share) * 2.0 ** float(doublings))
    return max(1.0, math.fsum(wear))


def combined_factor(moisture: Real, thermal: Real) -> Fraction:
    """Both factors together, at most 2.5.

    raises   OutOfRange for a factor below 1
    """
    return min(MOST, _factor(moisture, "moisture") * _factor(thermal, "thermal"))


def _factor(value: Real, what: str) -> Fraction:
    number = exact(value)
    if number < 1:
        raise OutOfRange(f"The {what} factor is {float(number):g}; it is 1 or more.")
    return number


def _base(value: Real) -> Fraction:
    number = exact(value)
    if number <= 0:
        raise OutOfRange(f"An interval of {float(number):g} is not above zero.")
    return number


def adjusted_distance(base: Real, moisture: Real, thermal: Real = 1) -> int:
    """The distance interval under both factors, down to a whole multiple of 500 of its unit, never under 500.

    raises   OutOfRange
    check    60,000 mi, moisture 1.806: 33,000
    """
    return max(STEP, _base(base) / combined_factor(moisture, thermal) // STEP * STEP)


def adjusted_months(base: Real, moisture: Real) -> int:
    """The interval in months under moisture alone, down to whole months, never under 1.

    raises   OutOfRange
    check    60 months, moisture 1.806: 33
    """
    return max(1, _base(base) / _factor(moisture, "moisture") // 1)


def partial_exchange_credit(interval: Real, age_before: Real, fresh: Real) -> Fraction:
    """What is left of an interval after an exchange, before the mean age of the fluid reaches it.

    interval, age_before   in one unit of distance or in months, 0 or more
    fresh                  share of new fluid, 0 to 1
    raises                 OutOfRange
    source                 mean of a mixture
    check                  33,000 mi, 50,679 mi old, 0.858 fresh: 25,804 mi
    """
    whole, age = exact(interval), exact(age_before)
    if whole < 0 or age < 0:
        raise OutOfRange("Neither the interval nor the age can be below zero.")
    return max(Fraction(0), whole - (1 - within(fresh, 0, 1, "The fresh share")) * age)
