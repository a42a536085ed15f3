"""How near is near enough for the properties of the contract, and which of two meanings a unit has: at the bounds."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc import errors, figures, measures
from shopserv.calc import figures_values as values


@pytest.mark.parametrize(
    ("other", "is_same"),  # a part in 10^9 of the larger: x - 1 <= x / 10^9 up to x = 1.000000001000000001...
    [("1.000000001 L", True), ("1.000000001000000002 L", False), ("0.999999999 L", True), ("0.9999999989 L", False)],
)
def test_what_stays_the_same_may_differ_by_a_part_in_a_thousand_million(other, is_same):
    check = {"id": "one", "quantity": "convert", "given": {"value": "1 L", "to": "mL"}, "property": "constant"}
    run = figures.run_checks({"contract": 1, "checks": [{**check, "vary": "value", "over": ["1 L", other]}]})

    assert (run.lines() == ["1 of 1 agree"]) is is_same


def test_degrees_are_temperatures_unless_a_difference_is_asked_for():
    celsius, fahrenheit = measures.common_units("degC", "degF")

    assert (celsius.shift, fahrenheit.shift) == (Fraction("273.15"), Fraction("459.67"))
    assert [one.shift for one in measures.common_units("degC", "degF", is_difference=True)] == [0, 0]


@pytest.mark.parametrize("text", ["95.001 USD/h", "95.001 USD"])
def test_no_money_has_parts_of_a_cent(text):
    with pytest.raises(errors.BadNumber):
        values.parse(text, "hourly rate" if text.endswith("/h") else "money")
    with pytest.raises(errors.BadNumber):
        values.parse_any(text)
    assert values.parse_any(text.replace("95.001", "95.01"))[0] == Fraction("95.01")


@pytest.mark.parametrize("text", ["1e4001", "1e-4001"])
def test_a_number_of_more_than_4000_places_is_refused(text):
    assert values.parse("1e4000", "number").exact == 10**4000
    assert values.parse("1e-4000", "number").exact == Fraction(1, 10**4000)
    with pytest.raises(errors.OutOfRange):
        values.parse(text, "number")


def test_without_a_dimension_said_a_value_is_a_number():
    given = values.Given({"one": "7", "some": ["7", "8"]})

    assert values.Value(Fraction(7)).dimension == "number"
    assert (given.value("one"), given.exact("one")) == (values.Value(Fraction(7), "number", ""), 7)
    assert [one.exact for one in given.values("some")] == [7, 8]


@pytest.mark.parametrize("name", ["moneys", "items", "objects"])
def test_a_list_must_be_there_unless_it_is_optional(name):
    ask = getattr(values.Given({}), name)

    assert ask("some", is_optional=True) == []
    with pytest.raises(errors.MissingInput):
        ask("some")
