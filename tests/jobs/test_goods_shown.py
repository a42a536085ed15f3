"""How the price of fluid and parts is taken apart: for the customer by pieces, for the owner from their cost."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from types import SimpleNamespace

import pytest

from shopserv.jobs.selectors.workings import workings_of
from shopserv.jobs.workings import goods
from tests.jobs import stage

LISTED = [
    {"number": "J", "word": "jug", "volume_ml": 3785, "cost_cents": 2_240},
    {"number": "B", "word": "", "volume_ml": 946, "cost_cents": 610},
]


def said(steps):
    return [(step.words, step.value) for step in steps]


@pytest.mark.django_db
def test_the_fluid_is_packages_at_one_price_for_who_may_not_see_cost(cast):
    option = stage.draft(cast, "V-01").options.get(letter="C")

    shown = workings_of(option, with_margin=True, with_cost=False)
    own = workings_of(option, with_margin=True, with_cost=True)

    assert said(shown["fluid"].steps) == [
        ("bought", 10_408),
        ("left over", 408),
        ("2 × jug FEN2-J, 3 × bottle FEN2-B, together", Decimal("122.08")),
        ("Fenmark 2 Multi", Decimal("122.08")),
        ("price a quart: $122.08 for 10.998 qt", Decimal("11.10")),
    ]
    assert "the shop does not show its cost" in shown["fluid"].formula
    assert "the shop does not show its cost" in shown["part"].formula
    assert "does not show" not in own["fluid"].formula + own["part"].formula
    assert said(own["fluid"].steps)[2:8] == [
        ("2 × jug FEN2-J, cost", Decimal("44.80")),
        ("3 × bottle FEN2-B, cost", Decimal("18.30")),
        ("cost of Fenmark 2 Multi", Decimal("63.10")),
        ("on $5.00 of it, 160 %", 8),
        ("on $15.00 of it, 110 %", Fraction("16.5")),
        ("on $43.10 of it, 80 %", Fraction("34.48")),
    ]
    assert Decimal("63.10") + 8 + Decimal("16.5") + Decimal("34.48") == own["fluid"].value
    assert said(own["part"].steps)[:2] == [
        ("cost of fill plug ring and cooler line seals", Decimal("4.25")),
        ("on $4.25 of it, 160 %", Fraction("6.8")),
    ]
    assert said(shown["part"].steps) == [("fill plug ring and cooler line seals", Decimal("11.05"))]


@pytest.mark.django_db
def test_the_margin_shows_what_each_line_costs_to_the_owner_alone(cast):
    option = stage.draft(cast, "V-01").options.get(letter="C")

    own = workings_of(option, with_margin=True, with_cost=True)["margin"]
    writers = workings_of(option, with_margin=True, with_cost=False)["margin"]

    costs = [step for step in own.steps if step.words.startswith("cost of ")]
    assert said(costs)[0] == ("cost of cooler-line fluid exchange", Decimal("75.60"))
    assert sum(step.value for step in costs) == next(row.value for row in own.given if row.symbol == "K")
    assert [step.words for step in writers.steps] == ["share of the price"]


@pytest.mark.django_db
def test_a_fill_that_is_a_band_shows_the_packages_of_both_ends(cast):
    option = stage.draft(cast, "V-09").options.get(letter="C")

    steps = workings_of(option, with_margin=False, with_cost=False)["fluid"].steps

    high = [step for step in steps if " each" in step.words]
    low = [step for step in steps if step.words.startswith("at the lowest fill: ")]
    assert said(high) == [("3 × jug FEN2-J at $43.15 each", Decimal("129.45"))]
    assert said(low) == [
        ("at the lowest fill: 2 × jug FEN2-J, 3 × bottle FEN2-B, together", Decimal("122.08")),
        ("at the lowest fill: Fenmark 2 Multi", Decimal("122.08")),
    ]


@pytest.mark.django_db
def test_what_is_kept_for_the_level_is_told_where_fluid_is_sold_and_taken_back(cast):
    version = stage.draft(cast, "V-01")
    shown = workings_of(version.options.get(letter="A"), with_margin=False, with_cost=False)
    other = workings_of(version.options.get(letter="C"), with_margin=False, with_cost=False)

    kept = [("poured by the stages", 2900), ("kept for setting the level at the end", 300)]
    assert said(shown["fluid"].steps)[:2] == said(shown["waste"].steps)[:2] == kept
    assert shown["waste"].given[0].value == Decimal("3.2")
    assert "kept for the level included" in shown["waste"].given[0].source
    assert not [step for step in other["waste"].steps if "level" in step.words]


@pytest.mark.django_db
def test_the_price_of_the_dearest_fill_is_not_laid_on_the_packages_of_the_highest(cast):
    option = stage.draft(cast, "V-01").options.get(letter="C")
    row = option.lines.get(kind="fluid")
    row.detail = {**row.detail, "dearest_ml": 9_000}
    row.save()

    steps = workings_of(option, with_margin=False, with_cost=False)["fluid"].steps

    assert [step.words for step in steps if "together" in step.words or "a quart" in step.words] == []
    assert steps[-1].value == Decimal("122.08")


@pytest.mark.django_db
def test_a_price_by_the_liter_is_a_total_and_what_a_measure_comes_to(cast):
    option = stage.draft(cast, "V-01").options.get(letter="C")
    option.version.rules = {**option.version.rules, "fluid_rule": "by-liter"}

    steps = workings_of(option, with_margin=False, with_cost=False)["fluid"].steps

    assert said(steps)[-2:] == [
        ("Fenmark 2 Multi", Decimal("122.08")),
        ("price a quart: $122.08 for 10.567 qt", Decimal("11.55")),
    ]


@pytest.mark.once
def test_packages_of_several_kinds_have_one_price_and_pieces_of_one_kind_one_each():
    part = SimpleNamespace(text="seal", quantity_thousandths=3000, price_cents=1_000)

    assert said(goods.priced_packages({"J": 2, "B": 3}, LISTED, 12_208, "USD")) == [
        ("2 × jug J, 3 × package B, together", Decimal("122.08"))
    ]
    assert said(goods.priced_packages({"B": 3}, LISTED, 1_000, "USD")) == [
        ("3 × package B at $3.33 each", Decimal("9.99")),
        ("the rest: cents that do not divide", Decimal("0.01")),
    ]
    assert said(goods.priced_pieces(part, "USD")) == [
        ("3 × seal at $3.33 each", Decimal("9.99")),
        ("the rest: cents that do not divide", Decimal("0.01")),
    ]
    assert said(goods.a_liter(12_209, 10_000, "EUR", "metric")) == [
        ("price a liter: EUR 122.09 for 10 L", Decimal("12.21"))
    ]
    assert goods.a_liter(12_209, 10_408, "USD", "us")[0].formula == "P / V = 122.09 / 10.998"


@pytest.mark.once
@pytest.mark.parametrize("cents", [610, 1_220, 61])
def test_no_figure_without_cost_follows_the_ratio_of_our_costs(cents):
    """The cost of a bottle moved, at the same price: nothing that is shown may move with it."""
    moved = [LISTED[0], {**LISTED[1], "cost_cents": cents}]

    found = goods.priced_packages({"J": 2, "B": 3}, moved, 12_208, "USD")

    assert found == goods.priced_packages({"J": 2, "B": 3}, LISTED, 12_208, "USD")


@pytest.mark.once
@pytest.mark.parametrize(("counts", "price"), [({"J": 1, "old": 1}, 100), ({}, 100), ({"J": 1}, -1)])
def test_what_was_not_kept_is_not_taken_apart(counts, price):
    assert goods.priced_packages(counts, LISTED, price, "USD") == []


@pytest.mark.once
@pytest.mark.parametrize(("quantity", "price"), [(1000, 100), (2500, 100), (2000, -1)])
def test_a_single_piece_is_its_price(quantity, price):
    assert goods.priced_pieces(SimpleNamespace(text="x", quantity_thousandths=quantity, price_cents=price), "USD") == []
    assert goods.a_liter(-1, 10, "USD", "us") == goods.a_liter(1, 0, "USD", "us") == []
