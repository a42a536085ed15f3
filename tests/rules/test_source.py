"""What the guide asks of the source, read from the source."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "shopserv"
PAGES = sorted(ROOT.glob("web/**/*.py"))
DEEDS = sorted(p for p in ROOT.glob("*/services/*.py") if p.name != "__init__.py") + sorted(ROOT.glob("*/services.py"))


def functions(path):
    """Public functions of a module."""
    return [n for n in ast.parse(path.read_text()).body if isinstance(n, ast.FunctionDef) and n.name[0] != "_"]


def is_deed(function):
    """Whether it opens a transaction of its own."""
    return any(ast.unparse(d) == "transaction.atomic" for d in function.decorator_list)


@pytest.mark.parametrize("path", PAGES, ids=lambda p: str(p.relative_to(ROOT)))
def test_pages_ask_selectors_and_never_a_table(path):
    found = [
        n.lineno for n in ast.walk(ast.parse(path.read_text())) if isinstance(n, ast.Attribute) and n.attr == "objects"
    ]
    allowed = {"people.py", "tick.py"}  # the sign-in itself and the clock, before there is an actor

    assert not found or path.name in allowed


@pytest.mark.parametrize("path", DEEDS, ids=lambda p: str(p.relative_to(ROOT)))
def test_each_deed_takes_its_actor_by_name(path):
    for function in functions(path):
        if is_deed(function):
            assert "actor" in {a.arg for a in function.args.kwonlyargs}, function.name


@pytest.mark.parametrize("path", sorted(ROOT.glob("calc/*.py")), ids=lambda p: p.name)
def test_rounding_of_money_stands_in_one_module(path):
    if path.name != "money.py":
        assert "quantize(" not in path.read_text()


def test_time_is_asked_of_the_shops_clock_alone():
    asks = [p for p in ROOT.rglob("*.py") if "timezone.now(" in p.read_text() or "datetime.now(" in p.read_text()]

    assert [p.name for p in asks] == ["clock.py"]
