#!/usr/bin/env python3
"""`make mutants`: sets small faults into shopserv/calc, one at a time, and counts which of them the tests find.

Usage: mutate.py [-p PROCESSES] [-o FOLDER] [-n] [-w functions|tables] [--table] [MODULE ...]

All modules of shopserv/calc unless some are named. How a fault is tried stands in mutant_trials.py. A mutant counts as
found when a test fails, or when it takes far more processor time or memory than the test does; one that could not be
tried counts as not found and is named. What is left must stand with its reason in tests/calc/mutants.json; the exit
status tells whether that is so and whether 90 % are found. `--table` prints what the folder tells, and tries nothing.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import time
from collections.abc import Callable
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from mutant_book import Book, table
from mutant_trials import (
    CALC,
    OPTIONS,
    ROOT,
    TESTS,
    Answer,
    InOrder,
    Pool,
    Replaced,
    imports,
    passes,
    settle,
    tests_of,
    tried_at_import,
    tried_in_place,
    tried_without_fault,
)
from mutants import NO_FAULT, Mutant, mutants

NOT_MUTATED = {"__init__"}
OF_ALL = ("figures", "outside", "public_checks", "properties")  # tests that run through all of the contract
HEAVY = {"iapws.iapws97", "numpy", "pint", "scipy.integrate", "scipy.optimize", "scipy.special", "scipy.stats"}
KINDS = ("functions", "tables")
Report = Callable[[str, dict[Mutant, Answer]], None]


class Collected:
    """A pytest plugin: once the tests are collected, tries the mutants in forks instead of running the tests."""

    def __init__(self, book: Book, faults: dict[str, list[Mutant]], most: int, report: Report) -> None:
        self.book, self.faults, self.most, self.report = book, faults, most, report
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()
        from coverage import Coverage

        self.coverage = Coverage(data_file=None, include=[f"{CALC}/*"], config_file=False)

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        """What is run through while the tests are collected is run through at import."""
        self.coverage.start()

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of pytest's own loop."""
        if session.testsfailed:
            return True
        through, at_import = self.ways(session.items)
        items = [one for one in session.items if one.nodeid not in self.failed]
        for name, group in self.faults.items():
            self.report(name, self.answers(name, group, items, through, at_import) if group else {})
        return True

    def ways(self, items: list[pytest.Item]) -> tuple[dict[tuple[str, int], set[str]], set[tuple[str, int]]]:
        """Which tests run through which line of which module, and which lines run at import; from one clean run."""
        for item in items:
            self.coverage.switch_context(item.nodeid)
            begun = time.process_time()
            if not passes(item, 60):
                print(f"{item.nodeid} fails without any fault: left out.", flush=True)
                self.failed.add(item.nodeid)
            self.seconds[item.nodeid] = time.process_time() - begun
        self.coverage.stop()
        data = self.coverage.get_data()
        through: dict[tuple[str, int], set[str]] = {}
        at_import = set()
        for path in data.measured_files():
            for line, contexts in data.contexts_by_lineno(path).items():
                through[Path(path).stem, line] = set(contexts) - self.failed - {""}
                if "" in contexts:
                    at_import.add((Path(path).stem, line))
        return through, at_import

    def answers(
        self,
        name: str,
        group: list[Mutant],
        items: list[pytest.Item],
        through: dict[tuple[str, int], set[str]],
        at_import: set[tuple[str, int]],
    ) -> dict[Mutant, Answer]:
        """What came of a module's faults in functions; what runs at import, too, and lived, is not tried yet."""
        source, order = self.book.sources[name], lambda one: self.seconds[one.nodeid]
        own = [item for item in items if item.path.stem == f"test_{name}"]
        control = Mutant(NO_FAULT, 0, "no fault at all", "")
        pool = Pool(self.most)
        pool.ask(control, partial(tried_without_fault, name, source, group, own, self.seconds))
        for mutant in group:
            seen = through.get((name, mutant.line), set())
            tests = sorted((item for item in items if item.nodeid in seen), key=order)
            pool.ask(mutant, partial(tried_in_place, name, source, mutant, tests, self.seconds))
        answers = pool.finish()
        is_right = answers.pop(control) is Answer.LIVED
        return {
            mutant: Answer.NOT_TRIED
            if not is_right or (answer is Answer.LIVED and (name, mutant.line) in at_import)
            else answer
            for mutant, answer in answers.items()
        }


