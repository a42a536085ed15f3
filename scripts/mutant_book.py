"""What came of the mutants of each module, written down as it comes, and told in words."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

from mutant_trials import CALC, TESTS, Answer
from mutants import Mutant

KNOWN = TESTS / "mutants.json"
LEAST_SHARE = 0.90


class Book:
    """The answers, one file a module; what an earlier run of the same source told of other mutants is kept."""

    def __init__(self, folder: Path, sources: dict[str, str], all_of: dict[str, list[Mutant]]) -> None:
        self.folder, self.sources, self.all_of = folder, sources, all_of
        self.answers: dict[str, dict[Mutant, Answer]] = {}
        self.asked: dict[str, list[Mutant]] = {}
        folder.mkdir(parents=True, exist_ok=True)

    def ask(self, asked: dict[str, list[Mutant]]) -> None:
        """Begin a run that tries these: what was told of them before is forgotten."""
        self.asked = asked
        for name, group in asked.items():
            self.read(name)
            for one in group:
                self.answers[name].pop(one, None)
            self.write(name)

    def read(self, name: str) -> None:
        """Take what is written down of a module as it is now."""
        path, numbered = self.folder / f"{name}.json", {one.number: one for one in self.all_of[name]}
        self.answers[name] = {}
        said = json.loads(path.read_text()) if path.exists() else {}
        if said.get("source") == self.sources[name]:
            lived = {row["number"] for row in said["lived"]}
            for number in numbered.keys() - set(said["not_tried"]):
                self.answers[name][numbered[number]] = Answer.LIVED if number in lived else Answer.FOUND

    def told(self, name: str) -> dict[str, Any]:
        """What is known of a module, as it is written down."""
        lines, answers = self.sources[name].splitlines(), self.answers[name]
        rows = [
            {
                "number": one.number,
                "line": one.line,
                "text": lines[one.line - 1].strip(),
                "what": one.what,
                "function": one.function,
            }
            for one in self.all_of[name]
            if answers.get(one) is Answer.LIVED
        ]
        rest = [one.number for one in self.all_of[name] if answers.get(one, Answer.NOT_TRIED) is Answer.NOT_TRIED]
        count = len(self.all_of[name])
        return {"module": name, "mutants": count, "lived": rows, "not_tried": rest, "source": self.sources[name]}

    def write(self, name: str) -> dict[str, Any]:
        """Write it down."""
        told = self.told(name)
        (self.folder / f"{name}.json").write_text(json.dumps(told, indent=1))
        return told

    def add(self, name: str, answers: dict[Mutant, Answer]) -> None:
        """Some of a module's mutants have been tried."""
        self.answers[name] |= answers
        told = self.write(name)
        rest = f", {len(told['not_tried'])} not tried yet" if told["not_tried"] else ""
        print(f"{name:<18} {tried(told) - len(told['lived'])} of {tried(told)} found{rest}", flush=True)

    def close(self) -> int:
        """Print what there is to know; the exit status."""
        told = [self.told(name) for name in self.all_of]
        for name, group in self.asked.items():
            for one in group:
                if self.answers[name].get(one, Answer.NOT_TRIED) is Answer.NOT_TRIED:
                    print(f"{name}.py:{one.line}: {one.what}    could not be tried")
        left = unexplained(told)
        print("\n".join([*left, summary(told, len(left))]))
        return 0 if share(told) >= LEAST_SHARE and not left else 1


def tried(one: dict[str, Any]) -> int:
    """How many mutants of a module have an answer."""
    return int(one["mutants"]) - len(one["not_tried"])


def share(told: list[dict[str, Any]]) -> float:
    """Of those that were tried."""
    total = sum(tried(one) for one in told)
    return 1 - sum(len(one["lived"]) for one in told) / total if total else 0.0


def summary(told: list[dict[str, Any]], left: int) -> str:
    """The sum of it in a sentence."""
    total, not_tried = sum(tried(one) for one in told), sum(len(one["not_tried"]) for one in told)
    found = total - sum(len(one["lived"]) for one in told)
    return (
        f"{found} of {total} mutants found, {share(told):.1%}; {left} that lived have no reason; {not_tried} not tried."
    )


def unexplained(told: list[dict[str, Any]]) -> list[str]:
    """Mutants that lived without a reason in the list."""
    known = Counter(
        (one["module"], one["text"], one["what"])
        for one in json.loads(KNOWN.read_text())
        for _ in range(one.get("times", 1))
    )
    left = []
    for module in told:
        for row in module["lived"]:
            key = (module["module"], row["text"], row["what"])
            known[key] -= 1
            if known[key] < 0:
                left.append(f"{key[0]}.py:{row['line']}: {row['what']}    {row['text']}")
    return left


def table(folder: Path, names: list[str]) -> int:
    """Print what a folder tells in the form of docs/mutants.md."""
    told = [json.loads(path.read_text()) for name in names if (path := folder / f"{name}.json").exists()]
    old = [one["module"] for one in told if one["source"] != (CALC / f"{one['module']}.py").read_text()]
    print("| module | found | of |\n|---|---|---|")
    for one in told:
        print(f"| {one['module']} | {tried(one) - len(one['lived'])} | {tried(one)} |")
    print(f"\n{summary(told, len(unexplained(told)))}")
    if old:
        print(f"Changed since: {', '.join(old)}.")
    if missing := set(names) - {one["module"] for one in told}:
        print(f"Never tried: {', '.join(sorted(missing))}.")
    return 0
