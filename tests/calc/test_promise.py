"""The shelf promise. Sources: figures worked out by hand; every way to share out a small shelf."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc import promise as promises
from shopserv.calc.packages import Package
from shopserv.calc.promise import AgreedJob, Arrival, promise

DAY = date(2026, 9, 14)
JUG, BOTTLE = Package("FEN2-J", 3785, 2240, 9), Package("FEN2-B", 946, 610, 11)


def jobs(*needs, each_day=False):
    return [
        AgreedJob(f"W-{i}", DAY + timedelta(days=i - 1 if each_day else 0), need) for i, need in enumerate(needs, 1)
    ]


def whole(given_jobs, packages=(JUG, BOTTLE), arrivals=(), lead_days=2, **more):
    return promise(given_jobs, packages, arrivals, lead_days=lead_days, **{"rule": "whole-packages"} | more)


def test_the_shelf_of_the_demonstration_serves_four_jobs_and_not_a_fifth():
    found = whole(jobs(*[10_000] * 5))

    assert [one.counts for one in found.served] == [*[{"FEN2-J": 2, "FEN2-B": 3}] * 3, {"FEN2-J": 3}]
    assert [one.cost_cents for one in found.served] == [6_310, 6_310, 6_310, 6_720]
    assert found.served[-1].left == {"FEN2-J": 0, "FEN2-B": 2}
    short = found.shortage
    assert (short.job.name, short.order, short.order_cents) == ("W-5", {"FEN2-J": 2, "FEN2-B": 1}, 5_090)
    assert short.order_by == date(2026, 9, 12)


def test_by_the_liter_what_is_left_over_serves_the_next():
    found = whole(jobs(10_000, 800), rule="by-liter")

    assert [one.counts for one in found.served] == [{"FEN2-J": 3}, {}]  # 67.20; 2 jugs and 4 bottles would be 69.20
    assert [one.open_ml for one in found.served] == [1_355, 555]
    opened = whole(jobs(10_000, 800), rule="by-liter", open_ml=Fraction("392.5"))
    assert [one.counts for one in opened.served] == [{"FEN2-J": 2, "FEN2-B": 3}, {}]
    assert opened.served[-1].open_ml == Fraction("0.5")
    kept = whole(jobs(946), open_ml=946)
    assert ([one.counts for one in kept.served], kept.served[0].open_ml) == ([{"FEN2-B": 1}], 0)


def test_a_job_fails_only_when_no_way_to_share_serves_it():
    """The cheapest mix of the first would take the only can that the second can be served from."""
    cans = [Package("small", 2, 3, 2), Package("big", 4, 5, 1)]

    found = whole(jobs(4, 4), cans)

    assert found.shortage is None
    assert sorted(sum(one.counts.values()) for one in found.served) == [1, 2]


def test_of_equal_cost_the_fewer_packages_are_opened():
    cans = [Package("small", 2, 2, 4), Package("big", 4, 4, 2)]

    assert [one.counts for one in whole(jobs(4, 4), cans).served] == [{"big": 1}, {"big": 1}]
    short = whole(jobs(4, 9, 9), [replace(cans[0], stock=2), replace(cans[1], stock=1)])
    assert [one.counts for one in short.served] == [{"big": 1}]
    assert (short.shortage.order, short.shortage.order_cents) == ({"small": 1, "big": 1}, 6)  # and 2 small of the shelf


def test_of_equal_orders_the_cheaper_way_before_is_told():
    """Either can on the shelf serves the first job; the second then needs one more big can whichever is left."""
    cans = [Package("dear", 4, 9, 1), Package("cheap", 4, 5, 1)]

    found = whole(jobs(4, 8), cans)

    assert [one.counts for one in found.served] == [{"cheap": 1}]
    assert (found.shortage.order, found.shortage.order_cents) == ({"cheap": 1}, 5)


def test_what_comes_serves_from_its_day_on():
    late = [Arrival("FEN2-B", 3, DAY + timedelta(days=1))]
    shelf = [replace(JUG, stock=0), replace(BOTTLE, stock=1)]

    served = whole(jobs(900, 2_800, each_day=True), shelf, late)
    assert (len(served.served), served.shortage) == (2, None)
    assert served.served[1].left == {"FEN2-J": 0, "FEN2-B": 0}
    short = whole(jobs(900, 2_800), shelf, late).shortage
    assert (short.job.name, short.order, short.order_by) == ("W-2", {"FEN2-B": 3}, DAY - timedelta(days=2))


def test_the_order_uses_what_is_left_on_the_shelf():
    short = whole(jobs(3_785, 4_700), [replace(JUG, stock=2), replace(BOTTLE, stock=0)], lead_days=0).shortage

    assert (short.order, short.order_cents, short.order_by) == ({"FEN2-B": 1}, 610, DAY)


def test_parts_of_a_milliliter_count():
    half = [Package("can", Fraction("10.5"), 5, 1)]

    found = whole(jobs(Fraction("10.5"), 21), half)
    assert [one.counts for one in found.served] == [{"can": 1}]
    assert (found.shortage.order, found.shortage.order_cents) == ({"can": 2}, 10)
    assert whole(jobs(21), [replace(half[0], stock=3)]).served[0].counts == {"can": 2}
    open_too = whole(jobs(21), half, rule="by-liter", open_ml=Fraction("10.25"))
    assert open_too.shortage.order == {"can": 1}
    assert whole(jobs(Fraction("20.75")), half, rule="by-liter", open_ml=Fraction("10.25")).served[0].open_ml == 0


def test_jobs_go_by_their_days():
    late, early = AgreedJob("late", DAY + timedelta(days=5), 900), AgreedJob("early", DAY, 900)

    found = whole([late, early], [replace(BOTTLE, stock=1)])

    assert [one.job.name for one in found.served] == ["early"]
    assert found.shortage.job.name == "late"


def test_where_nothing_is_on_sale_nothing_can_be_ordered():
    found = whole(jobs(1), [])

    assert (found.served, found.shortage.order, found.shortage.order_cents) == ((), None, None)
    assert whole([], []).shortage is None


@pytest.mark.parametrize(
    ("changed", "error", "said"),
    [
        ({"rule": "by-gallon"}, errors.UnknownChoice, "^The rule is 'by-gallon'; it may be by-liter, whole-packages"),
        ({"lead_days": -1}, errors.OutOfRange, "^-1 days and 0 mL"),
        ({"open_ml": -1}, errors.OutOfRange, "^2 days and -1 mL"),
        ({"packages": [replace(JUG, stock=None)]}, errors.MissingInput, "how many of FEN2-J"),
        ({"packages": [replace(JUG, stock=-1)]}, errors.OutOfRange, "FEN2-J"),
        ({"packages": [replace(JUG, size_ml=0)]}, errors.OutOfRange, "FEN2-J"),
        ({"packages": [JUG, replace(BOTTLE, name="FEN2-J")]}, errors.ConflictingInput, "FEN2-J, FEN2-J"),
        ({"arrivals": [Arrival("FEN2-P", 1, DAY)]}, errors.UnknownChoice, "^'FEN2-P' comes.*FEN2-J, FEN2-B"),
        ({"arrivals": [Arrival("FEN2-J", -1, DAY)]}, errors.OutOfRange, "^-1 of FEN2-J"),
        ({"given_jobs": jobs(-1)}, errors.OutOfRange, "^W-1 needs -1 mL"),
    ],
)
def test_what_cannot_be_is_refused(changed, error, said):
    with pytest.raises(error, match=said):
        whole(**{"given_jobs": jobs(1), **changed})


def test_nothing_at_all_can_be():
    found = whole(jobs(0), [replace(JUG, stock=0)], [Arrival("FEN2-J", 0, DAY)], lead_days=0)

    assert (found.served[0].counts, found.served[0].cost_cents, found.shortage) == ({}, 0, None)


def test_more_ways_than_can_be_searched_are_refused(monkeypatch):
    cans = [Package("a", 2, 1, 1), Package("b", 3, 1, 1)]
    assert len(whole(jobs(2, 2), cans).served) == 2  # two ways after the first job, one after both

    monkeypatch.setattr(promises, "MOST_WAYS", 2)
    assert len(whole(jobs(2, 2), cans).served) == 2
    assert len(whole(jobs(2, 2), cans, most_ways=2).served) == 2
    with pytest.raises(errors.OutOfRange, match="more than 1 ways"):
        whole(jobs(2, 2), cans, most_ways=1)
    monkeypatch.setattr(promises, "MOST_WAYS", 1)
    with pytest.raises(errors.OutOfRange, match="more than 1 ways to serve the jobs until 2026"):
        whole(jobs(2, 2), cans)


def test_the_search_ends_as_soon_as_there_are_too_many_ways(monkeypatch):
    """Seven kinds have thousands of mixes for one job: with a limit of two the third is the last that is made."""
    made, way = [], promises._Way
    monkeypatch.setattr(promises, "_Way", lambda *given: made.append(given) or way(*given))
    kinds = [Package(f"k{n}", 100 + n, 100 + n, 20) for n in range(7)]

    with pytest.raises(errors.OutOfRange, match="more than 2 ways"):
        whole(jobs(2_000), kinds, most_ways=2)

    assert len(made) == 1 + 3  # the shelf as it is, and three ways


def test_a_full_shelf_has_one_way_however_full_it_is():
    """What no job ahead could open makes no way of its own: sixty jobs of three kinds are looked through at once."""
    pail = Package("FEN2-P", 18_927, 10_460, 10**9)
    kinds = [pail, replace(JUG, stock=10**9), replace(BOTTLE, stock=10**9)]

    found = whole(jobs(*[10_000] * 60), kinds, most_ways=400)

    assert [one.counts for one in found.served] == [{"FEN2-J": 2, "FEN2-B": 3}] * 60
    assert found.served[-1].left == {"FEN2-P": 10**9, "FEN2-J": 10**9 - 120, "FEN2-B": 10**9 - 180}


def test_of_ways_that_leave_all_that_can_be_of_use_the_best_is_kept():
    cheap, dear = Package("a", 10, 1, 9), Package("b", 10, 5, 9)
    assert [one.counts for one in whole(jobs(10, 10), [dear, cheap]).served] == [{"a": 1}, {"a": 1}]
    assert [one.counts for one in whole(jobs(10, 10), [cheap, dear]).served] == [{"a": 1}, {"a": 1}]

    small, large = Package("a", 5, 1, 9), Package("b", 10, 2, 9)  # equal cost: fewer packages
    assert [one.counts for one in whole(jobs(10, 10), [small, large]).served] == [{"b": 1}, {"b": 1}]
    assert [one.counts for one in whole(jobs(10, 10), [large, small]).served] == [{"b": 1}, {"b": 1}]


def every_way(needs, stock, come, sizes, rule, open_ml):
    """All that every job can take, one after another; (what is left, what is open, what was taken)."""
    ways = {(tuple(stock), open_ml, (0,) * len(sizes))}
    for need, new in zip(needs, come, strict=True):
        after = set()
        for left, still, taken in ways:
            here = [a + b for a, b in zip(left, new, strict=True)]
            for mix in product(*(range(n + 1) for n in here)):
                held = still + sum(n * size for n, size in zip(mix, sizes, strict=True))
                if held >= need:
                    rest = held - need if rule == "by-liter" else 0
                    gone = tuple(a - n for a, n in zip(here, mix, strict=True))
                    after.add((gone, rest, tuple(a + n for a, n in zip(taken, mix, strict=True))))
        if not after:
            return ways, False
        ways = after
    return ways, True


@settings(max_examples=120, deadline=None)
@given(
    needs=st.lists(st.integers(0, 8), min_size=1, max_size=3),
    kinds=st.lists(st.tuples(st.integers(1, 6), st.integers(0, 9), st.integers(0, 2)), min_size=1, max_size=2),
    coming=st.lists(st.tuples(st.integers(0, 1), st.integers(0, 2), st.integers(-1, 3)), max_size=2),
    rule=st.sampled_from(promises.RULES),
    open_ml=st.integers(0, 3),
)
def test_every_way_to_share_out_the_shelf_was_tried(needs, kinds, coming, rule, open_ml):
    packages = [Package(f"p{i}", *kind) for i, kind in enumerate(kinds)]
    arrivals = [Arrival(f"p{k % len(kinds)}", n, DAY + timedelta(days=day)) for k, n, day in coming]
    sizes, costs = [p.size_ml for p in packages], [p.cost_cents for p in packages]
    open_ml = open_ml if rule == "by-liter" else 0
    found = promise(jobs(*needs, each_day=True), packages, arrivals, rule=rule, lead_days=1, open_ml=open_ml)

    come = [
        tuple(
            sum(
                one.count
                for one in arrivals
                if one.package == p.name and (one.usable_from - DAY).days in (i, *([-1] if i == 0 else []))
            )
            for p in packages
        )
        for i in range(len(needs))
    ]
    served = len(found.served)
    ways, all_served = every_way(needs[:served], [p.stock for p in packages], come[:served], sizes, rule, open_ml)
    assert all_served
    paid = sum(one.cost_cents for one in found.served)
    cheapest = min(sum(n * c for n, c in zip(taken, costs, strict=True)) for _, _, taken in ways)
    if found.shortage is None:
        assert served == len(needs)
        assert paid == cheapest
        return
    assert found.shortage.job.name == f"W-{served + 1}"
    _, is_served = every_way(needs[: served + 1], [p.stock for p in packages], come[: served + 1], sizes, rule, open_ml)
    assert not is_served
    orders = []
    for more in product(*(range(9) for _ in packages)):
        with_order = [*come[:served], tuple(a + b for a, b in zip(come[served], more, strict=True))]
        if every_way(needs[: served + 1], [p.stock for p in packages], with_order, sizes, rule, open_ml)[1]:
            orders.append(sum(n * c for n, c in zip(more, costs, strict=True)))
    assert found.shortage.order_cents == min(orders)


@settings(max_examples=60, deadline=None)
@given(
    need=st.integers(-2, 12),
    kinds=st.lists(st.tuples(st.integers(1, 6), st.integers(0, 3)), max_size=3),
)
def test_the_mixes_are_those_that_do_without_none_of_their_packages(need, kinds):
    sizes, left = [size for size, _ in kinds], [n for _, n in kinds]

    def held(mix):
        return sum(n * size for n, size in zip(mix, sizes, strict=True))

    expected = {
        mix
        for mix in product(*(range(n + 1) for n in left))
        if held(mix) >= need and all(held(mix) - size < need for n, size in zip(mix, sizes, strict=True) if n)
    }
    found = list(promises._mixes(need, left, sizes))
    assert set(found) == expected
    assert len(found) == len(expected)


@pytest.mark.parametrize(
    ("need", "left", "sizes", "mixes"),
    [
        (10, [2, 1], [3, 9], [(1, 1)]),  # the second of the small ones could be put back
        (50, [1, 1], [1, 100], [(0, 1)]),
        (20, [2, 2, 2], [3, 4, 9], [(0, 1, 2), (1, 0, 2), (1, 2, 1)]),  # 3 + 8 + 9 = 20: a second 3 could be put back
    ],
)
def test_mixes_by_hand(need, left, sizes, mixes):
    assert sorted(promises._mixes(need, left, sizes)) == mixes


def test_sizes_in_parts_of_a_milliliter_are_all_of_use():
    found = whole(jobs(10), [Package("half", Fraction(1, 2), 1, 30)])

    assert found.served[0].counts == {"half": 20}


def test_the_most_ways_are_as_many_as_are_told():
    assert f"more than {promises.MOST_WAYS:,} ways" in " ".join(promise.__doc__.split())
