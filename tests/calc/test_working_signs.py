"""Symbols, units, provenance and formulas of the workings, read through by eye and held here; their words are free.

Else: KEEP_SIGNS=1 with this test writes tests/calc/working_signs.json anew; read what changed before it is kept.
"""

from __future__ import annotations

import json
import os
from fractions import Fraction
from pathlib import Path

import pytest

from shopserv.calc import working
from shopserv.calc.band_working import band_working
from tests.calc import test_balance, test_band_working, test_bench, test_cooling

KEPT = Path(__file__).parent / "working_signs.json"
MADE = {
    "level budget": lambda: test_bench.budget().working,
    "flow proof": lambda: test_bench.proof().working,
    "balance": lambda: test_balance.reckoned(test_balance.worked_example()).working,
    "cool-down clock": lambda: test_cooling.clock(test_cooling.THREE).working,
    "band of a due day": lambda: band_working(test_band_working.READINGS, Fraction(3000), "mi", Fraction(28)),
}


def signs(made):
    """What stands around the figures of a working: one line each."""
    said = made if isinstance(made, working.Working) else working.from_dict(made)
    return [
        said.unit,
        *said.formulas,
        *(f"{one.symbol} | {one.unit} | {one.provenance}" for one in said.given),
        *(f"{one.formula} | {one.unit}" for one in said.steps),
        *(one.unit for one in said.changes),
    ]


@pytest.mark.parametrize("name", MADE)
def test_each_figure_of_a_working_keeps_its_symbol_unit_and_provenance(name):
    if os.environ.get("KEEP_SIGNS"):
        KEPT.write_text(
            json.dumps({one: signs(make()) for one, make in MADE.items()}, indent=1, ensure_ascii=False) + "\n"
        )

    assert signs(MADE[name]()) == json.loads(KEPT.read_text("utf-8"))[name]
