"""One stage of a fluid course as a step of the bay sheet, and what has to be done between two. No tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_stages import DRAIN_SPREAD, Bench, Step


def stage_steps(bench: Bench) -> Iterator[Step]:
    """The steps of the course, each stage its own, with what has to be done between them."""
    stages, levels = bench.course["stages"], bench.course["levels_ml"]
    before, count = 0, len(stages)
    for number, (stage, level) in enumerate(zip(stages, levels, strict=True), start=1):
        sump = stage.get("sump", "")
        label = f"Stage {number} of {count}{f', {sump} sump' if sump else ''}"
        made = {"drain": _drain, "add": _add, "pump": _pump, "mix": _mix}[stage["op"]]
        yield made(bench, stage, label, 0 if sump and stage["op"] == "drain" else before, level)
        if stage["op"] == "drain":
            yield from _after_drain(bench, sump)
        before = level


def _shown(bench: Bench, stage: Mapping[str, Any], level: int, engine: str, stop: str, **more: Any) -> dict[str, Any]:
    return {
        "op": stage["op"],
        "sump": stage.get("sump", ""),
        "engine": engine,
        "stop_sign": stop,
        "level_after_ml": level,
        "margin_ml": bench.stop_margin_ml,
        "pickup_ml": bench.low("pickup_below_full_ml"),
        "dips_ml": bench.low("dips_above_full_ml"),
        "level_after": _against_full(bench, level),
        **more,
    }


def _against_full(bench: Bench, level: int) -> str:
    if level == 0:
        return "full"
    return f"{bench.shown_volume(abs(level))} {'below' if level < 0 else 'above'} full"


def _drain(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    out = before - level
    amount = bench.shown_volume(out)
    if bench.is_pan:
        said = (
            f"{label}: pan off, about {amount} comes out. The pan still holds fluid after a plug drain: lower it level."
        )
    else:
        said = f"{label}: open the drain, about {amount} comes out. Weigh or read what came."
    spread = int(out * DRAIN_SPREAD)
    return Step(
        "drain_pan" if bench.is_pan else "drain",
        said,
        (words.HOT, words.COOLANT, words.COLLECT),
        needs=(bench.need("out_ml", "out", out, spread),),
        limits=_shown(bench, stage, level, "off", "until it drips", out_ml=out, out=amount),
        is_fluid=True,
    )


def _after_drain(bench: Bench, sump: str) -> Iterator[Step]:
    if not bench.is_pan:
        standpipe = bench.text("level_method").startswith("standpipe")
        said = "Standpipe back in before any filling" if standpipe else "Drain plug in with a new washer"
        yield Step(
            "drain_plug",
            f"{said}: {bench.torque('drain')}.",
            limits={"drain plug": bench.torque("drain"), "sump": sump},
        )
        return
    serviceable = bench.text("filter")
    yield Step(
        "magnet",
        "Look at the magnet and into the pan, then clean both.",
        ("Fine gray paste is wear. Flakes, needles or brass: photo, press finding, stop.",),
    )
    yield Step(
        "filter",
        f"New filter, old seal out of its bore: {serviceable or 'the sheet does not say whether it can be changed'}.",
        ("An old seal left in the bore lets the pump draw air.", words.HOT),
        limits={"filter": serviceable or "not known"},
    )
    yield Step(
        "pan_on",
        f"Pan flat, new gasket, no sealer unless the sheet says so; screws evenly, crosswise: {bench.torque('pan')}.",
        limits={"pan screws": bench.torque("pan")},
    )


def _add(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    amount = bench.shown_volume(stage["volume_ml"])
    return Step(
        "add",
        f"{label}: pour {amount} of {_fluid_of(bench, stage)}, engine off.",
        ("Read the name on the package before it is opened.", words.FIRE),
        # After a drain as much goes in as came out, which is off as far as the drain was.
        needs=(bench.need("in_ml", "poured in", stage["volume_ml"], bench.stop_margin_ml + _drained(stage, before)),),
        limits=_shown(bench, stage, level, "off", "the liters named", in_ml=stage["volume_ml"], into=amount),
        is_fluid=True,
    )


def _drained(stage: Mapping[str, Any], before: int) -> int:
    return int(-before * DRAIN_SPREAD) if before == -stage["volume_ml"] else 0


def _pump(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    poured = stage.get("add_ml", 0)
    out = before - level + poured
    amount = bench.shown_volume(out)
    needs = [bench.need("out_ml", "pumped out", out, bench.stop_margin_ml)]
    said = f"{label}: engine idling in park, let {amount} come, then stop the engine."
    if poured:
        said = (
            f"{label}: engine idling in park, pour {bench.shown_volume(poured)} as it comes; stop when {amount} came."
        )
        needs.append(bench.need("in_ml", "poured in", poured, bench.stop_margin_ml))
    warned = [words.AIR, words.HOT, words.SHAFTS, words.EXHAUST]
    dips = bench.low("dips_above_full_ml")
    # Only the stage that truly stands too high is warned of, by name.
    if dips is not None and max(before, level) > dips:
        warned.insert(0, f"Too high: {_against_full(bench, max(before, level))}, turning parts dip and it foams.")
    return Step(
        "pump",
        said,
        tuple(warned),
        needs=tuple(needs),
        limits=_shown(bench, stage, level, "idling, park", f"{amount} in the bucket, by scale or mark", out_ml=out,
                      out=amount, in_ml=poured),
        is_fluid=True,
    )  # fmt: skip


def _mix(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    dwell = bench.low("selector_dwell_s") or 3
    warned = [words.SWEEP, words.EXHAUST, "Never with a low level: the fill must be back in."]
    if bench.text("may_run_between_drains") == "no":
        warned.insert(0, "The sheet does not allow running between drains: hold, and ask the office.")
    return Step(
        "mix",
        f"{label}: mixing run, engine running warm, each selector position {dwell} s.",
        tuple(warned),
        limits=_shown(bench, stage, level, "running", "warm, every position held"),
        is_fluid=True,
    )


def _fluid_of(bench: Bench, stage: Mapping[str, Any]) -> str:
    rows = bench.facts.get("fluids", ())
    sump = stage.get("sump", "")
    return next((row["name"] for row in rows if row.get("sump", "") == sump), bench.fluid or "the agreed fluid")
