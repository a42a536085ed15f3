"""What the money buys: one figure on the sheet, the customer's page, the paper and the sums."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.jobs.bought import Ages, bought_by
from shopserv.jobs.models import Option
from shopserv.jobs.selectors import quotes as reads
from shopserv.jobs.selectors.workings import workings_of
from shopserv.papers.layout import quote as paper
from shopserv.web.counter.columns import rows_of
from shopserv.web.customer.choices import shown
from shopserv.web.workings import shown as laid_out
from tests.jobs import stage

DRIVEN = Ages("mi", Fraction(40_000), Fraction(10), Fraction(61_379) - Fraction(1, 10), Fraction(60), Fraction(100))
OLD = Ages("mi", Fraction(0), Fraction(50), Fraction(90_000), Fraction(2_497, 100), Fraction(1))


@pytest.mark.parametrize(
    ("ages", "low", "high"),
    [(DRIVEN, "55,698", "58,978"), (OLD, "17.9", "22.0")],  # exact: 55,698.9 and 58,978.9 mi; 17.87 and 21.97 months
)
def test_every_page_and_the_paper_tell_the_same_figure(cast, ages, low, high):
    version = stage.draft(cast)
    option = stage.option(version, "C")
    bought = bought_by(ages, 44_295, (858_000, 940_000))
    Option.objects.filter(pk=option.pk).update(bought=bought)
    option.refresh_from_db()
    number, unit = version.quote.number, "months" if ages is OLD else "mi"

    sheet = rows_of(reads.quote_sheet(cast.tobin, number).columns, "us")
    row = next(row for row in sheet if row.name == "what the money buys")
    page = shown(reads.preview(cast.tobin, number, version.version))[2]
    sums = {one.anchor: one for one in laid_out(workings_of(option, with_margin=False, with_cost=False))}

    assert bought["words"].startswith(f"{low} {unit},")
    assert row.cells[2].figure == f"{low} to {high} {unit}"
    assert page.notes[1].startswith(f"Lasts {low} to {high} {unit},")
    assert sums["bought"].band == f"{low} {unit} to {high} {unit}"
    assert paper._lasts(bought) == f"{low} {unit}"
