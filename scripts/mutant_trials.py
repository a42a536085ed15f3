"""How a mutant is tried: in a fork, on the tests that can see it, the nearest first, until one fails.

A fault in the body of a function is put into the function as it is loaded, in a fork of a process that has collected
the tests and knows which of them run through which line. A fault elsewhere (a table, a constant, a default) is tried on
a fresh import of the calculation and of the tests, so that whatever is worked out at import sees it; so is a fault in a
function that runs at import, too, where it lived in place, and one that cannot be put in place.
"""

from __future__ import annotations

import ast
import importlib.util
import os
import resource
import signal
import sys
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from enum import IntEnum
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from mutants import NO_FAULT, Mutant, mutated

ROOT = Path(__file__).resolve().parents[1]
CALC = ROOT / "shopserv" / "calc"
TESTS = ROOT / "tests" / "calc"
OPTIONS = ["-c", os.devnull, f"--rootdir={ROOT}", "--noconftest", "-q", "--no-header", "--import-mode=importlib"]
OPTIONS += ["-m", "not once", "-o", "markers=once\ncontrol", "-W", "error", "-p", "no:cacheprovider"]
OPTIONS += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # of plugins, which are loaded before they are forked
OPTIONS += [word for name in ("django", "xdist", "cov", "playwright") for word in ("-p", f"no:{name}")]
SECONDS, MEMORY = 5, 3 * 2**30  # of processor time over what a test needs; bytes
CANNOT_BE_PUT = (StopIteration, KeyError, TypeError, ValueError)


class Answer(IntEnum):
    """What came of a trial; as the exit status of its fork."""

    LIVED = 0
    FOUND = 1
    NOT_TRIED = 2


def settle() -> None:
    """Paths and the property tests' settings, the same in every process: the same cases, no clock, no shrinking."""
    for path in (ROOT, ROOT / "scripts"):
        sys.path.insert(0, str(path))
    from hypothesis import Phase, settings

    settings.register_profile(
        "mutants", derandomize=True, deadline=None, database=None, phases=[Phase.explicit, Phase.generate]
    )
    settings.load_profile("mutants")


class Pool:
    """Forks that each answer one question with their exit status."""

    def __init__(self, most: int) -> None:
        self.most, self.running = most, dict[int, Mutant]()
        self.answers = dict[Mutant, Answer]()

    def ask(self, mutant: Mutant, work: Callable[[], Answer]) -> None:
        """Start a fork, of which nothing is seen but its answer."""
        while len(self.running) >= self.most:
            self.wait()
        sys.stdout.flush()
        pid = os.fork()
        if pid:
            self.running[pid] = mutant
            return
        answer = Answer.NOT_TRIED
        try:
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, 1)
            os.dup2(nowhere, 2)
            answer = work()
        finally:
            os._exit(answer)

    def wait(self) -> None:
        """Take the answer of one fork; one that was ended for its processor time has found its fault."""
        pid, status = os.wait()
        code = os.waitstatus_to_exitcode(status)
        is_answer = code in list(Answer)
        late = Answer.FOUND if code == -signal.SIGXCPU else Answer.NOT_TRIED
        self.answers[self.running.pop(pid)] = Answer(code) if is_answer else late

    def finish(self) -> dict[Mutant, Answer]:
        """All answers."""
        while self.running:
            self.wait()
        return self.answers


def bound(seconds: float) -> None:
    """End this process when it takes so much more processor time than it has taken until now."""
    most = resource.getrlimit(resource.RLIMIT_CPU)[1]
    resource.setrlimit(resource.RLIMIT_CPU, (int(time.process_time() + seconds) + 1, most))


def passes(item: pytest.Item, seconds: float) -> bool:
    """Run one test; it may take twice as long as it needs, and some seconds."""
    from _pytest.runner import runtestprotocol

    bound(2 * seconds + SECONDS)
    return not any(report.failed for report in runtestprotocol(item, log=False, nextitem=None))


# Which tests can see a module


