"""Labor that several jobs share. Sources: figures worked out by hand; limiting cases."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.overlaps import Operation, Removed, together

SHARED = {"raise and level": 1, "warm up": 1, "road test": 1}
PAN = Operation("pan drop with filter", 15, SHARED)
EXCHANGE = Operation("line exchange", 18, {**SHARED, "set level": 2})


def test_what_two_jobs_share_is_sold_once():
    found = together([PAN, EXCHANGE])

    both = ("pan drop with filter", "line exchange")
    assert (found.listed, found.sold, found.removed_tenths) == (33, 30, 3)
    assert found.removed == tuple(Removed(work, both, 1) for work in sorted(SHARED))


def test_the_longest_of_different_times_counts():
    found = together([Operation("a", 5, {"x": 2}), Operation("b", 9, {"x": 4}), Operation("c", 3, {"x": 1})])

    assert found.removed == (Removed("x", ("a", "b", "c"), 3),)
    assert found.sold == 14


def test_nothing_is_taken_off_where_nothing_is_shared():
    alone = together([EXCHANGE])
    apart = together([Operation("a", 5, {"x": 2}), Operation("b", 5, {"y": 5, "x": 0})])

    assert (alone.listed, alone.removed, alone.sold) == (18, (), 18)
    assert (apart.listed, apart.removed, apart.sold) == (10, (), 10)
    assert together([]).sold == 0


@pytest.mark.parametrize(
    "operation", [Operation("a", -1), Operation("a", 5, {"x": -1}), Operation("a", 5, {"x": 3, "y": 3})]
)
def test_times_that_cannot_be_are_refused(operation):
    with pytest.raises(errors.OutOfRange, match="“a”"):
        together([operation])


OPERATIONS = st.lists(
    st.builds(
        lambda own, includes: Operation("o", own + sum(includes.values()), includes),
        st.integers(0, 20),
        st.dictionaries(st.sampled_from("xyz"), st.integers(0, 5)),
    ),
    max_size=5,
)


@given(OPERATIONS, st.randoms())
def test_together_takes_at_least_the_longest_and_at_most_all_and_no_order_matters(operations, chance):
    found = together(operations)
    mixed = list(operations)
    chance.shuffle(mixed)
    again = together(mixed)

    assert max((one.tenths for one in operations), default=0) <= found.sold <= found.listed
    assert found.listed == sum(one.tenths for one in operations)
    assert (again.sold, {one.work: one.tenths for one in again.removed}) == (
        found.sold,
        {one.work: one.tenths for one in found.removed},
    )
    own = sum(one.tenths - sum(one.includes.values()) for one in operations)
    longest = sum(max((one.includes.get(work, 0) for one in operations), default=0) for work in "xyz")
    assert found.sold == own + longest
