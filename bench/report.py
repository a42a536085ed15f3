"""Where a run was made, how it compares with the stored one, and the table that is printed."""

from __future__ import annotations

import json
import os
import platform
import statistics
import subprocess
import tempfile
import time
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Any

from bench.measure import Measured

ROOT = Path(__file__).resolve().parent.parent
RESULT = ROOT / "bench" / "result.json"
WORSE = 1.15  # a ratio above the stored one by more than this fails
LIBRARIES = ("Django", "numpy", "psycopg", "weasyprint")


def machine() -> dict[str, Any]:
    """The machine: processor, cores, memory, kernel, how long the disk takes to keep a line."""
    words = Path("/proc/cpuinfo").read_text(encoding="utf-8") if Path("/proc/cpuinfo").exists() else ""
    model = next((line.split(":", 1)[1].strip() for line in words.splitlines() if line.startswith("model name")), "")
    return {
        "processor": model or platform.processor() or platform.machine(),
        "cores": os.cpu_count(),
        "memory_mb": os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") // 2**20,
        "kernel": platform.release(),
        "load_before": round(os.getloadavg()[0], 2),
        "fsync_us_median": fsync_us(),
    }


def fsync_us(times: int = 1000) -> float:
    """Median of so many writes of a line that wait for the disk, in µs."""
    taken = []
    with tempfile.NamedTemporaryFile(dir=ROOT / "bench", prefix=".fsync-") as file:
        for _ in range(times):
            file.write(b"a line of a journal\n")
            begun = time.perf_counter_ns()
            file.flush()
            os.fsync(file.fileno())
            taken.append(time.perf_counter_ns() - begun)
    return round(statistics.median(taken) / 1000, 1)


def versions() -> dict[str, str]:
    """Python and the libraries that the figures lean on."""
    found = {"Python": platform.python_version()}
    for name in LIBRARIES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "not installed"
    return found


def git(*words: str) -> str | None:
    """What git says, or none where there is no git or no such thing."""
    try:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
    except (OSError, subprocess.CalledProcessError):
        return None
    return done.stdout


def stored() -> dict[str, Any] | None:
    """The last committed result; without git the file as it stands; none before the first."""
    words = git("show", "HEAD:bench/result.json")
    if words is None and RESULT.exists():
        words = RESULT.read_text(encoding="utf-8")
    return json.loads(words) if words else None


def document(found: Sequence[Measured], before: Mapping[str, Any] | None) -> dict[str, Any]:
    """The result of a run as it is stored."""
    commit = (git("rev-parse", "HEAD") or "unknown").strip()
    rows = [one.as_dict() for one in found]
    last = {row["id"]: row["ratio"]["median"] for row in (before or {}).get("figures", ())}
    for row in rows:
        row["ratio_before"] = last.get(row["id"])
    return {
        "date": datetime.now(UTC).isoformat(timespec="seconds"),
        "commit": commit,
        "has_changes": bool((git("status", "--porcelain", "--", "shopserv", "bench") or "").strip()),
        "machine": machine(),
        "versions": versions(),
        "figures": rows,
    }


def faults(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    """What fails a run: a missed goal, and a ratio worse than the stored one by more than 15 %. Noise fails nothing."""
    said = []
    for row in rows:
        ratio, before = row["ratio"]["median"], row["ratio_before"]
        if row["verdict"] == "missed":
            said.append(f"{row['id']}: ratio {ratio:.2f}, and {row['goal']['hard']:g} must hold.")
        if before is not None and row["verdict"] != "noisy" and ratio > WORSE * before:
            said.append(f"{row['id']}: ratio {ratio:.2f}, {ratio / before - 1:.0%} worse than the stored {before:.2f}.")
    return said


def table(rows: Sequence[Mapping[str, Any]]) -> str:
    """The figures in lines of plain text."""
    head = ("figure", "program ms", "floor ms", "ratio", "lowest..highest", "goal", "aim", "verdict", "before")
    lines = [head]
    for row in rows:
        ratio, before = row["ratio"], row["ratio_before"]
        lines.append(
            (
                row["id"],
                f"{row['program_ms']['median']:.3f}",
                f"{row['floor_ms']['median']:.3f}",
                f"{ratio['median']:.2f}",
                f"{ratio['lowest']:.2f}..{ratio['highest']:.2f}",
                f"{row['goal']['hard']:g}",
                f"{row['goal']['extreme']:g}",
                row["verdict"],
                "-" if before is None else f"{before:.2f}",
            )
        )
    wide = [max(len(line[i]) for line in lines) for i in range(len(head))]
    return "\n".join("  ".join(word.ljust(wide[i]) for i, word in enumerate(line)).rstrip() for line in lines)
