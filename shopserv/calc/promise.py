"""The shelf promise: whether the shelf covers every agreed job ahead, which one fails first, and when to order."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from shopserv.calc.errors import ConflictingInput, MissingInput, OutOfRange, UnknownChoice
from shopserv.calc.measures import Real, exact
from shopserv.calc.opened import RULES
from shopserv.calc.packages import Package, cheapest

MOST_WAYS = 200_000  # of what may be left; beyond, the answer would take minutes


@dataclass(frozen=True, slots=True)
class AgreedJob:
    """What an agreed job needs of one product, and the day on which its vehicle is on the lift."""

    name: str
    day: date
    need_ml: Real


@dataclass(frozen=True, slots=True)
class Arrival:
    """So many packages that will come; usable_from is the first day whose jobs they can serve."""

    package: str
    count: int
    usable_from: date


@dataclass(frozen=True, slots=True)
class Promised:
    """What one job takes from the shelf, and what is left on it afterwards (name of package -> count)."""

    job: AgreedJob
    counts: dict[str, int]
    cost_cents: int
    left: dict[str, int]
    open_ml: Fraction


@dataclass(frozen=True, slots=True)
class Shortage:
    """The first job that fails.

    order         the cheapest packages that would serve it and all jobs before it; none where nothing on sale does
    order_by      the last day on which they can be ordered: its day less the days they need to come
    """

    job: AgreedJob
    order: dict[str, int] | None
    order_cents: int | None
    order_by: date


@dataclass(frozen=True, slots=True)
class Promise:
    """The jobs that the shelf serves, in order of their days, and the first that it does not."""

    served: tuple[Promised, ...]
    shortage: Shortage | None


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to have served the jobs so far; compared by cost, then by how few packages were opened."""

    cost: int
    count: int
    taken: tuple[int, ...]
    before: _Way | None


_State = tuple[tuple[int, ...], int]  # left of each kind, and open; in whole parts of a milliliter


def promise(
    jobs: Sequence[AgreedJob],
    packages: Sequence[Package],
    arrivals: Sequence[Arrival] = (),
    *,
    rule: str,
    lead_days: int,
    open_ml: Real = 0,
    most_ways: int | None = None,
) -> Promise:
    """Serve the jobs day by day from the shelf at the lowest cost over all of them; find the first that fails.

    A job fails when no way to share out the shelf serves it and every job before it: not when one way does not.

    jobs       of one product, in any order; those of one day in the order in which they are given
    packages   kinds with their stock today; any number of each can be ordered
    rule       whole-packages: each job opens its own; by-liter: what is left over serves the next
    lead_days  from the order until the packages can serve a job, 0 or more
    open_ml    what stands open today; counts by the liter only
    most_ways  of what may be left after a job that are looked at; none: 200,000
    raises     MissingInput for a kind without a stock, ConflictingInput, UnknownChoice, OutOfRange (also where there
               are more than 200,000 ways, or most_ways), NegativeMoney
    source     exact search over what may be left after each job; compared with every way to share in the tests
    check      9 jugs and 11 bottles serve four jobs of 10.0 L, each by 2 jugs and 3 bottles or 3 jugs; not a fifth
    """
    _check(jobs, packages, arrivals, rule, lead_days, exact(open_ml))
    kinds = {package.name: i for i, package in enumerate(packages)}
    row = sorted(jobs, key=lambda job: job.day)
    needs = [exact(job.need_ml) for job in row]
    scale = math.lcm(*[exact(value).denominator for value in (*needs, open_ml, *(p.size_ml for p in packages))])
    sizes = [int(exact(package.size_ml) * scale) for package in packages]
    costs = [package.cost_cents for package in packages]
    begun = int(exact(open_ml) * scale) if rule == "by-liter" else 0
    ways: dict[_State, _Way] = {(tuple(p.stock or 0 for p in packages), begun): _Way(0, 0, (), None)}
    waiting = sorted(arrivals, key=lambda one: one.usable_from, reverse=True)
    come: list[tuple[int, ...]] = []
    limit = MOST_WAYS if most_ways is None else most_ways
    useful = _useful([int(need * scale) for need in needs], sizes)
    for number, (job, need) in enumerate(zip(row, needs, strict=True)):
        new = [0] * len(packages)
        while waiting and waiting[-1].usable_from <= job.day:
            one = waiting.pop()
            new[kinds[one.package]] += one.count
        come.append(tuple(new))
        ways = _joined(ways, new, useful[number])
        after = _served(ways, int(need * scale), sizes, costs, rule, limit)
        if not after:
            way, short = _short(job, ways, need * scale, packages, sizes, lead_days)
            return Promise(_story(row[:number], way, packages, come, sizes, scale, rule, begun), short)
        if len(after) > limit:
            raise OutOfRange(f"There are more than {limit:,} ways to serve the jobs until {job.day.isoformat()}.")
        ways = after
    way = min(ways.values(), key=lambda one: (one.cost, one.count))
    return Promise(_story(row, way, packages, come, sizes, scale, rule, begun), None)


