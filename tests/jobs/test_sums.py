"""The price of an option from plain inputs. Figures: worked examples; the mark-up slices of the demonstration."""

from __future__ import annotations

import copy
from datetime import date
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc.jurisdictions import Jurisdiction, KindLine, placed_tax
from shopserv.calc.money import amount, cents
from shopserv.jobs import sums

pytestmark = pytest.mark.once

TERMS = {
    "sold_cents": 15_000,
    "hour_cost_cents": 4_200,
    "bands": [[0, 1_600_000], [500, 1_100_000], [2_000, 800_000]],
    "fluid_rule": "whole-packages",
    "supplies": {"kind": "share of labor", "share_ppm": 50_000, "cap_cents": 2_500, "text": "5 % of labor"},
    "waste": {"cents_per_liter": 180, "text": "used fluid"},
    "tax_rate_ppm": 62_500,
    "taxed": {"part": True, "fluid": True, "core": True},
    "exempt": False,
    "labor_before_cents": 0,
    "taxed_before_cents": 0,
}
PACKAGES = [
    {"number": "FEN2-P", "volume_ml": 18_927, "cost_cents": 10_460},
    {"number": "FEN2-J", "volume_ml": 3_785, "cost_cents": 2_240},
    {"number": "FEN2-B", "volume_ml": 946, "cost_cents": 610},
]
FLUID = {"code": "FEN2", "name": "Fenmark 2 Multi", "need_ml": 10_000, "low_need_ml": 10_000, "packages": PACKAGES}
SEALS = {"number": "HF-1003", "name": "seals", "condition": "new", "quantity": 1, "cost_cents": 425, "core_cents": 0}


def inputs(**more):
    base = {
        "terms": TERMS,
        "labor": {"tenths": 18, "text": "line exchange"},
        "fluids": [FLUID],
        "parts": [SEALS],
        "extras": [],
        "prices": {},
    }
    return copy.deepcopy({**base, **more})


def terms(**more):
    return {**TERMS, **more}


