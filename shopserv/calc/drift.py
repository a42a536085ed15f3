"""Whether a scale drifts: two running sums over weighings of full packages, and how soon they would tell.

A scale that is a few per cent off errs in and out alike, and the fluid still seems to balance. A full package says what
it holds, so weighing it checks the scale at every job, without a test weight.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shopserv.calc import errors, oil
from shopserv.calc.measures import Real, exact

SLACK = 0.5  # what a step may lie off before it counts, in standard deviations
LIMIT = 5.0  # of either sum: there the alarm is
FILL_SPREAD = 0.005  # of what a package holds against its label; common practice, no source
MARKED_AT_C = 20  # temperature for which the label states the volume: NIST Handbook 130, packaging and labeling, 6.5
SUSPECT_SHARE = 0.15  # a package that is that far off was not full, or is another; common practice, no source
NODES = 30


@dataclass(frozen=True, slots=True)
class Weighing:
    """New fluid of one full package, weighed.

    words       whose and when, for the list
    mass_g      net
    package_ml  as the label says
    density_15  of the product, kg/m³ at 15 °C
    """

    words: str
    mass_g: Real
    package_ml: Real
    density_15: Real


@dataclass(frozen=True, slots=True)
class Point:
    """One weighing in the watch.

    off         share by which it weighs more than the package should: 0.02 is 2 % too much
    deviation   what the rule allows for one standard deviation of that share
    z           off / deviation
    up, down    running sums after it
    is_alarm    one of them has reached the limit
    is_counted  false: so far off that the package cannot have been full; the sums pass it by
    """

    words: str
    off: float
    deviation: float
    z: float
    up: float
    down: float
    is_alarm: bool
    is_counted: bool


@dataclass(frozen=True, slots=True)
class Drift:
    """What the watch says now.

    alarm_at   index of the point where the standing alarm began; none: no alarm
    side       high, low, or empty
    since      index of the first point of the run that led to it; none: no alarm
    off        how far the scale is probably off, as a share; none: no alarm
    words      verdict
    """

    points: tuple[Point, ...]
    alarm_at: int | None
    side: str
    since: int | None
    off: float | None
    words: str


def deviation(mass_g: Real, scale_error_g: Real) -> float:
    """One standard deviation of weighed over labeled volume, less 1.

    mass_g           net of the package, above 0
    scale_error_g    stated error of the scale, 0 or more
    raises           OutOfRange
    source           root of the squares of the fill (0.5 %) and of scale error / mass: common practice, no source
    check            3217 g, 20 g: 0.7978 %
    """
    mass, error = exact(mass_g), exact(scale_error_g)
    if mass <= 0 or error < 0:
        raise errors.OutOfRange(
            f"A package of {float(mass):g} g on a scale good to {float(error):g} g: the mass must be above 0, "
            "the error not below."
        )
    return math.hypot(FILL_SPREAD, float(error / mass))


def share_off(weighing: Weighing) -> float:
    """By which share a full package weighs more than its label lets expect.

    raises   OutOfRange for a package without volume, a negative mass, or a density outside its range
    source   label volume at 20 °C (NIST Handbook 130), density there by calc.oil
    check    3216.6 g of 850 kg/m³ in a package of 3785 mL, which should weigh 3205.36 g: 0.3508 % too much
    """
    if exact(weighing.package_ml) <= 0:
        raise errors.OutOfRange(f"A package of {float(weighing.package_ml):g} mL: it must hold more than nothing.")
    liters = oil.weighed_volume(exact(weighing.mass_g) / 1000, weighing.density_15, MARKED_AT_C)
    return liters * 1000 / float(weighing.package_ml) - 1


def watch(weighings: Sequence[Weighing], *, scale_error_g: Real) -> Drift:
    """The two running sums over `weighings`, oldest first; after a check of the scale begin with an empty list.

    source   tabular cumulative sum after Page, Biometrika 41 (1954) 100: up = max(0, up + z - 0.5), the same for -z,
             alarm at 5; size of the shift by slack + sum / length of its run (Montgomery, Statistical Quality Control,
             section 9.1; memory). The sums go on after the alarm.
    check    2 % too much at a deviation of 0.5 %: z = 4, sums 3.5 and 7, alarm at the second
    """
    points: list[Point] = []
    sums = {"high": 0.0, "low": 0.0}
    began: dict[str, int] = {}
    for index, weighing in enumerate(weighings):
        off, spread = share_off(weighing), deviation(weighing.mass_g, scale_error_g)
        is_counted = abs(off) <= SUSPECT_SHARE
        for side, z in (("high", off / spread), ("low", -off / spread)):
            if not is_counted:
                continue
            if sums[side] == 0:
                began[side] = index
            sums[side] = max(0.0, sums[side] + z - SLACK)
        is_alarm = max(sums.values()) >= LIMIT
        points.append(Point(weighing.words, off, spread, off / spread, sums["high"], sums["low"], is_alarm, is_counted))
    side = max(sums, key=lambda which: sums[which])
    if sums[side] < LIMIT:
        return Drift(tuple(points), None, "", None, None, _calm(points))
    since = began[side]
    run = [point for point in points[since:] if point.is_counted]
    z = (SLACK + sums[side] / len(run)) * (1 if side == "high" else -1)
    off = z * math.fsum(point.deviation for point in run) / len(run)
    first = next(
        n for n in range(since, len(points)) if getattr(points[n], "up" if side == "high" else "down") >= LIMIT
    )
    return Drift(tuple(points), first, side, since, off, _alarm(off, points[since].words, len(run), points))


def _calm(points: Sequence[Point]) -> str:
    count = sum(point.is_counted for point in points)
    if not count:
        return "no full package was weighed since the last check: nothing is known" + _set_aside(points)
    most = max(points[-1].up, points[-1].down)
    words = f"no drift seen in {_packages(count)}: the larger sum stands at {most:.1f} of {LIMIT:g}"
    return words + _set_aside(points)


def _alarm(off: float, since: str, count: int, points: Sequence[Point]) -> str:
    way = "too much" if off > 0 else "too little"
    words = f"the scale seems to weigh about {100 * abs(off):.1f} % {way}, by {_packages(count)} since {since}"
    return words + _set_aside(points)


def _set_aside(points: Sequence[Point]) -> str:
    count = sum(not point.is_counted for point in points)
    if not count:
        return ""
    return (
        f"; {_packages(count)} more than {100 * SUSPECT_SHARE:.0f} % off not counted: not full, another package, "
        "or a scale that is far off"
    )


def _packages(count: int) -> str:
    return f"{count} package{'' if count == 1 else 's'}"


def run_length(shift: float, slack: float = SLACK, limit: float = LIMIT) -> float:
    """How many weighings pass on average until either sum gives the alarm, both beginning at 0.

    shift     by how many standard deviations the scale is off; 0: how rare a false alarm is
    returns   weighings
    raises    OutOfRange for a limit not above 0 or a negative slack
    source    1/L = 1/L(up) + 1/L(down); each by the integral equation of Page (1954), solved at Gauss-Legendre nodes as
              Goel and Wu, Technometrics 13 (1971) 221
    check     slack 0.5, limit 4 (Lucas and Crosier, Technometrics 24 (1982) 199, table 1): 168 at 0, 8.38 at 1
    """
    return 1 / (1 / one_sided(shift, slack, limit) + 1 / one_sided(-shift, slack, limit))


def one_sided(shift: float, slack: float, limit: float) -> float:
    """The same for the upper sum alone.

    raises   OutOfRange
    check    slack 0.25, limit 8, shift 2.5: 4.1500836225 (example of a published statistics manual of 1999)
    """
    if limit <= 0 or slack < 0:
        raise errors.OutOfRange(f"Slack {slack:g} and limit {limit:g}: the limit must be above 0, the slack not below.")
    nodes = [(limit / 2 * (1 + x), limit / 2 * weight) for x, weight in gauss_legendre(NODES)]
    starts = [0.0] + [x for x, _ in nodes]
    rows = []
    for row, start in enumerate(starts):
        mean = start + shift - slack
        line = [-_below(-mean)] + [-weight * _density(x - mean) for x, weight in nodes]
        line[row] += 1
        rows.append([*line, 1.0])
    return _solve(rows)[0]


def gauss_legendre(count: int) -> list[tuple[float, float]]:
    """(node, weight) on -1 to 1.

    source   Abramowitz and Stegun, Handbook of Mathematical Functions, 25.4.29
    check    5 nodes: 0.5384693101 with 0.4786286705, table 25.4
    """
    found = []
    for index in range(count):
        x = math.cos(math.pi * (index + 0.75) / (count + 0.5))
        for _ in range(8):  # Newton doubles the digits at each step
            value, slope = _legendre(count, x)
            x -= value / slope
        slope = _legendre(count, x)[1]
        found.append((x, 2 / ((1 - x * x) * slope * slope)))
    return found


def _legendre(order: int, x: float) -> tuple[float, float]:
    last, now = 1.0, x
    for n in range(2, order + 1):
        last, now = now, ((2 * n - 1) * x * now - (n - 1) * last) / n
    return now, order * (x * now - last) / (x * x - 1)


def _below(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2))


def _density(z: float) -> float:
    return math.exp(-z * z / 2) / math.sqrt(2 * math.pi)


def _solve(rows: list[list[float]]) -> list[float]:
    size = len(rows)
    for column in range(size):
        best = max(range(column, size), key=lambda row: abs(rows[row][column]))
        rows[column], rows[best] = rows[best], rows[column]
        for row in range(column + 1, size):
            factor = rows[row][column] / rows[column][column]
            rows[row] = [here - factor * above for here, above in zip(rows[row], rows[column], strict=True)]
    found = [0.0] * size
    for row in reversed(range(size)):
        known = math.fsum(rows[row][n] * found[n] for n in range(row + 1, size))
        found[row] = (rows[row][size] - known) / rows[row][row]
    return found
