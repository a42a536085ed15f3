"""What the money buys: one figure on the sheet, the customer's page, the paper and the sums."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from shopserv.calc.money import round_half_up
from shopserv.common import lasting
from shopserv.jobs.bought import Ages, bought_by, overlap, wide_of
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
    ("ages", "exact", "low", "high", "sum_band", "price"),
    [
        # 61,378.9 mi: x 0.8 - 0.142 x 40,000 = 43,423.12; x 1.2 - 0.06 x 40,000 = 71,254.68
        (DRIVEN, "55,698 mi", "43,400", "71,300", "43,423 mi to 71,254 mi", "about $8 a thousand mi"),
        # 24.97 months: x 0.8 - 0.142 x 50 = 12.876; x 1.2 - 0.06 x 50 = 26.964
        (OLD, "17.9 months", "12", "27", "12.9 months to 27.0 months", "about $25 a month"),
    ],
)
def test_every_page_and_the_paper_tell_the_same_band_as_an_estimate(cast, ages, exact, low, high, sum_band, price):
    version = stage.draft(cast)
    option = stage.option(version, "C")
    bought = bought_by(ages, 44_295, (858_000, 940_000))
    Option.objects.filter(pk=option.pk).update(bought=bought)
    option.refresh_from_db()
    number, unit = version.quote.number, "months" if ages is OLD else "mi"

    rows = rows_of(reads.quote_sheet(cast.tobin, number).columns, "us")
    lasts = next(row for row in rows if row.name.startswith("lasts, estimate"))
    page = shown(reads.preview(cast.tobin, number, version.version))[2]
    sums = {one.anchor: one for one in laid_out(workings_of(option, with_margin=False, with_cost=False))}

    assert bought["words"].startswith(f"{exact},")
    assert lasts.cells[2].figure == f"{low} to {high} {unit}"
    assert next(row for row in rows if row.name == "to compare with").cells[2].figure == price
    assert page.notes[1] == (
        f"Lasts {low} to {high} {unit}, {price} "
        "(estimate: share of new fluid, and the interval 20 % shorter or longer)."
    )
    assert sums["bought"].band == sum_band
    assert sums["per"].given[1].words == f"lasts, in {'months' if ages is OLD else 'thousand mi'}"
    assert paper._lasts(bought) == f"{low} to {high} {unit}"


def test_a_version_of_an_earlier_program_shows_the_band_of_the_share_alone():
    bought = bought_by(OLD, 44_295, (858_000, 940_000))
    kept = {name: value for name, value in bought.items() if not name.startswith("wide")}

    assert lasting.figure(kept) == "17 to 22 months"
    assert lasting.covers(kept) == "estimate: share of new fluid"


def test_what_is_due_at_once_may_last_where_the_interval_is_longer():
    ages = replace(OLD, interval_months=Fraction(30))
    bought = bought_by(ages, 18_364, (392_000, 392_000))  # 30 - 0.608 x 50 < 0; 36 - 30.4 = 5.6 months

    assert bought["per_cents"] is None
    assert lasting.figure(bought) == "due again at once, at most 6 months"
    assert lasting.price(bought) == ""


def test_the_other_clock_may_end_the_band():
    ages = Ages("mi", Fraction(0), Fraction(0), Fraction(3_700), Fraction(120), Fraction(10))
    slow = replace(ages, interval_distance=Fraction(36_500), interval_months=Fraction(100), distance=Fraction(30_000))

    assert wide_of(ages, (500_000, 500_000), "distance") == (2_960, 4_440)
    # Nothing new: 6,500 mi are left of 36,500 but none of 29,200; of 43,800 miles 13,800, which are 1,380 days.
    assert wide_of(slow, (0, 0), "months") == (0, Fraction(1_380 * 12, 365))


@pytest.mark.parametrize(
    ("other_cents", "is_near"),
    # V-01: 44,295 c for 33 x 0.8 - 0.142 x 69.05 = 16.5949 months at the least; the other 0.94: 22.257 months
    [(59_400, True), (59_409, False)],
)
def test_an_option_is_near_where_it_may_cost_less_at_the_same_interval(other_cents, is_near):
    ages = Ages("mi", Fraction(0), Fraction(6_905, 100), Fraction(90_000), Fraction(33), None)

    assert overlap(ages, (other_cents, (880_000, 940_000)), (44_295, (858_000, 940_000))) is is_near


def test_the_price_a_month_can_be_worked_out_from_the_digits_that_are_printed(cast):
    for option in stage.draft(cast).options.all():
        per = workings_of(option, with_margin=False, with_cost=False)["per"]
        said = {one.anchor: one for one in laid_out({"per": per})}["per"]

        if per.value is None:
            assert said.steps == ()
            continue
        lasts = said.steps[0].words.split()[2]
        total = said.given[0].figure.removeprefix("$")
        assert round_half_up(Fraction(total) / Fraction(lasts)) == per.value, option.letter
