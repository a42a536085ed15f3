"""The forecast of many vehicles at once, in arrays: the same days as `forecast` and `bands` give one by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from math import log, log1p, pi
from typing import TYPE_CHECKING, Any

from shopserv.calc import bands, mileage, yearly
from shopserv.calc.bands import AVERAGE_A_DAY, EVEN, FARTHEST, FIT, LONG, LONGEST_PAST, SHORT, WIDEST, Fit, Side
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
    """Ordinal days, NO_DAY where none can be said: by distance with the band shown, and the earlier of both clocks.

    All of them are reckoned from the last reading on. Without the services it is not known which readings count for a
    crossing: the day on which a distance was run through, and by it the clock that governs, are told by `forecast`.
    """

    early: Array
    due: Array
    late: Array
    due_on: Array
    by_distance: Array


def outlooks(days: Array, run: Array, left: Array, rate: Array | None = None, fit: Fit = FIT) -> Outlooks:
    """`bands.outlook` of vehicles with equally many readings, in miles.

    days, run   (vehicles, readings), days rising and whole
    left        (vehicles), not below 0
    rate        (vehicles), above 0; None: the own ones drawn towards the average
    """
    import numpy as np  # slow import

    # A column is a row of memory.
    gaps = np.diff(np.ascontiguousarray(days.T), axis=0).astype(float)
    far = np.diff(np.ascontiguousarray(run.T), axis=0)
    count = len(gaps)
    span, total = gaps.sum(axis=0), np.maximum(far.sum(axis=0), 0.0)
    past = np.minimum(span, LONGEST_PAST)
    season: Array | float = 0.0
    unknown: Array | float = 0.0  # the logarithm of a weight of 1: without a stretch the average is all that is known
    if count:
        own, mean = (total + 1.0) / span, total / span
        usual = fit.usual_mi / own
        off = (far - mean * gaps) / own
        scatter = (off * off / gaps).sum(axis=0)
        known = np.log(scatter / count + fit.own_floor * usual)
        uneven = (fit.prior_count * np.log(usual) + count * known) / (fit.prior_count + count)
        average_days = np.exp(uneven) / fit.spread**2
        share, unknown = past / (past + average_days), np.log(average_days / (past + average_days))
        drawn = np.exp((1 - share) * log(AVERAGE_A_DAY) + share * np.log(own))
        if count >= yearly.LEAST:
            season = _season(gaps, off, scatter + count * fit.own_floor * usual)
    else:
        drawn = np.full(len(left), AVERAGE_A_DAY)
        uneven = np.full(len(left), log(fit.usual_mi / AVERAGE_A_DAY))
    by = drawn if rate is None else rate
    likely = left / by
    apart = np.clip(np.log(by / drawn), -FARTHEST, FARTHEST)
    uneven, ahead = uneven - log(EVEN), np.log(np.maximum(likely, 1.0) / SHORT)
    under, over = np.minimum(ahead, 0.0), np.maximum(ahead, 0.0)
    low, long = np.minimum(uneven, 0.0), np.maximum(ahead - log(LONG / SHORT), 0.0)
    few = log1p(1 / count) if count else 0.0

    def width(side: Side) -> Array:
        """`bands._width` of many."""
        power = (side.uneven + side.uneven_far * over) * uneven + side.even * low
        power += side.unknown * unknown + side.few * few + side.drawn * apart
        power += side.ahead * ahead + side.short * under + side.long * long
        power += (side.season + side.season_short * under + side.season_far * over) * season
        widths: Array = np.minimum(side.factor * np.exp(power), WIDEST)
        return widths

    below, above = width(fit.below), width(fit.above)
    return Outlooks(by, likely, likely * np.exp(-below), likely * np.exp(above), below, above)


def _season(gaps: Array, off: Array, scatter: Array) -> Array:
    """`yearly.share` of many; a row is a stretch."""
    import numpy as np  # slow import

    count, turned = len(gaps), (2 * pi / yearly.YEAR) * gaps
    at = np.concatenate([np.zeros((1, gaps.shape[1])), turned.cumsum(axis=0)])
    c, s = np.diff(np.sin(at), axis=0) / turned, -np.diff(np.cos(at), axis=0) / turned
    gc = gaps * c
    cc, ss, cs = (gc * c).sum(axis=0) + yearly.HELD, (gaps * s * s).sum(axis=0) + yearly.HELD, (gc * s).sum(axis=0)
    cz, sz = (c * off).sum(axis=0), (s * off).sum(axis=0)
    taken = (cz * cz * ss + sz * sz * cc - 2 * cz * sz * cs) / (cc * ss - cs * cs)
    return np.maximum(0.0, 1 - (1 - taken / scatter) * (count - 1) / (count - 3))


def dues(days: Array, run: Array, due_at: Array, months_due: Array) -> Dues:
    """When vehicles with equally many readings are due, by distance and by the earlier of both clocks.

    days         (vehicles, readings) ordinals, rising in each row; at least 2 readings
    run          (vehicles, readings) miles
    due_at       (vehicles) miles at which the distance clock ends
    months_due   (vehicles) ordinals on which the month clock ends
    raises       DateOrder where the days of a vehicle do not rise; OutOfRange for a distance below zero
    """
    import numpy as np  # slow import

    if (days[:, 1:] <= days[:, :-1]).any():
        raise DateOrder("The readings of a vehicle are not in the order of their days.")
    if (run < 0).any():
        raise OutOfRange("A reading is below zero.")
    days, run = np.asfortranarray(days), np.asfortranarray(run)  # turned round once for both
    rate = middle_slope(days, run)
    last, left = days[:, -1], np.maximum(due_at - run[:, -1], 0.0)
    moves = rate > 0
    found = outlooks(days, run, left, np.where(moves, rate, 1.0))
    shifted = np.stack([found.early_days, found.days, found.late_days]) + 0.5
    whole = np.floor(shifted)  # halves up
    part = shifted - whole
    near = ((part < NEAR_TIE) | (part > 1 - NEAR_TIE)).any(axis=0)
    # One past the calendar for all that lies beyond.
    early, due, late = np.where(moves, last + np.minimum(whole, LAST_DAY + 1).astype(np.int64), NO_DAY)
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

    day, far = np.ascontiguousarray(days.T).astype(float), np.ascontiguousarray(run.T)
    first, second = np.triu_indices(len(day), 1)
    slopes = np.empty((len(first), len(days)))
    for place, (i, j) in enumerate(zip(first, second, strict=True)):
        np.divide(far[j] - far[i], day[j] - day[i], out=slopes[place])
    upper = len(slopes) // 2
    if len(slopes) % 2:
        slopes.partition(upper, axis=0)
        return slopes[upper]
    slopes.partition((upper - 1, upper), axis=0)
    return (slopes[upper - 1] + slopes[upper]) / 2


def _one_by_one(days: Array, run: Array, due_at: float) -> tuple[int, int, int]:
    """Early, due and late of one vehicle by exact fractions; one past the calendar for what lies beyond."""
    rows = [mileage.Reading(date.fromordinal(int(day)), Fraction(float(mi))) for day, mi in zip(days, run, strict=True)]
    early, due, late = bands.due_band(rows, Fraction(due_at), "mi", mileage.mileage_rate(rows))
    beyond = LAST_DAY + 1
    return tuple(day.toordinal() if day else beyond for day in (early, due, late))  # type: ignore[return-value]
