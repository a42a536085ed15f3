"""The stages of a fluid course as steps of the bay sheet. No tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shopserv.common import formats
from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_drain import PROOF_ML, against_full, drain_steps, named, shown
from shopserv.jobs.bay_stages import DRAIN_SPREAD, Bench, Step

STOP_AT = "switch off at "


def stage_steps(bench: Bench) -> Iterator[Step]:
    """The steps of the course, each stage its own, with what has to be done between them."""
    stages, levels = bench.course["stages"], bench.course["levels_ml"]
    before, count = 0, len(stages)
    for number, (stage, level) in enumerate(zip(stages, levels, strict=True), start=1):
        sump = stage.get("sump", "")
        label = f"Stage {number} of {count}{f', {sump} sump' if sump else ''}"
        if stage["op"] == "drain":
            # Each sump stands full before its own drain; what the flow proof took comes out no second time.
            already = PROOF_ML if number == 1 and bench.is_proof_apart else 0
            yield from drain_steps(bench, stage, label, 0 if sump else before, level, already)
        else:
            yield {"add": _add, "pump": _pump, "mix": _mix}[stage["op"]](bench, stage, label, before, level)
        before = level


def _add(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    amount, sump = bench.poured(stage["volume_ml"]), stage.get("sump", "")
    into = f" into the {sump} sump" if sump else ""
    return Step(
        "add",
        f"{label}: pour {amount} of {bench.fluid_of(sump)}{into}, engine off.",
        ("Read the name on the package before it is opened.", words.FIRE),
        # After a drain as much goes in as came out, which is off as far as the drain was.
        needs=(
            bench.need(
                "in_ml", named("poured in", sump), stage["volume_ml"], bench.stop_margin_ml + _drained(stage, before)
            ),
        ),
        limits=shown(bench, stage, level, "off", "the liters named", in_ml=stage["volume_ml"], into=amount),
        is_fluid=True,
    )


def _drained(stage: Mapping[str, Any], before: int) -> int:
    return int(-before * DRAIN_SPREAD) if before == -stage["volume_ml"] else 0


def _pump(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    poured = stage.get("add_ml", 0)
    out = before - level + poured
    needs = [bench.need_to_stop("pumped out", out, bench.stop_margin_ml)]
    end, off = bench.to_hundredths(out), bench.switch_off(out, bench.stop_margin_ml)
    said = f"{label}: engine idling in park, "
    said += f"pour {bench.poured(poured)} as it comes, {STOP_AT}{off}" if poured else f"{STOP_AT}{off}"
    said += f" in the bucket: what runs on brings it to at most {end}, never beyond."
    pickup = bench.low("pickup_below_full_ml")
    ahead = None if pickup is None or not poured else max(0, before + pickup - bench.stop_margin_ml)
    said += "" if ahead is None else _never_ahead(bench, ahead)
    if poured:
        needs.append(bench.need("in_ml", "poured in", poured, bench.stop_margin_ml))
    warned = [words.AIR, words.HOT, words.SHAFTS, words.EXHAUST]
    dips = bench.low("dips_above_full_ml")
    # Only the stage that truly stands too high is warned of, by name.
    if dips is not None and max(before, level) > dips:
        warned.insert(0, f"Too high: {against_full(bench, max(before, level))}, turning parts dip and it foams.")
    return Step(
        "pump",
        said,
        tuple(warned),
        needs=tuple(needs),
        limits=shown(
            bench,
            stage,
            level,
            "idling, park",
            f"{STOP_AT}{off} in the bucket, by scale or mark",
            out_ml=out,
            out=f"never beyond {end}",
            in_ml=poured,
            switch_off=off,
            **({} if ahead is None else {"ahead_ml": ahead, "air_ml": before + (pickup or 0)}),
        ),
        is_fluid=True,
    )


def _never_ahead(bench: Bench, ml: int) -> str:
    """How far what is pumped out may run ahead of what is poured: the pour may not keep up, and the pump draws air."""
    return f" Bucket never more than {bench.to_hundredths(ml)} ahead of what you poured; falling behind: engine off."


def stop_measured(bench: Bench, text: str, limits: Mapping[str, Any], runs_on_ml: int) -> tuple[str, dict[str, Any]]:
    """A pumped stage with the switch-off that the flow proof has measured: (text, limits).

    runs_on_ml   what comes at most after the switch
    """
    new = bench.switch_off(limits["out_ml"], runs_on_ml)
    old, said = (f"{STOP_AT}{off} in the bucket" for off in (limits["switch_off"], new))
    text = text.replace(old, said)
    more: dict[str, Any] = {}
    if "ahead_ml" in limits:  # what comes after the switch lowers it too
        ahead = max(0, limits["air_ml"] - max(limits["margin_ml"], runs_on_ml))
        text = text.replace(_never_ahead(bench, limits["ahead_ml"]), _never_ahead(bench, ahead))
        more = {"ahead_ml": ahead}
    return text, {
        **limits,
        **more,
        "switch_off": new,
        "stop_sign": limits["stop_sign"].replace(old, said),
        "runs_on": f"at most {formats.volume(runs_on_ml, bench.units_first, 2)}, by the flow proof",
    }


def _mix(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    dwell = bench.low("selector_dwell_s") or 3
    warned = [words.SWEEP, words.EXHAUST, "Never with a low level: the fill must be back in."]
    if bench.text("may_run_between_drains") == "no":
        warned.insert(0, "The sheet does not allow running between drains: hold, and ask the office.")
    return Step(
        "mix",
        f"{label}: mixing run, engine running warm, each selector position {dwell} s.",
        tuple(warned),
        limits=shown(bench, stage, level, "running", "warm, every position held"),
        is_fluid=True,
    )
