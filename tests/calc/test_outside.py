"""Our own checks against the outside: every file of checks agrees and says where it comes from."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

from shopserv.calc import figures

FOLDER = Path(__file__).parent / "checks"
PUBLIC = FOLDER / "public.json"
FILES = sorted(path for path in FOLDER.glob("*.json") if path != PUBLIC)
KINDS = {"published", "worked-example", "dataset", "library", "identity", "common-practice", "memory"}


def checks(path):
    return figures.load(path.read_bytes())["checks"]


OWN = [check for path in FILES for check in checks(path)]


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_whole_file_agrees(path):
    report = figures.run_checks(figures.load(path.read_bytes()))

    assert report.lines() == [f"{report.total} of {report.total} agree"]


def test_there_are_more_checks_of_our_own_than_the_contract_has():
    assert len(OWN) >= 2 * len(checks(PUBLIC))


def test_each_check_is_named_once_and_says_where_it_comes_from():
    assert [name for name, times in Counter(check["id"] for check in OWN).items() if times > 1] == []
    assert [check["id"] for check in OWN if check["kind"] not in KINDS or len(check["source"]) < 12] == []


def test_every_quantity_of_the_contract_has_checks_of_its_own():
    assert {check["quantity"] for check in OWN} == set(figures.REGISTRY)


def test_most_checks_come_from_outside():
    """A quarter at most is worked from the definition, from memory or common practice."""
    inside = [check for check in OWN if check["kind"] in ("identity", "memory", "common-practice")]

    assert len(inside) <= len(OWN) / 4


def test_none_repeats_a_check_of_the_contract():
    def asked(check):
        return json.dumps([check["quantity"], check["given"], check.get("vary"), check.get("over")], sort_keys=True)

    known = {asked(check) for check in checks(PUBLIC)}

    assert [check["id"] for check in OWN if asked(check) in known] == []


def is_value(check):
    """Whether a number with a tolerance or without is expected; not a text, date, count or error."""
    expect = check.get("expect")
    return isinstance(expect, str) and expect[:1] in "+-0123456789" and expect[4:5] != "-" and "/" not in expect[:4]


def test_no_tolerance_is_so_wide_that_a_wrong_figure_would_pass():
    """Each expected number, made wrong by a tenth (by one from zero, by a cent at least), must be found."""
    wrong = []
    for check in filter(is_value, OWN):
        figure, blank, unit = check["expect"].partition(" ")
        if unit in ("degC", "degF") or not figures_of(figure):
            continue  # a share of a temperature says nothing
        moved = float(figure) * 1.1 if float(figure) else 1.0
        cents = f"{moved if abs(moved - float(figure)) > 0.01 else float(figure) + 0.01:.2f} USD"
        wrong.append(check | {"expect": cents if unit == "USD" else f"{moved!r}{blank}{unit}"})

    report = figures.run_checks({"checks": wrong})

    assert report.total > 400
    assert report.agreed == 0


def figures_of(text):
    """Whether a text is a number."""
    try:
        return float(text) is not None
    except ValueError:
        return False
