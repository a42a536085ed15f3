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
    assert [len(part.rows) for part in found.parts] == [len(READ[k]) for k in ("shapes", "days ahead", "readings")]
    told = [row for part in found.parts for row in part.rows]
    assert [(row.cases, row.held, row.before) for row in told] == [
        (f"{row['cases']:,}", share(row["held"], row["cases"]), share(row["early"], row["cases"])) for row in rows
    ]
    late = [share(row["cases"] - row["held"] - row["early"], row["cases"]) for row in rows]
    assert [row.after for row in told] == late
    assert (found.near, found.far) == (found.parts[1].rows[0], found.parts[1].rows[-1])
    assert found.found == share(sum(k["found"] for k in kinds.values()), sum(k["wrong"] for k in kinds.values()))
    assert "1 reading known" in [str(row.words) for row in told]


def test_the_other_vehicles_stand_beside_and_the_least_and_most_are_of_both():
    found, again = how_sure(), READ["again"]
    kinds = ("shapes", "days ahead", "readings")
    told = [row.again for part in found.parts for row in part.rows]

    assert told == [share(row["held"], row["cases"]) for kind in kinds for row in again[kind].values()]
    assert (found.again_cases, found.again_held) == (f"{again['cases']:,}", share(again["held"], again["cases"]))
    every = [100 * row["held"] / row["cases"] for one in (READ, again) for kind in kinds for row in one[kind].values()]
    assert (found.least, found.most) == (f"{min(every):.1f}", f"{max(every):.1f}")
    assert found.least != found.most


def test_every_shape_and_kind_has_its_words():
    assert {*SHAPES, "one reading", *READ["faults"]["kinds"]} <= WORDS.keys()
    assert READ["shapes"].keys() == {*SHAPES, "one reading"}


@pytest.mark.django_db
def test_the_page_tells_them(cast):
    said = text_of(browser(cast.odo).get(PAGE))

    assert "How sure the due days are" in said
    assert f"it held {how_sure().held} of a hundred" in said
    assert f"held {how_sure().least} to {how_sure().most} of a hundred" in said
    near, far = how_sure().near, how_sure().far
    assert (near.before, near.after, far.before, far.after) == ("15.3", "4.0", "10.9", "11.6")
    assert (
        "of a hundred due 1 to 30 days after the last reading, 15.3 came before the early edge and 4.0 after the late "
        "one; of a hundred due 730 to 1825 days after the last reading, 10.9 and 11.6."
    ) in said
    assert [said.count(part.head) for part in how_sure().parts] == [1, 1, 1]
    assert "the published average counts: 18,054 km a vehicle and year" in said
