"""The working of the tax says what each jurisdiction takes; its parts add up to the tax of the option."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from shopserv.jobs.workings.prices import Prices
from shopserv.shop.models import TaxRate
from tests.jobs import stage

pytestmark = pytest.mark.django_db


def steps_of(version, letter):
    working = Prices(stage.option(version, letter), currency="USD", with_cost=False).all()["tax"]
    return [(step.words, step.value) for step in working.steps]


def test_state_and_county_share_the_tax_of_the_example(cast):
    steps = steps_of(stage.draft(cast), "C")

    assert steps[-4:] == [
        ("state: taxed lines", Decimal("133.13")),
        ("state: of the tax", Decimal("7.32")),
        ("county: taxed lines", Decimal("133.13")),
        ("county: of the tax", Decimal("1.00")),
    ]


def test_a_jurisdiction_that_taxes_labor_too_has_its_own_base(cast):
    """Terms with a new rate from today: the county taxes parts and labor alone."""
    TaxRate.objects.create(
        shop=cast.brw,
        jurisdiction="county",
        rate_ppm=15_000,
        applies_to={"part": True, "labor": True},
        from_on=cast.today,
    )
    version = stage.draft(cast)

    assert steps_of(version, "C")[-4:] == [
        ("state: taxed lines", Decimal("133.13")),
        ("state: of the tax", Decimal("7.32")),
        ("county: taxed lines", Decimal("281.05")),
        ("county: of the tax", Decimal("4.21")),
    ]
    option = stage.option(version, "C")
    assert option.tax_cents == 405 + 671 + 77  # 270.00 x 1.5 %, 122.08 x 5.5 %, 11.05 x 7 %
    assert {line.kind: line.tax_rate_ppm for line in option.lines.all() if line.is_taxed} == {
        "labor": 15_000,
        "fluid": 55_000,
        "part": 70_000,
    }


def test_each_rate_has_its_own_base_and_tax_and_moves_with_the_rates(cast):
    TaxRate.objects.create(
        shop=cast.brw,
        jurisdiction="county",
        rate_ppm=15_000,
        applies_to={"part": True, "labor": True},
        from_on=cast.today,
    )
    working = Prices(stage.option(stage.draft(cast), "C"), currency="USD", with_cost=False).all()["tax"]
    said = [(step.words, step.value) for step in working.steps if step.words in ("taxed together", "tax at this rate")]

    assert said == [
        *(("taxed together", Decimal("270.00")), ("tax at this rate", Decimal("4.05"))),
        *(("taxed together", Decimal("122.08")), ("tax at this rate", Decimal("6.71"))),
        *(("taxed together", Decimal("11.05")), ("tax at this rate", Decimal("0.77"))),
    ]
    assert [(one.words, one.value) for one in working.given][1] == ("county, on part, labor", Fraction(15, 1000))
    moved = next(one for one in working.changes if one.words == "tax rate")
    assert (moved.less, moved.more) == (Decimal("9.23"), Decimal("13.85"))
