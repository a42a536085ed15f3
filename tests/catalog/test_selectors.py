"""Sheets, fluids, packages, parts and labor as they stand on a day. Source of all figures: demo.json."""

from __future__ import annotations

from datetime import date

import pytest
from django.http import Http404

from shopserv.catalog import seen, selectors
from shopserv.catalog.models import (
    FluidProduct,
    FluidSpecification,
    IdentifyRule,
    SheetValue,
    UnitSheet,
)
from shopserv.catalog.sheets import WHAT
from shopserv.common.errors import NotYours


def sheet(cast, code):
    return selectors.sheet_in_force(cast.unit(code), cast.today)


def test_before_its_first_day_no_sheet_is_in_force(cast):
    assert selectors.sheet_in_force(cast.unit("AL640"), date(2022, 12, 31)) is None
    assert sheet(cast, "AL640").version == 1


def test_a_newer_version_rules_from_its_day_and_the_old_one_stays_readable(cast):
    UnitSheet.objects.create(unit=cast.unit("AL640"), version=2, state="in force", from_on=date(2026, 12, 1))

    assert sheet(cast, "AL640").version == 1
    assert selectors.sheet_in_force(cast.unit("AL640"), date(2026, 12, 1)).version == 2
    assert selectors.sheet_version("AL640", 1).state == "in force"
    with pytest.raises(Http404):
        selectors.sheet_version("AL640", 3)


def test_every_value_on_file_is_of_the_closed_list_and_says_where_it_is_from(cast):
    assert set(SheetValue.objects.values_list("what", flat=True)) <= set(WHAT)
    assert set(SheetValue.objects.values_list("source_grade", flat=True)) == {"invented"}


def test_a_sheet_comes_with_its_values_in_two_queries(cast, django_assert_num_queries):
    unit = cast.unit("AL640")

    with django_assert_num_queries(2):  # the sheet and its values
        values = selectors.values_of(selectors.sheet_in_force(unit, cast.today))

    assert (values["total_fill_ml"].low, values["pickup_below_full_ml"].low) == (7400, 1600)
    assert (values["level_low_mdegc"].low, values["level_high_mdegc"].low) == (40_000, 45_000)
    assert (values["interval_m"].low, values["interval_months"].low) == (96_560_640, 60)


@pytest.mark.parametrize(
    ("code", "build", "sump", "specification"),
    [
        ("AL640", "2019-03", "", "FM-2"),
        ("DO440", "2008-05", "", "FM-1"),
        ("DO440", "2009-12", "", "FM-1"),
        ("DO440", "2010-01", "", "FM-2"),
        ("DO440", "", "", "FM-2"),
        ("EL-D7", "", "clutch", "FM-6L"),
        ("EL-D7", "", "gears", "FM-2"),
    ],
)
def test_the_fluid_asked_for_depends_on_build_month_and_sump(cast, code, build, sump, specification):
    assert selectors.specification_for(sheet(cast, code), build, sump).code == specification


def test_a_successor_counts_for_a_withdrawn_specification_only_where_it_fits_backward(cast):
    withdrawn = FluidSpecification.objects.get(code="FM-1")
    FluidProduct.objects.get(code="FEN2").meets.remove(withdrawn)

    assert [p.code for p in selectors.products_meeting(withdrawn, cast.today)] == ["FEN2"]  # by its successor FM-2
    assert selectors.products_meeting(withdrawn, date(2019, 6, 1)) == []
    withdrawn.backward_fit = False
    assert selectors.products_meeting(withdrawn, cast.today) == []


def test_a_barred_product_meets_nothing(cast):
    FluidProduct.objects.filter(code="FEN2").update(state="barred")

    assert selectors.products_meeting(FluidSpecification.objects.get(code="FM-2"), cast.today) == []


def test_fitments_by_name_and_by_the_makers_sign_where_no_name_fits(cast):
    named = seen.fitments_named("osmerel", "tilde", "0TH")

    assert [(fit.unit.code, fit.weight_ppm) for fit in named] == [
        ("AL640", 1_000_000),
        ("AL641", 1_000_000),
        ("BI850", 400_000),
    ]
    assert {fit.unit.code for fit in seen.fitments_named("osmerel", "", "0TH")} == {"FI1060", "BI870"}
    assert seen.fitments_named("osmerel", "nothing") == []


def test_the_rule_of_the_newest_day_that_has_begun(cast):
    newer = IdentifyRule.objects.create(from_on=cast.today, confidence_ppm=950_000, file_error_ppm=0, wrong_cents=1)

    assert seen.identify_rule(cast.today) == newer
    assert seen.identify_rule(date(2026, 11, 23)).confidence_ppm == 900_000
    assert seen.identify_rule(date(2022, 12, 31)) is None


def test_all_staff_read_unit_sheets_and_customers_do_not(cast):
    assert selectors.unit_for(cast.odo, "AL640").successor.code == "AL641"
    assert selectors.sheets_of(cast.sam, cast.unit("AL640")).count() == 1
    with pytest.raises(Http404):
        selectors.unit_for(cast.odo, "AL999")
    with pytest.raises(NotYours):
        selectors.unit_for(cast.ansel, "AL640")
