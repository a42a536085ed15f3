"""Tolerances. Sources: worked examples; the kinds of 16 CCR 3354, Fla. Stat. 559.909, RCW 46.71.025 as data."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import authorization, errors
from shopserv.calc.authorization import ToleranceRule
from tests.calc.worked import WORKED

D, TENTH = Decimal, Fraction(1, 10)
RULES = {
    "consent-only": ToleranceRule("none"),
    "lesser-10": ToleranceRule("lesser_of", TENTH, D(10)),
    "lesser-25": ToleranceRule("lesser_of", TENTH, D(25)),
    "greater-capped": ToleranceRule("greater_of", TENTH, D(10), D(50)),
    "share-before-tax": ToleranceRule("percent", TENTH, base="before_tax"),
}
AGREED, TAX = D(WORKED["authorization"]["agreed"]), D(WORKED["authorization"]["tax_in_it"])
AMOUNTS = st.decimals(min_value=0, max_value=10_000, places=2)


@pytest.mark.parametrize("row", WORKED["authorization"]["rows"], ids=lambda row: row["rule"])
def test_the_rules_of_the_worked_example(row):
    rule = RULES[row["rule"]]

    assert str(authorization.base_of(rule, AGREED, TAX)) == row["base"]
    assert str(authorization.tolerance(rule, AGREED, TAX)) == row["tolerance"]
    assert str(authorization.limit(rule, AGREED, TAX)) == row["limit"]
    asked = {total: authorization.needs_consent(rule, AGREED, D(total), TAX) for total in row["new_yes_needed"]}
    assert asked == row["new_yes_needed"]


@pytest.mark.parametrize("row", WORKED["room_left"]["rows"], ids=lambda row: row["rule"])
def test_the_room_of_the_worked_example(row):
    left = authorization.tolerance(RULES[row["rule"]], AGREED, TAX)
    room = authorization.room_left(left, D(WORKED["room_left"]["one_tenth_with_supplies"]))

    assert (str(room.left), room.extra_tenths, str(room.left_after)) == (
        row["left"],
        row["extra_tenths"],
        row["left_after"],
    )


@given(AMOUNTS, st.sampled_from(list(RULES.values())))
def test_a_tolerance_never_allows_part_of_a_cent_too_much(total, rule):
    allowed = authorization.tolerance(rule, total)

    assert 0 <= allowed <= max(D(10), total / 10)
    assert not authorization.needs_consent(rule, total, authorization.limit(rule, total))
    assert authorization.needs_consent(rule, total, authorization.limit(rule, total) + D("0.01"))


def test_an_amount_is_an_amount_and_a_cap_is_the_last_word():
    assert authorization.tolerance(ToleranceRule("amount", amount=D("12.34")), D(100)) == D("12.34")
    assert authorization.tolerance(ToleranceRule("amount", amount=D("12.34"), cap=D(5)), D(100)) == D(5)
    assert authorization.tolerance(ToleranceRule("none", cap=D(5)), D(100)) == 0


def test_no_room_below_the_agreed_total():
    room = authorization.room_left(D("-3.00"), D("15.75"))

    assert (room.extra_tenths, room.left_after) == (0, D("-3.00"))


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: authorization.tolerance(ToleranceRule("whim"), D(1)), errors.UnknownChoice),
        (lambda: authorization.tolerance(ToleranceRule("none", base="net"), D(1)), errors.UnknownChoice),
        (lambda: authorization.tolerance(ToleranceRule("percent"), D(1)), errors.MissingInput),
        (lambda: authorization.tolerance(ToleranceRule("amount"), D(1)), errors.MissingInput),
        (lambda: authorization.tolerance(ToleranceRule("lesser_of", TENTH), D(1)), errors.MissingInput),
        (lambda: authorization.tolerance(ToleranceRule("percent", -TENTH), D(1)), errors.OutOfRange),
        (lambda: authorization.tolerance(ToleranceRule("amount", amount=D(-1)), D(1)), errors.NegativeMoney),
        (lambda: authorization.tolerance(ToleranceRule("none", cap=D(-1)), D(1)), errors.NegativeMoney),
        (lambda: authorization.limit(ToleranceRule("none"), D(-1)), errors.NegativeMoney),
        (lambda: authorization.limit(ToleranceRule("none"), D(1), D(-1)), errors.NegativeMoney),
        (lambda: authorization.needs_consent(ToleranceRule("none"), D(1), D(-1)), errors.NegativeMoney),
        (lambda: authorization.room_left(D(1), D(0)), errors.OutOfRange),
    ],
)
def test_a_rule_that_makes_no_sense_is_refused(call, error):
    with pytest.raises(error):
        call()


def test_the_most_tenths_that_fit_with_supplies_that_reach_their_cap():
    def cost(tenths):  # 15.00 a tenth, 5 % supplies, at most 2.00 of them
        return 1_500 * tenths + min(75 * tenths, 200)

    found = {
        left: authorization.most_tenths(left, cost) for left in (0, 1_574, 1_575, 3_149, 3_150, 4_429, 6_200, 10**7)
    }

    assert list(found.values()) == [0, 0, 1, 1, 2, 2, 4, 999]
    assert authorization.most_tenths(6_200, cost, 3) == 3
    assert authorization.most_tenths(6_200, cost, 0) == 0
    with pytest.raises(errors.OutOfRange):
        authorization.most_tenths(1, cost, -1)


@given(st.integers(0, 60_000), st.integers(0, 400), st.integers(1, 400), st.integers(1, 40))
def test_the_most_tenths_are_those_that_counting_up_finds(left, each, cap, most):
    def cost(tenths):
        return each * tenths + min(3 * tenths, cap)

    counted = 0
    while counted < most and cost(counted + 1) <= left:
        counted += 1
    assert authorization.most_tenths(left, cost, most) == counted


def test_a_tolerance_of_nothing_is_a_rule_too():
    rule = authorization.ToleranceRule("percent", percent=Decimal(0))

    assert authorization.tolerance(rule, Decimal("100.00")) == 0


def test_a_tenth_of_an_hour_may_cost_less_than_a_dollar():
    assert authorization.room_left(Decimal("1.20"), Decimal("0.50")) == authorization.Room(
        Decimal("1.20"), 2, Decimal("0.20")
    )
