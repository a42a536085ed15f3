"""Run the figures, print them, store them in bench/result.json; ends with 1 where a goal is missed or a ratio worse."""

from __future__ import annotations

import argparse
import importlib
import json
import pkgutil
import sys

import bench
from bench import report
from bench.measure import Figure, measure


def figures(is_small: bool = False) -> list[Figure]:
    """The figures of every module in this package that has some, by id."""
    found: list[Figure] = []
    for module in pkgutil.iter_modules(bench.__path__):
        if module.name != "__main__":
            found += getattr(importlib.import_module(f"bench.{module.name}"), "figures", lambda _: [])(is_small)
    return sorted(found, key=lambda one: one.id)


def main(words: list[str] | None = None) -> int:
    """Measure and store."""
    parser = argparse.ArgumentParser(prog="bench", description=__doc__)
    parser.add_argument("only", nargs="*", help="ids of figures; without any, all")
    parser.add_argument("--small", action="store_true", help="little data, to see that it runs; stores nothing")
    asked = parser.parse_args(words)
    chosen = [one for one in figures(asked.small) if not asked.only or one.id in asked.only]
    if not chosen:
        parser.error(f"no figure is called {' or '.join(asked.only)}")
    found = []
    for figure in chosen:
        print(f"{figure.id}: {figure.work} over {figure.floor} ({figure.data})", flush=True)
        found.append(measure(figure))
    result = report.document(found, report.stored())
    rows = result["figures"]
    print(report.table(rows))
    if not asked.small and not asked.only:
        report.RESULT.write_text(json.dumps(result, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    said = report.faults(rows)
    print("\n".join(said) if said else f"{len(rows)} figures, no fault.")
    return 1 if said else 0


if __name__ == "__main__":
    sys.exit(main())
