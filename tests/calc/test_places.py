"""The rules of places. Sources: the law cited beside each; figures by hand on 442.95, of which 8.32 is tax."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from shopserv.calc import errors
from shopserv.calc.authorization import ToleranceRule, needs_consent, tolerance
from shopserv.calc.places import UNKNOWN, most_billed, place_rules, rule_of

D = Decimal
FILE = json.loads((Path(__file__).parents[2] / "fixtures" / "rules_of_places.json").read_text(encoding="utf-8"))
RULES = place_rules(FILE["places"])
TOTAL, TAX = D("442.95"), D("8.32")

# code, agreed total, tax in it, tolerance, most that may be billed on the basis of the rule
LAW = [
    ("us-ca", TOTAL, TAX, "0.00", "442.95"),
    ("us-mi", TOTAL, TAX, "0.00", "442.95"),
    ("us-ny", TOTAL, TAX, "0.00", "442.95"),
    ("us-fl", TOTAL, TAX, "44.29", "487.24"),
    ("us-fl", D("60.00"), D(0), "10.00", "70.00"),
    ("us-fl", D("900.00"), D(0), "50.00", "950.00"),
    ("us-co", TOTAL, TAX, "25.00", "459.63"),
    ("us-co", D("110.00"), D("10.00"), "10.00", "110.00"),
    ("us-wa", TOTAL, TAX, "43.46", "478.09"),
]


@pytest.mark.parametrize(("code", "total", "tax", "over", "most"), LAW)
def test_each_place_allows_what_its_law_says(code, total, tax, over, most):
    one = RULES[code]

    assert tolerance(one.rule, total, tax) == D(over)
    assert most_billed(one, total, tax) == D(most)
    assert not needs_consent(one.rule, total, D(most), tax)
    assert needs_consent(one.rule, total, D(most) + D("0.01"), tax)


def test_every_place_of_the_file_has_a_check_a_citation_and_a_day():
    assert set(RULES) == {row[0] for row in LAW}
    assert all(one.citation and one.edition and one.looked_up_on for one in RULES.values())


def test_what_was_only_read_in_a_summary_says_so():
    assert {one.code for one in RULES.values() if one.caution} == {"us-wa"}
    assert RULES["us-wa"].caution == "look up before use"


@pytest.mark.parametrize("one", RULES.values(), ids=lambda one: one.code)
def test_the_words_name_the_figures_of_the_rule(one):
    rule = one.rule
    for figure in (rule.amount, rule.cap):
        assert figure is None or str(figure) in one.words
    assert rule.percent is None or f"{rule.percent * 100} %" in one.words
    assert ("before tax" in one.words) is (rule.base == "before_tax")
    assert (one.words == UNKNOWN.words) is (rule.kind == "none")
    assert ("less" in one.words, "greater" in one.words) == (rule.kind == "lesser_of", rule.kind == "greater_of")


def test_an_unknown_place_allows_nothing_over():
    one = rule_of("us-xx", RULES)

    assert one is UNKNOWN
    assert (tolerance(one.rule, TOTAL, TAX), most_billed(one, TOTAL, TAX)) == (0, TOTAL)
    assert one.caution == "look up before use"
    assert rule_of("us-fl", RULES) is RULES["us-fl"]


ROW = {
    "code": "x", "place": "X", "kind": "lesser_of", "percent": "12.5", "amount": "7.00", "cap": "6.00", "base": "total",
    "words": "w", "citation": "c", "read": "text", "edition": "e", "looked_up_on": "2026-11-26",
}  # fmt: skip


def test_a_row_becomes_a_rule():
    [one] = place_rules([ROW]).values()

    assert one.rule == ToleranceRule("lesser_of", Fraction(1, 8), D("7.00"), D("6.00"), "total")
    assert (one.looked_up_on, one.note, one.caution) == (date(2026, 11, 26), "", "")


@pytest.mark.parametrize(
    ("changed", "error", "said"),
    [
        *(({name: ""}, errors.MissingInput, f"^{name} of (x|a rule) is missing") for name in ROW if name != "cap"),
        ({"amount": None}, errors.MissingInput, "^amount of x"),
        ({"kind": "percent", "percent": None}, errors.MissingInput, "^percent of x"),
        ({"kind": "whim"}, errors.UnknownChoice, "^kind of x is 'whim'"),
        ({"base": "net"}, errors.UnknownChoice, "^base of x is 'net'"),
        ({"read": "heard"}, errors.UnknownChoice, "^read of x is 'heard'"),
        ({"percent": "ten"}, errors.BadNumber, "^percent of x is 'ten'"),
        ({"percent": "NaN"}, errors.BadNumber, "^percent of x is 'NaN'"),
        ({"amount": "-0.01"}, errors.BadNumber, "^amount of x is '-0.01'"),
        ({"looked_up_on": "26.11.2026"}, errors.BadDate, "^looked_up_on of x"),
        ({"kind": "none"}, errors.ConflictingInput, "^x gives amount, percent, which"),
        ({"kind": "percent"}, errors.ConflictingInput, "^x gives amount, which"),
        ({"kind": "amount"}, errors.ConflictingInput, "^x gives percent, which"),
    ],
)
def test_a_row_that_says_too_little_or_too_much_is_refused(changed, error, said):
    with pytest.raises(error, match=said):
        place_rules([{**ROW, **changed}])


def test_what_a_kind_needs_may_not_be_left_out():
    for name in ("percent", "amount"):
        with pytest.raises(errors.MissingInput, match=f"^{name} of x is missing"):
            place_rules([{key: value for key, value in ROW.items() if key != name}])


def test_a_rule_of_nothing_and_a_note_are_kept():
    [one] = place_rules([{**ROW, "percent": "0", "amount": "0.50", "note": "n"}]).values()

    assert (one.rule.percent, one.rule.amount, one.note) == (0, D("0.50"), "n")


def test_a_place_given_twice_is_refused():
    with pytest.raises(errors.ConflictingInput, match="twice"):
        place_rules([ROW, ROW])
