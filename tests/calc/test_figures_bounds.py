"""The comparing of checks at its bounds: the last that agrees and the first that does not. Source: the contract."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from shopserv.calc import errors, figures
from shopserv.calc import figures_agree as agree
from shopserv.calc.figures_values import Value, number, parse, split

TINY = Fraction(1, 10**30)
VOLUME = Value(Fraction(1500), "volume", "L")


def test_without_a_tolerance_a_figure_may_be_off_by_rounding_and_no_more():
    off = Fraction(2, 10**12)  # 1e-12 x (1 + 1)

    assert agree.agrees(Value(1 + off), "1") is True
    assert agree.agrees(Value(1 + off + TINY), "1") is False
    assert agree.agrees(Value(1 - off - TINY), "1") is False


def test_what_cannot_agree_is_no_and_not_nothing():
    assert agree.agrees([VOLUME], "1.5 L") is False
    assert agree.agrees([VOLUME], ["1.5 L", "1.5 L"]) is False
    assert agree.agrees(1, True) is False
    assert (
        figures.run_checks(
            {"checks": [{"id": "a", "quantity": "labor_tenths", "given": {"time": "1 h"}, "expect": "ten"}]}
        ).agreed
        == 0
    )


def test_a_count_may_have_a_tolerance_in_its_own_dimension():
    assert agree.agrees(5, 6, {"abs": "100 %"}) is True
    assert agree.agrees(5, 7, {"abs": "100 %"}) is False
    assert agree.equal_to(5, 6, {"abs": "100 %"}) is True
    assert agree.equal_to([VOLUME], [Value(Fraction(1501), "volume")], {"abs": "1 mL"}) is True
    assert agree.equal_to([VOLUME], [Value(Fraction(1502), "volume")], {"abs": "1 mL"}) is False


def test_equal_is_within_a_billionth_of_the_larger():
    larger = 1 / (1 - Fraction(1, 10**9))

    assert agree.equal_to(number(larger), number(1)) is True
    assert agree.equal_to(number(1), number(larger)) is True
    assert agree.equal_to(number(larger + TINY), number(1)) is False
    assert agree.equal_to(number(100), number(100 + Fraction(5, 10**8))) is True
    assert agree.constant([10**10, 10**10 + 1]) is True
    assert agree.constant([True, False]) is False


def test_one_wrong_member_is_enough():
    assert agree.equal_to([number(1), number(2)], [number(1), number(3)]) is False
    assert agree.in_order([1, 2, 1], "increasing") is False
    assert agree.in_order([1, 1, 2], "non_decreasing") is True
    assert agree.constant([1, 1, 2]) is False
    assert agree.bounded([[number(1), number(5)]], ["0", "3"]) is False
    assert agree.bounded([[number(1), number(3)]], ["1", "3"]) is True


@pytest.mark.parametrize(
    "call",
    [
        lambda: agree.greater_than([number(1)], number(0)),
        lambda: agree.greater_than(number(1), [number(0)]),
        lambda: agree.greater_than(number(1), 0),
        lambda: agree.greater_than(VOLUME, number(0)),
        lambda: agree.bounded([1], [0, 1, 2]),
        lambda: agree.bounded([1], "01"),
    ],
)
def test_what_cannot_be_compared_is_refused_by_name(call):
    with pytest.raises(errors.CalcError):
        call()


def test_money_is_shown_in_dollars_and_cents():
    assert agree.shown(agree.as_value(Decimal("12.34"))) == "12.34 USD"
    assert agree.shown(agree.as_value(Decimal("0.50"))) == "0.50 USD"


def test_a_failed_check_says_what_was_wanted_and_what_came():
    checks = [
        "x",
        {"quantity": "labor_tenths", "given": {"time": "1 h"}, "expect": 9},
        {
            "id": "é",
            "quantity": "labor_tenths",
            "given": {},
            "vary": "time",
            "over": ["1 h"],
            "property": "bounded",
            "bounds": [1, 2],
        },
        {"id": "c", "quantity": "labor_tenths", "given": {}, "property": "increasing", "vary": "time", "over": []},
        {
            "id": "d",
            "quantity": "labor_tenths",
            "given": {"time": "1 h"},
            "property": "greater_than",
            "than": {"quantity": "labor_tenths", "given": {"time": "2 h"}},
        },
        {"id": "e", "quantity": "labor_tenths", "given": {"time": "1 h"}, "expect": "zehn µ"},
    ]

    assert figures.run_checks({"checks": checks}).lines() == [
        '?: expected a check, got "x"',
        "?: expected 9, got 10",
        "é: expected bounded [1, 2], got [10]",
        "c: expected increasing, got MissingInput: over must name the values that vary.",
        "d: expected greater_than 20, got 10",
        'e: expected "zehn µ", got 10',
        "0 of 6 agree",
    ]


def test_values_at_the_bounds_of_what_is_read():
    assert number(0.1).exact == Fraction(1, 10)
    assert type(number(3).magnitude) is Fraction
    assert parse("0 K", "temperature").exact == 0
    assert parse("0.5 K", "temperature").exact == Fraction(1, 2)
    for power in ("1e4000", "1e-4000"):
        assert split(power)[0] == Decimal(power)
    for power in ("1e4001", "1e-4001"):
        with pytest.raises(errors.OutOfRange):
            split(power)


READ = {"date": "2026-01-01", "odometer": "999900 mi"}


@pytest.mark.parametrize(
    ("quantity", "given", "found"),
    [
        ("convert", {"value": "104 degF", "to": "degC", "kind": "absolute"}, 40),
        ("oil_volume_correction", {"density": "850 kg/m3", "temperature": "15 degC", "base": "15 degC"}, 1),
        ("odometer_check", {"previous": READ, "new": READ | {"odometer": "10 mi"}, "rate": "30 mi/d"}, "rollover"),
        (
            "odometer_check",
            {
                "previous": READ | {"odometer": "9 mi"},
                "new": READ | {"odometer": "1 mi"},
                "rate": "1 mi/d",
                "digits": 1,
            },
            "rollover",
        ),
    ],
)
def test_what_is_usual_may_be_said_and_left_out(quantity, given, found):
    result = figures.evaluate(quantity, given)

    assert (result.in_unit("degC" if quantity == "convert" else "") if isinstance(result, Value) else result) == found


def test_a_vehicle_that_creeps_still_has_a_late_edge():
    readings = [{"date": "2026-01-01", "odometer": "0 m"}, {"date": "2026-01-11", "odometer": "5 m"}]
    given = {"readings": readings, "last_service": readings[1], "interval": "1 m", "report": "late"}

    assert figures.evaluate("due_date_distance", given).isoformat() == "2026-01-13"
    assert (
        figures.evaluate("due_date_distance", given | {"readings": [readings[0], readings[1] | {"odometer": "0 m"}]})
        == "none"
    )


def test_supplies_on_a_quote_have_their_least():
    given = {
        "parts": [{"quantity": "2", "unit_price": "10.00 USD"}],
        "supplies": {"percent": "5 %", "minimum": "4.00 USD", "on": "parts"},
        "tax_rate": "0",
        "report": "total",
    }

    assert figures.evaluate("quote_total", given) == Decimal("24.00")
