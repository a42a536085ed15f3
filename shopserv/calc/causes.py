"""What may have happened where in and out do not agree, ranked by how well each explains the difference."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.calc import errors
from shopserv.calc.measures import Real

OPEN_ML = 2_000  # how far a cause without an amount of its own may reach; common practice, no source
LEAST_BAND_ML = 1.0  # the smallest step that is kept
COVERAGE = 2

# (words, mL as it would show in "in less out"), or (words, low, high) with none for an open end
Suspect = tuple[str, Real] | tuple[str, Real | None, Real | None]
MORE_IN = ("spilled, a vessel that was not entered, or the unit was low before", 0, None)
MORE_OUT = ("a package that was not entered, or the unit was too full before", None, 0)


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may have happened.

    low_ml, high_ml   what it alone would put into "in less out"; equal where it has one amount
    left_ml           what it leaves unexplained
    explains          that is within twice the band
    weight            of all that are named, had each been as likely before: 0 to 1
    """

    words: str
    low_ml: float
    high_ml: float
    left_ml: float
    explains: bool
    weight: float


def causes_of(difference_ml: float, band_ml: float, known: Sequence[Suspect]) -> tuple[Cause, ...]:
    """What is known and what is always possible, likeliest first.

    difference_ml   in less out
    band_ml         its standard uncertainty
    known           what may have been forgotten
    raises          OutOfRange for a range that ends before it begins
    source          Bayes' rule with equal weights before: a cause of one amount by the normal density of what it
                    leaves, a cause of a range by that density averaged over the range. The reach of 2 L of what has no
                    amount is common practice, no source
    check           1027 mL, band 70: a bottle of 946 mL leaves 81 mL and outweighs a spill of 0 to 2 L by 5.9 to 1
    """
    band = max(band_ml, LEAST_BAND_ML)
    reach = max(OPEN_ML, abs(difference_ml))
    always = MORE_IN if difference_ml > 0 else MORE_OUT
    rows = [(words, *_range(words, amounts, reach)) for words, *amounts in (*known, always)]
    weights = [_density(difference_ml, low, high, band) for _, low, high in rows]
    total = math.fsum(weights)
    found = [
        Cause(
            words,
            low,
            high,
            left := max(low - difference_ml, difference_ml - high, 0.0),
            left <= COVERAGE * band,
            weight / total,
        )
        for (words, low, high), weight in zip(rows, weights, strict=True)
    ]
    return tuple(sorted(found, key=lambda cause: -cause.weight))


def _range(words: str, amounts: Sequence[Real | None], reach: float) -> tuple[float, float]:
    low, high = amounts[0], amounts[-1]
    if low is None:
        return float(high or 0) - reach, float(high or 0)
    if high is None:
        return float(low), float(low) + reach
    if low > high:
        raise errors.OutOfRange(f"{words}: from {float(low):g} to {float(high):g} mL; the range ends before it begins.")
    return float(low), float(high)


def _density(value: float, low: float, high: float, band: float) -> float:
    if low == high:
        return math.exp(-(((value - low) / band) ** 2) / 2) / (band * math.sqrt(2 * math.pi))
    return (_below((value - low) / band) - _below((value - high) / band)) / (high - low)


def _below(z: float) -> float:
    return math.erfc(-z / math.sqrt(2)) / 2
