"""A file of checks being written."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

CHECKS = Path(__file__).parents[1] / "checks"


def figure(value: object, unit: str = "", digits: int = 12) -> str:
    """A value string: a number with so many digits, and its unit."""
    return f"{value:.{digits}g} {unit}".strip()  # type: ignore[str-format]


class Book:
    """Checks under one heading, in the form of the contract."""

    def __init__(self, name: str, title: str) -> None:
        self.name, self.title = name, title
        self.checks: list[dict[str, Any]] = []
        self.counts: dict[str, int] = {}

    def _add(self, quantity: str, middle: dict[str, Any], source: str, kind: str, note: str | None) -> None:
        self.counts[quantity] = count = self.counts.get(quantity, 0) + 1
        check = {"id": f"{self.name}-{quantity}-{count:02}", "quantity": quantity, **middle}
        self.checks.append(check | {"source": source, "kind": kind} | ({"note": note} if note else {}))

    def value(
        self,
        quantity: str,
        given: dict[str, Any],
        expect: Any,
        source: str,
        kind: str,
        *,
        abs: str | None = None,
        rel: str | None = None,
        note: str | None = None,
    ) -> None:
        """A quantity has this value, within a tolerance if one is named."""
        tolerance = {"abs": abs} if abs else {"rel": rel} if rel else None
        middle = {"given": given, "expect": expect} | ({"tolerance": tolerance} if tolerance else {})
        self._add(quantity, middle, source, kind, note)

    def error(self, quantity: str, given: dict[str, Any], name: str, source: str, kind: str = "identity") -> None:
        """A quantity refuses these inputs with this error."""
        self._add(quantity, {"given": given, "expect": {"error": name}}, source, kind, None)

    def along(
        self,
        quantity: str,
        name: str,
        given: dict[str, Any],
        vary: str,
        over: list[Any],
        source: str,
        kind: str = "identity",
        **rest: Any,
    ) -> None:
        """A property holds while one input varies."""
        middle = {"property": name, "given": given, "vary": vary, "over": over, **rest}
        self._add(quantity, middle, source, kind, None)

    def against(
        self,
        quantity: str,
        name: str,
        given: dict[str, Any],
        than: tuple[str, dict[str, Any]],
        source: str,
        kind: str = "identity",
        **rest: Any,
    ) -> None:
        """A quantity is equal to, or greater than, another one."""
        middle = {"property": name, "given": given, "than": {"quantity": than[0], "given": than[1]}, **rest}
        self._add(quantity, middle, source, kind, None)

    def save(self) -> None:
        """Write the file, one check a line."""
        head = json.dumps({"contract": 1, "title": self.title}, ensure_ascii=False)[:-1]
        lines = ",\n".join(json.dumps(check, ensure_ascii=False) for check in self.checks)
        (CHECKS / f"{self.name}.json").write_text(f'{head}, "checks": [\n{lines}\n]}}\n', encoding="utf-8")
        print(f"{self.name}: {len(self.checks)}")
