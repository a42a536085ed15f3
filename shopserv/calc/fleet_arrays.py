"""The forecast of many vehicles at once, in arrays: the same days as `forecast` and `bands` give one by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import log, log1p
from typing import TYPE_CHECKING, Any

from shopserv.calc import bands, mileage
from shopserv.calc.bands import AVERAGE_A_DAY, EVEN, FIT, LONG, LONGEST_PAST, SHORT, WIDEST, Fit, Side
from shopserv.calc.errors import DateOrder, OutOfRange

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

NO_DAY = 0  # ordinals begin at 1
LAST_DAY = date.max.toordinal()
NEAR_TIE = 1e-6  # of a day: so near to a half the floats may round otherwise than exact fractions do


@dataclass(frozen=True, slots=True)
class Outlooks:
    """The columns of `bands.Outlook` that days are made from, and the widths."""

    rate: Array
    days: Array
    early_days: Array
    late_days: Array
    below: Array
    above: Array


@dataclass(frozen=True, slots=True)
class Dues:
    """Ordinal days, NO_DAY where none can be said: by distance with the band shown, and the earlier of both clocks."""

    early: Array
    due: Array
    late: Array
    due_on: Array
    by_distance: Array


def outlooks(days: Array, run: Array, left: Array, fit: Fit = FIT) -> Outlooks:
    """`bands.outlook` of vehicles with equally many readings, in miles.

    days, run   (vehicles, readings), days rising and whole
    left        (vehicles), not below 0
    """
    import numpy as np  # slow import

    gaps, far = np.diff(days, axis=1).astype(float), np.diff(run, axis=1)
    count = gaps.shape[1]
    span, total = gaps.sum(axis=1), np.maximum(far.sum(axis=1), 0.0)
    past = np.minimum(span, LONGEST_PAST)
    if count:
        own, mean = (total + 1.0) / span, total / span
        usual = fit.usual_mi / own
        scatter = ((far - mean[:, None] * gaps) ** 2 / gaps).sum(axis=1) / (own * own)
        known = np.log(scatter / count + fit.own_floor * usual)
        uneven = (fit.prior_count * np.log(usual) + count * known) / (fit.prior_count + count)
        average_days = np.exp(uneven) / fit.spread**2
        share = past / (past + average_days)
        rate = np.exp((1 - share) * log(AVERAGE_A_DAY) + share * np.log(own))
    else:
        rate = np.full(len(left), AVERAGE_A_DAY)
        uneven = np.full(len(left), log(fit.usual_mi / AVERAGE_A_DAY))
        average_days = np.exp(uneven) / fit.spread**2
    likely = left / rate
    unknown = np.log(average_days / (past + average_days))
    logs = uneven - log(EVEN), unknown, np.log(np.maximum(likely, 1.0) / SHORT)
    below, above = (_width(side, *logs, log1p(1 / count) if count else 0.0) for side in (fit.below, fit.above))
    return Outlooks(rate, likely, likely * np.exp(-below), likely * np.exp(above), below, above)


def _width(side: Side, uneven: Array, unknown: Array, ahead: Array, few: float) -> Array:
    """`bands._width` of many."""
    import numpy as np  # slow import

    power = side.uneven * uneven + side.even * np.minimum(uneven, 0.0) + side.unknown * unknown + side.few * few
    power += side.ahead * ahead + side.short * np.minimum(ahead, 0.0)
    power += side.long * np.maximum(ahead - log(LONG / SHORT), 0.0)
    return np.minimum(side.factor * np.exp(power), WIDEST)


def dues(days: Array, run: Array, due_at: Array, months_due: Array) -> Dues:
    """When vehicles with equally many readings are due, by distance and by the earlier of both clocks.

    days         (vehicles, readings) ordinals, rising in each row; at least 2 readings
    run          (vehicles, readings) miles
    due_at       (vehicles) miles at which the distance clock ends
    months_due   (vehicles) ordinals on which the month clock ends
    raises       DateOrder where the days of a vehicle do not rise; OutOfRange for a distance below zero
    """
    import numpy as np  # slow import

    if (np.diff(days, axis=1) <= 0).any():
        raise DateOrder("The readings of a vehicle are not in the order of their days.")
    if (run < 0).any():
        raise OutOfRange("A reading is below zero.")
    rate = middle_slope(days, run)
    last, left = days[:, -1], np.maximum(due_at - run[:, -1], 0.0)
    moves = rate > 0
    likely = left / np.where(moves, rate, 1.0)
    found = outlooks(days, run, left)
    due = np.where(moves, _rounded(last, likely), NO_DAY)
    early = np.where(moves, np.minimum(_rounded(last, found.early_days), due), NO_DAY)
    late = np.where(moves, np.maximum(_rounded(last, found.late_days), due), NO_DAY)
    near = _is_near_tie(likely) | _is_near_tie(found.early_days) | _is_near_tie(found.late_days)
    for row in np.flatnonzero(near & moves):
        early[row], due[row], late[row] = _one_by_one(days[row], run[row], float(due_at[row]))
    due = np.where(due > LAST_DAY, NO_DAY, due)
    early = np.where(due == NO_DAY, NO_DAY, early)
    late = np.where((due == NO_DAY) | (late > LAST_DAY), NO_DAY, late)
    by_distance = (due != NO_DAY) & (due < months_due)
    return Dues(early, due, late, np.where(by_distance, due, months_due), by_distance)


def middle_slope(days: Array, run: Array) -> Array:
    """Median of the slopes of all pairs, as `mileage.mileage_rate`."""
    import numpy as np  # slow import

    first, second = np.triu_indices(days.shape[1], 1)
    slopes = np.sort((run[:, second] - run[:, first]) / (days[:, second] - days[:, first]), axis=1)
    upper = slopes.shape[1] // 2
    return slopes[:, upper] if slopes.shape[1] % 2 else (slopes[:, upper - 1] + slopes[:, upper]) / 2


def _rounded(last: Array, ahead: Array) -> Array:
    """The ordinal so many days later, halves up; one past the calendar for all that lies beyond."""
    import numpy as np  # slow import

    return last + np.minimum(np.floor(ahead + 0.5), LAST_DAY + 1).astype(np.int64)


def _is_near_tie(ahead: Array) -> Array:
    import numpy as np  # slow import

    return np.abs(ahead - np.floor(ahead) - 0.5) < NEAR_TIE


def _one_by_one(days: Array, run: Array, due_at: float) -> tuple[int, int, int]:
    """Early, due and late of one vehicle by exact fractions; one past the calendar for what lies beyond."""
    rows = [mileage.Reading(date.fromordinal(int(day)), Fraction(float(mi))) for day, mi in zip(days, run, strict=True)]
    early, due, late = bands.due_band(rows, Fraction(due_at), "mi", mileage.mileage_rate(rows))
    beyond = LAST_DAY + 1
    return tuple(day.toordinal() if day else beyond for day in (early, due, late))  # type: ignore[return-value]
