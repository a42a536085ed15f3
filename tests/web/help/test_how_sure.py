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


def share(part: int, whole: int) -> str:
    return f"{100 * part / whole:.1f}"


def test_shares_are_those_of_the_file():
    found, kinds = how_sure(), READ["faults"]["kinds"]

    assert found.cases == f"{READ['cases']:,}"
    assert found.held == share(READ["held"], READ["cases"])
    rows = [row for kind in ("shapes", "days ahead", "readings") for row in READ[kind].values()]
    assert [(row.cases, row.held, row.before) for row in found.rows] == [
        (f"{row['cases']:,}", share(row["held"], row["cases"]), share(row["early"], row["cases"])) for row in rows
    ]
    assert found.found == share(sum(k["found"] for k in kinds.values()), sum(k["wrong"] for k in kinds.values()))
    assert "1 reading known" in [str(row.words) for row in found.rows]


def test_every_shape_and_kind_has_its_words():
    assert {*SHAPES, "one reading", *READ["faults"]["kinds"]} <= WORDS.keys()
    assert READ["shapes"].keys() == {*SHAPES, "one reading"}


@pytest.mark.django_db
def test_the_page_tells_them(cast):
    said = text_of(browser(cast.odo).get(PAGE))

    assert "How sure the due days are" in said
    assert f"it held {how_sure().held} of a hundred" in said
    assert "table VM-1M" in said