def in_functions(book: Book, faults: dict[str, list[Mutant]], most: int, tests: list[Path]) -> dict[str, Any]:
    """The faults in functions, in a process of its own, so that this one never loads the calculation.

    returns   seconds and failed: of the tests without any fault; left: numbers of those to be tried at import
    """
    answers = book.folder / "functions.json"
    answers.unlink(missing_ok=True)
    pid = os.fork()
    if pid == 0:
        left: dict[str, list[int]] = {}

        def report(name: str, of: dict[Mutant, Answer]) -> None:
            left[name] = [one.number for one, answer in of.items() if answer is Answer.NOT_TRIED]
            if of:
                book.add(name, of)

        plugin = Collected(book, faults, most, report)
        try:
            pytest.main([*OPTIONS, "-s", *map(str, tests)], plugins=[plugin])
            if left.keys() == faults.keys():
                said = {"left": left, "seconds": plugin.seconds, "failed": sorted(plugin.failed)}
                answers.write_text(json.dumps(said))
        finally:
            os._exit(0)
    os.waitpid(pid, 0)
    if not answers.exists():
        raise SystemExit("The tests cannot be run as they are: nothing is tried.")
    answer: dict[str, Any] = json.loads(answers.read_text())
    for name in faults:
        book.read(name)
    return answer


def at_import(book: Book, name: str, faults: list[Mutant], most: int, order: InOrder, files: list[Path]) -> None:
    """The faults that a fresh import must see."""
    if not faults:
        return
    source, groups = book.sources[name], tests_of(name, files)
    before, after = (Mutant(NO_FAULT, line, "no fault at all", "") for line in (0, 1))
    pool = Pool(most)
    for mutant in (before, *faults, after):
        near = groups[:1] if mutant.number == NO_FAULT else groups
        pool.ask(mutant, partial(tried_at_import, Replaced(name, source, mutant.number), near, order))
    answers = pool.finish()
    if {answers.pop(before), answers.pop(after)} != {Answer.LIVED}:
        print(f"The tests fail on {name} without any fault: its tables are not tried.", flush=True)
        answers = dict.fromkeys(answers, Answer.NOT_TRIED)
    book.add(name, answers)


def kind_of(one: Mutant) -> str:
    """One of KINDS."""
    return "functions" if one.function else "tables"


def main() -> int:
    """Try them all."""
    words = argparse.ArgumentParser()
    words.add_argument("-p", "--processes", type=int, default=2)
    words.add_argument("-o", "--folder", type=Path, default=ROOT / "var" / "mutants")
    words.add_argument("-n", "--near", action="store_true", help="only tests that import the modules, and those of all")
    words.add_argument("-t", "--tests", action="append", default=[], help="near is also what has this in its name")
    words.add_argument("-w", "--what", choices=KINDS, help="only faults in functions, or only all others")
    words.add_argument("--table", action="store_true", help="print what the folder tells, and try nothing")
    words.add_argument("modules", nargs="*")
    said = words.parse_args()
    names = said.modules or sorted(path.stem for path in CALC.glob("*.py") if path.stem not in NOT_MUTATED)
    if said.table:
        return table(said.folder, names)
    os.nice(15)
    settle()
    kinds = (said.what,) if said.what else KINDS
    sources = {name: (CALC / f"{name}.py").read_text() for name in names}
    all_of = {name: mutants(source) for name, source in sources.items()}
    files = sorted(TESTS.glob("test_*.py"))
    for heavy in HEAVY & {one for path in files for one in imports(path)}:
        importlib.import_module(heavy)  # the forks need not load it each
    book = Book(said.folder, sources, all_of)
    if said.near:
        near = {path for name in names for path in chain.from_iterable(tests_of(name, files)[:2])}
        files = [path for path in files if path in near or any(word in path.stem for word in (*said.tests, *OF_ALL))]
    asked = {name: [one for one in group if kind_of(one) in kinds] for name, group in all_of.items()}
    book.ask(asked)
    functions = {name: [one for one in group if one.function] for name, group in asked.items()}
    clean = in_functions(book, functions, said.processes, files)
    order = InOrder(clean["seconds"], clean["failed"])
    for name, group in asked.items():
        left = set(clean["left"][name])
        faults = [one for one in group if one.number in left or not one.function]
        at_import(book, name, faults, said.processes, order, files)
    status = book.close()
    spent = os.times()
    print(f"{sum(spent[:4]) / 60:.0f} min of processor time.")
    return status


if __name__ == "__main__":
    raise SystemExit(main())
