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


def added(steps):
    return sum(Fraction(step.value) for step in steps if step.formula != "P")


@pytest.mark.django_db
def test_the_fluid_is_so_many_packages_at_so_much_each_and_a_rest(cast):
    option = stage.draft(cast, "V-01").options.get(letter="C")

    shown = workings_of(option, with_margin=True, with_cost=False)
    own = workings_of(option, with_margin=True, with_cost=True)

    assert said(shown["fluid"].steps) == [
        ("bought", 10_408),
        ("left over", 408),
        ("2 × jug FEN2-J at $43.33 each", Decimal("86.66")),
        ("3 × bottle FEN2-B at $11.80 each", Decimal("35.40")),
        ("the rest: cents that do not divide", Decimal("0.02")),
        ("Fenmark 2 Multi", Decimal("122.08")),
    ]
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

    high = [step for step in steps if " each" in step.words and not step.words.startswith("at the lowest fill")]
    low = [step for step in steps if step.words.startswith("at the lowest fill: ")]
    assert said(high) == [("3 × jug FEN2-J at $43.15 each", Decimal("129.45"))]
    assert said(low)[-1] == ("at the lowest fill: Fenmark 2 Multi", Decimal("122.08"))
    assert sum(step.value for step in low[:-1]) == low[-1].value


@pytest.mark.once
def test_pieces_and_liters_add_up_to_the_price():
    packages = goods.priced_packages({"J": 2, "B": 3}, LISTED, 12_208, "USD")
    liters = goods.priced_liters(12_209, 10_000, "USD")
    part = SimpleNamespace(text="seal", quantity_thousandths=3000, price_cents=1_000)

    assert said(packages)[1] == ("3 × package B at $11.80 each", Decimal("35.40"))
    assert added(packages) == Fraction("122.08")
    assert said(liters) == [
        ("10 L at $12.20 a liter", Decimal("122.00")),
        ("the rest: cents that do not divide", Decimal("0.09")),
    ]
    assert said(goods.priced_pieces(part, "USD")) == [
        ("3 × seal at $3.33 each", Decimal("9.99")),
        ("the rest: cents that do not divide", Decimal("0.01")),
    ]
    assert said(goods.priced_liters(12_200, 10_000, "EUR")) == [("10 L at EUR 12.20 a liter", Decimal("122.00"))]


@pytest.mark.once
@pytest.mark.parametrize(("counts", "price"), [({"J": 1, "old": 1}, 100), ({}, 100), ({"J": 1}, -1)])
def test_what_was_not_kept_is_not_taken_apart(counts, price):
    assert goods.priced_packages(counts, LISTED, price, "USD") == []


@pytest.mark.once
@pytest.mark.parametrize(("quantity", "price"), [(1000, 100), (2500, 100), (2000, -1)])
def test_a_single_piece_is_its_price(quantity, price):
    assert goods.priced_pieces(SimpleNamespace(text="x", quantity_thousandths=quantity, price_cents=price), "USD") == []
    assert goods.priced_liters(-1, 10, "USD") == goods.priced_liters(1, 0, "USD") == []