def imports(path: Path) -> set[str]:
    """Names of modules of the calculation, and of files of its tests ("tests.calc.worked"), that a file imports."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module, *(f"{node.module}.{one.name}" for one in node.names)}
        elif isinstance(node, ast.Import):
            found |= {one.name for one in node.names}
    return found


def tests_of(name: str, files: Iterable[Path]) -> list[list[Path]]:
    """Files of tests that can see a module: its own, those that import it, those that import what imports it, and on.

    A file that imports nothing by name may see all, and comes last.
    """
    paths = {f"shopserv.calc.{path.stem}": path for path in CALC.glob("*.py")}
    paths |= {f"tests.calc.{path.stem}": path for path in TESTS.glob("*.py")}
    paths |= {f"scripts.{path.stem}": path for path in (ROOT / "scripts").glob("*.py")}
    asked = {one: imports(path) & paths.keys() for one, path in paths.items()}
    rounds, seen = [{f"shopserv.calc.{name}"}], {f"shopserv.calc.{name}"}
    while further := {one for one in asked.keys() - seen if asked[one] & rounds[-1]}:
        rounds.append(further)
        seen |= further
    rounds.append({one for one, of in asked.items() if not of} - seen)
    files = sorted(files)
    own = [path for path in files if path.stem == f"test_{name}" or path.stem.startswith(f"test_{name}_")]
    others = [[path for path in files if f"tests.calc.{path.stem}" in of and path not in own] for of in rounds]
    return [group for group in (own, *others) if group]


# Faults outside of functions


class Replaced:
    """Imports one module with a fault in it."""

    def __init__(self, name: str, source: str, number: int) -> None:
        self.name, self.source, self.number = f"shopserv.calc.{name}", source, number
        self.path = CALC / f"{name}.py"

    def find_spec(self, name: str, path: object = None, target: object = None) -> Any:
        """Ours for the one module, nothing for the others."""
        if name != self.name:
            return None
        return importlib.util.spec_from_loader(name, self, origin=str(self.path))  # type: ignore[arg-type]

    def create_module(self, spec: object) -> None:
        """The usual one."""

    def exec_module(self, module: Any) -> None:
        """Run the module with its fault."""
        module.__file__ = str(self.path)
        exec(compile(mutated(self.source, self.number), str(self.path), "exec"), module.__dict__)  # noqa: S102  our own


class InOrder:
    """A pytest plugin: the quick tests first, each within its time, none that fails without any fault."""

    def __init__(self, seconds: dict[str, float], failed: Iterable[str]) -> None:
        self.seconds, self.failed = seconds, set(failed)

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Put them in order."""
        items[:] = sorted(
            (one for one in items if one.nodeid not in self.failed), key=lambda one: self.seconds.get(one.nodeid, 0)
        )

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> None:
        """Bound the time of the next test."""
        bound(2 * self.seconds.get(item.nodeid, SECONDS) + SECONDS)


def tried_at_import(replaced: Replaced, groups: Iterable[Iterable[Path]], plugin: InOrder) -> Answer:
    """Import everything anew with the fault, and run the tests group by group until one fails."""
    if any(name.startswith("shopserv.") for name in sys.modules):
        return Answer.NOT_TRIED
    sys.meta_path.insert(0, replaced)
    for group in groups:
        if not (paths := [str(path) for path in group]):
            continue
        bound(len(paths) + 4 * SECONDS)
        status = pytest.main([*OPTIONS, "-x", *paths], plugins=[plugin])
        if status in (pytest.ExitCode.TESTS_FAILED, pytest.ExitCode.INTERRUPTED):  # the latter: cannot be imported
            return Answer.FOUND
        if status not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
            return Answer.NOT_TRIED
    return Answer.LIVED


# Faults in functions


def put_in_place(name: str, source: str, mutant: Mutant) -> None:
    """Give the function as it is loaded the code with the fault."""
    code = compile(mutated(source, mutant.number), str(CALC / f"{name}.py"), "exec")
    target: Any = sys.modules[f"shopserv.calc.{name}"]
    for part in mutant.function.split("."):
        code = next(c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == part)
        target = vars(target)[part]
    function_of(target).__code__ = code


def function_of(target: Any) -> FunctionType:
    """The plain function in a property, class method or wrapper."""
    for name in ("fget", "__func__", "__wrapped__"):
        target = getattr(target, name, None) or target
    if not isinstance(target, FunctionType):
        raise TypeError(f"{target} has no code of its own")
    return target


def tried_in_place(
    name: str, source: str, mutant: Mutant, items: list[pytest.Item], seconds: dict[str, float]
) -> Answer:
    """Put the fault in place, and run the tests until one fails."""
    try:
        put_in_place(name, source, mutant)
    except CANNOT_BE_PUT:
        return Answer.NOT_TRIED
    return Answer.LIVED if all(passes(item, seconds[item.nodeid]) for item in items) else Answer.FOUND


def tried_without_fault(
    name: str, source: str, faults: list[Mutant], items: list[pytest.Item], seconds: dict[str, float]
) -> Answer:
    """The control: all functions as they are, put in place in the same way, pass their tests."""
    for function in dict.fromkeys(one.function for one in faults):
        with suppress(*CANNOT_BE_PUT):
            put_in_place(name, source, Mutant(NO_FAULT, 0, "", function))
    return Answer.LIVED if all(passes(item, seconds[item.nodeid]) for item in items) else Answer.FOUND
