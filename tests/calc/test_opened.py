"""Opened packages first. Sources: house rule of the demonstration, with figures worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.opened import OpenPackage, lasting, opened_first
from shopserv.calc.packages import Package, cheapest

JUG, BOTTLE = Package("FEN2-J", 3785, 2240), Package("FEN2-B", 946, 610)
DAY = date(2026, 9, 14)
OPEN = OpenPackage("L-1", "FEN2", "B-7", 408, date(2026, 10, 1), 946, 610)


def cover(need, *opened, **more):
    asked = {"product": "FEN2", "on": DAY, "rule": "by-liter"} | more
    return opened_first(need, opened, [JUG, BOTTLE], **asked)


def test_what_is_open_goes_first_and_the_rest_comes_from_whole_packages():
    found = cover(10_000, OPEN)

    assert [(one.label, one.volume_ml, one.cost_cents) for one in found.taken] == [
        ("L-1", 408, Fraction(408 * 610, 946))
    ]
    assert found.whole == cheapest(9_592, [JUG, BOTTLE])
    assert found.whole.counts == {"FEN2-J": 2, "FEN2-B": 3}
    assert found.whole.surplus_ml == 816
    assert found.cost_cents == 6310 + Fraction(408 * 610, 946)
    assert found.not_taken == ()


def test_the_earliest_use_by_goes_first_then_the_one_with_less_then_the_label():
    soon = replace(OPEN, label="L-9", use_by=DAY)
    less = replace(OPEN, label="L-8", left_ml=100)
    equal = replace(OPEN, label="L-0")

    found = cover(5_000, OPEN, equal, less, soon)

    assert [one.label for one in found.taken] == ["L-9", "L-8", "L-0", "L-1"]


def test_only_what_is_needed_is_taken():
    second = replace(OPEN, label="L-2", use_by=date(2026, 11, 1))
    third = replace(OPEN, label="L-3", use_by=date(2026, 12, 1))

    found = cover(500, OPEN, second, third)

    assert [(one.label, one.volume_ml) for one in found.taken] == [("L-1", 408), ("L-2", 92)]
    assert [(one.label, one.reason) for one in found.not_taken] == [("L-3", "It is not needed.")]
    assert (found.whole.counts, found.whole.cost_cents) == ({}, 0)


@pytest.mark.parametrize(
    ("changed", "asked", "reason"),
    [
        (
            {},
            {"rule": "whole-packages"},
            "Fluid is sold by the whole package: what is left over belongs to its customer.",
        ),
        ({"product": "FEN6L"}, {}, "It holds FEN6L, not FEN2."),
        ({}, {"batch": "B-8"}, "It is of batch B-7, not B-8."),
        ({"use_by": None}, {}, "Nobody noted until when it may be used."),
        ({"use_by": DAY - timedelta(days=1)}, {}, "It was to be used by 2026-09-13."),
        ({"left_ml": 0}, {}, "It is empty."),
    ],
)
def test_what_may_not_be_used_stays_and_says_why(changed, asked, reason):
    found = cover(1_000, replace(OPEN, **changed), **asked)

    assert found.taken == ()
    assert [(one.label, one.reason) for one in found.not_taken] == [("L-1", reason)]
    assert found.whole == cheapest(1_000, [JUG, BOTTLE])


def test_the_last_day_and_the_same_batch_still_do():
    assert len(cover(1_000, replace(OPEN, use_by=DAY), batch="B-7").taken) == 1


@pytest.mark.parametrize(
    ("changed", "error"),
    [
        ({"left_ml": -1}, errors.OutOfRange),
        ({"left_ml": 947}, errors.OutOfRange),
        ({"size_ml": 0, "left_ml": 0}, errors.OutOfRange),
        ({"cost_cents": -1}, errors.NegativeMoney),
    ],
)
def test_a_package_that_cannot_be_is_refused(changed, error):
    with pytest.raises(error):
        cover(1_000, replace(OPEN, **changed))


def test_what_has_no_last_day_is_told_after_what_has_one():
    found = cover(1, replace(OPEN, label="L-0", use_by=None), OPEN)

    assert [one.label for one in found.not_taken] == ["L-0"]
    assert [one.label for one in cover(0, replace(OPEN, label="L-0", use_by=None), OPEN).not_taken] == ["L-1", "L-0"]


def test_a_package_of_half_a_milliliter_can_be():
    assert cover(1, replace(OPEN, size_ml=Fraction(1, 2), left_ml=Fraction(1, 2))).taken[0].volume_ml == Fraction(1, 2)


def test_a_full_package_and_a_free_one_can_be():
    assert cover(946, replace(OPEN, left_ml=946, cost_cents=0)).cost_cents == 0


def test_a_need_below_nothing_and_an_unknown_rule_are_refused():
    with pytest.raises(errors.OutOfRange):
        cover(-1)
    with pytest.raises(errors.UnknownChoice):
        cover(1, rule="by-gallon")
    with pytest.raises(errors.NoPackage):
        opened_first(1_000, [OPEN], [], product="FEN2", on=DAY, rule="by-liter")


@given(
    need=st.integers(0, 20_000),
    lefts=st.lists(st.integers(0, 946), max_size=4),
    days=st.lists(st.one_of(st.none(), st.integers(-3, 30)), min_size=4, max_size=4),
)
def test_nothing_is_lost_and_never_more_whole_packages_are_opened(need, lefts, days):
    opened = [
        replace(OPEN, label=f"L-{i}", left_ml=left, use_by=None if day is None else DAY + timedelta(days=day))
        for i, (left, day) in enumerate(zip(lefts, days, strict=False))
    ]
    found = cover(need, *opened)
    took = sum((one.volume_ml for one in found.taken), Fraction(0))

    assert took + found.whole.total_ml - found.whole.surplus_ml == need
    assert {one.label for one in found.taken}.isdisjoint(one.label for one in found.not_taken)
    assert len(found.taken) + len(found.not_taken) == len(opened)
    assert found.whole.cost_cents <= cheapest(need, [JUG, BOTTLE]).cost_cents
    assert all(one.volume_ml > 0 for one in found.taken)


OCT_1, OCT_2 = date(2026, 10, 1), date(2026, 10, 2)


def open_for(needs, *opened, **more):
    asked = {"product": "FEN2", "on": DAY, "rule": "by-liter"} | more
    return lasting(opened, needs, **asked)


def test_what_is_open_counts_as_far_as_jobs_come_before_its_last_day():
    later = replace(OPEN, label="L-2", left_ml=900, use_by=date(2026, 11, 1))

    assert open_for([(OCT_2, 700), (OCT_1, 300)], later, OPEN) == 1000
    assert open_for([(OCT_1, 300)], OPEN) == 300
    assert open_for([(OCT_1, 500)], OPEN) == 408
    assert open_for([(OCT_2, 500)], OPEN) == 0
    assert open_for([(OCT_1, Fraction(1, 3)), (OCT_2, 10)], OPEN, later) == Fraction(31, 3)
    assert open_for([], OPEN) == open_for([(OCT_1, 300)]) == 0


def test_what_may_not_be_used_counts_for_nothing():
    needs = [(OCT_1, 5_000)]

    assert open_for(needs, replace(OPEN, use_by=DAY)) == 0  # its last day is before the job
    assert open_for(needs, replace(OPEN, use_by=None), OPEN) == 408
    assert open_for(needs, OPEN, product="FENV") == 0
    assert open_for(needs, replace(OPEN, product="FENV", use_by=DAY), OPEN) == 408
    assert open_for(needs, OPEN, rule="whole-packages") == 0
    assert open_for([(DAY, 5_000)], replace(OPEN, use_by=DAY)) == 408
    assert open_for([(DAY, 5_000)], replace(OPEN, use_by=DAY), on=DAY + timedelta(1)) == 0


def test_a_rule_that_is_none_is_refused_for_what_lasts():
    with pytest.raises(errors.UnknownChoice, match="by-weight"):
        open_for([], OPEN, rule="by-weight")


def test_a_package_that_cannot_be_is_refused_for_what_lasts():
    with pytest.raises(errors.OutOfRange, match="947 mL cannot be left"):
        open_for([], replace(OPEN, left_ml=947, use_by=None))


@given(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 900)), max_size=4),
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 946)), max_size=3),
)
def test_no_other_order_uses_more(jobs, packages):
    """Against every order in which the packages may be given to the jobs, day by day."""
    opened = [
        replace(OPEN, label=f"L-{n}", left_ml=ml, use_by=DAY + timedelta(d)) for n, (d, ml) in enumerate(packages)
    ]
    needs = [(DAY + timedelta(d), ml) for d, ml in jobs]

    def given_out(order):
        used = 0
        left = [one.left_ml for one in opened]
        for day, need in sorted(needs):
            for i in order:
                if opened[i].use_by >= day:
                    taken = min(left[i], need)
                    left[i], need, used = left[i] - taken, need - taken, used + taken
        return used

    assert open_for(needs, *opened) == max(given_out(order) for order in permutations(range(len(opened))))
