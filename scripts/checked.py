#!/usr/bin/env python3
"""Makes fixtures/checked.json, the help's table of what the calculation is checked against, from tests/calc/checks.

A source names its work before the first colon: "49 CFR 565.15(c), Table III: A = 1 ...". Identities and limiting cases
need no work: they are what must hold by itself.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
CHECKS, TABLE = ROOT / "tests" / "calc" / "checks", ROOT / "fixtures" / "checked.json"
CONTRACT = "public.json"
ORDER = ("published", "worked-example", "dataset", "library", "identity", "common-practice", "memory")
BY_ITSELF = "what must hold by itself"


def work_of(check: dict[str, Any]) -> str:
    """The work that a check comes from."""
    return BY_ITSELF if check["kind"] == "identity" else str(check["source"]).partition(": ")[0]


def table() -> dict[str, Any]:
    """Every work and kind with how many checks come from it, and on which quantities; how many there are in all."""
    rows: dict[tuple[str, str], list[str]] = {}
    for path in sorted(CHECKS.glob("*.json")):
        if path.name == CONTRACT:
            continue
        for check in json.loads(path.read_bytes())["checks"]:
            rows.setdefault((check["kind"], work_of(check)), []).append(check["quantity"])
    found = [
        {"work": work, "kind": kind, "checks": len(names), "quantities": sorted(set(names))}
        for (kind, work), names in sorted(
            rows.items(), key=lambda row: (ORDER.index(row[0][0]), -len(row[1]), row[0][1])
        )
    ]
    contract = len(json.loads((CHECKS / CONTRACT).read_bytes())["checks"])
    return {"contract": contract, "own": sum(map(len, rows.values())), "works": found}


def text() -> str:
    """The file, one work a line."""
    made = table()
    works = ",\n".join(json.dumps(row, ensure_ascii=False) for row in made["works"])
    return f'{{"contract": {made["contract"]}, "own": {made["own"]}, "works": [\n{works}\n]}}\n'


if __name__ == "__main__":
    TABLE.write_text(text(), encoding="utf-8")
