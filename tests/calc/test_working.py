"""The form of a working: kept as plain values, read again, exact; and what would change an answer most."""

from __future__ import annotations

import json
import math
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from shopserv import calc
from shopserv.calc import working
from shopserv.calc.errors import BadNumber, OutOfRange
from shopserv.calc.working import Change, From, Given, Step, Working

SHARE = Working(
    figure="share of new fluid",
    value=Fraction(9, 16),
    unit="",
    low=Fraction(1, 2),
    high=0.6,
    formula="drained over all",
    formulas=(r"f = d / C",),
    given=(
        Given("d", "drained", 4_500, "mL", From.MEASURED, "bay sheet"),
        Given("C", "total fill", 8_000, "mL", From.UNIT_SHEET, low=7_800, high=Decimal("8200.5")),
    ),
    steps=(Step("share", r"f = 4500 / 8000", Fraction(9, 16), ""),),
    sources=("common practice, no source",),
    assumptions=("the sump mixes at once",),
    changes=(Change("drained", Fraction(9, 20), Fraction(27, 40), Fraction(9, 80), ""),),
)


def test_a_working_is_kept_as_plain_values():
    kept = SHARE.as_dict()

    assert kept == {
        "version": calc.VERSION,
        "figure": "share of new fluid",
        "value": "9/16",
        "unit": "",
        "low": "1/2",
        "high": 0.6,
        "formula": "drained over all",
        "formulas": ["f = d / C"],
        "inputs": [
            {
                "symbol": "d",
                "words": "drained",
                "value": 4_500,
                "unit": "mL",
                "provenance": "measured",
                "source": "bay sheet",
            },
            {
                "symbol": "C",
                "words": "total fill",
                "value": 8_000,
                "unit": "mL",
                "provenance": "unit sheet",
                "source": "",
                "low": 7_800,
                "high": "8200.5",
            },
        ],
        "steps": [{"words": "share", "formula": "f = 4500 / 8000", "value": "9/16", "unit": ""}],
        "sources": ["common practice, no source"],
        "assumptions": ["the sump mixes at once"],
        "changes": [{"words": "drained", "less": "9/20", "more": "27/40", "moved": "9/80", "unit": "", "note": ""}],
    }


def test_what_was_kept_comes_back_the_same_through_json():
    kept = SHARE.as_dict()

    back = working.from_dict(json.loads(json.dumps(kept)))

    assert back.as_dict() == kept
    assert back.given[1].provenance is From.UNIT_SHEET
    assert working.number(back.value) == SHARE.value


def test_an_older_working_comes_back_with_what_it_has():
    older = {
        "version": "1",
        "formula": "liters = mass / density",
        "inputs": [{"words": "weighed", "value": "0.516", "unit": "kg", "source": "scale"}],
        "steps": [{"words": "liters", "value": 0.599, "unit": "L"}],
        "assumptions": [],
    }

    assert working.from_dict(older) == Working(
        figure="",
        value=None,
        unit="",
        formula="liters = mass / density",
        given=(Given("", "weighed", "0.516", "kg", From.TYPED, "scale"),),
        steps=(Step("liters", "", 0.599, "L"),),
        version="1",
    )
    assert working.from_dict({}) == Working("", None, "", version="")


def test_the_version_is_that_of_the_calculation():
    assert Working("f", 1, "").version == calc.VERSION


def test_values_become_plain_and_stay_exact():
    assert [working.plain(value) for value in (3, 2.5, "text", None, True)] == [3, 2.5, "text", None, True]
    assert working.plain(Fraction(37, 5)) == "37/5"
    assert working.plain(Decimal("1E+3"), "USD") == "1000"
    assert working.plain(Decimal("12.50"), "USD") == "12.50"
    assert working.plain(date(2026, 11, 26)) == "2026-11-26"


@pytest.mark.parametrize("unit", ["USD", "USD/h", "USD a year"])
def test_a_float_is_no_amount_of_money(unit):
    with pytest.raises(BadNumber, match=r"12.5 USD.*: an amount of money is a decimal number, never a float."):
        working.plain(12.5, unit)


@pytest.mark.parametrize("unit", ["L", "US", "km/day", "kPa", "USDA", "x USD"])
def test_a_float_of_anything_else_is_kept(unit):
    assert working.plain(12.5, unit) == 12.5


@pytest.mark.parametrize("value", [math.nan, math.inf, Decimal("NaN"), Decimal("Infinity")])
def test_what_is_not_finite_is_not_kept(value):
    with pytest.raises(BadNumber, match=r"not a finite number"):
        working.plain(value, "L")


