"""The public reference checks, each by itself, and the command that runs them. Source: each check names its own."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from shopserv.calc import figures

PUBLIC = Path(__file__).parent / "checks" / "public.json"
DOCUMENT = figures.load(PUBLIC.read_bytes())
ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("check", DOCUMENT["checks"], ids=lambda check: check["id"])
def test_the_check_agrees(check):
    report = figures.run_checks({"checks": [check]})

    assert report.lines() == ["1 of 1 agree"]


def test_every_quantity_of_the_checks_is_calculated():
    asked = {check["quantity"] for check in DOCUMENT["checks"]} - {"no_such_quantity"}

    assert asked == set(figures.REGISTRY)


def run(path, **environment):
    command = [sys.executable, "manage.py", "checkfigures", "--file", str(path)]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout.splitlines()


@pytest.mark.once
def test_the_command_needs_nothing_but_the_file():
    assert run(PUBLIC) == (0, ["335 of 335 agree"])


@pytest.mark.once
def test_the_command_names_each_check_that_fails(tmp_path):
    wrong = json.loads(PUBLIC.read_text())
    wrong["checks"] = [check for check in wrong["checks"] if check["quantity"] == "labor_charge"]
    wrong["checks"][1]["expect"] = "83.12 USD"
    path = tmp_path / "wrong.json"
    path.write_text(json.dumps(wrong))

    assert run(path) == (1, ['P-labor_charge-02: expected "83.12 USD", got 83.13 USD', "2 of 3 agree"])


@pytest.mark.once
@pytest.mark.parametrize(
    "text", ["{", "[]", '{"contract": 2, "checks": []}', '{"contract": true, "checks": []}', '{"contract": 1}', None]
)
def test_a_file_of_no_checks_gives_one_line_and_status_two(tmp_path, text):
    path = tmp_path / "bad.json"
    if text is not None:
        path.write_text(text)

    status, lines = run(path)

    assert (status, len(lines)) == (2, 1)
