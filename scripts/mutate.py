#!/usr/bin/env python3
"""`make mutants`: sets small faults into shopserv/calc, one at a time, and counts which of them the tests find.

Usage: mutate.py [-p PROCESSES] [-o FOLDER] [-n] [MODULE ...]      all modules of shopserv/calc unless some are named

A fault in the body of a function is tried in a fork of a process that has collected the tests once, on the tests that
run through its line. A fault elsewhere is tried on a fresh import, first on the module's own tests, then on the others.
A mutant counts as found when a test fails, or when it takes far more processor time or memory than the module does.
What is left must be named with its reason in tests/calc/mutants.json; the exit status tells whether that is so and
whether 90 % are found.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import resource
import sys
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from mutants import Mutant, mutants, mutated

ROOT = Path(__file__).resolve().parents[1]
CALC = ROOT / "shopserv" / "calc"
TESTS = ROOT / "tests" / "calc"
KNOWN = TESTS / "mutants.json"
OPTIONS = ["-c", os.devnull, f"--rootdir={ROOT}", "--noconftest", "-q", "--no-header", "--import-mode=importlib"]
OPTIONS += ["-m", "not once", "-o", "markers=once\ncontrol", "-W", "error", "-p", "no:cacheprovider"]
OPTIONS += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # of plugins, which are loaded before they are forked
OPTIONS += [word for name in ("django", "xdist", "cov", "playwright") for word in ("-p", f"no:{name}")]
NOT_MUTATED = {"__init__"}
LEAST_SHARE = 0.90
NO_FAULT = -1
OF_ALL = ("figures", "outside", "public_checks", "properties")  # tests that run through all of the contract
WORTH = 8.0  # seconds of processor time for the tests of one mutant
SECONDS, MEMORY = 5, 3 * 2**30  # of processor time over what the tests need; bytes


def settle() -> None:
    """Paths and the property tests' settings, the same in every process: the same cases, no clock, no shrinking."""
    for path in (ROOT, ROOT / "scripts"):
        sys.path.insert(0, str(path))
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutants", derandomize=True, deadline=None, database=None, phases=[Phase.explicit, Phase.generate]
    )
    settings.load_profile("mutants")


def limit(seconds: float) -> None:
    """End this process when it runs wild, and let nothing of it be seen."""
    resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + SECONDS, int(seconds) + SECONDS + 5))
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)


class Pool:
    """Forks that each answer one question with their exit status: 0 for a mutant that lived."""

    def __init__(self, most: int) -> None:
        self.most, self.running = most, dict[int, Mutant]()
        self.lived: list[Mutant] = []

    def ask(self, mutant: Mutant, work: Callable[[], bool], seconds: float) -> None:
        """Start a fork; `work` returns whether the mutant lived."""
        while len(self.running) >= self.most:
            self.wait()
        sys.stdout.flush()
        pid = os.fork()
        if pid:
            self.running[pid] = mutant
            return
        lived = False
        try:
            limit(seconds)
            lived = work()
        finally:
            os._exit(0 if lived else 1)

    def wait(self) -> None:
        """Take the answer of one fork."""
        pid, status = os.wait()
        mutant = self.running.pop(pid)
        if status == 0:
            self.lived.append(mutant)

    def finish(self) -> list[Mutant]:
        """All answers: the mutants that lived."""
        while self.running:
            self.wait()
        return sorted(self.lived, key=lambda one: one.number)


# Faults outside of functions


class Replaced:
    """Imports one module with a fault in it."""

    def __init__(self, name: str, number: int) -> None:
        self.name, self.number = f"shopserv.calc.{name}", number
        self.path = CALC / f"{name}.py"

    def find_spec(self, name: str, path: object = None, target: object = None) -> Any:
        """Ours for the one module, nothing for the others."""
        import importlib.util

        if name != self.name:
            return None
        return importlib.util.spec_from_loader(name, self, origin=str(self.path))  # type: ignore[arg-type]

    def create_module(self, spec: object) -> None:
        """The usual one."""

    def exec_module(self, module: Any) -> None:
        """Run the module with its fault."""
        module.__file__ = str(self.path)
        source = self.path.read_text()
        tree = ast.parse(source) if self.number == NO_FAULT else mutated(source, self.number)
        exec(compile(tree, str(self.path), "exec"), module.__dict__)  # noqa: S102  our own source


