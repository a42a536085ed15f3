"""The share of new fluid of a job that was closed out, from the liters that were measured."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Any

from shopserv.calc.working import From, Given, Step, Working
from shopserv.jobs.workings.course import PPM, SOURCES

SAYS = {"drain": "let out", "add": "poured", "pump": "pumped", "mix": "mixing run", "level": "at the level"}


def share_working(kept: Mapping[str, Any]) -> Working | None:
    """What was kept of a measured course with its share; none where no share could be worked from it."""
    if "share_ppm" not in kept:
        return None
    low, high = (Fraction(ppm, PPM) for ppm in kept["share_ppm"])
    return Working(
        figure="share of new fluid, by the measured liters",
        value=low,
        unit="share",
        low=low,
        high=high,
        formula="Each stage is replayed with the liters that were weighed or read: what came out leaves, what was "
        "poured mixes with what stands there. The lower share is the one that is counted.",
        given=tuple(_given(kept)),
        steps=tuple(_steps(kept["stages"])),
        sources=SOURCES,
        assumptions=(
            "the unit stood at full before the first stage",
            "no more came out than the sheet says that the sump holds",
        ),
    )


def _given(kept: Mapping[str, Any]) -> Iterator[Given]:
    fill = kept["sheet"]["total_fill_ml"] or (kept["fill_ml"], kept["fill_ml"])
    if fill[0] is not None:
        ends = fill if fill[0] != fill[1] else ()
        yield Given("C", "fill of the unit", fill[1], "mL", From.UNIT_SHEET, "", *ends)
    for number, row in enumerate(kept["stages"], start=1):
        where = From.MEASURED if row["is_measured"] else From.COMPUTED
        source = "bay sheet" if row["is_measured"] else "not measured: as planned"
        for mark, way, words in (("o", "out_ml", "out"), ("v", "in_ml", "in")):
            if row[way]:
                yield Given(f"{mark}_{{{number}}}", f"{words}, {_said(number, row)}", row[way], "mL", where, source)


def _steps(stages: list[dict[str, Any]]) -> Iterator[Step]:
    """In less out after each stage, one sump after the other where there are several."""
    level: dict[str, int] = {}
    for number, row in enumerate(stages, start=1):
        level[row["sump"]] = level.get(row["sump"], 0) + row["in_ml"] - row["out_ml"]
        said = f"in less out after {_said(number, row)}"
        yield Step(said, rf"L_{{{number}}} = \sum v - \sum o", level[row["sump"]], "mL")


def _said(number: int, row: Mapping[str, Any]) -> str:
    sump = f", {row['sump']} sump" if row["sump"] else ""
    return f"{number}: {SAYS[row['op']]}{sump}"
