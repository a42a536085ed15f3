"""Tax by jurisdiction. Sources: Streamlined Agreement section 324; EN 16931 sample invoices; figures by hand."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors
from shopserv.calc.jurisdictions import Certificate, Jurisdiction, KindLine, placed_tax, why_refused
from shopserv.calc.tax import TaxLine, tax_by_rate

D, F = Decimal, Fraction
DAY = date(2026, 11, 24)
GOODS = {"part": True, "fluid": True, "labor": False}
STATE = Jurisdiction("state", F("0.055"), GOODS)
COUNTY = Jurisdiction("county", F("0.0075"), GOODS)
CITY = Jurisdiction("city", F("0.015"), {"part": True, "labor": True})
LINES = [KindLine("fluid", D("122.08")), KindLine("part", D("11.05")), KindLine("labor", D("270.00"))]
PUBLIC = json.loads((Path(__file__).parent / "checks" / "public.json").read_text(encoding="utf-8"))["checks"]


def told(found):
    return [(part.name, str(part.base), str(part.exempted), part.exact, str(part.tax)) for part in found.parts]


def test_the_tax_of_the_worked_example_by_state_and_county():
    found = placed_tax(LINES, [STATE, COUNTY], on=DAY)

    assert (found.tax, found.total_with_tax, found.refused) == (D("8.32"), D("411.45"), "")
    assert told(found) == [
        ("state", "133.13", "0.00", F("7.32215"), "7.32"),
        ("county", "133.13", "0.00", F("0.998475"), "1.00"),
    ]
    assert found.line_rates == (F("0.0625"), F("0.0625"), 0)
    assert found.by_rate == ((0, D("0.00")), (F("0.0625"), D("8.32")))


def test_each_jurisdiction_has_its_own_base():
    found = placed_tax(LINES, [STATE, COUNTY, CITY], on=DAY)

    assert found.line_rates == (F("0.0625"), F("0.0775"), F("0.015"))
    # 122.08 x 6.25 % = 7.63; 11.05 x 7.75 % = 0.856375; 270.00 x 1.5 % = 4.05
    assert found.by_rate == ((F("0.015"), D("4.05")), (F("0.0625"), D("7.63")), (F("0.0775"), D("0.86")))
    assert told(found) == [
        ("state", "133.13", "0.00", F("7.32215"), "7.32"),
        ("county", "133.13", "0.00", F("0.998475"), "1.00"),
        ("city", "281.05", "0.00", F("4.21575"), "4.22"),
    ]
    assert found.tax == D("12.54")


def test_a_line_of_a_kind_that_nobody_names_is_not_taxed():
    found = placed_tax([KindLine("fee", D("5.00"))], [STATE], on=DAY)

    assert (found.tax, found.line_rates, found.total_with_tax) == (0, (0,), 5)
    assert placed_tax(LINES, [], on=DAY).tax == 0
    assert placed_tax([], [STATE], on=DAY).parts[0].tax == 0


FOUR = [KindLine("part", D("0.65"))] * 4


@pytest.mark.parametrize(("method", "tax", "state", "city"), [("document", "0.21", "0.16", "0.05"), ("line", "0.20", "0.16", "0.04")])  # fmt: skip  # noqa: E501
def test_both_ways_to_round_that_section_324_allows(method, tax, state, city):
    """0.65 at 8.25 % is 0.053625: four lines are 0.20, one invoice of 2.60 is 0.2145, so 0.21."""
    places = [Jurisdiction("state", F("0.0625"), {"part": True}), Jurisdiction("city", F("0.02"), {"part": True})]

    found = placed_tax(FOUR, places, on=DAY, method=method)

    assert [str(one) for one in (found.tax, *(part.tax for part in found.parts))] == [tax, state, city]
    with pytest.raises(errors.UnknownChoice):
        placed_tax(FOUR, places, on=DAY, method="month")


def test_the_third_decimal_decides_as_section_324_says():
    """Carried to the third decimal, up when that is above four: 0.1249 stays 0.12, 0.125 becomes 0.13."""
    one = [Jurisdiction("state", F("0.05"), {"part": True})]

    assert placed_tax([KindLine("part", D("2.49"))], one, on=DAY).tax == D("0.12")
    assert placed_tax([KindLine("part", D("2.50"))], one, on=DAY).tax == D("0.13")


@pytest.mark.parametrize("check", [c for c in PUBLIC if c["id"] in ("P-tax_by_rate-01", "P-tax_by_rate-03")], ids=lambda c: c["id"])  # fmt: skip  # noqa: E501
def test_sample_invoices_of_en_16931(check):
    rows = check["given"]["lines"]
    rates = sorted({row["rate"] for row in rows}, key=lambda rate: F(rate.split()[0]))
    places = [Jurisdiction(rate, F(rate.split()[0]) / 100, {rate: True}) for rate in rates]
    expect = check["expect"] if isinstance(check["expect"], list) else [check["expect"]]

    found = placed_tax([KindLine(row["rate"], D(row["amount"].split()[0])) for row in rows], places, on=DAY)

    assert [f"{part.tax} USD" for part in found.parts] == expect
    assert [f"{each} USD" for _, each in found.by_rate] == expect


CARD = Certificate("EX-INVENTED-77", date(2024, 11, 18), date(2026, 11, 17))


def test_a_certificate_frees_until_its_last_day_and_says_when_it_ended():
    valid = placed_tax(LINES, [STATE, COUNTY], on=date(2026, 11, 17), certificate=CARD)
    assert (valid.tax, valid.refused) == (0, "")
    assert told(valid)[0] == ("state", "0.00", "133.13", 0, "0.00")

    ended = placed_tax(LINES, [STATE, COUNTY], on=date(2026, 11, 18), certificate=CARD)
    assert ended.tax == D("8.32")
    assert told(ended)[0][2] == "0.00"
    assert ended.refused == "The exemption certificate EX-INVENTED-77 ended on November 17, 2026: tax is charged."
    assert why_refused(CARD, date(2024, 11, 18)) == ""
    assert why_refused(CARD, date(2024, 11, 17)) == (
        "The exemption certificate EX-INVENTED-77 begins on November 18, 2024: tax is charged."
    )
    assert why_refused(Certificate("E", date(2024, 1, 1)), date(2099, 1, 1)) == ""


def test_a_certificate_may_free_from_one_jurisdiction_or_for_one_kind_only():
    state_only = Certificate("E", date(2026, 1, 1), None, frozenset({"state"}))
    found = placed_tax(LINES, [STATE, COUNTY], on=DAY, certificate=state_only)
    assert told(found) == [("state", "0.00", "133.13", 0, "0.00"), ("county", "133.13", "0.00", F("0.998475"), "1.00")]

    fluid_only = Certificate("E", date(2026, 1, 1), None, None, frozenset({"fluid"}))
    found = placed_tax(LINES, [STATE, COUNTY], on=DAY, certificate=fluid_only)
    assert [row[1:3] for row in told(found)] == [("11.05", "122.08")] * 2
    assert found.tax == D("0.69")


def test_cents_that_nobody_owes_are_not_given_to_who_takes_nothing():
    """Three lines whose taxes cancel: each jurisdiction takes nothing, the rounding leaves a cent."""
    one, other = (
        Jurisdiction("a", F("0.005"), {"both": True, "x": True}),
        Jurisdiction("b", F("0.004"), {"both": True, "y": True}),
    )
    idle = Jurisdiction("idle", F("0.1"), {})
    lines = [KindLine("both", D("1.00")), KindLine("x", D("-1.00")), KindLine("y", D("-1.00"))]

    found = placed_tax(lines, [one, other], on=DAY)
    assert (found.tax, [part.tax for part in found.parts]) == (0, [0, 0])  # 0.01 - 0.01 - 0.00
    lone = placed_tax([KindLine("both", D("1.00"))], [idle, one, other], on=DAY)
    assert [str(part.tax) for part in lone.parts] == ["0.00", "0.01", "0.00"]
    left = placed_tax([KindLine("both", D("0.60")), *[KindLine(k, D("-0.60")) for k in "xy"]], [one, other], on=DAY)
    assert (left.tax, [part.tax for part in left.parts]) == (D("0.01"), [D("0.01"), 0])  # 0.0054 - 0.003 - 0.0024


def test_a_credit_mirrors_the_invoice():
    found = placed_tax([KindLine("part", D("-133.13"))], [STATE, COUNTY], on=DAY)

    assert [str(one) for one in (found.tax, *(part.tax for part in found.parts))] == ["-8.32", "-7.32", "-1.00"]


def test_what_cannot_be_is_refused():
    with pytest.raises(errors.OutOfRange, match="state"):
        placed_tax(LINES, [Jurisdiction("state", D("-0.01"), GOODS)], on=DAY)
    with pytest.raises(errors.ConflictingInput):
        placed_tax(LINES, [STATE, STATE], on=DAY)


AMOUNTS = st.decimals(min_value=-500, max_value=5000, places=2)
PLACES = st.lists(
    st.tuples(st.integers(0, 120_000), st.fixed_dictionaries({kind: st.booleans() for kind in "abc"})), max_size=3
)


@given(st.lists(st.tuples(st.sampled_from("abc"), AMOUNTS), max_size=6), PLACES, st.sampled_from(["document", "line"]))
def test_the_parts_add_up_and_the_whole_is_that_of_the_combined_rates(rows, places, method):
    jurisdictions = [Jurisdiction(str(i), F(ppm, 10**6), taxes) for i, (ppm, taxes) in enumerate(places)]
    lines = [KindLine(*row) for row in rows]
    found = placed_tax(lines, jurisdictions, on=DAY, method=method)

    assert sum((part.tax for part in found.parts), D(0)) == found.tax
    combined = [sum((F(one.rate) for one in jurisdictions if one.taxes[line.kind]), F(0)) for line in lines]
    again = tax_by_rate([TaxLine(line.amount, rate) for line, rate in zip(lines, combined, strict=True)], method)
    assert (found.tax, found.total_with_tax) == (again.total_tax, again.total_with_tax)
    cents = len(lines) if method == "line" else len(set(combined))
    assert all(abs(F(part.tax) - part.exact) <= F(cents + 2, 200) + F(1, 100) for part in found.parts)
