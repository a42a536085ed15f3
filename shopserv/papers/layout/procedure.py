"""The procedure sheet: the steps of one job with their cautions, tubes of the course, blanks to write in by hand."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
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
    "sign",
)  # fmt: skip (the sentence of the step tells it, or the table of stages)


def context(data: Data, mark: str) -> dict[str, Any]:
    """What the template of a procedure sheet prints."""
    first = data["shop"]["units_first"]
    stages = [step for step in data["steps"] if _is_stage(step)]
    return {
        **common.head(data, title=_("Procedure sheet"), number=data["work_order_number"], at=data["at"], mark=mark),
        "job": data["title"],
        "unit": data["unit"],
        "unit_known_by": data["unit_known_by"],
        "sheet_version": data["sheet_version"],
        "fluids": [_fluid(row, first) for row in data["fluids"]],
        "packages": ", ".join(f"{count} × {number}" for number, count in sorted(data["packages"].items())),
        "parts": _parts(data),
        "place": ", ".join(filter(None, [data["bay"], data["technician"]])),
        "sections": _sections(data["steps"], first),
        "tubes": _tubes(stages, first),
        "close_out": data["close_out"],
        "second_look_asked": data["second_look_asked"],
        "findings": data["findings_list"],
        "when_stopped": data["when_stopped"],
        "foot": data["foot"][:-1],
        "maker_first": data["foot"][-1],
    }


def _is_stage(step: Data) -> bool:
    return "level_after_ml" in step["limits"]


def _fluid(row: Data, first: str) -> dict[str, str]:
    low, high = row["low_need_ml"], row["need_ml"]
    need = formats.volume_band(low if isinstance(low, int) else high, high, first) if isinstance(high, int) else ""
    return {"name": row["name"], "sump": row["sump"], "need": need}


def _parts(data: Data) -> str:
    rows = [*data["parts"], *(part for added in data["added"] for part in added["parts"])]
    return "; ".join(
        f"{formats.trimmed(row['quantity'], 3)} × {row['name']} ({row['number']})" if row.get("number") else row["name"]
        for row in rows
    )


def _sections(steps: Sequence[Data], first: str) -> list[dict[str, Any]]:
    """The steps in order: runs of two or more stages as a table of their own, all else step by step."""
    sections: list[dict[str, Any]] = []
    is_drawn = False
    for (is_stage, _sump), run in groupby(steps, lambda step: (_is_stage(step), step["limits"].get("sump", ""))):
        rows = list(run)
        has_tubes = is_stage and not is_drawn
        is_drawn = is_drawn or is_stage
        if is_stage and len(rows) > 1:
            sections.append({"stages": _stages(rows), "has_tubes": has_tubes})
        elif sections and "steps" in sections[-1] and not has_tubes:
            sections[-1]["steps"] += [_step(row, first) for row in rows]
        else:
            sections.append({"steps": [_step(row, first) for row in rows], "has_tubes": has_tubes})
    return sections


def _step(step: Data, first: str) -> dict[str, Any]:
    return {
        "order": step["order"],
        "text": step["text"],
        "cautions": step["cautions"],
        "limits": _limits(step["limits"], first),
        "blanks": [_blank(row) for row in step["blanks"]],
        "may_skip": step["may_skip"],
    }


def _limits(limits: Mapping[str, Any], first: str) -> list[str]:
    """What the sheet says at a step, in words; base values stay inside."""
    said = [
        f"{name.replace('_', ' ')}: {_day_or_text(value)}"
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
    unit = row["unit"].removeprefix("0.1").strip()
    return {"words": row["words"], "unit": "" if unit in ("choice", "yes or no") else unit, "mark": row["mark"]}


def _stages(steps: Sequence[Data]) -> dict[str, Any]:
    """A run of stages: what holds for each of them once, then a line a stage."""
    cautions = list(dict.fromkeys(caution for step in steps for caution in step["cautions"]))
    return {"cautions": cautions, "rows": [_stage(step) for step in steps]}


def _stage(step: Data) -> dict[str, Any]:
    return {
        "order": step["order"],
        "text": step["text"],
        "level": step["limits"].get("level_after", ""),
        "blanks": [_blank(row) for row in step["blanks"]],
    }


def _tubes(stages: Sequence[Data], first: str) -> dict[str, Any] | None:
    """The level after each stage of the first sump, as the bay shows it; none where the levels are not known."""
    sump = stages[0]["limits"].get("sump", "") if stages else ""
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
    row = tube_row(levels, scale, engine=engine, room=TUBE_ROOM)

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