def test_numbers_are_read_back_exactly():
    kept = ["37/5", "12.50", 3, 2.5, Fraction(1, 3), Decimal("0.10")]

    assert [working.number(value) for value in kept] == [
        *(Fraction(37, 5), Fraction(25, 2), 3, 2.5),
        *(Fraction(1, 3), Fraction(1, 10)),
    ]
    assert isinstance(working.number(3), int)


@pytest.mark.parametrize("kept", ["not known", "1/0", None, True, [], "", Decimal("NaN"), Decimal("Infinity")])
def test_what_is_no_number_is_not_read_as_one(kept):
    with pytest.raises(BadNumber, match=r"is not a number"):
        working.number(kept)


def test_each_input_is_moved_by_a_fifth_and_the_largest_move_comes_first():
    found = working.what_would_change(
        lambda at: at["width"] * at["height"] + at["rim"],
        {"rim": Fraction(5), "width": 10, "height": 4.0},
        unit="m2",
        words={"rim": "the rim"},
    )

    assert found == (
        Change("width", 37.0, 53.0, 8.0, "m2"),
        Change("height", 37.0, 53.0, 8.0, "m2"),
        Change("the rim", 44.0, 46.0, 1.0, "m2"),
    )


def test_the_spread_and_the_names_can_be_chosen_and_money_stays_decimal():
    found = working.what_would_change(
        lambda at: at["rate"] * at["hours"],
        {"rate": Decimal("80.00"), "hours": Decimal("1.5")},
        unit="USD",
        spread=Fraction(1, 10),
        only=["rate"],
    )

    assert found == (Change("rate", Decimal("108"), Decimal("132"), Decimal("12"), "USD"),)
    assert isinstance(found[0].moved, Decimal)


def test_the_larger_of_the_two_ways_counts():
    (found,) = working.what_would_change(lambda at: 1 / at["speed"], {"speed": Fraction(10)}, unit="days")

    assert (found.less, found.more, found.moved) == (Fraction(1, 8), Fraction(1, 12), Fraction(1, 40))


def test_what_cannot_be_moved_is_explained_and_stands_last():
    def result(at):
        if at["fill"] > 9:
            raise OutOfRange("9.6 L: at most 9 L.")
        if at["drain"] != 5:
            raise OutOfRange("drain must be 5.")
        return at["fill"] - at["drain"] + at["none"]

    found = working.what_would_change(
        result,
        {"unit": "U-1", "band": None, "known": True, "drain": 5, "none": 0, "fill": Fraction(8)},
        unit="L",
    )

    assert found == (
        Change("fill", Fraction(7, 5), None, Fraction(8, 5), "L", "raised: 9.6 L: at most 9 L."),
        Change("none", Fraction(3), Fraction(3), Fraction(0), "L", "zero: a share of it is nothing"),
        Change("unit", None, None, None, "L", "not a number: cannot be moved"),
        Change("band", None, None, None, "L", "not known: cannot be moved"),
        Change("known", None, None, None, "L", "not a number: cannot be moved"),
        Change("drain", None, None, None, "L", "lowered: drain must be 5.; raised: drain must be 5."),
    )


def test_an_error_of_the_inputs_as_they_are_is_not_hidden():
    def result(at):
        raise OutOfRange("too much")

    with pytest.raises(OutOfRange, match=r"too much"):
        working.what_would_change(result, {"a": 1}, unit="L")


def test_a_fault_of_ours_is_not_taken_for_a_bound():
    with pytest.raises(ZeroDivisionError):
        working.what_would_change(lambda at: 1 / (at["a"] - 8), {"a": 10}, unit="L")


def test_inputs_with_a_band_are_told_from_exact_ones():
    low, high, exact = (
        Given("a", "a", 1, "", From.ASSUMED, low=0),
        Given("b", "b", 1, "", From.ASSUMED, high=2),
        Given("c", "c", 1, "", From.ASSUMED),
    )

    assert working.bands([low, exact, high]) == (low, high)


def test_the_unit_of_an_answer_and_an_open_band_are_kept():
    kept = Working("fill", 7, "L", given=(Given("C", "fill", 7, "L", From.MEASURED, high=8),)).as_dict()

    assert working.from_dict(kept).unit == "L"
    assert (kept["inputs"][0]["low"], kept["inputs"][0]["high"]) == (None, 8)


@pytest.mark.parametrize(
    "word",
    [
        *("measured", "read", "typed", "unit sheet", "product sheet", "instrument", "house rules", "terms", "law"),
        *("published", "modeled", "assumed", "computed"),
    ],
)
def test_every_word_that_sums_were_kept_with_is_read_again(word):
    row = {"words": "x", "value": 1, "unit": "", "provenance": word}

    assert working.from_dict({"inputs": [row]}).as_dict()["inputs"][0]["provenance"] == word
