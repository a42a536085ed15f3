"""Fluid of several jobs opened together: what the joint mix costs against the sum of the single ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from shopserv.calc.errors import ConflictingInput, MissingInput, NoPackage, OutOfRange
from shopserv.calc.measures import Real, exact
from shopserv.calc.money import cents, round_half_up
from shopserv.calc.packages import Choice, Package, cheapest


@dataclass(frozen=True, slots=True)
class PoolJob:
    """The fluid of one job: what it needs, of what, when, and how its shop prices fluid."""

    name: str
    need_ml: Real
    product: str
    batch: str
    day: date
    rule: str


@dataclass(frozen=True, slots=True)
class Share:
    """What one job takes of the joint mix, and what that cost: own milliliters at the cost of what was opened."""

    name: str
    volume_ml: Fraction
    cost_cents: int


@dataclass(frozen=True, slots=True)
class Pooled:
    """The joint mix beside the single ones.

    single         of each job in order; none where the shelf does not cover them one by one
    single_cents   their sum, or none
    saving_cents   never below 0; none where there is no sum to compare with
    shares         of each job
    left_cents     of the cost, what stays with the shop: what is left over, and the rounding of the shares
    """

    joint: Choice
    single: tuple[Choice, ...] | None
    single_cents: int | None
    saving_cents: int | None
    shares: tuple[Share, ...]
    left_cents: int


def why_apart(jobs: Sequence[PoolJob]) -> str:
    """Why these jobs may not share opened packages, in one sentence; empty: they may."""
    if len(jobs) < 2:
        return "There is nothing to share between fewer than two jobs."
    if any(job.rule != "by-liter" for job in jobs):
        return "Fluid is sold by the whole package: each customer owns the packages opened for the job."
    for what in ("product", "batch", "day"):
        found = sorted({str(getattr(job, what)) for job in jobs})
        if len(found) > 1:
            return f"They differ in {what}: {', '.join(found)}."
    return ""


def pooled(jobs: Sequence[PoolJob], packages: Sequence[Package]) -> Pooled:
    """The cheapest mix for all jobs together, beside those of each job from the same shelf.

    jobs     of one product, batch and day, at a shop that prices by the liter
    raises   ConflictingInput where they may not share or two kinds of package have one name, MissingInput where there
             are fewer than two jobs, OutOfRange for a need of nothing or less, NoPackage where the shelf does not do
    source   exact search
    check    two of 10.0 L from jugs and bottles: 5 jugs and 2 bottles, 124.20 instead of 126.20; with a pail 116.80
    """
    reason = why_apart(jobs)
    if reason:
        raise (MissingInput if len(jobs) < 2 else ConflictingInput)(reason)
    names = [package.name for package in packages]
    if len(set(names)) < len(names):
        raise ConflictingInput(f"Two kinds of package have one name among {', '.join(names)}.")
    needs = [exact(job.need_ml) for job in jobs]
    for job, need in zip(jobs, needs, strict=True):
        if need <= 0:
            raise OutOfRange(f"{job.name} needs {float(need):g} mL; it must be more than nothing.")
    joint = cheapest(sum(needs, Fraction(0)), packages)
    single = _one_by_one(needs, packages)
    apart = None if single is None else sum(choice.cost_cents for choice in single)
    shares = tuple(
        Share(job.name, need, cents(round_half_up(Fraction(joint.cost_cents, 100) * need / joint.total_ml)))
        for job, need in zip(jobs, needs, strict=True)
    )
    return Pooled(
        joint=joint,
        single=single,
        single_cents=apart,
        saving_cents=None if apart is None else apart - joint.cost_cents,
        shares=shares,
        left_cents=joint.cost_cents - sum(share.cost_cents for share in shares),
    )


def _one_by_one(needs: Sequence[Fraction], packages: Sequence[Package]) -> tuple[Choice, ...] | None:
    """The mix of each job, what one takes gone from the shelf of the next."""
    shelf, found = list(packages), []
    for need in needs:
        try:
            choice = cheapest(need, shelf)
        except NoPackage:
            return None
        found.append(choice)
        shelf = [_less(package, choice.counts.get(package.name, 0)) for package in shelf]
    return tuple(found)


def _less(package: Package, taken: int) -> Package:
    return package if package.stock is None else replace(package, stock=package.stock - taken)
