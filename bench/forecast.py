"""The forecast of a whole fleet in arrays, against the same arithmetic in bare numpy."""

from __future__ import annotations

from math import log, log1p, pi
from typing import Any

import numpy as np

from bench.measure import Figure
from shopserv.calc.bands import AVERAGE_A_DAY, EVEN, FARTHEST, FIT, LONG, LONGEST_PAST, SHORT, WIDEST, Side
from shopserv.calc.fleet_arrays import LAST_DAY, NO_DAY, dues
from shopserv.calc.yearly import HELD, YEAR

SEED = 8104
READINGS = 5
TODAY = 739_944
Array = np.ndarray[Any, np.dtype[Any]]


def fleet(count: int) -> tuple[Array, Array, Array, Array]:
    """Days, distances in whole miles, where the distance clock ends and when the month clock does."""
    rng = np.random.default_rng(SEED)
    gaps = rng.integers(20, 250, (count, READINGS - 1))
    days = TODAY - np.concatenate([gaps[:, ::-1].cumsum(axis=1)[:, ::-1], np.zeros((count, 1), int)], axis=1)
    rate = np.exp(rng.normal(np.log(30), 0.5, (count, 1)))
    far = np.rint(gaps * rate * rng.gamma(9.0, 1 / 9, gaps.shape))
    run = rng.integers(5_000, 120_000, (count, 1)) + np.concatenate([np.zeros((count, 1)), far.cumsum(axis=1)], axis=1)
    return days, run, run[:, -1] + rng.integers(-2_000, 33_000, count), TODAY + rng.integers(-200, 1_500, count)


def figures(is_small: bool) -> list[Figure]:
    """P18: due days of all vehicles anew."""
    given = fleet(1_000 if is_small else 100_000)
    return [
        Figure(
            id="P18 forecast",
            work="due day, its band and the earlier clock of every vehicle",
            floor="the same arithmetic in bare numpy, nothing checked",
            data=f"{len(given[0]):,} vehicles with {READINGS} readings, seed {SEED}",
            hard=2.0,
            extreme=1.2,
            program=lambda: _columns(*given),
            bare=lambda: dues_bare(*given),
            agree=lambda program, bare: all(np.array_equal(a, b) for a, b in zip(program, bare, strict=True)),
        )
    ]


def _columns(days: Array, run: Array, due_at: Array, months_due: Array) -> tuple[Array, ...]:
    found = dues(days, run, due_at, months_due)
    return found.early, found.due, found.late, found.due_on, found.by_distance


def dues_bare(days: Array, run: Array, due_at: Array, months_due: Array) -> tuple[Array, ...]:
    """As one writes it for this one purpose: a column is a row of memory, and nothing is looked at twice."""
    day, far = np.ascontiguousarray(days.T).astype(float), np.ascontiguousarray(run.T)
    slopes = np.array([(far[j] - far[i]) / (day[j] - day[i]) for i in range(READINGS) for j in range(i + 1, READINGS)])
    slopes.partition((4, 5), axis=0)
    rate = (slopes[4] + slopes[5]) / 2
    gaps, steps = np.diff(day, axis=0), np.diff(far, axis=0)
    span, total = day[-1] - day[0], np.maximum(far[-1] - far[0], 0.0)
    own = (total + 1.0) / span
    usual = FIT.usual_mi / own
    off = (steps - total / span * gaps) / own
    scatter = (off * off / gaps).sum(axis=0)
    known = np.log(scatter / (READINGS - 1) + FIT.own_floor * usual)
    uneven = (FIT.prior_count * np.log(usual) + (READINGS - 1) * known) / (FIT.prior_count + READINGS - 1)
    average_days = np.exp(uneven) / FIT.spread**2
    past = np.minimum(span, LONGEST_PAST)
    share = past / (past + average_days)
    turned = (2 * pi / YEAR) * gaps
    at = np.concatenate([np.zeros((1, len(days))), turned.cumsum(axis=0)])
    c, s = np.diff(np.sin(at), axis=0) / turned, -np.diff(np.cos(at), axis=0) / turned
    gc = gaps * c
    cc, ss, cs = (gc * c).sum(axis=0) + HELD, (gaps * s * s).sum(axis=0) + HELD, (gc * s).sum(axis=0)
    cz, sz = (c * off).sum(axis=0), (s * off).sum(axis=0)
    taken = (cz * cz * ss + sz * sz * cc - 2 * cz * sz * cs) / (cc * ss - cs * cs)
    scatter += (READINGS - 1) * FIT.own_floor * usual
    season = np.maximum(0.0, 1 - (1 - taken / scatter) * (READINGS - 2) / (READINGS - 4))
    left, moves = np.maximum(due_at - far[-1], 0.0), rate > 0
    rate = np.where(moves, rate, 1.0)
    days_ahead = left / rate
    drawn = np.exp((1 - share) * np.log(AVERAGE_A_DAY) + share * np.log(own))
    apart = np.clip(np.log(rate / drawn), -FARTHEST, FARTHEST)
    uneven -= log(EVEN)
    unknown = np.log(average_days / (past + average_days))
    ahead = np.log(np.maximum(days_ahead, 1.0) / SHORT)
    even, short, long = np.minimum(uneven, 0), np.minimum(ahead, 0), np.maximum(ahead - log(LONG / SHORT), 0)
    over = np.maximum(ahead, 0)

    def width(to: Side) -> Array:
        power = (to.uneven + to.uneven_far * over) * uneven + to.even * even + to.unknown * unknown
        power += to.drawn * apart + to.few * log1p(1 / (READINGS - 1))
        power += to.ahead * ahead + to.short * short + to.long * long
        power += (to.season + to.season_short * short + to.season_far * over) * season
        return np.minimum(to.factor * np.exp(power), WIDEST)

    last = days[:, -1]
    edges = (
        days_ahead * np.exp(-width(FIT.below)),
        days_ahead,
        days_ahead * np.exp(width(FIT.above)),
    )
    early, due, late = (last + np.minimum(np.floor(one + 0.5), LAST_DAY).astype(np.int64) for one in edges)
    can = moves & (due <= LAST_DAY)
    due, early = np.where(can, due, NO_DAY), np.where(can, early, NO_DAY)
    late = np.where(can & (late <= LAST_DAY), late, NO_DAY)
    by_distance = can & (due < months_due)
    return early, due, late, np.where(by_distance, due, months_due), by_distance
