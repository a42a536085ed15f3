"""What may be sold for a unit on a day. Source of all figures: demo.json."""

from __future__ import annotations

from datetime import date

import pytest

from shopserv.catalog import selectors
from shopserv.catalog.models import FluidProduct, FluidSpecification, LaborOperation
from shopserv.catalog.price_list import PriceList
from shopserv.common.errors import Refusal


def prices(cast, code="AL640", build_month=""):
    unit = cast.unit(code)
    return PriceList(unit, selectors.sheet_in_force(unit, cast.today), cast.today, build_month)


def test_packages_come_largest_first(cast):
    product = FluidProduct.objects.get(code="FEN2")

    assert [p.stock_number for p in prices(cast).packages(product)] == ["FEN2-P", "FEN2-J", "FEN2-B"]


def test_parts_are_those_that_fit_and_that_the_method_uses(cast):
    parts = prices(cast).parts("pan drop with filter")

    assert [part.number for part in parts] == ["HF-1004", "HF-1005"]


@pytest.mark.parametrize(
    ("code", "method", "tenths"),
    [("AL641", "line exchange", 18), ("CE-V45", "single drain", 8), ("AL640", "sump", None)],
)
def test_labor_is_found_by_the_pattern_of_its_units(cast, code, method, tenths):
    found = prices(cast, code).labor(method)

    assert (found.tenths if found else None) == tenths


def test_the_most_exact_pattern_and_then_the_newest_wins(cast):
    common = {"operation": "line exchange", "method": "line exchange"}
    LaborOperation.objects.create(units_pattern="AL640", tenths=21, from_on=date(2023, 1, 1), **common)
    LaborOperation.objects.create(units_pattern="AL640", tenths=22, from_on=date(2026, 1, 1), **common)
    LaborOperation.objects.create(units_pattern="AL640", tenths=23, from_on=date(2027, 1, 1), **common)

    assert prices(cast).labor("line exchange").tenths == 22


def test_an_operation_for_all_units_is_found_by_its_name(cast):
    assert PriceList(None, None, cast.today).operation("diagnosis, first hour").tenths == 10
    with pytest.raises(Refusal):
        PriceList(None, None, cast.today).operation("polish")


def test_a_fluid_is_named_with_what_meets_it(cast):
    asked, product = prices(cast, "EL-D7").fluid("clutch")

    assert (asked, product.code) == (str(FluidSpecification.objects.get(code="FM-6L")), "FEN6L")
    FluidProduct.objects.update(state="barred")
    assert prices(cast).fluid() == (prices(cast).fluid()[0], None)
    assert PriceList(None, None, cast.today).fluid() == ("", None)


def test_each_table_is_read_once_however_many_ask(cast, django_assert_num_queries):
    ready = prices(cast)

    with django_assert_num_queries(5):  # operations, parts, the specification, what meets it, its packages
        for method in ("single drain", "repeated drain", "line exchange", "pan drop with filter"):
            ready.labor(method)
            ready.parts(method)
            ready.packages(ready.fluid()[1])


def test_nothing_is_sold_for_a_unit_that_is_not_known(cast):
    ready = PriceList(None, None, cast.today)

    assert (ready.labor("single drain"), ready.parts("single drain")) == (None, [])
