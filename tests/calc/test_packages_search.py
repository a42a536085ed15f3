"""What the search of the cheapest packages may leave aside: cases where a wrong saving loses the answer (compared with
all mixes tried), its bounds by hand, and the branches of the worked example followed by hand.
"""

from __future__ import annotations

import pytest

from shopserv.calc.packages import Package, _Search, cheapest
from tests.calc.test_packages import BOTTLE, JUG, by_trying_all


def shelf(*offers):
    return [Package(f"p{i}", size, cost, stock) for i, (size, cost, stock) in enumerate(offers)]


@pytest.mark.parametrize(
    ("need", "offers"),
    [
        (10, [(4, 2, 5), (3, 2, None), (5, 3, 1), (5, 3, None)]),
        (11, [(6, 7, 2), (5, 6, 2)]),
        (12, [(5, 2, None), (9, 12, 5), (12, 35, 5), (8, 3, 5), (2, 1, None)]),
        (20, [(8, 0, 5), (2, 0, 5)]),
        (24, [(3, 9, None), (5, 15, None), (1, 3, 2)]),
        (32, [(10, 21, None), (3, 6, 2), (3, 6, 1), (2, 4, 2), (4, 8, 5)]),
        (54, [(16, 33, 2), (33, 66, 2)]),
        (95, [(19, 57, 2), (7, 22, 2), (2, 6, None)]),
    ],
)
def test_nothing_is_left_aside_that_could_be_the_answer(need, offers):
    packages = shelf(*offers)

    assert cheapest(need, packages).counts == by_trying_all(need, packages)


def followed(monkeypatch, need, packages):
    """The branches that the search goes into: place in the order, what is left, cost, number of packages."""
    calls, go = [], _Search.go

    def noted(self, *at):
        calls.append(at)
        go(self, *at)

    monkeypatch.setattr(_Search, "go", noted)
    cheapest(need, packages)
    return calls


def test_the_branches_of_the_worked_example(monkeypatch):
    """10 L from jugs (0.592 cents a mL) and bottles (0.645): three jugs for 67.20, then two jugs and three bottles for
    63.10. With one jug the six liters left cost 40.08 or more: 62.48 could be less, but seven bottles make it 65.10.
    Without a jug it costs 64.49 or more.
    """
    assert followed(monkeypatch, 10_000, [BOTTLE, JUG]) == [
        (0, 10_000, 0, 0),
        (1, -1355, 6720, 3),
        (1, 2430, 4480, 2),
        (2, -408, 6310, 5),
        (1, 6215, 2240, 1),
    ]


def test_the_branches_where_all_costs_the_same_a_milliliter(monkeypatch):
    """12 from 4, 3 and 2 at 1 cent each: three of 4 fit. Two of 4 leave 4, which takes two more: not fewer than three,
    so nothing else is looked at.
    """
    assert followed(monkeypatch, 12, shelf((2, 2, None), (3, 3, None), (4, 4, None))) == [
        (0, 12, 0, 0),
        (1, 0, 12, 3),
    ]


def test_the_branches_where_another_mix_could_have_as_few(monkeypatch):
    """10 from 4 and 3 at 1 cent each, three of 4 at hand: 4, 4 and 3 hold 11; 4, 3 and 3 fit. Without a 4 it takes
    four of 3, which hold 12 and cost more.
    """
    assert followed(monkeypatch, 10, shelf((3, 3, None), (4, 4, 3))) == [
        (0, 10, 0, 0),
        (1, -2, 12, 3),
        (1, 2, 8, 2),
        (2, -1, 11, 3),
        (1, 6, 4, 1),
        (2, 0, 10, 3),
    ]


def test_the_order_is_that_of_cost_a_milliliter_then_of_size():
    assert _Search(10, [2, 4, 3], shelf((2, 2, None), (4, 4, None), (3, 2, None))).order == [2, 1, 0]


def test_the_order_is_exact_for_sizes_beyond_the_digits_of_a_float():
    sizes = [2 * 10**17 - 1, 10**17]  # 20 cents for twice as much but 1 is dearer than 10 cents

    assert _Search(10, sizes, [Package("a", sizes[0], 20), Package("b", sizes[1], 10)]).order == [1, 0]


def test_what_is_held_from_each_place_on_and_the_largest_of_it():
    """Of 1, 5 and 3 at 1, 6 and 4 cents: in order of cost a milliliter 1.00, 1.20, 1.33."""
    search = _Search(7, [5, 1, 3], shelf((5, 6, 1), (1, 1, 2), (3, 4, None)))

    assert search.sizes == [1, 5, 3]
    assert search.most == [2, 1, 3]  # as many of 3 as cover 7
    assert search.held == [16, 14, 9, 0]
    assert search.largest[:3] == [5, 5, 3]
    assert _Search(7, [1], shelf((1, 1, None))).largest[0] == 1


@pytest.mark.parametrize(("left", "least"), [(-3, 20), (0, 20), (1, 23), (2, 25), (4, 30), (5, 33)])
def test_what_is_left_costs_at_least_its_share_of_a_package(left, least):
    """4 mL for 10 cents, 2.50 each, the next whole cent."""
    assert _Search(8, [4], shelf((4, 10, None))).bound(0, left, 20) == least


@pytest.mark.parametrize(
    ("best", "left", "paid", "count", "cannot"),
    [
        ((12, 12, 3), 4, 8, 2, False),  # one more of 4: three, as many
        ((12, 12, 3), 5, 7, 2, True),  # two more
        ((12, 12, 3), 8, 4, 1, False),
        ((12, 12, 3), 9, 3, 1, True),
        ((12, 12, 3), 0, 12, 3, False),
        ((12, 12, 3), 0, 12, 4, True),
        ((12, 13, 3), 5, 7, 2, False),  # the best so far has a surplus
        ((13, 12, 3), 5, 7, 2, False),  # this may be cheaper
    ],
)
def test_what_could_only_be_as_cheap_with_more_packages_is_left_aside(best, left, paid, count, cannot):
    search = _Search(12, [4], shelf((4, 4, None)))
    search.best = (*best, ())

    assert search.cannot_tie(0, left, paid, count) is cannot
