"""The cheapest packages. Sources: worked example, an exhaustive search in another form, scipy.optimize.milp (HiGHS)."""

from __future__ import annotations

import random
import time
from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from shopserv.calc import errors
from shopserv.calc.packages import Package, cheapest
from tests.calc.worked import WORKED

JUG, BOTTLE, PAIL = Package("FEN2-J", 3785, 2240), Package("FEN2-B", 946, 610), Package("FEN2-P", 18927, 10460)


def by_trying_all(need, packages):
    """Every mix of containers, the best by the rule: cost, surplus, number, more of the earlier listed."""
    if need == 0:
        return {}
    ranges = []
    for package in packages:
        enough = -(-need // package.size_ml)
        ranges.append(range(int(enough if package.stock is None else min(package.stock, enough)) + 1))
    best = None
    for counts in product(*ranges):
        total = sum(n * package.size_ml for n, package in zip(counts, packages, strict=True))
        if total < need:
            continue
        cost = sum(n * package.cost_cents for n, package in zip(counts, packages, strict=True))
        found = (cost, total, sum(counts), tuple(-n for n in counts))
        best = found if best is None or found < best else best
    return None if best is None else {p.name: -n for p, n in zip(packages, best[3], strict=True) if n}


sizes = st.one_of(st.integers(1, 12), st.fractions(min_value=Fraction(1, 3), max_value=9, max_denominator=7))


@st.composite
def offers(draw, most=4):
    count = draw(st.integers(0, most))
    return [
        Package(f"p{i}", draw(sizes), draw(st.integers(0, 12)), draw(st.one_of(st.none(), st.integers(0, 4))))
        for i in range(count)
    ]


@settings(max_examples=250, deadline=None)
@given(st.one_of(st.integers(0, 14), st.fractions(min_value=0, max_value=14, max_denominator=7)), offers())
def test_no_other_mix_is_better(need, packages):
    best = by_trying_all(need, packages)

    if best is None:
        with pytest.raises(errors.NoPackage):
            cheapest(need, packages)
        return
    choice = cheapest(need, packages)
    assert choice.counts == best
    assert choice.total_ml == sum(choice.counts.get(p.name, 0) * p.size_ml for p in packages)
    assert choice.surplus_ml == choice.total_ml - need
    assert choice.cost_cents == sum(choice.counts.get(p.name, 0) * p.cost_cents for p in packages)


def test_the_packages_of_the_worked_example():
    example = WORKED["packages"]
    for case, need, shelf in (
        ("one_job", 10_000, [JUG, BOTTLE]),
        ("two_jobs_together", 20_000, [JUG, BOTTLE]),
        ("two_jobs_with_a_pail_on_the_shelf", 20_000, [JUG, BOTTLE, PAIL]),
    ):
        choice = cheapest(need, shelf)
        assert choice.counts == example[case]["packages"]
        assert choice.cost_cents == round(float(example[case]["cost"]) * 100)
        assert choice.surplus_ml == Fraction(example[case]["left_l"]) * 1000


@pytest.mark.parametrize("option", WORKED["options"], ids=lambda option: option["letter"])
def test_the_fluid_of_each_option_of_the_worked_example(option):
    line = next(line for line in option["lines"] if line["kind"] == "fluid")
    choice = cheapest(Fraction(line["planned_l"]) * 1000, [JUG, BOTTLE])

    assert choice.counts == line["packages"]
    assert (choice.total_ml, choice.surplus_ml) == (Fraction(line["bought_l"]) * 1000, Fraction(line["left_l"]) * 1000)


def test_equal_offers_go_by_the_order_of_the_list():
    same = [Package("second", 2, 5), Package("first", 2, 5)]

    assert cheapest(4, same).counts == {"second": 2}
    assert cheapest(4, same[::-1]).counts == {"first": 2}


def test_fewer_containers_are_better_at_one_price_and_surplus():
    assert cheapest(4, [Package("small", 1, 6), Package("big", 4, 24)]).counts == {"big": 1}


def test_two_offers_of_one_name_are_counted_together():
    shelf = [Package("can", 4, 10, stock=1), Package("can", 4, 11, stock=1)]

    assert cheapest(8, shelf).counts == {"can": 2}


def test_a_need_is_covered_exactly_and_not_nearly():
    assert cheapest(Fraction("10.0000000001"), [Package("can", 5, 10)]).counts == {"can": 3}


@pytest.mark.parametrize(
    ("need", "packages", "error"),
    [
        (-1, [JUG], errors.OutOfRange),
        (1, [Package("a", 0, 1)], errors.OutOfRange),
        (1, [Package("a", 1, 1, stock=-1)], errors.OutOfRange),
        (1, [Package("a", 1, -1)], errors.NegativeMoney),
        (1, [], errors.NoPackage),
        (5, [Package("a", 2, 1, stock=2)], errors.NoPackage),
        (1, [Package("a", 2, 1, stock=0)], errors.NoPackage),
    ],
)
def test_what_cannot_be_bought_is_refused(need, packages, error):
    with pytest.raises(error):
        cheapest(need, packages)


def test_a_shops_shelf_is_searched_at_once():
    begun = time.perf_counter()
    for liters in range(1, 101):
        cheapest(liters * 1000, [JUG, BOTTLE, PAIL])
    assert time.perf_counter() - begun < 2.0  # a hundred needs; common practice, no source


def test_sizes_that_share_no_measure_are_searched_in_time():
    shelf = [
        Package("qt", Fraction("946.352946"), 610),
        Package("l", 1000, 645),
        Package("imp", Fraction(4546_09, 100), 2900),
    ]
    begun = time.perf_counter()

    choice = cheapest(60_000, shelf)

    assert choice.surplus_ml >= 0
    assert time.perf_counter() - begun < 2.0


def by_integer_programming(need, packages):
    """Lowest cost, and of that cost the least that is held; none where nothing covers."""
    sizes, costs = ([getattr(p, name) for p in packages] for name in ("size_ml", "cost_cents"))
    most = Bounds(0, [np.inf if p.stock is None else p.stock for p in packages])
    asked = {"integrality": np.ones(len(packages)), "bounds": most}
    covered = LinearConstraint([sizes], lb=need)
    first = milp(costs, constraints=covered, **asked)
    if first.x is None:
        return None
    cost = round(first.fun)
    second = milp(sizes, constraints=[covered, LinearConstraint([costs], ub=cost + 0.5)], **asked)
    return cost, round(second.fun)


def test_integer_programming_finds_the_same_cost_and_surplus():
    chance, found = random.Random(16), 0
    for _ in range(60):
        packages = [
            Package(f"p{i}", chance.randrange(200, 20_000), chance.randrange(100, 12_000), chance.choice([None, 1, 3]))
            for i in range(chance.randrange(1, 5))
        ]
        need = chance.randrange(1, 30_000)
        best = by_integer_programming(need, packages)
        if best is None:
            with pytest.raises(errors.NoPackage):
                cheapest(need, packages)
            continue
        choice = cheapest(need, packages)
        found += 1
        assert (choice.cost_cents, choice.total_ml) == best

    assert found > 40


@settings(max_examples=150, deadline=None)
@given(need=st.integers(0, 40), more=st.integers(0, 12), packages=offers())
def test_a_larger_need_never_costs_less(need, more, packages):
    """What covers the larger need covers the smaller too: the cost of the cheapest cover never falls."""
    try:
        larger = cheapest(need + more, packages)
    except errors.NoPackage:
        return
    assert cheapest(need, packages).cost_cents <= larger.cost_cents
