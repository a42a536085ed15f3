"""Fluid of several jobs opened together. Sources: worked examples; a second, exhaustive search."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.packages import Package
from shopserv.calc.pooling import PoolJob, pooled, why_apart
from tests.calc.worked import WORKED

JUG, BOTTLE, PAIL = Package("FEN2-J", 3785, 2240), Package("FEN2-B", 946, 610), Package("FEN2-P", 18927, 10460)
JOB = PoolJob("W-1", 10_000, "FEN2", "B-7", date(2026, 9, 14), "by-liter")
TWO = (JOB, replace(JOB, name="W-2"))


def test_the_two_jobs_of_the_worked_example():
    example = WORKED["packages"]
    found = pooled(TWO, [JUG, BOTTLE])

    assert found.joint.counts == example["two_jobs_together"]["packages"] == {"FEN2-J": 5, "FEN2-B": 2}
    assert (found.joint.cost_cents, found.single_cents, found.saving_cents) == (12_420, 12_620, 200)
    assert [choice.cost_cents for choice in found.single] == [6_310, 6_310]
    assert [(share.name, share.volume_ml, share.cost_cents) for share in found.shares] == [
        ("W-1", 10_000, 5_966),  # 124.20 x 10,000 / 20,817 = 59.663
        ("W-2", 10_000, 5_966),
    ]
    assert found.left_cents == 488


def test_with_a_pail_on_the_shelf():
    found = pooled(TWO, [JUG, BOTTLE, PAIL])

    assert found.joint.counts == {"FEN2-P": 1, "FEN2-B": 2}
    assert (found.joint.cost_cents, found.single_cents) == (11_680, 12_620)
    assert found.saving_cents == 940


def test_what_one_job_takes_is_gone_for_the_next():
    two_pails = pooled([replace(JOB, need_ml=18_000), replace(JOB, name="W-2", need_ml=900)], [replace(PAIL, stock=1)])

    assert two_pails.single is None
    assert (two_pails.single_cents, two_pails.saving_cents) == (None, None)
    assert two_pails.joint.counts == {"FEN2-P": 1}

    left = pooled([replace(JOB, need_ml=3_000), replace(JOB, name="W-2", need_ml=3_000)], [replace(JUG, stock=1), PAIL])
    assert [choice.counts for choice in left.single] == [{"FEN2-J": 1}, {"FEN2-P": 1}]
    assert left.saving_cents == 12_700 - 10_460


@pytest.mark.parametrize(
    ("changed", "reason"),
    [
        ({"product": "FEN6L"}, "They differ in product: FEN2, FEN6L."),
        ({"batch": "B-8"}, "They differ in batch: B-7, B-8."),
        ({"day": date(2026, 9, 15)}, "They differ in day: 2026-09-14, 2026-09-15."),
        (
            {"rule": "whole-packages"},
            "Fluid is sold by the whole package: each customer owns the packages opened for the job.",
        ),
    ],
)
def test_jobs_that_may_not_share_say_why(changed, reason):
    jobs = (JOB, replace(JOB, name="W-2", **changed))

    assert why_apart(jobs) == reason
    with pytest.raises(errors.ConflictingInput, match=reason[:20]):
        pooled(jobs, [JUG, BOTTLE])


def test_one_job_alone_shares_nothing():
    assert why_apart([JOB]) == "There is nothing to share between fewer than two jobs."
    assert why_apart(TWO) == ""
    with pytest.raises(errors.MissingInput):
        pooled([JOB], [JUG])


@pytest.mark.parametrize("need", [0, -1])
def test_a_job_that_needs_nothing_is_refused(need):
    with pytest.raises(errors.OutOfRange):
        pooled([JOB, replace(JOB, need_ml=need)], [JUG])


def test_two_kinds_of_one_name_and_an_empty_shelf_are_refused():
    with pytest.raises(errors.ConflictingInput, match="one name"):
        pooled(TWO, [JUG, replace(BOTTLE, name="FEN2-J")])
    with pytest.raises(errors.NoPackage):
        pooled(TWO, [replace(JUG, stock=5)])


def best_cost(need, packages):
    """By trying every mix."""
    most = [min(p.stock if p.stock is not None else 99, -(-need // p.size_ml)) for p in packages]
    costs = [
        sum(n * p.cost_cents for n, p in zip(counts, packages, strict=True))
        for counts in product(*(range(n + 1) for n in most))
        if sum(n * p.size_ml for n, p in zip(counts, packages, strict=True)) >= need
    ]
    return min(costs) if costs else None


SHELF = st.lists(
    st.tuples(st.integers(1, 9), st.integers(0, 12), st.one_of(st.none(), st.integers(0, 4))), min_size=1, max_size=3
)


@settings(max_examples=150, deadline=None)
@given(needs=st.lists(st.integers(1, 9), min_size=2, max_size=3), shelf=SHELF)
def test_together_never_costs_more_and_equals_every_mix_tried(needs, shelf):
    packages = [Package(f"p{i}", size, cost, stock) for i, (size, cost, stock) in enumerate(shelf)]
    jobs = [replace(JOB, name=f"W-{i}", need_ml=need) for i, need in enumerate(needs)]
    best = best_cost(sum(needs), packages)
    if best is None:
        with pytest.raises(errors.NoPackage):
            pooled(jobs, packages)
        return
    found = pooled(jobs, packages)

    assert found.joint.cost_cents == best
    assert found.saving_cents is None or found.saving_cents >= 0
    if all(package.stock is None for package in packages):
        assert found.single_cents == sum(best_cost(need, packages) for need in needs)
    assert sum(share.cost_cents for share in found.shares) + found.left_cents == best
    assert found.left_cents >= -Fraction(len(jobs), 2)
