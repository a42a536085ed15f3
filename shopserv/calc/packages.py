"""The cheapest whole packages that cover a need."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.errors import NegativeMoney, NoPackage, OutOfRange
from shopserv.calc.measures import Real, lean


@dataclass(frozen=True, slots=True)
class Package:
    """A container on sale: its size in mL, its cost in whole cents, how many there are (None: as many as wanted)."""

    name: str
    size_ml: Real
    cost_cents: int
    stock: int | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """How many of each (none left out), what they cost, what they hold, and what is over."""

    counts: dict[str, int]
    cost_cents: int
    total_ml: Fraction
    surplus_ml: Fraction


def cheapest(need_ml: Real, packages: Sequence[Package]) -> Choice:
    """Whole packages that hold at least the need: lowest cost, then least surplus, fewest, more of the earlier listed.

    need_ml   0 or more; 0 needs none
    raises    OutOfRange for a negative need, size or stock; NegativeMoney; NoPackage if they do not cover it
    source    exact search; compared with brute force in the tests
    check     10.0 L from jugs of 3.785 L at 22.40 and bottles of 0.946 L at 6.10: 2 jugs and 3 bottles, 63.10
    """
    need, sizes, scale = _in_whole_parts(need_ml, packages)
    if need == 0:
        return Choice({}, 0, Fraction(0), Fraction(0))
    search = _Search(need, sizes, packages)
    search.go(0, need, 0, 0)
    if search.best is None:
        raise NoPackage(f"The packages at hand do not cover {need / scale:g} mL.")
    cost, total, _, counts = search.best
    named: dict[str, int] = {}
    for package, kept in zip(packages, counts, strict=True):
        if kept:  # two offers of one name are one name on the shelf
            named[package.name] = named.get(package.name, 0) - kept
    return Choice(named, cost, Fraction(total, scale), Fraction(total - need, scale))


def _in_whole_parts(need_ml: Real, packages: Sequence[Package]) -> tuple[int, list[int], int]:
    """Need and sizes in whole parts of a milliliter, and how many of those one milliliter has."""
    need, sizes = lean(need_ml), [lean(package.size_ml) for package in packages]
    if need < 0:
        raise OutOfRange(f"The need is {float(need):g} mL; it must not be negative.")
    for package, size in zip(packages, sizes, strict=True):
        _check(package, size)
    scale = math.lcm(need.denominator, *[size.denominator for size in sizes])
    parts = [size.numerator * (scale // size.denominator) for size in sizes]
    return need.numerator * (scale // need.denominator), parts, scale


def _check(package: Package, size: Fraction | int) -> None:
    if size.numerator <= 0:
        raise OutOfRange(f"Package {package.name} holds {float(size):g} mL; it must hold more than nothing.")
    if package.cost_cents < 0:
        raise NegativeMoney(f"Package {package.name} costs {package.cost_cents} cents; it may not be negative.")
    if package.stock is not None and package.stock < 0:
        raise OutOfRange(f"{package.stock} of package {package.name} cannot be in stock.")


class _Search:
    """Branch and bound over the packages in order of cost a milliliter, in whole numbers.

    Fewer of a cheaper package never lower the bound on the cost, so a branch ends where the bound passes the best.
    """

    def __init__(self, need: int, sizes: list[int], packages: Sequence[Package]) -> None:
        self.need = need
        self.best: tuple[int, int, int, tuple[int, ...]] | None = None
        whole = math.lcm(*sizes)  # costs of one and the same volume compare without fractions
        order = sorted(range(len(sizes)), key=lambda i: (packages[i].cost_cents * (whole // sizes[i]), -sizes[i]))
        self.order, self.counts = order, [0] * len(sizes)
        self.sizes = [sizes[i] for i in order]
        self.costs = [packages[i].cost_cents for i in order]
        stocks = [packages[i].stock for i in order]
        pairs = zip(self.sizes, stocks, strict=True)
        self.most = [-(-need // size) if stock is None else stock for size, stock in pairs]
        self.held, self.largest = [0], [1]  # of all packages from here on: what they hold, the largest of them
        for size, most in zip(reversed(self.sizes), reversed(self.most), strict=True):
            self.held.append(self.held[-1] + size * most)
            self.largest.append(max(self.largest[-1], size))
        self.held.reverse()
        self.largest.reverse()

    def go(self, i: int, rest: int, cost: int, count: int) -> None:
        if rest <= 0:
            self.keep(cost, self.need - rest, count)
            return
        if i == len(self.sizes):
            return
        size, each, ahead = self.sizes[i], self.costs[i], i + 1
        for n in range(min(self.most[i], -(-rest // size)), -1, -1):
            left, paid = rest - n * size, cost + n * each
            if self.best and left <= 0 and paid > self.best[0]:  # the last of them holds more than is wanted
                continue
            if left > self.held[ahead] or (self.best and self.bound(ahead, left, paid) > self.best[0]):
                break
            if self.best and self.cannot_tie(ahead, left, paid, count + n):
                continue
            self.counts[self.order[i]] = -n
            self.go(ahead, left, paid, count + n)
        self.counts[self.order[i]] = 0

    def bound(self, i: int, left: int, paid: int) -> int:
        """The least that the rest can cost: all of it at the lowest price a milliliter from here on."""
        return paid if left <= 0 else paid - (-left * self.costs[i] // self.sizes[i])

    def cannot_tie(self, i: int, left: int, paid: int, count: int) -> bool:
        """Whether an equally cheap answer would have more packages than one that already fits without surplus."""
        assert self.best
        cost, total, fewest, _ = self.best
        is_more = left > (fewest - count) * self.largest[i]
        return total == self.need and self.bound(i, left, paid) == cost and is_more

    def keep(self, cost: int, total: int, count: int) -> None:
        found = (cost, total, count, tuple(self.counts))
        if self.best is None or found < self.best:
            self.best = found
