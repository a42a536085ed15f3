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
from shopserv.calc.bands import FIT, Fit, Side  # noqa: E402
from shopserv.calc.readings import Typed, verdicts  # noqa: E402

FITTED = ROOT / "shopserv" / "calc" / "bands_fitted.py"
TRIED = ROOT / "fixtures" / "how_sure.json"
ONE = "one reading"  # the tenth shape: vehicles of all others of which only the last reading is known
WRONG = SHAPES[-1]
TRAIN, TEST, COUNT = (11, 12, 13, 14), (51, 52, 53), 1000
FIRST = 730_000  # ordinal of day 0
LONGEST = 1825  # days: what lies beyond five years is on no list
AHEAD = ((1, 30), (30, 90), (90, 365), (365, 730), (730, LONGEST))
# Of each figure of bands.Side where the fit begins, and the least and most it may be: a wider band for a more uneven,
# less known or less read vehicle, never a narrower one.
RANGE = {
    "factor": (0.4, 0.02, 7.4),
    "uneven": (0.35, 0.02, 1.0),
    "even": (0.05, 0.0, 0.8),
    "unknown": (0.1, 0.0, 1.0),
    "few": (0.1, 0.0, 2.0),
    "ahead": (-0.15, -0.9, 0.2),
    "short": (-0.1, -0.9, 0.6),
    "long": (0.0, -0.6, 0.6),
}
WEIGHT = {"shapes": 40, "days ahead": 8, "readings": 6}  # of each group's miss beside the narrowness of the band
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
    """Early, middle and late of all cases in days, true days, shape and number of readings of each."""
    parts: dict[str, list[Array]] = defaultdict(list)
    for count, (days, run, left, true, shapes) in data.items():
        found = fleet_arrays.outlooks(days, run, np.maximum(left, 0.0), fit)
        early, late = found.early_days, found.late_days
        if count > 1:  # the likely day is that of the median slope, and within the band
            slope = fleet_arrays.middle_slope(days, run)
            likely = np.maximum(left, 0.0) / np.where(slope > 0, slope, np.nan)
            early, late = np.fmin(early, likely), np.fmax(late, likely)
        for name, column in (
            ("early", early),
            ("days", found.days),
            ("late", late),
            ("true", true),
            ("shape", np.array(shapes)),
            ("count", np.full(len(true), count)),
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

    Only the two sides are fitted; what the rate is made of stays as it is, and the likely day with it. A shape is
    counted by, and never told to the band.
    """
    from scipy.optimize import minimize  # type: ignore[import-untyped]  # slow import

    start, least, most = np.array([*RANGE.values()] * 2).T
    masks = groups(edges(begin, data))  # the days do not depend on the sides
    shares = {kind: np.array([m / m.sum() for m in rows.values() if m.sum() > 50]) for kind, rows in masks.items()}

    def of(at: Array) -> Fit:
        below, above = (Side(**dict(zip(RANGE, map(float, half), strict=True))) for half in np.split(at, 2))
        return replace(begin, below=below, above=above)

    def cost(at: Array, softness: float) -> float:
        found = edges(of(at), data)
        true, early, late = np.minimum(found["true"], 5000), found["early"], found["late"]
        off = np.log(true / found["days"])
        narrow = _pinball(off - np.log(np.maximum(early, 1e-9) / found["days"]), 0.1)
        narrow += _pinball(off - np.log(late / found["days"]), 0.9)
        soft = softness * (0.08 * (late - early) + 0.3)  # days: an edge counts in part, so that the cost has a slope
        after, before = _sigmoid((true - early + 0.5) / soft), _sigmoid((late + 0.5 - true) / soft)
        miss = 10 * ((after.mean() - 0.9) ** 2 + (before.mean() - 0.9) ** 2)
        for kind, share in shares.items():
            inside, sides = share @ (after + before - 1), (share @ after, share @ before)
            miss += WEIGHT[kind] * (((inside - 0.8) ** 2).sum() + sum(((side - 0.9) ** 2).sum() for side in sides))
        return float(8 * narrow.mean() + 60 * miss)

    at = start
    for softness in (1.0, 0.4, 0.2, 0.1):
        bounds = list(zip(least, most, strict=True))
        options = {"maxiter": 70, "maxfun": 9000}
        result = minimize(cost, at, (softness,), method="L-BFGS-B", bounds=bounds, options=options)
        at = result.x
        print(f"cost {result.fun:.4f}", flush=True)
    return _scaled(of(np.array([float(f"{value:.4g}") for value in at])), data)


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
        outlooks = fleet_arrays.outlooks(days, run, np.maximum(left, 0.0))
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


def tried(fit: Fit, count: int = COUNT, seeds: Sequence[int] = TEST) -> dict[str, Any]:
    """What the help page tells: how often the band held, on seeds that nothing was fitted on."""
    several = [cases(count, seed) for seed in seeds]
    parts = [edges(fit, data) for data in several]
    found = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    inside = held(found)
    contract = [contract_held(data) for data in several[:1]]
    return {
        "fit": asdict(fit),
        "seeds": list(seeds),
        "held": int(inside.sum()),
        "cases": len(inside),
        "contract_held": sum(good for good, _ in contract),
        "contract_cases": sum(total for _, total in contract),
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
        "faults": faults_found(count // 2, seeds[:1]),
    }


def main() -> None:
    """Fit if asked to, then try."""
    fit = FIT
    if "--fit" in sys.argv:
        data = _merged([cases(COUNT, seed) for seed in TRAIN])
        fit = fitted(data, FIT)
        FITTED.write_text(_told(fit), "utf-8")
    said = tried(fit)
    TRIED.write_text(json.dumps(said, indent=1) + "\n", "utf-8")
    print(f"{said['held'] / said['cases']:.1%} of {said['cases']:,} cases held")
    for kind in ("shapes", "days ahead", "readings"):
        for name, row in said[kind].items():
            print(f"  {name:26} {row['held'] / row['cases']:.1%} of {row['cases']:,}, x{row['late_over_early']}")
    print(f"contract {said['contract_held'] / said['contract_cases']:.1%}; faults {said['faults']}")


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
