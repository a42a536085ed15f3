"""Vehicles made up by a seed: how far each goes on every day, and when somebody reads its odometer.

Nine shapes of use; their numbers are common practice, no source. The mean of a year is spread around the published
average (calc.bands.AVERAGE_A_DAY) with a standard deviation of its logarithm of 0.5.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.random import Generator, default_rng

from shopserv.calc.bands import AVERAGE_A_DAY

PAST, AHEAD = 1400, 3650  # days that readings come from, and days in which the outcome is looked for
SHAPES = (
    "steady commuter",
    "weekend vehicle",
    "seasonal",
    "holiday trips",
    "change of use half way",
    "fleet van",
    "nearly parked",
    "few and uneven readings",
    "some wrong readings",
)
WRONG = 0.08  # share of readings that are wrong in the last shape


@dataclass(frozen=True, slots=True)
class Life:
    """One vehicle.

    run        distance at the end of each day, the first of PAST + AHEAD days is day 0
    days       on which it was read, rising; the last one is the day of the forecast
    readings   what was written down, whole miles
    left       distance left until it is due, counted from the last true figure
    faults     place of each wrong reading and its kind
    """

    shape: str
    run: np.ndarray
    days: list[int]
    readings: list[int]
    left: int
    faults: dict[int, str]

    def due_after(self) -> int | None:
        """Days from the last reading until the distance is run through; None: not within the days looked at."""
        last = self.days[-1]
        at = self.run[last] + self.left
        place = int(np.searchsorted(self.run, at, side="left"))
        return place - last if place < len(self.run) else None


def fleet(shape: str, count: int, seed: int) -> list[Life]:
    """So many vehicles of one shape, always the same for the same seed."""
    rng = default_rng([SHAPES.index(shape), seed])
    return [_life(shape, rng) for _ in range(count)]


def _life(shape: str, rng: Generator) -> Life:
    driven = shape
    if shape in ("few and uneven readings", "some wrong readings"):
        driven = SHAPES[int(rng.integers(0, 6))]
    days = _days(shape, rng)
    daily = _daily(driven, rng, (days[0] + days[-1]) // 2)
    start = float(rng.uniform(3_000, 110_000))
    run = start + np.cumsum(daily)
    readings = [int(run[day]) for day in days]
    left = int(np.exp(rng.uniform(np.log(100), np.log(33_000))))
    faults: dict[int, str] = {}
    if shape == "some wrong readings":
        for place in range(len(readings)):
            if rng.random() < WRONG:
                faulty = _wrong(readings[place], rng)
                if faulty is not None:
                    faults[place], readings[place] = faulty
    return Life(shape, run, days, readings, left, faults)


def _daily(shape: str, rng: Generator, half_way: int) -> np.ndarray:
    days = PAST + AHEAD
    day = np.arange(days) + int(rng.integers(0, 365))
    mean = AVERAGE_A_DAY * float(np.exp(rng.normal(-0.125, 0.5)))
    is_weekend = day % 7 >= 5
    drift = np.exp(np.cumsum(rng.normal(0, 0.10 / np.sqrt(365), days)))
    noise = rng.gamma(2.0, 0.5, days)
    if shape == "weekend vehicle":
        out = rng.random(days) < np.where(is_weekend, 0.7, 0.08)
        return mean * 0.6 * drift * np.where(out, rng.gamma(1.0, 1 / 0.257, days), 0)
    if shape == "seasonal":
        wave = 1 + float(rng.uniform(0.3, 0.8)) * np.sin(2 * np.pi * (day + float(rng.uniform(0, 365))) / 365)
        return mean * drift * noise * wave
    if shape == "holiday trips":
        trips = rng.random(days) < float(rng.uniform(2, 6)) / 365
        return mean * 0.6 * drift * noise + np.where(trips, rng.uniform(300, 2_500, days), 0)
    if shape == "change of use half way":
        after = float(np.exp(rng.normal(0, 0.5)))
        return mean * drift * noise * np.where(np.arange(days) < half_way, 1, after)
    if shape == "fleet van":
        route = np.exp(np.repeat(rng.normal(0, 0.12, days // 90 + 1), 90)[:days])
        return 2.2 * mean * drift * noise * route * np.where(is_weekend, 0.2, 1.3)
    if shape == "nearly parked":
        out = rng.random(days) < 0.12
        return mean * 0.08 * drift * np.where(out, rng.gamma(0.8, 1 / 0.096, days), 0)
    return mean * drift * noise * np.where(is_weekend, 0.45, 1.22)


def _days(shape: str, rng: Generator) -> list[int]:
    """Rising days of reading; the last is the last day of the past."""
    if shape == "fleet van":
        count, gaps = int(rng.integers(4, 14)), None
        return [PAST - 1 - 91 * back for back in range(count)][::-1]
    count = int(rng.integers(2, 5)) if shape == "few and uneven readings" else int(rng.integers(4, 11))
    gaps = (
        rng.gamma(1.2, 110, count - 1) + 5 if shape == "few and uneven readings" else rng.gamma(3.0, 45, count - 1) + 5
    )
    back = np.concatenate([[0], np.cumsum(gaps.round().astype(int))])
    return [int(PAST - 1 - days) for days in back if days < PAST][::-1]


def _wrong(figure: int, rng: Generator) -> tuple[str, int] | None:
    """A wrong reading of the figure and its kind; None where this kind changes nothing."""
    kind = str(rng.choice(["two digits exchanged", "digit missing", "digit twice", "other unit", "trip meter"]))
    digits = str(figure)
    place = int(rng.integers(0, len(digits) - 1))
    if kind == "two digits exchanged":
        typed = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
    elif kind == "digit missing":
        typed = digits[:place] + digits[place + 1 :]
    elif kind == "digit twice":
        typed = digits[: place + 1] + digits[place] + digits[place + 1 :]
    elif kind == "other unit":
        typed = str(round(figure * 1.609344))
    else:
        typed = str(int(rng.integers(1, 900)))
    return None if int(typed) == figure else (kind, int(typed))
