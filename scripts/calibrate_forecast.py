"""Fits the band of due days on simulated vehicles, and tries it and the search for wrong readings on others.

.venv/bin/python scripts/calibrate_forecast.py          try what is fitted: fixtures/how_sure.json
.venv/bin/python scripts/calibrate_forecast.py --fit    fit anew first: shopserv/calc/bands_fitted.py (minutes)
"""

from __future__ import annotations

import json
import sys
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "scripts")]

from simulated_fleets import SHAPES, Life, fleet  # noqa: E402

from shopserv.calc import fleet_arrays, mileage  # noqa: E402
from shopserv.calc.bands import FIT, WIDEST, Fit, Side  # noqa: E402
from shopserv.calc.readings import Typed, verdicts  # noqa: E402

FITTED = ROOT / "shopserv" / "calc" / "bands_fitted.py"
TRIED = ROOT / "fixtures" / "how_sure.json"
ONE = "one reading"  # the tenth shape: vehicles of all others of which only the last reading is known
WRONG = SHAPES[-1]
# Seeds: what is fitted on, two sets apart that were looked at while the form of the band was chosen, and two sets apart
# that were looked at once, when it stood. The help tells the last two.
TRAIN, CHOSEN = (11, 12, 13, 14, 15, 16), ((51, 52, 53), (71, 72, 73))
TEST, AGAIN, COUNT = (81, 82, 83), (91, 92, 93), 1000
FIRST = 730_000  # ordinal of day 0
LONGEST = 1825  # days: what lies beyond five years is on no list
AHEAD = ((1, 30), (30, 90), (90, 365), (365, 730), (730, LONGEST))
# Of each figure of bands.Side where the fit begins, and the least and most it may be: a wider band for a more uneven,
# less known or less read vehicle, however far ahead, never a narrower one.
RANGE = {
    "factor": (0.4, 0.02, 7.4),
    "uneven": (0.3, 0.24, 1.0),
    "even": (0.0, 0.0, 0.8),
    "uneven_far": (0.0, -0.08, 0.9),
    "unknown": (0.1, 0.0, 1.0),
    "few": (0.1, 0.0, 2.0),
    "ahead": (-0.15, -0.9, 0.2),
    "short": (0.0, -0.9, 0.9),
    "long": (0.0, -0.6, 0.6),
    "season": (0.0, -1.0, 1.0),
    "season_short": (0.0, -1.0, 1.0),
    "season_far": (0.0, -1.0, 1.0),
    "drawn": (0.0, 0.0, 0.0),
}
# A likely day by a faster rate than the drawn one is late at most by more, and early by no more.
LATE = RANGE | {"drawn": (0.0, 0.0, 2.0)}
NARROW = 24  # of the pinball losses of both edges beside the misses
WEIGHT = {"shapes": 70, "days ahead": 16, "readings": 50, "shapes by days": 0.1}  # of each group's miss
AHEAD_OF_SHAPE = ((1, 30), (30, 90), (90, 365), (365, LONGEST))
KNOWN = ((1, 1), (2, 2), (3, 4), (5, 6), (7, 9), (10, 20))
BIG = 1000  # miles by which a reading must be wrong to count as found or missed

Array = np.ndarray[Any, np.dtype[Any]]
Rows = tuple[list[list[int]], list[list[int]], list[int], list[float], list[str]]


