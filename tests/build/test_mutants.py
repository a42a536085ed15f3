"""The script that sets faults into the calculation, on a calculation of a few lines: what it finds is what is there."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TINY = """
from dataclasses import dataclass, field

from shopserv.calc.base import HALF

SOURCE = "not looked at"
FACTORS = {"a": 10, "b": 20}
DERIVED = FACTORS["b"] * HALF
_UNUSED = 77


@dataclass(frozen=True)
class Row:
    \"\"\"A row.\"\"\"

    size: int = 3

    @property
    def double(self) -> int:
        return self.size * 2


def at_import(n):
    return n + 5


MADE = at_import(1)


def scaled(x, by=4):
    return x * by * FACTORS["a"]


def loops(n):
    while n < 8:
        n += 1
    return n


def unseen(x):
    return x + 9
"""
TESTS = """
import pytest

from shopserv.calc import tiny


def test_them():
    assert tiny.scaled(2) == 80
    assert tiny.Row().size == 3 and tiny.Row(1).double == 2
    assert tiny.loops(5) == 8


@pytest.mark.parametrize("value", [tiny.DERIVED])
def test_of_import(value):
    assert value == 10.0 and tiny.MADE == 6
"""
BASE_TESTS = """
from shopserv.calc.base import HALF


def test_it():
    assert HALF == HALF


def test_that_always_fails():
    assert False
"""
pytestmark = pytest.mark.once


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small calculation, its tests and the script."""
    root = tmp_path_factory.mktemp("mutants")
    for folder in ("scripts", "shopserv/calc", "tests/calc"):
        (root / folder).mkdir(parents=True)
    for name in ("mutate", "mutants", "mutant_trials", "mutant_book"):
        shutil.copy(ROOT / "scripts" / f"{name}.py", root / "scripts")
    trials = root / "scripts/mutant_trials.py"
    assert "SECONDS, MEMORY = 5," in trials.read_text()
    trials.write_text(trials.read_text().replace("SECONDS, MEMORY = 5,", "SECONDS, MEMORY = 1,"))
    for folder in ("shopserv", "shopserv/calc", "tests", "tests/calc"):
        (root / folder / "__init__.py").write_text("")
    (root / "shopserv/calc/base.py").write_text("HALF = 1 / 2\n")
    (root / "shopserv/calc/tiny.py").write_text(TINY)
    (root / "tests/calc/test_tiny.py").write_text(TESTS)
    (root / "tests/calc/test_base.py").write_text(BASE_TESTS)
    known = [{"module": "tiny", "text": "_UNUSED = 77", "what": "77 -> 78", "reason": "nothing reads it"}]
    (root / "tests/calc/mutants.json").write_text(json.dumps(known))
    return root


@pytest.fixture(scope="module")
def ran(place: Path) -> subprocess.CompletedProcess[str]:
    """The script, once over all of it."""
    return run(place)


def run(place: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "scripts/mutate.py", "-p", "1", "-o", str(place / "out"), *words]
    return subprocess.run(command, cwd=place, capture_output=True, text=True, check=False, timeout=100)


def lived(place: Path) -> set[tuple[str, str]]:
    return {(row["text"], row["what"]) for row in json.loads((place / "out/tiny.json").read_text())["lived"]}


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ('FACTORS = {"a": 10, "b": 20}', "10 -> 11"),  # an entry of a table that a function reads
        ('FACTORS = {"a": 10, "b": 20}', "20 -> 21"),  # one that only another constant is worked out from
        ('DERIVED = FACTORS["b"] * HALF', "Mult -> Div"),  # a constant that a list of cases read at import
        ("size: int = 3", "3 -> 4"),  # a default of a dataclass
        ("return self.size * 2", "Mult -> Div"),  # in a property
        ("def scaled(x, by=4):", "4 -> 5"),  # a default of a function
        ("return n + 5", "5 -> 6"),  # in a function that runs at import only
        ("n += 1", "Add= -> Sub="),  # never ends
    ],
)
def test_a_fault_of_each_kind_is_found(ran, place, text, what):
    from scripts.mutants import mutants

    assert what in {one.what for one in mutants(TINY) if TINY.splitlines()[one.line - 1].strip() == text}
    assert (text, what) not in lived(place)


def test_what_no_test_can_see_lives(ran, place):
    unseen = {("return x + 9", "returns None"), ("return x + 9", "Add -> Sub"), ("return x + 9", "9 -> 10")}
    assert lived(place) == unseen | {("_UNUSED = 77", "77 -> 78")}


def test_a_constant_of_a_module_without_tests_that_see_it_is_found_by_those_of_what_imports_it(ran, place):
    assert json.loads((place / "out/base.json").read_text())["lived"] == []


def test_it_tells_what_is_left(ran):
    assert ran.returncode == 1
    assert "test_that_always_fails fails without any fault: left out." in ran.stdout
    assert "tiny.py:41: 9 -> 10    return x + 9" in ran.stdout
    assert "77" not in ran.stdout  # its reason is in the list
    assert "27 of 31 mutants found, 87.1%; 3 that lived have no reason; 0 not tried." in ran.stdout


def test_only_a_part_is_tried_and_the_rest_is_not_counted(ran, place):
    (place / "out/base.json").unlink()
    said = run(place, "-w", "functions", "base")
    assert said.returncode == 1
    assert "0 of 0 mutants found, 0.0%; 0 that lived have no reason; 3 not tried." in said.stdout
    table = run(place, "--table").stdout
    assert "| base | 0 | 0 |\n| tiny | 24 | 28 |" in table
    assert "24 of 28 mutants found, 85.7%; 3 that lived have no reason; 3 not tried." in table
    changed = place / "shopserv/calc/tiny.py"
    changed.write_text(changed.read_text() + "MORE = 1\n")
    assert "Changed since: tiny." in run(place, "--table").stdout


def test_where_the_tests_cannot_be_run_nothing_is_tried(ran, place):
    tests = place / "tests/calc/test_tiny.py"
    tests.write_text(tests.read_text() + "\n\nassert tiny.__file__ == 'elsewhere'\n")
    said = run(place, "-w", "tables", "tiny")
    assert said.returncode
    assert len(json.loads((place / "out/tiny.json").read_text())["not_tried"]) == 29
    assert "The tests cannot be run as they are: nothing is tried." in said.stderr
