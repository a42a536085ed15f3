"""The price of an option from plain inputs. Figures: worked examples; the mark-up slices of the demonstration."""

from __future__ import annotations

import copy

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
