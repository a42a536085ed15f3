"""Whether what was counted on the shelf serves the agreed jobs: promise, opened packages, and pooling. No tables."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc.errors import CalcError
from shopserv.calc.money import half_up
from shopserv.calc.opened import Cover, OpenPackage, Taken, lasting, opened_first
from shopserv.calc.packages import Package
from shopserv.calc.pooling import Pooled, PoolJob, pooled, why_apart
from shopserv.calc.promise import AgreedJob, Arrival, Promise, promise
from shopserv.calc.working import Change, what_would_change
from shopserv.common import formats
from shopserv.jobs.selectors.ahead import AheadJob

MOST_WAYS = 3_000  # a page waits for the answer: about two seconds
MOST_MOVED = 12  # jobs for which each input is moved in turn
BY_LITER, WHOLE = "by-liter", "whole-packages"


@dataclass(frozen=True, slots=True)
class Counted:
    """The shelf of one product as a person counted it.

    packages   kinds with their stock
    opened     packages that stand open, each with its label
    lead_days  from the order until the packages can serve a job
    """

    product: str
    packages: tuple[Package, ...]
    opened: tuple[OpenPackage, ...]
    arrivals: tuple[Arrival, ...]
    lead_days: int


@dataclass(frozen=True, slots=True)
class Pool:
    """The jobs of one day that may be opened together.

    found  none: they may not, or the shelf does not do; why says it
    """

    day: date | None
    jobs: tuple[AheadJob, ...]
    found: Pooled | None
    why: str

    @property
    def apart(self) -> dict[str, int] | None:
        """The packages of the single mixes together; none: there are no single ones."""
        if self.found is None or self.found.single is None:
            return None
        counts: dict[str, int] = {}
        for choice in self.found.single:
            for name, count in choice.counts.items():
                counts[name] = counts.get(name, 0) + count
        return counts


@dataclass(frozen=True, slots=True)
class Reckoned:
    """What a counted shelf does for the jobs ahead.

    jobs      by day; those of one day in the order of their work orders
    rule      whole-packages unless every job is priced by the liter
    open_ml   of what stands open, what the jobs can use up
    promised  none: more ways than are looked at
    cover     of the next job, opened packages first; none: the shelf does not do
    pools     one for each day on which several jobs stand; else one that says why there is none
    """

    counted: Counted
    today: date
    jobs: tuple[AheadJob, ...]
    rule: str
    open_ml: Fraction
    promised: Promise | None
    cover: Cover | None
    pools: tuple[Pool, ...]

    @property
    def reaches(self) -> bool:
        """Whether the shelf serves every job."""
        return self.promised is not None and self.promised.shortage is None

    @property
    def is_mixed(self) -> bool:
        """Whether some of the jobs are priced by the liter and some not."""
        return len({job.rule for job in self.jobs}) > 1

    @property
    def behind(self) -> int:
        """Jobs behind the one that fails: they are not looked at."""
        if self.promised is None or self.promised.shortage is None:
            return 0
        return len(self.jobs) - len(self.promised.served) - 1

    @property
    def days_to_order(self) -> int | None:
        """Days until the last day on which the order can go out; below zero: that day is past. None: none is needed."""
        short = self.promised.shortage if self.promised else None
        return None if short is None else (short.order_by - self.today).days


@dataclass(frozen=True, slots=True)
class Other:
    """A job priced by the whole package that would get other packages than its quote priced.

    more_cents   what they cost us more than the quote's; below zero: less
    """

    job: AheadJob
    counts: Mapping[str, int]
    quoted: Mapping[str, int]
    more_cents: int


def others_than_quoted(found: Reckoned) -> tuple[Other, ...]:
    """The served jobs that would open other packages than the quote's; those by the liter are left out."""
    kinds = {kind.name: kind.cost_cents for kind in found.counted.packages}
    jobs, rows = {job.order: job for job in found.jobs}, []
    for one in found.promised.served if found.promised else ():
        job = jobs[one.job.name]
        quoted = {name: job.quoted[name] for name in kinds if job.quoted.get(name)}  # in the order of the list
        counts = {name: count for name, count in one.counts.items() if count}
        if quoted and counts != quoted and job.rule != BY_LITER:
            more = one.cost_cents - sum(count * kinds[name] for name, count in quoted.items())
            rows.append(Other(job, counts, quoted, more))
    return tuple(rows)


def share_cents(one: Taken) -> int:
    """What is taken from an opened package, at its share of the cost, half-up to the cent."""
    return half_up(one.cost_cents.numerator, one.cost_cents.denominator)


def with_days(words: str) -> str:
    """A reason of the calculation with its days as people read them."""
    return re.sub(r"\d{4}-\d{2}-\d{2}", lambda found: formats.day(date.fromisoformat(found[0])), words)


