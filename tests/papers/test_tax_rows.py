"""The lines and the tax of an option on paper: each named once, tax by rate, adding up to what the option says."""

from __future__ import annotations

import pytest

from shopserv.papers.layout.common import rows_of, tax_rows

pytestmark = pytest.mark.once

PARTS = [["state", 55_000], ["county", 7_500]]


def line(price, rate):
    return {"price_cents": price, "is_taxed": bool(rate), "tax_rate_ppm": rate}


def test_one_rate_names_its_jurisdictions():
    [row] = tax_rows([line(12_208, 62_500), line(1_105, 62_500), line(27_000, 0)], 832, "USD", PARTS)

    assert (row["rate"], row["base"], row["tax"]) == ("6.25 %", "$133.13", "$8.32")
    assert row["named"] == "state 5.5 %, county 0.75 %"
    assert tax_rows([line(12_208, 62_500)], 763, "USD", PARTS[:1])[0]["named"] == ""
    assert tax_rows([line(27_000, 0)], 0, "USD", PARTS) == []


def test_several_rates_stand_one_below_the_other_and_add_up():
    rows = tax_rows([line(27_000, 15_000), line(12_208, 62_500), line(1_105, 77_500)], 1_254, "USD", PARTS)

    assert [(row["rate"], row["base"], row["tax"], row["named"]) for row in rows] == [
        ("1.5 %", "$270.00", "$4.05", ""),
        ("6.25 %", "$122.08", "$7.63", ""),
        ("7.75 %", "$11.05", "$0.86", ""),
    ]


def test_the_highest_rate_carries_the_cent_of_an_addition():
    rows = tax_rows([line(100, 15_000), line(100, 62_500)], 7, "USD", PARTS)

    assert [row["tax"] for row in rows] == ["$0.02", "$0.05"]  # alone 0.06 on the second


def test_an_operation_is_named_once():
    row = {
        "kind": "labor", "text": "adaptation run", "number": "adaptation run", "condition": "", "detail": {},
        "unit": "h",
        "quantity_thousandths": -300, "unit_price_cents": 15_000, "price_cents": -4_500, "is_taxed": False,
    }  # fmt: skip

    [shown] = rows_of([row], title="t", method="m", shop={"units_first": "us", "currency": "USD"})

    assert (shown["text"], shown["number"], shown["quantity"], shown["price"]) == (
        "adaptation run",
        "",
        "−0.3 h",
        "−$45.00",
    )
