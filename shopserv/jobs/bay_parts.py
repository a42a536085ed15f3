"""The parts of an option at the step that fits them; what no step fits gets one of its own. No tables.

source   common practice, no source: which step fits a part is told by its name on the parts list
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_stages import Bench, Step

# Step code -> words of a part's name that belong to it; a set may belong to two.
FITTED_AT: dict[str, tuple[str, ...]] = {
    "lines_back": ("line seal",),
    "filter": ("filter",),
    "pan_on": ("pan screw", "pan seal", "pan gasket", "pan with"),
    "drain_plug": ("drain plug", "drain washer", "plug washer"),
    "plugs": ("plug",),
}
ALONE = ("second filter", "cartridge", "valve")  # never part of another step, whatever else the name says
TOOL = "shop tool"


def named(rows: Sequence[Mapping[str, Any]]) -> str:
    """Parts in words: 2 × cooler line seals, van (HF-6003)."""
    said = []
    for row in rows:
        count = row.get("quantity") or 1
        number = f" ({row['number']})" if row.get("number") else ""
        said.append(f"{f'{count} × ' if count > 1 else ''}{row['name']}{number}")
    return "; ".join(said)


def billed(facts: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """The parts of the option and of what was added to it, each once; a tool of the shop is none."""
    rows = [*facts.get("parts", ())]
    rows += [part for added in facts.get("added", ()) for part in added.get("parts", ())]
    return [row for row in rows if TOOL not in row["name"]]


def steps_of(row: Mapping[str, Any], codes: Sequence[str]) -> list[str]:
    """Those of the steps `codes` that fit a part; empty: none of them."""
    name = row["name"].lower()
    if any(word in name for word in ALONE):
        return []
    return [code for code, found in FITTED_AT.items() if code in codes and any(word in name for word in found)]


def with_parts(steps: Sequence[Step], bench: Bench) -> Iterator[Step]:
    """The steps with the parts they fit; a step for every other part, before fluid goes in again."""
    codes = [step.code for step in steps]
    at: dict[str, list[Mapping[str, Any]]] = {}
    for row in billed(bench.facts):
        for code in steps_of(row, codes) or [""]:
            at.setdefault(code, []).append(row)
    place = _place_for_own(codes)
    for number, step in enumerate(steps):
        if number == place:
            yield from (_own(row, bench) for row in at.get("", ()))
        new = {"new part": named(at[step.code])} if step.code in at else {}
        yield step.saying(_without_seals(step.code, at), **new)


def _place_for_own(codes: Sequence[str]) -> int:
    """Before the first fluid that goes in after a drain; else before the lines go home; else before the way out."""
    drained = next((place for place, code in enumerate(codes) if code in ("drain", "drain_pan")), None)
    after = (place for place, code in enumerate(codes) if drained is not None and place > drained and code == "add")
    named_last = (place for place, code in enumerate(codes) if code in ("lines_back", "odometer_out"))
    return next(after, next(named_last, len(codes)))


def _own(row: Mapping[str, Any], bench: Bench) -> Step:
    said = named([row])
    if "cartridge" in row["name"].lower():
        text = f"Change the {said}: open its housing over a tray, old ring out, new ring wetted with new fluid."
        sump = " Which sump it belongs to says the vehicle maker: change it before that sump is filled."
        text += sump if bench.sumps else ""
    else:
        text = f"Fit the {said} as the vehicle maker's procedure says, old seal out of its seat."
    figure = "its figure is not on the unit sheet: use the vehicle maker's"
    return Step("fit_part", text, (words.HOT, words.COLLECT), limits={"new part": said, "torque": figure})


def _without_seals(code: str, at: Mapping[str, list[Mapping[str, Any]]]) -> tuple[str, ...]:
    """What is said where a step needs a seal and the parts list has none for it."""
    if code == "lines_back" and code not in at:
        return ("The parts list has no seals for the lines: ask the office before a line goes home.",)
    if code in ("drain_plug", "plugs") and not {"plugs", "drain_plug"} & set(at):
        return ("The parts list has no washer: ask the office before a plug goes home.",)
    return ()
