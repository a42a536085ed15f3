"""Package choice: the program's search against a plain dynamic program that finds the same optimum."""

from __future__ import annotations

import random
from fractions import Fraction

from bench.measure import Figure
from shopserv.calc.packages import Package, cheapest

SEED = 8105
STEP = 50  # mL; what all sizes of the cases share
Case = tuple[int, tuple[tuple[int, int], ...]]
Answer = tuple[int, int, tuple[int, ...]]


def cases(count: int) -> list[Case]:
    """Needs of 1 to 20 L and two to four kinds of package of 250 mL to 20 L, dearer a liter the smaller; mL, cents."""
    chance, found = random.Random(SEED), []
    for _ in range(count):
        sizes = sorted({chance.randrange(5, 401) * STEP for _ in range(chance.randrange(2, 5))})
        goods = tuple((size, max(1, round(size * chance.uniform(0.5, 1.0) * (1 - size / 60_000)))) for size in sizes)
        found.append((chance.randrange(20, 401) * STEP, goods))
    return found


def figures(is_small: bool) -> list[Figure]:
    """P8: cheapest packages for a quantity."""
    given = cases(100 if is_small else 10_000)
    goods = [
        (need, [Package(str(i), Fraction(size), cost) for i, (size, cost) in enumerate(kinds)]) for need, kinds in given
    ]
    return [
        Figure(
            id="P8 packages",
            work="cheapest whole packages",
            floor="a plain dynamic program at the same optimum",
            data=f"{len(given):,} random cases, seed {SEED}, in steps of 50 mL",
            hard=1.2,
            extreme=0.3,
            program=lambda: [_found(need, kinds) for need, kinds in goods],
            bare=lambda: [cheapest_bare(need, kinds, STEP) for need, kinds in given],
        )
    ]


def _found(need: int, kinds: list[Package]) -> Answer:
    choice = cheapest(need, kinds)
    return choice.cost_cents, int(choice.total_ml), tuple(choice.counts.get(kind.name, 0) for kind in kinds)


def cheapest_bare(need: int, kinds: tuple[tuple[int, int], ...], step: int = 1) -> Answer:
    """One number a package holds cost, size, one piece and which it is, so that sums compare as the answer wants:
    cheapest, then least over, then fewest, then more of the earlier."""
    most = 10**6
    steps = -(-need // step)
    sized = []
    for i, (size, cost) in enumerate(kinds):
        weight = (cost * most + size // step) * most + 1
        sized.append((size // step, weight * most ** len(kinds) - most ** (len(kinds) - 1 - i)))
    best = [0]
    for covered in range(1, steps + 1):
        best.append(min([best[covered - size if covered > size else 0] + weight for size, weight in sized]))
    cost, size, counts = _read(best[steps], most, len(kinds))
    return cost, size * step, counts


def _read(weight: int, most: int, kinds: int) -> Answer:
    counts = []
    for _ in range(kinds):
        counts.append(-weight % most)
        weight = -(-weight // most)
    weight //= most
    return weight // most, weight % most, tuple(reversed(counts))
