"""The quote core: four options with course, packages, price, tax and tolerance, against the same sums written bare.

The floor keeps no names, checks nothing and serves no other unit; money in it is Decimal, rounded half-up by quantize,
the fluid is float as in the program.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal
from typing import Any

from bench.measure import Figure
from shopserv.calc.authorization import ToleranceRule, tolerance
from shopserv.calc.money import amount, cents
from shopserv.jobs import courses, sums

# The unit and the terms of the demonstration, all invented
FACTS = courses.SheetFacts((7400, 7400), 2900, 3400, 3400, 1600, 1200)
HOUSE = courses.HouseNumbers(300, 300, 2600, 3800, 450, 3)
TERMS = {
    "sold_cents": 15_000,
    "hour_cost_cents": 4_200,
    "bands": [[0, 1_600_000], [500, 1_100_000], [2_000, 800_000]],
    "fluid_rule": "whole-packages",
    "supplies": {"kind": "share of labor", "share_ppm": 50_000, "cap_cents": 2_500, "text": "5 % of labor"},
    "waste": {"cents_per_liter": 180, "text": "used fluid"},
    "tax_rate_ppm": 62_500,
    "taxed": {"part": True, "fluid": True, "core": True},
    "exempt": False,
    "labor_before_cents": 0,
    "taxed_before_cents": 0,
}
GOODS = (("pail", 18_927, 10_460), ("jug", 3_785, 2_240), ("bottle", 946, 610))
OPTIONS = (
    ("single drain", 7, (587,)),
    ("repeated drain", 16, (342,)),
    ("line exchange", 18, (425,)),
    ("pan drop then line exchange", 24, (3_850, 426, 425)),
)
RULE = ToleranceRule("greater_of", Decimal("0.1"), Decimal("10.00"), Decimal("50.00"))
Answer = tuple[tuple[int, ...], int, int, int, int, int, int, int, int, int]


def figures(is_small: bool) -> list[Figure]:
    """P7: the quote core."""
    times = 1 if is_small else 10
    return [
        Figure(
            id="P7 quote",
            work="four options: fluid course, packages, lines, mark-up, supplies, tax, total, tolerance",
            floor="the same sums in bare Decimal, the fluid in bare float",
            data=f"{times} quotes of the example unit; no I/O",
            hard=10,
            extreme=4,
            program=lambda: [[_option(*one) for one in OPTIONS] for _ in range(times)],
            bare=lambda: [[bare(*one) for one in OPTIONS] for _ in range(times)],
        )
    ]


def _option(method: str, tenths: int, parts: Sequence[int]) -> Answer:
    course = courses.default_course(method, FACTS, HOUSE, 7400)
    fluid = {
        "code": "F",
        "name": "fluid",
        "need_ml": course.new_ml,
        "low_need_ml": course.new_ml,
        "packages": [{"number": name, "volume_ml": ml, "cost_cents": cost} for name, ml, cost in GOODS],
    }
    inputs: dict[str, Any] = {
        "terms": TERMS,
        "labor": {"tenths": tenths, "text": method},
        "fluids": [fluid],
        "parts": [
            {"number": str(i), "name": "part", "condition": "new", "quantity": 1, "cost_cents": cost, "core_cents": 0}
            for i, cost in enumerate(parts)
        ],
        "extras": [],
        "prices": {},
    }
    made = sums.price(inputs)
    over = tolerance(RULE, amount(made.total_cents), amount(made.tax_cents))
    return (
        course.levels_ml,
        course.new_ml,
        course.fraction_low_ppm or 0,
        course.fraction_high_ppm or 0,
        made.net_cents,
        made.taxable_cents,
        made.tax_cents,
        made.total_cents,
        made.cost_cents,
        cents(over),
    )


CENT = Decimal("0.01")
BANDS = ((Decimal(0), Decimal("1.6")), (Decimal(5), Decimal("1.1")), (Decimal(20), Decimal("0.8")))


def bare(method: str, tenths: int, parts: Sequence[int]) -> Answer:
    """One option, straight through."""
    new, stages = _stages(method)
    levels, low, high = _replayed(stages)
    fluid = Decimal(_packages(new)) / 100
    labor = (Decimal(tenths) / 10 * 150).quantize(CENT, ROUND_HALF_UP)
    costs = [fluid, *(Decimal(one) / 100 for one in parts)]
    goods = sum((_marked_up(one) for one in costs), Decimal(0))
    supplies = min((labor * Decimal("0.05")).quantize(CENT, ROUND_HALF_UP), Decimal("25.00"))
    waste = (Decimal("1.80") * new / 1000).quantize(CENT, ROUND_HALF_UP)
    net = labor + goods + supplies + waste
    tax = (goods * Decimal("0.0625")).quantize(CENT, ROUND_HALF_UP)
    total = net + tax
    cost = sum(costs, Decimal(0)) + (Decimal(tenths) / 10 * 42).quantize(CENT, ROUND_HALF_UP)
    over = min(max(total * Decimal("0.1"), Decimal(10)), Decimal(50)).quantize(CENT, ROUND_DOWN)
    net_cents, goods_cents, tax_cents, total_cents, cost_cents, over_cents = (
        int(one * 100) for one in (net, goods, tax, total, cost, over)
    )
    return levels, new, low, high, net_cents, goods_cents, tax_cents, total_cents, cost_cents, over_cents


def _packages(need: int) -> int:
    """Cost of the cheapest mix: pails and jugs counted through, the rest from bottles."""
    (_, pail, pail_cost), (_, jug, jug_cost), (_, bottle, bottle_cost) = GOODS
    best: tuple[int, int, int] | None = None
    for pails in range(-(-need // pail) + 1):
        left = need - pails * pail
        for jugs in range(max(0, -(-left // jug)) + 1):
            bottles = max(0, -(-(left - jugs * jug) // bottle))
            held = pails * pail + jugs * jug + bottles * bottle
            cost = pails * pail_cost + jugs * jug_cost + bottles * bottle_cost
            found = (cost, held, pails + jugs + bottles)
            if best is None or found < best:
                best = found
    assert best
    return best[0]


def _marked_up(cost: Decimal) -> Decimal:
    price = cost
    for (low, markup), high in zip(BANDS, (Decimal(5), Decimal(20), cost), strict=True):
        if cost > low:
            price += (min(cost, high) - low) * markup
    return price.quantize(CENT, ROUND_HALF_UP)


def _stages(method: str) -> tuple[int, list[tuple[str, int]]]:
    """New fluid and stages: drain to, add, pump down to the margin while so much is poured, mix."""
    drain = [("drain", -2900), ("add", 2900)]
    if method == "single drain":
        return 3200, drain
    if method == "repeated drain":
        return 9000, [*drain, ("mix", 0), *drain, ("mix", 0), *drain]
    if method == "line exchange":
        new = 7400 + 2600
        rest = new - 1300
        count = -(-rest // (1300 + 450))
        each = rest // count
        stages: list[tuple[str, int]] = [("pump", 0)]
        for poured in [each] * (count - 1) + [rest - each * (count - 1)]:
            stages += [("add", poured), ("pump", 0)]
        return new, [*stages, ("add", 1300)]
    new = 7400 + 3800
    return new, [("drain", -3400), ("add", 3400), ("pump", new - 3400 - 1300), ("add", 1300)]


Stream = tuple[float, float, float, float]


def _replayed(stages: Sequence[tuple[str, int]]) -> tuple[tuple[int, ...], int, int]:
    """Levels, and the fresh share with the rest stirred and as a pipe, in ppm, the lower first."""
    rest, full, stop = 4000.0, 3400.0, 3400.0 - 1600.0 + 300.0
    held, sump = [full, full], [1.0, 1.0]  # stirred, plug
    stirred, first = 1.0, 1.0
    streams: list[Stream] = []
    levels = []
    for what, ml in stages:
        for i in (0, 1):
            if what == "drain":
                held[i] = min(held[i], full + ml)
            elif what == "add":
                sump[i] *= held[i] / (held[i] + ml)
                held[i] += ml
            elif what == "mix":
                old = stirred if i == 0 else _piped(streams, first, rest) / rest
                sump[i] = (sump[i] * held[i] + old * rest) / (held[i] + rest)
                if i == 0:
                    stirred = sump[0]
                else:
                    first, streams = sump[1], []
            else:
                fall = held[i] - stop
                pumped = fall + ml
                stream = (sump[i], held[i], fall, float(ml))
                if i == 0:
                    stirred = _stirred(stirred, stream, pumped, rest)
                else:
                    streams.append(stream)
                if ml:
                    sump[i] *= (stop / held[i]) ** (ml / fall)
                held[i] = stop
        levels.append(round(held[0] - full))
    shares = sorted(
        1 - (sump[i] * held[i] + (stirred * rest if i == 0 else _piped(streams, first, rest))) / (held[i] + rest)
        for i in (0, 1)
    )
    low, high = (min(1_000_000, max(0, math.floor(share * 1_000_000 + 0.5))) for share in shares)
    return tuple(levels), low, high


# Gauss and Legendre's rule of 16 points, one half of it: places and weights (Abramowitz and Stegun, table 25.4)
HALF = (
    (0.0950125098376374, 0.1894506104550685), (0.2816035507792589, 0.1826034150449236),
    (0.4580167776572274, 0.1691565193950025), (0.6178762444026438, 0.1495959888165767),
    (0.7554044083550030, 0.1246289712555339), (0.8656312023878318, 0.0951585116824928),
    (0.9445750230732326, 0.0622535239386479), (0.9894009349916499, 0.0271524594117541),
)  # fmt: skip


def _stirred(old: float, stream: Stream, pumped: float, rest: float) -> float:
    sump, held, fall, poured = stream
    turns = pumped / rest
    if not poured:
        return sump + (old - sump) * math.exp(-turns)
    middle, power, taken = turns / 2, poured / fall, 0.0
    for place, weight in HALF:
        for y in (middle * (1 - place), middle * (1 + place)):
            taken += weight * sump * (1 - (pumped - y * rest) * fall / pumped / held) ** power * math.exp(-y)
    return old * math.exp(-turns) + taken * middle


def _piped(streams: Sequence[Stream], first: float, rest: float) -> float:
    """Old fluid in the pipe: the streams from the newest back until it is full, then what was there first."""
    room, mass = rest, 0.0
    for sump, held, fall, poured in reversed(streams):
        pumped = fall + poured
        inside = min(room, pumped)
        power, start = pumped / fall, (pumped - inside) / pumped * fall
        mass += sump * held * ((1 - start / held) ** power - (1 - fall / held) ** power)
        room -= inside
        if room <= 0:
            break
    return mass + first * room