def _check(
    jobs: Sequence[AgreedJob],
    packages: Sequence[Package],
    arrivals: Sequence[Arrival],
    rule: str,
    lead_days: int,
    open_ml: Fraction,
) -> None:
    if rule not in RULES:
        raise UnknownChoice(f"The rule is {rule!r}; it may be {', '.join(RULES)}.")
    names = [package.name for package in packages]
    if len(set(names)) < len(names):
        raise ConflictingInput(f"Two kinds of package have one name among {', '.join(names)}.")
    if lead_days < 0 or open_ml < 0:
        raise OutOfRange(f"{lead_days} days and {float(open_ml):g} mL: neither may be negative.")
    for package in packages:
        if package.stock is None:
            raise MissingInput(f"Nobody says how many of {package.name} there are.")
        cheapest(0, [package])  # the checks of a package stand there
    for one in arrivals:
        if one.package not in names:
            raise UnknownChoice(f"{one.package!r} comes, but is no kind of package; they are {', '.join(names)}.")
        if one.count < 0:
            raise OutOfRange(f"{one.count} of {one.package} cannot come.")
    for job in jobs:
        if exact(job.need_ml) < 0:
            raise OutOfRange(f"{job.name} needs {float(exact(job.need_ml)):g} mL; it must not be negative.")


def _useful(needs: Sequence[int], sizes: Sequence[int]) -> list[tuple[int, ...]]:
    """Of each kind the most that each job and those behind it could open; more on the shelf changes nothing."""
    found = [(0,) * len(sizes)]
    for need in reversed(needs):
        found.insert(0, tuple(n - (-need // size) for n, size in zip(found[0], sizes, strict=True)))
    return found


def _joined(ways: dict[_State, _Way], new: Sequence[int], useful: Sequence[int]) -> dict[_State, _Way]:
    """The ways after what has come; of those that leave all that can be of use, or the same, the best."""
    found: dict[_State, _Way] = {}
    for (left, still), way in ways.items():
        state = (tuple(min(a + b, most) for a, b, most in zip(left, new, useful, strict=True)), still)
        known = found.get(state)
        if known is None or (way.cost, way.count) < (known.cost, known.count):
            found[state] = way
    return found


def _served(
    ways: dict[_State, _Way], need: int, sizes: Sequence[int], costs: Sequence[int], rule: str, limit: int
) -> dict[_State, _Way]:
    """Every way after one more job, or some where they are more than the limit.

    Only mixes from which nothing can be put back: the rest serves a later job too.
    """
    after: dict[_State, _Way] = {}
    for (left, still), way in ways.items():
        rest = max(0, need - still)
        for taken in _mixes(rest, left, sizes):
            held = sum(n * size for n, size in zip(taken, sizes, strict=True))
            state = (
                tuple(a - n for a, n in zip(left, taken, strict=True)),
                still + held - need if rule == "by-liter" else 0,
            )
            cost = way.cost + sum(n * each for n, each in zip(taken, costs, strict=True))
            known = after.get(state)
            if known is None or (cost, way.count + sum(taken)) < (known.cost, known.count):
                after[state] = _Way(cost, way.count + sum(taken), taken, way)
            if len(after) > limit:
                return after
    return after


def _mixes(need: int, left: Sequence[int], sizes: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Mixes of what is left that hold the need, and no longer do without any one of their packages."""
    if not left:
        if need <= 0:
            yield ()
        return
    if need <= 0:
        yield (0,) * len(left)
        return
    for n in range(min(left[0], -(-need // sizes[0])) + 1):
        for rest in _mixes(need - n * sizes[0], left[1:], sizes[1:]):
            held = n * sizes[0] + sum(k * size for k, size in zip(rest, sizes[1:], strict=True))
            if n == 0 or held - sizes[0] < need:
                yield (n, *rest)


def _short(
    job: AgreedJob,
    ways: dict[_State, _Way],
    need: Fraction,
    packages: Sequence[Package],
    sizes: Sequence[int],
    lead_days: int,
) -> tuple[_Way, Shortage]:
    """The cheapest order that serves the job after any of the ways, and that way."""
    by = job.day - timedelta(days=lead_days)
    if not packages:  # nothing is on sale, and there is no other way
        return next(iter(ways.values())), Shortage(job, None, None, by)
    on_sale = [Package(f"order {i}", size, packages[i].cost_cents) for i, size in enumerate(sizes)]
    choices = []
    for (left, still), way in ways.items():
        shelf = [Package(f"shelf {i}", size, 0, left[i]) for i, size in enumerate(sizes)]
        choices.append((cheapest(need - still, [*shelf, *on_sale]), way))
    choice, way = min(choices, key=lambda one: (one[0].cost_cents, one[1].cost, one[1].count))
    counts = [choice.counts.get(package.name, 0) for package in on_sale]
    order = {package.name: n for package, n in zip(packages, counts, strict=True) if n}
    return way, Shortage(job, order, choice.cost_cents, by)


def _story(
    jobs: Sequence[AgreedJob],
    way: _Way,
    packages: Sequence[Package],
    come: Sequence[tuple[int, ...]],
    sizes: Sequence[int],
    scale: int,
    rule: str,
    begun: int,
) -> tuple[Promised, ...]:
    """What each job took on this way, told forward."""
    mixes: list[tuple[int, ...]] = []
    step: _Way | None = way
    while step is not None and step.before is not None:
        mixes.append(step.taken)
        step = step.before
    left, still, told = tuple(package.stock or 0 for package in packages), begun, []
    for job, taken, new in zip(jobs, reversed(mixes), come, strict=False):
        left = tuple(a + b - n for a, b, n in zip(left, new, taken, strict=True))
        if rule == "by-liter":
            still += sum(n * size for n, size in zip(taken, sizes, strict=True)) - int(exact(job.need_ml) * scale)
        told.append(
            Promised(
                job=job,
                counts={p.name: n for p, n in zip(packages, taken, strict=True) if n},
                cost_cents=sum(p.cost_cents * n for p, n in zip(packages, taken, strict=True)),
                left={p.name: n for p, n in zip(packages, left, strict=True)},
                open_ml=Fraction(still, scale),
            )
        )
    return tuple(told)
