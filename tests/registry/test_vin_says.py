"""What is proposed from a VIN, held against the library's own table and the table of 49 CFR 565.15."""

from __future__ import annotations

import pytest
from vininfo.dicts import WMI

from shopserv.registry import vin_says

KNOWN = [wmi for wmi in sorted(WMI) if len(wmi) == 3][::150]


@pytest.mark.parametrize("wmi", KNOWN)
def test_a_maker_that_the_library_knows_is_proposed(wmi):
    assert vin_says.maker(f"{wmi}AA1B27KA000101"[:17].ljust(17, "1")) == WMI[wmi]


@pytest.mark.parametrize("typed", ["0BRND4E0500000017", "", "short", "0BRND4E05O0000017"])
def test_none_is_proposed_where_none_is_known(typed):
    assert vin_says.maker(typed) == ""


@pytest.mark.parametrize(
    ("typed", "year"),
    [
        ("0SMAA1B27KA000101", 2019),  # position 7 a letter: the cycle from 2010, K is 2019
        ("0SMAA1127KA000101", 1989),  # position 7 a figure: the cycle from 1980
        ("0SMAA1B27TA000101", 2026),
        ("0SMAA1B27WA000101", 1998),  # 2028 lies ahead
        ("0SMAA1B270A000101", None),  # 0 stands for no year
        ("short", None),
    ],
)
def test_the_year_is_the_newest_that_can_be_by_now(typed, year):
    assert vin_says.model_year(typed, 2026) == year