def lives_when_imported(name: str, number: int, is_thorough: bool) -> bool:
    """Whether all tests (or only those near the module) pass on a fresh import with the fault."""
    sys.meta_path.insert(0, Replaced(name, number))
    tests = sorted(TESTS.glob("test_*.py"))
    own = [path for path in tests if path.stem == f"test_{name}"]
    near = [path for path in tests if path not in own and any(word in path.stem for word in OF_ALL)]
    far = [path for path in tests if path not in own and path not in near]
    groups = (own, near, far) if is_thorough else (own, near)
    return all(pytest.main([*OPTIONS, "-x", *map(str, group)]) in (0, 5) for group in groups if group)


# Faults in functions


class Collected:
    """A pytest plugin: once the tests are collected, tries the mutants in forks instead of running the tests."""

    def __init__(self, chosen: dict[str, list[Mutant]], most: int, report: Callable[[str, list[Mutant]], None]) -> None:
        self.chosen, self.most, self.report = chosen, most, report
        self.unseen: list[tuple[str, int]] = []  # run through at import only, if at all

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """In place of pytest's own loop."""
        if session.testsfailed:
            raise SystemExit("The tests could not be collected.")
        through, seconds = ways(session.items)
        for name, group in self.chosen.items():
            pool = Pool(self.most)
            for mutant in group:
                found = through.get((name, mutant.line), set())
                items = sorted(
                    (item for item in session.items if item.nodeid in found), key=lambda i: seconds[i.nodeid]
                )
                work = lives_in_place(name, mutant, items)
                pool.ask(mutant, work, 2 * sum(seconds[item.nodeid] for item in items))
            self.report(name, pool.finish())
        return True


def within(items: list[pytest.Item], seconds: dict[str, float]) -> list[pytest.Item]:
    """As many of the tests, in their order, as a mutant is worth; what only the others would find counts as lived."""
    spent, some = 0.0, []
    for item in items:
        if spent + seconds[item.nodeid] <= WORTH:
            spent += seconds[item.nodeid]
            some.append(item)
    return some


def lives_in_place(name: str, mutant: Mutant, items: list[pytest.Item]) -> Callable[[], bool]:
    """A question: put the fault into the function as it is loaded, and see whether its tests pass."""

    def work() -> bool:
        path = CALC / f"{name}.py"
        code = compile(mutated(path.read_text(), mutant.number), str(path), "exec")
        target: Any = sys.modules[f"shopserv.calc.{name}"]
        for part in mutant.function.split("."):
            code = next(c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == part)
            target = vars(target)[part]
        function_of(target).__code__ = code
        return all(passes(item) for item in items)

    return work


def function_of(target: Any) -> FunctionType:
    """The plain function in a property, class method or wrapper."""
    for name in ("fget", "__func__", "__wrapped__"):
        target = getattr(target, name, None) or target
    return target


def passes(item: pytest.Item) -> bool:
    """Run one test."""
    from _pytest.runner import runtestprotocol

    return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


def ways(items: list[pytest.Item]) -> tuple[dict[tuple[str, int], set[str]], dict[str, float]]:
    """Which tests run through which line of which module, and the processor seconds of each; from one clean run."""
    import time

    from coverage import Coverage

    coverage = Coverage(data_file=None, include=[f"{CALC}/*"], config_file=False)
    seconds: dict[str, float] = {}
    failed: set[str] = set()
    coverage.start()
    for item in items:
        coverage.switch_context(item.nodeid)
        begun = time.process_time()
        if not passes(item):
            print(f"{item.nodeid} fails without any fault: left out.", flush=True)
            failed.add(item.nodeid)
        seconds[item.nodeid] = time.process_time() - begun
    coverage.stop()
    data = coverage.get_data()
    through: dict[tuple[str, int], set[str]] = {}
    for path in data.measured_files():
        for line, contexts in data.contexts_by_lineno(path).items():
            through[Path(path).stem, line] = set(contexts) - failed
    return through, seconds


# The report


