"""Prices. Sources: worked examples; EN 16931 document allowances; limiting cases."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, pricing
from shopserv.calc.money import amount, cents, half_up, round_half_up
from shopserv.calc.pricing import Band, LaborLine, PartLine, Supplies
from tests.calc.worked import WORKED

D, F = Decimal, Fraction
BANDS = [Band(D(0), F("1.6")), Band(D(5), F("1.1")), Band(D(20), F("0.8"))]
COSTS = st.decimals(min_value=0, max_value=10_000, places=2)
AMOUNTS = st.decimals(min_value=0, max_value=10_000, places=2)


def lines_of(option, kind):
    return [line for line in option["lines"] if line["kind"] == kind]


@pytest.mark.parametrize("option", WORKED["options"], ids=lambda option: option["letter"])
def test_each_option_of_the_worked_example_line_by_line(option):
    fluid_and_parts = [line for line in option["lines"] if line["kind"] in ("fluid", "part")]
    for line in fluid_and_parts:
        assert str(pricing.marked_up(D(line["cost"]), BANDS)) == line["price"]
    [labor], [supplies], [waste] = (lines_of(option, kind) for kind in ("labor", "supplies", "waste"))
    assert str(pricing.labor_charge(F(labor["quantity"]), D(labor["unit_price"]))) == labor["price"]
    assert str(pricing.shop_supplies(D(labor["price"]), F("0.05"), cap=D("25.00"))) == supplies["price"]

    parts = [PartLine(1, D(line["price"])) for line in fluid_and_parts]
    parts.append(PartLine(F(waste["quantity"]), D("1.80"), is_taxed=False))
    found = pricing.quote_total(
        parts,
        [LaborLine(F(labor["quantity"]), D(labor["unit_price"]))],
        F("0.0625"),
        supplies=Supplies(F("0.05"), "labor", cap=D("25.00")),
    )

    assert [str(one) for one in (found.taxable, found.tax, found.subtotal, found.total)] == [
        option[name] for name in ("taxable", "tax", "net", "gross")
    ]
    assert str(pricing.gross_margin(found.subtotal, D(option["cost"]))) == option["margin"]
    assert str(pricing.gross_margin_percent(found.subtotal, D(option["cost"]))) == option["margin_pct"]


@given(COSTS, COSTS)
def test_a_dearer_part_never_has_a_lower_price(one, other):
    low, high = sorted((one, other))

    assert pricing.marked_up(low, BANDS) <= pricing.marked_up(high, BANDS)
    assert pricing.marked_up(low, BANDS) >= low


MILLIONTHS = st.lists(st.tuples(st.integers(1, 3_000), st.integers(0, 3_000_000)), min_size=1, max_size=4)


@given(st.integers(0, 1_000_000), MILLIONTHS)
def test_in_whole_cents_the_price_is_the_same(cost, rows):
    bands, above = [], 0
    for wide, markup in rows:
        bands.append((above, markup))
        above += wide
    slow = pricing.marked_up(amount(cost), [Band(amount(above), F(markup, 10**6)) for above, markup in bands])

    assert pricing.marked_up_cents(cost, bands) == cents(slow)


@pytest.mark.parametrize(
    ("cost", "bands", "error"),
    [
        (-1, [(0, 1)], errors.NegativeMoney),
        (1, [], errors.BadBands),
        (1, [(1, 1)], errors.BadBands),
        (1, [(0, 1), (0, 1)], errors.BadBands),
        (1, [(0, 1), (5, 1), (4, 1)], errors.BadBands),
        (1, [(0, -1)], errors.BadBands),
        (1, [(0, 1), (5, -1)], errors.BadBands),
    ],
)
def test_in_whole_cents_the_same_is_refused(cost, bands, error):
    with pytest.raises(error):
        pricing.marked_up_cents(cost, bands)


@given(st.integers(-(10**9), 10**9), st.integers(1, 10**6))
def test_half_up_of_whole_numbers_is_half_up(numerator, denominator):
    assert half_up(numerator, denominator) == round_half_up(F(numerator, denominator), 0)


def test_the_edge_of_a_band_belongs_to_the_band_before():
    assert pricing.marked_up(D("5.00"), BANDS) == D("13.00")
    assert pricing.marked_up(D("5.01"), BANDS) == D("13.02")
    assert pricing.marked_up(D("38.50"), BANDS) == D("77.80")


@pytest.mark.parametrize(
    ("bands", "error"),
    [
        ([], errors.BadBands),
        ([Band(D(1), F(1))], errors.BadBands),
        ([Band(D(0), F(1)), Band(D(0), F(1))], errors.BadBands),
        ([Band(D(0), F(1)), Band(D(5), F(1)), Band(D(4), F(1))], errors.BadBands),
        ([Band(D(0), F("-0.1"))], errors.BadBands),
    ],
)
def test_bands_begin_at_nothing_and_rise(bands, error):
    with pytest.raises(error):
        pricing.marked_up(D(1), bands)


@pytest.mark.parametrize(("time", "tenths"), [(F(1, 2), 5), (F(31, 60), 6), (0, 0), (F("2.2"), 22), (F(1, 10**9), 1)])
def test_any_part_of_a_tenth_counts_whole(time, tenths):
    assert pricing.labor_tenths(time) == tenths


@pytest.mark.parametrize(
    "call",
    [
        lambda: pricing.labor_tenths(-1),
        lambda: pricing.labor_charge(-1, D(1)),
        lambda: pricing.shop_supplies(D(1), F(-1, 100)),
        lambda: pricing.document_discount([D(1)], percent=F("1.01")),
        lambda: pricing.quote_total([], [], F(-1, 100)),
        lambda: pricing.quote_total([PartLine(-1, D(1))], [], 0),
        lambda: pricing.gross_margin_percent(D(0), D(1)),
        lambda: pricing.gross_margin_percent(D(-1), D(1)),
        lambda: pricing.credit_note_tax(D(1), F(-1, 100), []),
    ],
)
def test_figures_out_of_range_are_refused(call):
    with pytest.raises(errors.OutOfRange):
        call()


@pytest.mark.parametrize(
    "call",
    [
        lambda: pricing.marked_up(D(-1), BANDS),
        lambda: pricing.labor_charge(1, D(-1)),
        lambda: pricing.shop_supplies(D(-1), 0),
        lambda: pricing.shop_supplies(D(1), 0, minimum=D(-1)),
        lambda: pricing.shop_supplies(D(1), 0, cap=D(-1)),
        lambda: pricing.document_discount([D(-1)], percent=0),
        lambda: pricing.document_discount([D(1)], amount=D(-1)),
        lambda: pricing.balance_due(D(-1)),
        lambda: pricing.balance_due(D(1), refunds=[D(-1)]),
        lambda: pricing.credit_note_tax(D(-1), 0, []),
        lambda: pricing.credit_note_tax(D(1), 0, [D(-1)]),
        lambda: pricing.payback_count(D(-1), D(1)),
        lambda: pricing.diy_break_even(D(1), D(-1), D(1)),
    ],
)
def test_negative_money_is_refused(call):
    with pytest.raises(errors.NegativeMoney):
        call()


def test_labor_is_sold_in_tenths():
    assert pricing.labor_charge(F("0.7"), D("118.75")) == D("83.13")
    with pytest.raises(errors.NotTenths):
        pricing.labor_charge(F("1.25"), D(96))


@pytest.mark.parametrize(
    ("base", "minimum", "cap", "charge"),
    [
        ("210.00", None, None, "10.50"),
        ("20.00", "2.50", None, "2.50"),
        ("0.00", "4.00", None, "0.00"),
        ("900.00", "2.50", "35.00", "35.00"),
        ("80.00", "12.00", "10.00", "10.00"),
        ("0.10", None, None, "0.01"),
    ],
)
def test_supplies_have_a_minimum_and_a_cap_which_wins(base, minimum, cap, charge):
    found = pricing.shop_supplies(D(base), F("0.05"), minimum and D(minimum), cap and D(cap))

    assert str(found) == charge


@given(st.lists(AMOUNTS, min_size=1, max_size=6), st.fractions(min_value=0, max_value=1, max_denominator=1000))
def test_a_discount_is_given_to_the_cent(taxables, percent):
    total = sum(map(F, taxables), F(0))

    after = pricing.document_discount(taxables, percent=percent)

    assert total - sum(map(F, after), F(0)) == F(pricing.round_half_up(total * percent))


def test_the_rest_of_a_discount_goes_to_the_first_of_the_largest():
    assert pricing.document_discount([D(20), D(20), D(20)], amount=D("0.10")) == [D("19.96"), D("19.97"), D("19.97")]
    assert pricing.document_discount([D(10), D(20), D(20)], amount=D("0.01")) == [D(10), D("19.99"), D(20)]


def test_nothing_can_be_discounted_by_nothing_only():
    assert pricing.document_discount([D(0), D(0)], percent=F(1)) == [0, 0]
    assert pricing.document_discount([], amount=D(0)) == []
    with pytest.raises(errors.DiscountExceedsTotal):
        pricing.document_discount([D(0)], amount=D("0.01"))


@given(st.lists(st.tuples(st.integers(0, 50), AMOUNTS, st.booleans()), max_size=5), st.integers(0, 100))
def test_a_quote_adds_up_whatever_is_in_it(lines, percent):
    parts = [PartLine(F(quantity, 10), price, taxed) for quantity, price, taxed in lines]
    supplies = Supplies(F("0.07"), "both", is_taxed=True)

    found = pricing.quote_total(
        parts, [LaborLine(F("0.3"), D(120))], F("0.0625"), supplies=supplies, discount_percent=F(percent, 100)
    )

    assert found.subtotal - found.discount + found.tax == found.total
    assert found.tax == pricing.round_half_up(F(found.taxable) * F("0.0625"))


def test_a_part_taken_back_lowers_the_quote():
    found = pricing.quote_total([PartLine(1, D("50.00")), PartLine(1, D("-12.50"))], [], F("0.0625"))

    assert (found.subtotal, found.tax, found.total) == (D("37.50"), D("2.34"), D("39.84"))


def test_supplies_on_parts_leave_labor_out():
    labor = [LaborLine(1, D(100))]
    sums = {
        on: pricing.quote_total([PartLine(1, D(10))], labor, 0, supplies=Supplies(F("0.1"), on)).subtotal
        for on in ("parts", "labor", "both")
    }

    assert sums == {"parts": D("111.00"), "labor": D("120.00"), "both": D("121.00")}


def test_a_discount_by_amount_takes_from_both_groups():
    found = pricing.quote_total([PartLine(1, D(100))], [LaborLine(3, D(100))], F("0.1"), discount_amount=D(40))

    assert (found.taxable, found.tax, found.discount, found.total) == (D(90), D(9), D(40), D(369))


def test_the_settlement_of_the_worked_example():
    example = WORKED["settlement"]
    due = pricing.balance_due(D(example["invoice"]), deposits=[D(example["deposit"])], payments=[D(example["card"])])
    nets = [D(credit["net"]) for credit in example["credits_in_order"]]

    taxes = pricing.credit_note_tax(sum(nets), F("0.0625"), nets)

    assert str(due) == example["due"]
    assert [str(tax) for tax in taxes] == [credit["tax"] for credit in example["credits_in_order"]]
    assert str(sum(taxes)) == example["credits_tax_together"]


@given(st.lists(AMOUNTS, min_size=1, max_size=8), st.fractions(min_value=0, max_value=1, max_denominator=10_000))
def test_full_credit_returns_exactly_the_tax_charged(credits, rate):
    invoiced = sum(credits)

    taxes = pricing.credit_note_tax(invoiced, rate, credits)

    assert sum(taxes) == pricing.round_half_up(F(invoiced) * rate)
    assert all(tax >= 0 for tax in taxes)


def test_no_more_is_credited_than_was_invoiced():
    with pytest.raises(errors.OverCredit):
        pricing.credit_note_tax(D(1), F("0.05"), [D("0.50"), D("0.51")])


def test_the_balance_counts_each_kind_its_own_way():
    due = pricing.balance_due(D(100), deposits=[D(10)], payments=[D(20), D(30)], credits=[D(50)], refunds=[D(15)])

    assert due == D("5.00")


@pytest.mark.parametrize(("equipment", "saving", "jobs"), [("100", "9.50", 11), ("100", "10", 10), ("0", "1", 0)])
def test_equipment_pays_back_after_so_many_jobs(equipment, saving, jobs):
    assert pricing.payback_count(D(equipment), D(saving)) == jobs


@pytest.mark.parametrize("saving", ["0", "-1"])
def test_without_a_saving_nothing_pays_back(saving):
    with pytest.raises(errors.NeverPaysBack):
        pricing.payback_count(D(100), D(saving))


def test_own_tools_break_even_after_so_many_jobs():
    assert pricing.diy_break_even(D(400), D(120), D(250)) == 4
    assert pricing.diy_break_even(D(0), D(120), D(250)) == 0
    with pytest.raises(errors.NeverBreaksEven):
        pricing.diy_break_even(D(400), D(250), D(250))


def test_the_band_quote_of_the_worked_example():
    example = WORKED["band_quote"]

    for end in ("low", "high"):
        assert str(pricing.marked_up(D(example[end]["cost"]), BANDS)) == example[f"fluid_price_{end}"]


def test_one_band_with_a_loss_is_enough_to_refuse_them():
    bands = [pricing.Band(Decimal(0), Decimal("0.5")), pricing.Band(Decimal(5), Decimal("-0.1"))]
    with pytest.raises(errors.BadBands):
        pricing.marked_up(Decimal(3), bands)


def test_a_margin_can_be_told_of_a_price_under_a_dollar():
    assert pricing.gross_margin_percent(Decimal("0.50"), Decimal("0.10")) == Decimal("80.0")


def test_a_time_of_nothing_is_charged_nothing():
    assert pricing.labor_charge(0, D("96.00")) == D("0.00")


def test_the_least_of_supplies_counts_for_any_base_above_nothing():
    assert pricing.shop_supplies(D("0.50"), F("0.05"), minimum=D(4)) == D(4)
    assert pricing.shop_supplies(D("0.01"), F("0.05"), minimum=D(4)) == D(4)


def test_a_discount_by_percent_and_none_at_all():
    """100.00 taxed at 10 %, 200.00 not; 5 % off: 95.00 and 190.00."""
    asked = ([PartLine(1, D(100))], [LaborLine(2, D(100))], F("0.1"))
    by_percent, without = pricing.quote_total(*asked, discount_percent=F("0.05")), pricing.quote_total(*asked)

    assert (by_percent.tax, by_percent.total) == (D("9.50"), D("294.50"))
    assert (without.tax, without.total) == (D("10.00"), D("310.00"))


def test_a_saving_of_less_than_a_dollar_pays_back_in_time():
    assert pricing.payback_count(D(10), D("0.50")) == 20
    assert pricing.diy_break_even(D(10), D("1.00"), D("1.50")) == 20