def reckon(jobs: Sequence[AheadJob], counted: Counted, *, today: date) -> Reckoned:
    """What the counted shelf does for jobs of its product.

    jobs   at least one
    """
    row = tuple(sorted(jobs, key=lambda job: job.day))
    rule = BY_LITER if all(job.rule == BY_LITER for job in row) else WHOLE
    needs = [(job.day, job.need_ml) for job in row]
    open_ml = lasting(counted.opened, needs, product=counted.product, on=today, rule=rule)
    promised = _promised(row, counted, rule, open_ml)
    return Reckoned(
        counted=counted,
        today=today,
        jobs=row,
        rule=rule,
        open_ml=open_ml,
        promised=promised,
        cover=_cover(row[0], counted, rule),
        pools=_pools(row, counted, promised),
    )


def swings(found: Reckoned, words: Mapping[str, str]) -> tuple[Change, ...]:
    """How many jobs the shelf would serve with a fifth less or more of each input; none of many jobs: it takes long.

    words   "needs" and the stock number of each kind -> words
    """
    counted = found.counted
    if found.promised is None or len(found.jobs) > MOST_MOVED:
        return ()

    def result(moved: Mapping[str, Any]) -> int:
        kinds = tuple(replace(kind, stock=int(moved[kind.name])) for kind in counted.packages)
        jobs = [replace(job, need_ml=job.need_ml * moved["needs"]) for job in found.jobs]
        promised = _search(jobs, replace(counted, packages=kinds), found.rule, found.open_ml)
        return len(promised.served)

    inputs = {"needs": Fraction(1), **{kind.name: Fraction(kind.stock or 0) for kind in counted.packages}}
    return what_would_change(result, inputs, unit="jobs", words=words)


def _promised(jobs: Sequence[AheadJob], counted: Counted, rule: str, open_ml: Fraction) -> Promise | None:
    try:
        return _search(jobs, counted, rule, open_ml)
    except CalcError:  # what was typed is checked before: these are too many ways
        return None


def _search(jobs: Sequence[AheadJob], counted: Counted, rule: str, open_ml: Fraction) -> Promise:
    return promise(
        [AgreedJob(job.order, job.day, job.need_ml) for job in jobs],
        counted.packages,
        counted.arrivals,
        rule=rule,
        lead_days=counted.lead_days,
        open_ml=open_ml,
        most_ways=MOST_WAYS,
    )


def _cover(job: AheadJob, counted: Counted, rule: str) -> Cover | None:
    shelf = _shelf_on(counted, job.day, {})
    try:
        return opened_first(job.need_ml, counted.opened, shelf, product=counted.product, on=job.day, rule=rule)
    except CalcError:
        return None


def _shelf_on(counted: Counted, day: date, gone: dict[str, int]) -> list[Package]:
    """The shelf on a morning: what was counted and has come, without what went before."""
    come: dict[str, int] = {}
    for one in counted.arrivals:
        if one.usable_from <= day:
            come[one.package] = come.get(one.package, 0) + one.count
    return [
        Package(
            kind.name,
            kind.size_ml,
            kind.cost_cents,
            (kind.stock or 0) + come.get(kind.name, 0) - gone.get(kind.name, 0),
        )
        for kind in counted.packages
    ]


def _pools(jobs: Sequence[AheadJob], counted: Counted, promised: Promise | None) -> tuple[Pool, ...]:
    """The days on which several jobs stand, each with what opening together would take."""
    days = [day for day in dict.fromkeys(job.day for job in jobs) if sum(job.day == day for job in jobs) > 1]
    if not days:
        return (Pool(None, tuple(jobs), None, with_days(why_apart([_pool_job(job) for job in jobs]))),)
    return tuple(_pool(day, tuple(job for job in jobs if job.day == day), counted, promised) for day in days)


def _pool(day: date, jobs: tuple[AheadJob, ...], counted: Counted, promised: Promise | None) -> Pool:
    asked = [_pool_job(job) for job in jobs]
    if why := why_apart(asked):
        return Pool(day, jobs, None, why)
    if promised is None or (promised.shortage and promised.shortage.job.day < day):
        return Pool(day, jobs, None, "What is left on that day is not known.")
    gone: dict[str, int] = {}
    for one in promised.served:
        if one.job.day < day:
            for name, count in one.counts.items():
                gone[name] = gone.get(name, 0) + count
    try:
        return Pool(day, jobs, pooled(asked, _shelf_on(counted, day, gone)), "")
    except CalcError:
        return Pool(day, jobs, None, "The shelf does not hold enough for all of them.")


def _pool_job(job: AheadJob) -> PoolJob:
    return PoolJob(job.order, job.need_ml, job.product, "", job.day, job.rule)