class Book:
    """What came of each module; written down as it comes."""

    def __init__(self, folder: Path, all_of: dict[str, list[Mutant]]) -> None:
        self.folder, self.all_of = folder, all_of
        self.lived: dict[str, list[Mutant]] = {name: [] for name in all_of}
        folder.mkdir(parents=True, exist_ok=True)

    def add(self, name: str, lived: list[Mutant]) -> None:
        """Some of a module's mutants lived."""
        self.lived[name] = sorted([*self.lived[name], *lived], key=lambda one: one.number)
        lines = (CALC / f"{name}.py").read_text().splitlines()
        rows = [
            {"line": m.line, "text": lines[m.line - 1].strip(), "what": m.what, "function": m.function}
            for m in self.lived[name]
        ]
        (self.folder / f"{name}.json").write_text(
            json.dumps({"module": name, "mutants": len(self.all_of[name]), "lived": rows}, indent=1)
        )
        print(f"{name:<18} {len(self.all_of[name]) - len(rows)} of {len(self.all_of[name])} found so far", flush=True)

    def unexplained(self) -> list[str]:
        """Mutants that lived without a reason in the list."""
        known = Counter(
            (one["module"], one["text"], one["what"])
            for one in (json.loads(KNOWN.read_text()) if KNOWN.exists() else [])
            for _ in range(one.get("times", 1))
        )
        left = []
        for name, lived in self.lived.items():
            lines = (CALC / f"{name}.py").read_text().splitlines()
            for mutant in lived:
                key = (name, lines[mutant.line - 1].strip(), mutant.what)
                if known[key]:
                    known[key] -= 1
                else:
                    left.append(f"{name}.py:{mutant.line}: {mutant.what}    {key[1]}")
        return left

    def close(self) -> int:
        """Print what there is to know; the exit status."""
        total, lived = sum(map(len, self.all_of.values())), sum(map(len, self.lived.values()))
        left = self.unexplained()
        print("\n".join(left))
        share = (total - lived) / total if total else 1.0
        print(f"{total - lived} of {total} mutants found, {share:.1%}; {len(left)} that lived have no reason yet.")
        return 0 if share >= LEAST_SHARE and not left else 1


def in_functions(all_of: dict[str, list[Mutant]], most: int, book: Book, tests: list[Path]) -> set[tuple[str, int]]:
    """The faults in functions, in a process of its own, so that this one never loads the calculation.

    returns   those that no test runs through, to be tried at import
    """
    inside = {name: [one for one in group if one.function] for name, group in all_of.items()}
    answers = book.folder / "functions.json"
    pid = os.fork()
    if pid == 0:
        found: dict[str, list[int]] = {}

        def report(name: str, lived: list[Mutant]) -> None:
            found[name] = [one.number for one in lived]
            book.add(name, lived)

        plugin = Collected(inside, most, report)
        try:
            pytest.main([*OPTIONS, "-s", *map(str, tests)], plugins=[plugin])
            answers.write_text(json.dumps({"lived": found, "unseen": plugin.unseen}))
        finally:
            os._exit(0 if found.keys() == inside.keys() else 1)
    _, status = os.waitpid(pid, 0)
    if status:
        raise SystemExit("The faults in functions could not be tried.")
    answer = json.loads(answers.read_text())
    for name, numbers in answer["lived"].items():
        book.lived[name] = [one for one in inside[name] if one.number in numbers]
    return {(name, number) for name, number in answer["unseen"]}


def main() -> int:
    """Try them all."""
    words = argparse.ArgumentParser()
    words.add_argument("-p", "--processes", type=int, default=2)
    words.add_argument("-o", "--folder", type=Path, default=ROOT / "var" / "mutants")
    words.add_argument("-n", "--near", action="store_true", help="only the tests of the modules named and those of all")
    words.add_argument("-t", "--tests", action="append", default=[], help="near is also what has this in its name")
    words.add_argument("modules", nargs="*")
    said = words.parse_args()
    os.nice(15)
    settle()
    names = said.modules or sorted(path.stem for path in CALC.glob("*.py") if path.stem not in NOT_MUTATED)
    all_of = {name: mutants((CALC / f"{name}.py").read_text()) for name in names}
    book = Book(said.folder, all_of)
    import scipy.stats  # type: ignore[import-untyped]  # noqa: F401  the forks need not load it each

    tests = [TESTS]
    if said.near:
        words_of_tests = [*(f"test_{name}" for name in names), *said.tests, *OF_ALL]
        tests = [path for path in sorted(TESTS.glob("test_*.py")) if any(word in path.stem for word in words_of_tests)]
    unseen = in_functions(all_of, said.processes, book, tests)
    for name, group in all_of.items():
        whole = Mutant(NO_FAULT, 0, "no fault at all", "")
        pool = Pool(said.processes)
        for mutant in [whole, *(one for one in group if not one.function or (name, one.number) in unseen)]:
            pool.ask(mutant, partial(lives_when_imported, name, mutant.number, not said.near), 20)
        lived = pool.finish()
        if whole not in lived:
            raise SystemExit(f"The tests fail on {name} without any fault.")
        book.add(name, [one for one in lived if one is not whole])
    return book.close()


if __name__ == "__main__":
    raise SystemExit(main())
