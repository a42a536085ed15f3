"""The help's table of what the calculation is checked against: made from the files of checks, and current."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from shopserv.web.help.checked import KINDS, checked
from tests.web.help.test_help import PAGE, text_of
from tests.web.office.conftest import browser

ROOT = Path(__file__).parents[3]
CHECKS = ROOT / "tests" / "calc" / "checks"


@pytest.mark.once
def test_the_table_is_the_one_that_the_checks_give(monkeypatch):
    """Else: .venv/bin/python scripts/checked.py"""
    monkeypatch.setattr(sys, "path", [str(ROOT / "scripts"), *sys.path])
    import checked as script

    assert script.TABLE.read_text("utf-8") == script.text()


@pytest.mark.once
def test_it_counts_every_check():
    counts = {path.name: len(json.loads(path.read_bytes())["checks"]) for path in CHECKS.glob("*.json")}
    contract = counts.pop("public.json")
    table = checked()

    assert (table.own, table.contract) == (sum(counts.values()), contract)
    assert sum(work.checks for work in table.works) == table.own
    kinds = [check["kind"] for path in CHECKS.glob("*.json") if path.name != "public.json"
             for check in json.loads(path.read_bytes())["checks"]]  # fmt: skip
    assert table.outside == sum(kinds.count(kind) for kind in ("published", "dataset", "library"))
    assert table.apart == kinds.count("worked-example")
    assert (table.itself, table.memory, table.practice) == tuple(
        kinds.count(kind) for kind in ("identity", "memory", "common-practice")
    )
    assert table.outside + table.apart + table.itself + table.memory + table.practice == table.own
    assert {work.kind for work in table.works} <= set(KINDS)


@pytest.mark.django_db
def test_the_page_names_each_work(cast):
    text = text_of(browser(cast.tobin).get(PAGE))
    table = checked()

    assert f"{table.own} checks of our own: {table.outside} against published figures" in text
    assert f"{table.itself} of laws that the program must keep by itself, {table.memory} against figures" in text
    assert [work.name for work in table.works if f"{work.checks} {work.name} {work.kind_words}" not in text] == []
