"""The help says how sure due days are with the figures that the calibration stored."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scripts.simulated_fleets import SHAPES
from shopserv.web.help.how_sure import WORDS, how_sure
from tests.web.help.test_help import PAGE, text_of
from tests.web.office.conftest import browser

READ = json.loads((Path(__file__).resolve().parents[3] / "fixtures" / "how_sure.json").read_text("utf-8"))


def test_shares_are_those_of_the_file():
    found = how_sure()

    assert found.cases == READ["cases"]
    assert found.held == round(100 * READ["held"] / READ["cases"], 1)
    assert [(row.cases, row.held, row.wide) for row in found.shapes] == [
        (row["cases"], round(100 * row["held"] / row["cases"], 1), row["late_over_early"])
        for row in READ["shapes"].values()
    ]
    assert found.found == round(
        100
        * sum(row["found"] for row in READ["faults"]["kinds"].values())
        / sum(row["wrong"] for row in READ["faults"]["kinds"].values()),
        1,
    )


def test_every_shape_and_kind_has_its_words():
    assert {*SHAPES, "one reading", *READ["faults"]["kinds"]} <= WORDS.keys()
    assert READ["shapes"].keys() == {*SHAPES, "one reading"}


@pytest.mark.django_db
def test_the_page_tells_them(cast):
    said = text_of(browser(cast.odo).get(PAGE))

    assert "How sure the due days are" in said
    assert f"it held {how_sure().held} of a hundred" in said
    assert "table VM-1M" in said