def test_option_c_of_the_example():
    priced = sums.price(inputs())

    assert (priced.net_cents, priced.taxable_cents, priced.tax_cents, priced.total_cents) == (
        43_463,
        13_313,
        832,
        44_295,
    )
    assert (priced.cost_cents, priced.margin_cents, priced.margin_ppm // 1000) == (14_295, 29_168, 671)


def test_by_the_liter_the_leftover_is_the_shops():
    fluid = sums.price(inputs(terms=terms(fluid_rule="by-liter"))).lines[1]

    assert (fluid.cost_cents, fluid.price_cents, fluid.detail["leftover"]) == (6_063, 11_763, "the shop's")


@pytest.mark.parametrize(("cost", "price"), [(500, 1_300), (3_850, 7_780), (587, 1_483), (342, 889)])
def test_mark_up_goes_slice_by_slice(cost, price):
    part = sums.price(inputs(parts=[{**SEALS, "cost_cents": cost}])).lines[2]

    assert part.price_cents == price


def test_supplies_stop_at_their_cap_also_across_an_addition():
    labor = {"tenths": 40, "text": "repair"}
    whole = sums.price(inputs(labor=labor, fluids=[], parts=[]))
    added = sums.price(inputs(labor=labor, fluids=[], parts=[], terms=terms(labor_before_cents=30_000)))

    assert [line.price_cents for line in whole.lines if line.kind == "supplies"] == [2_500]
    assert [line.price_cents for line in added.lines if line.kind == "supplies"] == [1_000]  # 25.00 less 15.00


def test_a_core_charge_is_a_line_of_its_own_at_cost():
    valve = {**SEALS, "number": "HF-6004", "name": "valve", "cost_cents": 4_780, "core_cents": 1_800, "quantity": 2}

    part, core = [line for line in sums.price(inputs(parts=[valve])).lines if line.number == "HF-6004"]

    assert (part.cost_cents, core.kind, core.price_cents, core.is_taxed) == (9_560, "core", 3_600, True)


def test_a_blank_price_is_told_from_a_price_of_zero():
    blank = sums.price(inputs(prices={"part HF-1003": None}))
    nothing = sums.price(inputs(prices={"part HF-1003": 0}))

    assert [line.price_cents for line in blank.lines if line.kind == "part"] == [None]
    assert [line.price_cents for line in nothing.lines if line.kind == "part"] == [0]
    assert blank.total_cents == nothing.total_cents


def test_who_is_exempt_pays_no_tax_and_the_same_net():
    taxed, exempt = sums.price(inputs()), sums.price(inputs(terms=terms(exempt=True)))

    assert (exempt.net_cents, exempt.tax_cents, exempt.total_cents) == (taxed.net_cents, 0, taxed.net_cents)


@given(
    tenths=st.integers(1, 60),
    need=st.integers(500, 25_000),
    less=st.integers(0, 400),
    cost=st.integers(0, 60_000),
    rate=st.integers(0, 120_000),
)
def test_the_sums_hold_for_any_option(tenths, need, less, cost, rate):
    fluid = {**FLUID, "need_ml": need, "low_need_ml": need - less}
    given_inputs = inputs(
        labor={"tenths": tenths, "text": "work"},
        fluids=[fluid],
        parts=[{**SEALS, "cost_cents": cost}],
        terms=terms(tax_rate_ppm=rate),
    )

    priced = sums.price(given_inputs)

    taxed = sum(line.price_cents for line in priced.lines if line.is_taxed)
    assert priced.net_cents == sum(line.price_cents for line in priced.lines)
    assert priced.tax_cents == (taxed * rate * 2 + 1_000_000) // 2_000_000
    assert priced.total_cents == priced.net_cents + priced.tax_cents
    assert priced.low_total_cents <= priced.total_cents
    assert priced.lines[1].detail["left_ml"] >= 0
    assert sums.price(given_inputs) == priced


@given(first=st.integers(0, 50_000), more=st.integers(0, 50_000))
def test_tax_of_a_job_in_two_steps_is_that_of_the_whole(first, more):
    def extra(cents):
        return [{"kind": "part", "text": "x", "quantity_thousandths": 1000, "unit_price_cents": cents}]

    bare = {"labor": {"tenths": None}, "fluids": [], "parts": []}
    one = sums.price(inputs(**bare, extras=extra(first)))
    two = sums.price(inputs(**bare, extras=extra(more), terms=terms(taxed_before_cents=first)))
    whole = sums.price(inputs(**bare, extras=extra(first + more)))

    assert one.tax_cents + two.tax_cents == whole.tax_cents


GOODS = {"part": True, "fluid": True, "core": True}
TAXES = [["state", 55_000, GOODS], ["county", 7_500, GOODS], ["city", 15_000, {"part": True, "labor": True}]]


def test_each_jurisdiction_taxes_its_own_kinds_of_line():
    """The same document by the calculation of jurisdictions: 12.54, worked out by hand there."""
    priced = sums.price(inputs(terms=terms(taxes=TAXES)))
    rows = [KindLine(line.kind, amount(line.price_cents)) for line in priced.lines]
    places = [Jurisdiction(name, Fraction(ppm, 10**6), kinds) for name, ppm, kinds in TAXES]
    placed = placed_tax(rows, places, on=date(2026, 11, 24))

    assert priced.tax_cents == cents(placed.tax) == 1_254
    assert [(line.kind, line.tax_rate_ppm, line.is_taxed) for line in priced.lines] == [
        ("labor", 15_000, True),
        ("fluid", 62_500, True),
        ("part", 77_500, True),
        ("supplies", 0, False),
        ("waste", 0, False),
    ]
    assert priced.taxable_cents == 27_000 + 12_208 + 1_105
    assert sums.price(inputs(terms=terms(taxes=TAXES, exempt=True))).tax_cents == 0


def test_jurisdictions_of_one_base_come_to_what_their_sum_comes_to():
    same = [["state", 55_000, GOODS], ["county", 7_500, GOODS]]

    assert sums.price(inputs(terms=terms(taxes=same))) == sums.price(inputs())


@given(st.integers(1, 30_000), st.integers(1, 30_000))
def test_an_addition_rounds_the_tax_of_the_whole_job_once_for_each_rate(first, second):
    fee, part = ({"kind": kind, "text": kind, "quantity_thousandths": 1000} for kind in ("labor", "part"))
    none = {"labor": {"tenths": None}, "fluids": [], "parts": []}
    whole = sums.price(
        inputs(
            **none,
            terms=terms(taxes=TAXES),
            extras=[{**fee, "unit_price_cents": first}, {**part, "unit_price_cents": second}],
        )
    )
    agreed = sums.price(inputs(**none, terms=terms(taxes=TAXES), extras=[{**fee, "unit_price_cents": first}]))
    before = {str(line.tax_rate_ppm): line.price_cents for line in agreed.lines if line.is_taxed}
    supplies = {"kind": "none"}
    added = sums.price(
        inputs(
            **none,
            terms=terms(taxes=TAXES, taxed_before=before, supplies=supplies),
            extras=[{**part, "unit_price_cents": second}],
        )
    )

    assert agreed.tax_cents + added.tax_cents == whole.tax_cents


INCLUDED = {
    "line exchange": {"raise and level": 1, "warm up": 1, "road test": 1, "set level": 2},
    "pan drop with filter": {"raise and level": 1, "warm up": 1, "road test": 1},
}
PAN = {
    "kind": "labor", "number": "pan drop with filter", "text": "pan drop with filter", "quantity_thousandths": 1500,
    "unit": "h", "unit_price_cents": 15_000, "cost_cents": 6_300,
}  # fmt: skip


def labor_of(priced):
    return [(line.text, line.quantity_thousandths, line.price_cents, line.cost_cents) for line in priced.lines if line.kind == "labor"]  # fmt: skip  # noqa: E501


def test_work_that_two_operations_share_is_sold_once():
    priced = sums.price(inputs(terms=terms(included=INCLUDED), extras=[PAN]))

    assert labor_of(priced) == [
        ("line exchange", 1_800, 27_000, 7_560),
        ("pan drop with filter", 1_500, 22_500, 6_300),
        ("overlap removed: raise and level, road test, warm up", -300, -4_500, -1_260),
    ]
    last = priced.lines[4]
    both = ["line exchange", "pan drop with filter"]
    assert last.detail == {"overlap": [[work, both, 1] for work in ("raise and level", "road test", "warm up")]}
    assert (last.number, last.unit, last.unit_price_cents) == ("done once", "h", 15_000)
    [supplies] = [line for line in priced.lines if line.kind == "supplies"]
    assert supplies.price_cents == 2_250  # 5 % of 450.00


def test_the_order_in_which_the_works_were_kept_changes_nothing():
    other = {name: dict(reversed(list(works.items()))) for name, works in reversed(list(INCLUDED.items()))}

    assert sums.price(inputs(terms=terms(included=other), extras=[PAN])) == sums.price(
        inputs(terms=terms(included=INCLUDED), extras=[PAN])
    )


def test_nothing_comes_off_one_operation_or_flat_labor():
    flat = {**PAN, "number": ""}

    for given_inputs in (inputs(terms=terms(included=INCLUDED)), inputs(terms=terms(included=INCLUDED), extras=[flat])):
        assert not [line for line in sums.price(given_inputs).lines if line.number == "done once"]
    assert sums.done_once(inputs(extras=[PAN])) == ()


def test_an_operation_sold_shorter_than_what_it_includes_gives_nothing_off():
    short = {**PAN, "quantity_thousandths": 200}

    assert len(labor_of(sums.price(inputs(terms=terms(included=INCLUDED), extras=[short])))) == 2


def test_what_was_agreed_before_counts_as_done_and_comes_off_once():
    agreed = [["line exchange", 18]]
    added = {"labor": {"tenths": None}, "fluids": [], "parts": []}
    first = sums.price(inputs(**added, terms=terms(included=INCLUDED, before=agreed), extras=[PAN]))
    again = sums.price(
        inputs(**added, terms=terms(included=INCLUDED, before=[*agreed, ["pan drop with filter", 15]]), extras=[PAN])
    )

    assert labor_of(first)[-1][1:3] == (-300, -4_500)
    assert labor_of(again)[-1][1:3] == (-300, -4_500)  # the third time is shared too, the second was taken off before


def test_no_more_comes_off_than_the_labor_comes_to():
    free = sums.price(
        inputs(terms=terms(included=INCLUDED), extras=[PAN], prices={"labor": 0, "labor pan drop with filter": 2_000})
    )

    assert [row[2] for row in labor_of(free)] == [0, 2_000, -2_000]
    blank = sums.price(inputs(terms=terms(included=INCLUDED), extras=[PAN], prices={"labor": None}))
    assert [row[2] for row in labor_of(blank)] == [None, 22_500, -4_500]


@given(st.integers(1, 30_000), st.integers(0, 5_000))
def test_by_whole_packages_a_price_never_falls_when_the_need_grows(need, more):
    def fluid(ml):
        row = {**FLUID, "need_ml": ml, "low_need_ml": ml}
        return sums.price(inputs(fluids=[row])).lines[1].price_cents

    assert fluid(need) <= fluid(need + more)


def test_by_the_liter_a_larger_need_may_open_a_cheaper_package_and_cost_less():
    """Found by trying every need: what holds by the liter is that it never costs more than the whole packages."""

    def fluid(ml, rule):
        row = {**FLUID, "need_ml": ml, "low_need_ml": ml}
        return sums.price(inputs(fluids=[row], terms=terms(fluid_rule=rule))).lines[1].price_cents

    by_liter = {ml: fluid(ml, "by-liter") for ml in range(16_000, 19_000, 100)}
    falls = [ml for ml in range(16_000, 18_900, 100) if by_liter[ml + 100] < by_liter[ml]]

    assert falls == [17_000]  # 4 jugs and 2 bottles before, a pail after
    assert all(price <= fluid(ml, "whole-packages") for ml, price in by_liter.items())


@pytest.mark.parametrize("rule", ["by-liter", "whole-packages"])
@pytest.mark.parametrize(("low", "high"), [(16_500, 17_500), (17_000, 17_100), (7_500, 7_700), (900, 950)])
def test_a_band_holds_the_price_of_every_fill_in_it(rule, low, high):
    """Compared with every milliliter between."""

    def priced(low_ml, high_ml):
        row = {**FLUID, "need_ml": high_ml, "low_need_ml": low_ml}
        return sums.price(inputs(fluids=[row], terms=terms(fluid_rule=rule)))

    prices = [priced(ml, ml).lines[1].price_cents for ml in range(low, high + 1)]
    band = priced(low, high)

    assert (band.lines[1].low_price_cents, band.lines[1].price_cents) == (min(prices), max(prices))
    assert band.lines[1].detail["planned_ml"] == high
    assert band.lines[1].detail["low"]["planned_ml"] == low
    assert band.low_total_cents <= band.total_cents


def test_by_the_liter_the_agreed_total_is_that_of_the_dearest_fill():
    row = {**FLUID, "need_ml": 17_100, "low_need_ml": 16_900}
    fluid = sums.price(inputs(fluids=[row], terms=terms(fluid_rule="by-liter"))).lines[1]
    at_17_l = sums.price(
        inputs(fluids=[{**row, "need_ml": 17_032, "low_need_ml": 17_032}], terms=terms(fluid_rule="by-liter"))
    )

    assert (fluid.price_cents, fluid.cost_cents) == (
        at_17_l.lines[1].price_cents,
        10_180,
    )  # 4 jugs and 2 bottles, all of it
    assert (fluid.detail["packages"], fluid.detail["dearest_ml"]) == ({"FEN2-P": 1}, 17_032)
    assert "dearest_ml" not in sums.price(inputs(fluids=[{**row, "low_need_ml": 17_050}])).lines[1].detail
