"""The procedure sheet: the steps of one job with their cautions, tubes of the course, blanks to write in by hand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby
from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats
from shopserv.common.drawing import tube_row, tube_scale
from shopserv.common.drawing.ink import px
from shopserv.papers.layout import common
from shopserv.papers.layout.common import Data

ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
TUBE_ROOM = 380.0  # pixels that the tubes may take beside their words
WORDS_ABOVE = 10.0  # pixels above the tubes for the word of the highest line
TOLD = (
    "is_engine_off",
    "look_now",
    "engine",
    "plug_closed_with",
    "method",
    "op",
    "sump",
    "level_after",
    "bay",
    "out",
    "into",
    "stop_sign",
    "switch_off",
    "sign",
)  # fmt: skip (the sentence of the step tells it, or the table of stages)

ON_PAPER = {"fill": "the whole unit holds, not to pour"}
ACTS = {  # what is pressed on the tablet -> what is done with the paper in hand
    "Press hold or “coolant found” and say": "Write “hold” or “coolant found” here and say",
    "press “coolant found”": "write “coolant found” here and tell the office",
    "press stop, “something else found”, and write each code into its words": "stop, and write each code here",
    "press finding, and wait": "write it here, call the office, and wait",
    "press finding, stop": "write it here, stop, call the office",
}


def for_paper(words: str) -> str:
    """A sentence of the bay without its keys: nothing is pressed on paper."""
    for pressed, written in ACTS.items():
        words = words.replace(pressed, written)
    return words


def context(data: Data, mark: str) -> dict[str, Any]:
    """What the template of a procedure sheet prints."""
    first = data["shop"]["units_first"]
    return {
        **common.head(data, title=_("Procedure sheet"), number=data["work_order_number"], at=data["at"], mark=mark),
        "job": data["title"],
        "unit": data["unit"],
        "unit_known_by": data["unit_known_by"],
        "sheet_version": data["sheet_version"],
        "fluids": [_fluid(row, first) for row in data["fluids"]],
        "packages": "" if any("packages" in row for row in data["fluids"]) else _packages(data["packages"]),
        "parts": _parts(data),
        "place": ", ".join(filter(None, [data["bay"], data["technician"]])),
        "sections": _sections(data["steps"], first),
        "close_out": data["close_out"],
        "second_look_asked": data["second_look_asked"],
        "findings": data["findings_list"],
        "when_stopped": [for_paper(words) for words in data["when_stopped"]],
        "foot": data["foot"][:-1],
        "maker_first": data["foot"][-1],
    }


def _is_stage(step: Data) -> bool:
    return "level_after_ml" in step["limits"]


def _fluid(row: Data, first: str) -> dict[str, str]:
    low, high = row["low_need_ml"], row["need_ml"]
    need = formats.volume_band(low if isinstance(low, int) else high, high, first) if isinstance(high, int) else ""
    packages = _packages(row.get("packages", {}))
    return {"name": row["name"], "sump": row["sump"], "need": need, "packages": packages}


def _packages(counts: Mapping[str, int]) -> str:
    return ", ".join(f"{count} × {number}" for number, count in sorted(counts.items()))


def _parts(data: Data) -> str:
    rows = [*data["parts"], *(part for added in data["added"] for part in added["parts"])]
    return "; ".join(
        f"{formats.trimmed(row['quantity'], 3)} × {row['name']} ({row['number']})" if row.get("number") else row["name"]
        for row in rows
    )


def _sections(steps: Sequence[Data], first: str) -> list[dict[str, Any]]:
    """The steps in order: runs of two or more stages as a table of their own, all else step by step.

    The tubes of a sump stand before its first stage.
    """
    sections: list[dict[str, Any]] = []
    stages = [step for step in steps if _is_stage(step)]
    drawn: set[str] = set()
    for (is_stage, sump), run in groupby(steps, lambda step: (_is_stage(step), step["limits"].get("sump", ""))):
        rows = list(run)
        is_first = is_stage and sump not in drawn
        tubes = _tubes(stages, sump, first) if is_first else None
        drawn |= {sump} if is_stage else set()
        if is_stage and len(rows) > 1:
            sections.append({"stages": _stages(rows), "tubes": tubes})
        elif sections and "steps" in sections[-1] and not is_first:
            sections[-1]["steps"] += [_step(row, first) for row in rows]
        else:
            sections.append({"steps": [_step(row, first) for row in rows], "tubes": tubes})
    return sections


def _step(step: Data, first: str) -> dict[str, Any]:
    return {
        "order": step["order"],
        "text": for_paper(step["text"]),
        "cautions": [for_paper(words) for words in step["cautions"]],
        "limits": _limits(step["limits"], first),
        "blanks": [_blank(row) for row in step["blanks"]],
        "may_skip": step["may_skip"],
    }


def _limits(limits: Mapping[str, Any], first: str) -> list[str]:
    """What the sheet says at a step, in words; base values stay inside."""
    said = [
        f"{ON_PAPER.get(name, name.replace('_', ' '))}: {_day_or_text(value)}"
        for name, value in limits.items()
        if isinstance(value, str) and value and name not in TOLD
    ]
    low, high = limits.get("low_mdegc"), limits.get("high_mdegc")
    if "window" not in limits and low is not None and high is not None:
        said.append(_("window: %s") % formats.temperature_band(low, high, first))
    if least := limits.get("minimum_ml_min"):
        said.append(_("flow at least %s a minute") % formats.volume(least, first))
    if (margin := limits.get("stop_margin_ml")) and "seconds_to_stop" in limits:
        said.append(_("stop %s before the pump draws air") % formats.volume(margin, first))
    return said


def _day_or_text(value: str) -> str:
    return formats.day(date.fromisoformat(value)) if ISO_DAY.fullmatch(value) else value


def _blank(row: Data) -> dict[str, str]:
    unit, words = row["unit"].removeprefix("0.1").strip(), row["words"]
    if " / " in unit:  # answers to choose from stand with the question: the line is for a unit of a few letters
        words, unit = f"{words}: {unit}", ""
    return {"words": words, "unit": "" if unit in ("choice", "yes or no") else unit, "mark": row["mark"]}


def _stages(steps: Sequence[Data]) -> dict[str, Any]:
    """A run of stages: what holds for each of them once, then a line a stage."""
    cautions = list(dict.fromkeys(for_paper(caution) for step in steps for caution in step["cautions"]))
    return {"cautions": cautions, "rows": [_stage(step) for step in steps]}


def _stage(step: Data) -> dict[str, Any]:
    return {
        "order": step["order"],
        "text": step["text"],
        "level": step["limits"].get("level_after", ""),
        "blanks": [_blank(row) for row in step["blanks"]],
    }


def _number(label: str, before: int) -> str:
    """The number of a stage in the whole course, where stages of another sump stand before it."""
    return str(int(label) + before) if label.isdigit() and int(label) else label


def _tubes(stages: Sequence[Data], sump: str, first: str) -> dict[str, Any] | None:
    """The level after each stage of one sump, as the bay shows it; none where the levels are not known."""
    before = next(n for n, step in enumerate(stages) if step["limits"].get("sump", "") == sump)
    rows = [step["limits"] for step in stages if step["limits"].get("sump", "") == sump]
    levels = [row["level_after_ml"] for row in rows]
    if not rows or any(level is None for level in levels):
        return None
    unit = rows[0]
    scale = tube_scale(
        levels,
        pickup_below_full_ml=unit.get("pickup_ml"),
        dips_above_full_ml=unit.get("dips_ml"),
        stop_margin_ml=unit.get("margin_ml") or 0,
    )
    engine = [str(row.get("engine", "")) not in ("", "off") for row in rows]
    row = tube_row(levels, scale, engine=engine, room=TUBE_ROOM, units_first=first)
    numbered = tuple(replace(tube, label=_number(tube.label, before)) for tube in row.tubes)
    row = replace(row, tubes=numbered)

    def short(ml: int | None) -> str:
        return "" if ml is None else (formats.quarts(ml) if first == "us" else formats.liters(ml))

    return {
        "row": row,
        "height": px(float(row.height) + WORDS_ABOVE),
        "is_pumped": any(engine),
        "sump": sump,
        "dips": short(scale.dips_ml),
        "pickup": short(scale.pickup_ml),
        "margin": short(scale.stop_margin_ml),
    }
