"""What the operations of the demonstration include fits into what they are sold for."""

from __future__ import annotations

import pytest

from shopserv.calc.overlaps import Operation, together
from shopserv.demo.rows import included_work, scenario
from shopserv.shop.models import HouseRules

pytestmark = pytest.mark.once


@pytest.mark.parametrize("row", scenario()["labor"], ids=lambda row: f"{row['units']} {row['operation']}")
def test_no_operation_includes_more_than_it_is(row):
    works = included_work().get(row["operation"], {})

    assert together([Operation(row["operation"], row["tenths"], works)]).sold == row["tenths"]


def test_every_operation_named_is_on_the_price_list(cast):
    listed = {row["operation"] for row in scenario()["labor"]}

    assert set(included_work()) <= listed
    assert HouseRules.objects.get().included_work == included_work()