def cases(count: int, seed: int) -> dict[int, tuple[Array, Array, Array, Array, list[str]]]:
    """Days, readings, distance left, true days until due and shape of simulated vehicles, by number of readings."""
    rows: dict[int, Rows] = defaultdict(lambda: ([], [], [], [], []))
    for shape in SHAPES:
        for life in fleet(shape, count, seed):
            days, readings = standing(life) if shape == WRONG else (life.days, life.readings)
            _add(rows, days, readings, life, shape)
    for shape in SHAPES[:-1]:
        for place, life in enumerate(fleet(shape, count // (len(SHAPES) - 1), seed + 1000)):
            last, figure = life.days[-1], life.readings[-1]
            if place % 2:  # of every other one the first use is known: day 0, at 0 miles
                _add(rows, [0, last], [0, figure - int(life.run[0])], life, ONE)
            else:
                _add(rows, [last], [figure], life, ONE)
    return {
        count: (np.array(days), np.array(run, float), np.array(left, float), np.array(true), shapes)
        for count, (days, run, left, true, shapes) in rows.items()
    }


def _add(rows: dict[int, Rows], days: list[int], readings: list[int], life: Life, shape: str) -> None:
    off = days[-1] - life.days[-1], readings[-1] - int(life.run[life.days[-1]])
    columns = rows[len(days)]
    columns[0].append(days)
    columns[1].append(readings)
    # What is left counts from the last reading that stands; when it comes true counts from its day.
    columns[2].append(life.left - (off[1] if shape == WRONG else 0))
    true = life.due_after()
    columns[3].append(np.inf if true is None else float(true - off[0]))
    columns[4].append(shape)


def standing(life: Life) -> tuple[list[int], list[int]]:
    """The readings that a forecast takes: those that nobody doubts, or all where none would be left."""
    found = verdicts(typed_of(life), "mi")
    kept = [i for i, verdict in enumerate(found) if not verdict.is_doubted] or list(range(len(found)))
    return [life.days[i] for i in kept], [life.readings[i] for i in kept]


def typed_of(life: Life) -> list[Typed]:
    """The readings of a simulated vehicle as they were written down."""
    return [
        Typed(date.fromordinal(FIRST + day), Fraction(figure))
        for day, figure in zip(life.days, life.readings, strict=True)
    ]


def edges(fit: Fit, data: Mapping[int, Any]) -> dict[str, Array]:
    """Early, likely and late of all cases in days, true days, shape and number of readings of each."""
    parts: dict[str, list[Array]] = defaultdict(list)
    for count, (days, run, left, true, shapes) in data.items():
        for is_one in (False, True):  # of one reading the average counts, with the first use where it is known
            which = (np.array(shapes) == ONE) == is_one
            if not which.any():
                continue
            rate = None if is_one else fleet_arrays.middle_slope(days[which], run[which])
            rows = which if rate is None else which & (fleet_arrays.middle_slope(days, run) > 0)
            rate = None if rate is None else rate[rate > 0]
            found = fleet_arrays.outlooks(days[rows], run[rows], np.maximum(left[rows], 0.0), rate, fit)
            for name, column in (
                ("early", found.early_days),
                ("days", found.days),
                ("late", found.late_days),
                ("true", true[rows]),
                ("shape", np.array(shapes)[rows]),
                ("count", np.full(rows.sum(), count)),
            ):
                parts[name].append(column)
    whole = {name: np.concatenate(columns) for name, columns in parts.items()}
    shown = (whole["days"] >= 1) & (whole["days"] <= LONGEST)
    return {name: column[shown] for name, column in whole.items()}


def held(found: Mapping[str, Array]) -> Array:
    """Whether each true day lay in the band of whole days."""
    early, late = np.floor(found["early"] + 0.5), np.floor(found["late"] + 0.5)
    return (found["true"] >= early) & (found["true"] <= late)


def groups(found: Mapping[str, Array]) -> dict[str, dict[str, Array]]:
    """The cases by shape, by days ahead and by number of readings."""
    days, count = found["days"], found["count"]
    return {
        "shapes": {shape: found["shape"] == shape for shape in (*SHAPES, ONE)},
        "days ahead": {f"{low} to {high}": (days >= low) & (days < high) for low, high in AHEAD},
        "readings": {
            str(low) if low == high else f"{low} to {high}": (count >= low) & (count <= high) for low, high in KNOWN
        },
    }


def fitted(data: Mapping[int, Any], begin: Fit) -> Fit:
    """The widths whose band is narrow and holds 80 % in each group, 10 % on each side, as far as it can.

    Only the two sides are fitted; the likely days stay as they are. A shape is counted by, and never told to the band.
    """
    from scipy.optimize import minimize  # type: ignore[import-untyped]  # slow import

    start, least, most = (np.array(column) for column in zip(*RANGE.values(), *LATE.values(), strict=True))
    start, least, most = (np.where(_FACTORS, np.log(np.where(_FACTORS, x, 1)), x) for x in (start, least, most))
    cost = Cost(data, begin)
    at = start
    for softness in (1.0, 0.4, 0.2, 0.1):
        bounds = list(zip(least, most, strict=True))
        result = minimize(cost, at, (softness,), jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 60})
        at = result.x
        print(f"cost {result.fun:.4f}", flush=True)
    return _scaled(_of(at, begin), data)


_FACTORS = np.array([name == "factor" for name in (*RANGE, *RANGE)])


def _of(at: Array, begin: Fit) -> Fit:
    """The fit of so many figures: of the early side, then of the late one, the factors as logarithms."""
    figures = [float(f"{value:.4g}") for value in np.where(_FACTORS, np.exp(np.where(_FACTORS, at, 0)), at)]
    half = len(RANGE)
    below, above = (Side(**dict(zip(RANGE, part, strict=True))) for part in (figures[:half], figures[half:]))
    return replace(begin, below=below, above=above)


class Cost:
    """How far a band is from holding four of five in each group, and how wide it is; with its slopes."""

    def __init__(self, data: Mapping[int, Any], begin: Fit) -> None:
        # The logarithm of a width is linear in its figures, so that each column is what one of them makes alone.
        tiny, none = 1e-6, Side(1e-6, *[0.0] * (len(RANGE) - 1))
        sides = [none, *(replace(none, **{name: 1.0}) for name in RANGE if name != "factor")]
        several = [edges(replace(begin, below=side, above=side), data) for side in sides]
        found = several[0]
        self.days, self.true = found["days"], np.minimum(found["true"], 5000)
        columns = [np.log(np.log(one["late"] / one["days"]) / tiny) for one in several]
        self.made = np.stack([np.ones(len(self.days)), *columns[1:]], axis=1)
        crossed = {
            f"{shape} {low}": (found["shape"] == shape) & (self.days >= low) & (self.days < high)
            for shape in (*SHAPES, ONE)
            for low, high in AHEAD_OF_SHAPE
        }
        self.shares = {
            kind: np.array([mask / mask.sum() for mask in masks.values() if mask.sum() > 50])
            for kind, masks in (groups(found) | {"shapes by days": crossed}).items()
        }

    def __call__(self, at: Array, softness: float) -> tuple[float, Array]:
        half, widest = len(RANGE), np.log(WIDEST)
        powers = self.made @ at[:half], self.made @ at[half:]
        below, above = (np.exp(np.minimum(power, widest)) for power in powers)
        early, late, off = self.days * np.exp(-below), self.days * np.exp(above), np.log(self.true / self.days)
        soft = softness * (0.08 * (late - early) + 0.3)  # days: an edge counts in part, so that the cost has a slope
        after, before = _sigmoid((self.true - early + 0.5) / soft), _sigmoid((late + 0.5 - self.true) / soft)
        loss = _pinball(off + below, 0.1) + _pinball(off - above, 0.9)
        by_after, by_before, miss = self._missed(after, before)
        count = len(self.days)
        by_below = (
            NARROW * np.where(off + below > 0, 0.1, -0.9) / count + 60 * by_after * early * after * (1 - after) / soft
        )
        by_above = (
            -NARROW * np.where(off - above > 0, 0.9, -0.1) / count
            + 60 * by_before * late * before * (1 - before) / soft
        )
        by_below, by_above = by_below * below * (powers[0] < widest), by_above * above * (powers[1] < widest)
        slopes = np.concatenate([self.made.T @ by_below, self.made.T @ by_above])
        ridge = np.where(_FACTORS, 0.0, 0.03)
        return float(NARROW * loss.mean() + 60 * miss + (ridge * at * at).sum()), slopes + 2 * ridge * at

    def _missed(self, after: Array, before: Array) -> tuple[Array, Array, float]:
        """How far the groups are off, with the slopes by each case's part after the early and before the late edge."""
        count = len(after)
        sides = after.mean() - 0.9, before.mean() - 0.9
        miss = 10 * (sides[0] ** 2 + sides[1] ** 2)
        by_after, by_before = np.full(count, 20 * sides[0] / count), np.full(count, 20 * sides[1] / count)
        for kind, share in self.shares.items():
            first, last = share @ after - 0.9, share @ before - 0.9
            whole = first + last
            miss += WEIGHT[kind] * ((whole**2).sum() + 0.3 * (first**2).sum() + 0.3 * (last**2).sum())
            by_after += 2 * WEIGHT[kind] * (whole + 0.3 * first) @ share
            by_before += 2 * WEIGHT[kind] * (whole + 0.3 * last) @ share
        return by_after, by_before, float(miss)


def _scaled(fit: Fit, data: Mapping[int, Any]) -> Fit:
    """The edges moved until 10 % of all cases lie before the early one and 10 % after the late one."""
    for _ in range(12):
        found = edges(fit, data)
        before = (found["true"] < np.floor(found["early"] + 0.5)).mean()
        after = (found["true"] > np.floor(found["late"] + 0.5)).mean()
        below, above = (
            replace(side, factor=float(f"{side.factor * (1 + 2 * (share - 0.1)):.4g}"))
            for side, share in ((fit.below, before), (fit.above, after))
        )
        fit = replace(fit, below=below, above=above)
    return fit


def _pinball(error: Array, share: float) -> Array:
    return np.maximum(share * error, (share - 1) * error)


def _sigmoid(x: Array) -> Array:
    return 1 / (1 + np.exp(-np.clip(x, -50, 50)))


def contract_held(data: Mapping[int, Any]) -> tuple[int, int]:
    """How often the band of the pair slopes alone (`mileage.due_date_distance`) held, of how many."""
    good = total = 0
    for count, (days, run, left, true, _shapes) in data.items():
        if count < 2:
            continue
        slope = fleet_arrays.middle_slope(days, run)
        outlooks = fleet_arrays.outlooks(days, run, np.maximum(left, 0.0), np.where(slope > 0, slope, np.nan))
        for row in np.flatnonzero((outlooks.days >= 1) & (outlooks.days <= LONGEST)):
            readings = [
                mileage.Reading(date.fromordinal(FIRST + int(day)), Fraction(int(far)))
                for day, far in zip(days[row], run[row], strict=True)
            ]
            total += 1
            try:
                band = mileage.due_date_distance(readings, readings[-1], max(0, int(left[row])))
            except (mileage.NotMoving, mileage.OutOfRange):
                continue
            on = readings[-1].on.toordinal() + true[row]
            good += bool(band.early.toordinal() <= on and (band.late is None or on <= band.late.toordinal()))
    return good, total


def faults_found(count: int, seeds: Sequence[int]) -> dict[str, Any]:
    """How many wrong readings are found and named, and how many right ones are doubted."""
    seen: Counter[str] = Counter()
    kinds: dict[str, Counter[str]] = defaultdict(Counter)
    for life in (life for seed in seeds for shape in SHAPES for life in fleet(shape, count, seed)):
        for place, verdict in enumerate(verdicts(typed_of(life), "mi")):
            true, fault = int(life.run[life.days[place]]), life.faults.get(place)
            if fault is None:
                seen["right"] += 1
                seen["doubted"] += int(verdict.is_doubted)
            elif abs(life.readings[place] - true) > BIG:
                kinds[fault]["wrong"] += 1
                kinds[fault]["found"] += int(verdict.is_doubted)
                kinds[fault]["mended"] += int(verdict.meant is not None and abs(verdict.meant - true) <= 1)
    return {"right": seen["right"], "doubted": seen["doubted"], "kinds": {k: dict(v) for k, v in sorted(kinds.items())}}


def tried(fit: Fit, count: int = COUNT) -> dict[str, Any]:
    """What the help page tells: how often the band held, on two sets of seeds that nothing was fitted on."""
    first = cases(count, TEST[0])
    good, total = contract_held(first)
    return {
        "fit": asdict(fit),
        "fitted_on": list(TRAIN),
        "chosen_by": [list(seeds) for seeds in CHOSEN],
        **counted(fit, TEST, [first, *(cases(count, seed) for seed in TEST[1:])]),
        "again": counted(fit, AGAIN, [cases(count, seed) for seed in AGAIN]),
        "contract_held": good,
        "contract_cases": total,
        "faults": faults_found(count // 2, TEST[:1]),
    }


def counted(fit: Fit, seeds: Sequence[int], several: Sequence[Mapping[int, Any]]) -> dict[str, Any]:
    """How often the band held on the cases of some seeds, in all and by group."""
    parts = [edges(fit, data) for data in several]
    found = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    inside = held(found)
    return {
        "seeds": list(seeds),
        "held": int(inside.sum()),
        "cases": len(inside),
        **{
            kind: {
                name: {
                    "held": int(inside[mask].sum()),
                    "cases": int(mask.sum()),
                    "early": int((found["true"] < np.floor(found["early"] + 0.5))[mask].sum()),
                    "late_over_early": round(float(np.median(found["late"][mask] / found["early"][mask])), 2),
                }
                for name, mask in masks.items()
            }
            for kind, masks in groups(found).items()
        },
    }


def main() -> None:
    """Fit if asked to, then try."""
    fit = FIT
    if "--fit" in sys.argv:
        data = _merged([cases(COUNT, seed) for seed in TRAIN])
        fit = fitted(data, FIT)
        FITTED.write_text(_told(fit), "utf-8")
        for seeds in CHOSEN:
            _print(counted(fit, seeds, [cases(COUNT, seed) for seed in seeds]))
    said = tried(fit)
    TRIED.write_text(json.dumps(said, indent=1) + "\n", "utf-8")
    _print(said)
    _print(said["again"])
    print(f"contract {said['contract_held'] / said['contract_cases']:.1%}; faults {said['faults']}")


def _print(said: Mapping[str, Any]) -> None:
    print(f"seeds {said['seeds']}: {said['held'] / said['cases']:.1%} of {said['cases']:,} cases held")
    for kind in ("shapes", "days ahead", "readings"):
        for name, row in said[kind].items():
            print(f"  {name:26} {row['held'] / row['cases']:.1%} of {row['cases']:,}, x{row['late_over_early']}")


def _told(fit: Fit) -> str:
    """The module that keeps a fit."""
    whole = asdict(fit)
    parts = {"BELOW": whole.pop("below"), "ABOVE": whole.pop("above")}
    told = ['"""Made by scripts/calibrate_forecast.py; not by hand."""\n']
    for name, figures in {"RATE": whole, **parts}.items():
        rows = "".join(f'    "{key}": {value!r},\n' for key, value in figures.items())
        told.append(f"{name} = {{\n{rows}}}\n")
    return "\n".join(told)


def _merged(several: Sequence[Mapping[int, Any]]) -> dict[int, Any]:
    whole = {}
    for count in sorted({count for data in several for count in data}):
        parts = [data[count] for data in several if count in data]
        whole[count] = (
            *(np.concatenate([part[column] for part in parts]) for column in range(4)),
            [shape for part in parts for shape in part[4]],
        )
    return whole


if __name__ == "__main__":
    main()
