"""What a second look looks at, and how far an own figure may be from the first. No tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shopserv.jobs import bay_readings as readings

# share of the level budget -> (what, words, figure or seen, only while the engine runs)
RISKS = {
    "temperature": ("temp_mdegc", "fluid temperature", "figure", True),
    "tilt fore-aft": ("tilt_fore_aft", "tilt fore-aft", "figure", False),
    "tilt to the side": ("tilt_side", "tilt to the side", "figure", False),
    "level sign": ("sign", "level sign seen", "seen", True),
}
LATER = {
    "hold_open_out": "hold-open pin is out",
    "lines_home": "cooler lines home, clips seated",
    "plugs": "plugs closed, paint marks on them",
    "leak_again": "no leaks",
}
LEFT = {"left_g": "weight of what is left over", "left_ml": "volume of what is left over"}
# How far an own figure may be from the first before a yes is refused; common practice, no source.
FAR = {"temp_mdegc": 3_000, "tilt_fore_aft": 3, "tilt_side": 3, "left_g": 60, "left_ml": 150, "odometer": 1}
ANSWERS = ("yes", "no", "could not see")
REASONS = (
    "level is low",
    "level is high",
    "my figure is far from the first",
    "a line or a clip is not home",
    "a plug is not marked",
    "it leaks",
    "could not see it",
)


def look_items(
    riskiest: Sequence[str], close_out: Iterable[str], firsts: Mapping[str, int | None]
) -> list[dict[str, Any]]:
    """What is looked at: first the numbers with the largest shares of the level budget, then what can be seen later.

    riskiest    of calc.bench.LevelBudget.riskiest
    close_out   codes of the close-out items
    firsts      what -> the technician's figure in base units
    returns     [{what, words, kind, runs, is_risk, first, own, by}]
    """
    there = set(close_out)
    rows = [RISKS[what] for what in riskiest if what in RISKS]
    named = {row[0] for row in rows}
    risky = set(named)
    rows += [row for row in (RISKS["tilt fore-aft"], RISKS["tilt to the side"]) if row[0] not in named]
    rows += [(what, words, "figure", False) for what, words in LEFT.items() if firsts.get(what) is not None]
    rows += [(what, words, "seen", False) for what, words in LATER.items() if what in there]
    rows.append(("odometer", "odometer out", "figure", False))
    return [
        {
            "what": what,
            "words": words,
            "kind": kind,
            "runs": runs,
            "is_risk": what in risky,
            "first": firsts.get(what),
            "own": None,
            "by": "",
        }
        for what, words, kind, runs in rows
        if kind == "seen" or firsts.get(what) is not None
    ]


def is_far(item: Mapping[str, Any]) -> bool:
    """Whether the own figure is too far from the first, or something was seen that is not as it should be."""
    own, first = item["own"], item["first"]
    if own is None:
        return False
    if item["kind"] == "seen":
        return not own
    return first is not None and abs(int(own) - int(first)) > FAR[item["what"]]


def is_open(item: Mapping[str, Any]) -> bool:
    """Whether an own figure is still missing that can be had with the engine off."""
    return item["own"] is None and not item["runs"]


def shown(item: Mapping[str, Any], value: int | None, units_first: str, odometer_unit: str) -> str:
    """A figure of an item as it is shown; empty: there is none."""
    if value is None:
        return ""
    if item["kind"] == "seen":
        return "seen" if value else "not as it should be"
    return readings.shown(item["what"], int(value), units_first, odometer_unit)
