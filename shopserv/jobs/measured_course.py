"""The fluid course as it was done: its stages with what was weighed or read, and the share that they leave. No tables.

The unit is taken as full before the first stage; what was poured or ran out at the level is a stage of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from fractions import Fraction
from typing import Any, Protocol

from shopserv.calc import course_bands, errors, fluid
from shopserv.jobs import bay_events, courses
from shopserv.jobs.models import BayEvent

LEVELS = ("level", "level_sump")


class Step(Protocol):
    """A step of the bay sheet, as far as it is needed here."""

    pk: int
    code: str
    state: str
    limits: Mapping[str, Any]


def done(
    course: Mapping[str, Any], facts: courses.SheetFacts, steps: Sequence[Step], events: Sequence[BayEvent]
) -> dict[str, Any]:
    """What the measured stages leave, as it is kept with the close-out; empty where no share can be said.

    course   as agreed, courses.Course.as_dict
    steps    in their order
    returns  stages [{op, sump?, out_ml?, in_ml?, is_measured}], sheet, kind, fill_ml, share_ppm [low, high]
    """
    stages = [*_stages(course, steps, events)]
    if not any(row["is_measured"] for row in stages):
        return {}
    kept = {"kind": course["kind"], "fill_ml": course.get("fill_ml"), "stages": stages, "sheet": asdict(facts)}
    try:
        found = share(kept)
    except errors.CalcError as cause:  # what was read cannot have happened on the unit of the sheet
        return {"cannot": str(cause)[:300]}
    return {} if found is None else {**kept, "share_ppm": list(found)}


def _stages(course: Mapping[str, Any], steps: Sequence[Step], events: Sequence[BayEvent]) -> Iterator[dict[str, Any]]:
    """Each stage with its liters, measured or else planned, and after them what was done at the level."""
    counted = bay_events.counted(events)
    fluid_steps = [step for step in steps if step.state != "skipped"]
    groups = _by_stage(fluid_steps)
    rows, before = [], 0
    for number, (stage, level) in enumerate(zip(course["stages"], course["levels_ml"], strict=True)):
        row = _planned(stage, 0 if stage.get("sump") and stage["op"] == "drain" else before, level)
        group = groups[number] if number < len(groups) and groups[number][-1].limits["op"] == stage["op"] else []
        rows.append(_measured(row, {step.pk for step in group}, counted))
        before = level
    at_level = [
        _read({"op": "level", "sump": step.limits.get("sump", ""), "out_ml": 0, "in_ml": 0}, {step.pk}, counted)
        for step in fluid_steps
        if step.code in LEVELS
    ]
    rows += [row for row in at_level if row["in_ml"] or row["out_ml"]]
    used = {step.pk for group in groups for step in group} | {step.pk for step in fluid_steps if step.code in LEVELS}
    _elsewhere(rows, used, events)
    yield from rows


def _by_stage(steps: Sequence[Step]) -> list[list[Step]]:
    """The steps of each stage: plug and pan of one drain together; only the last of them says the level after it."""
    groups: list[list[Step]] = []
    begun: list[Step] = []
    for step in steps:
        if step.limits.get("op"):
            begun.append(step)
            if "level_after_ml" in step.limits:
                groups.append(begun)
                begun = []
    return groups


def _planned(stage: Mapping[str, Any], before: int, level: int) -> dict[str, Any]:
    poured = stage.get("volume_ml", 0) + stage.get("add_ml", 0)
    row = {"op": stage["op"], "sump": stage.get("sump", ""), "in_ml": poured, "out_ml": before + poured - level}
    return {**row, "is_measured": False}


def _measured(row: dict[str, Any], keys: set[int], counted: Sequence[BayEvent]) -> dict[str, Any]:
    """The stage with what its steps were read; a way that was not read keeps the planned liters and is so marked."""
    if row["op"] == "mix":
        return {**row, "is_measured": True}
    return _read(row, keys, counted)


def _read(row: dict[str, Any], keys: set[int], counted: Sequence[BayEvent]) -> dict[str, Any]:
    own = [event for event in counted if event.step_id in keys and event.value is not None]
    put_in, out = bay_events.totals(own)
    has = {event.what.partition("_")[0] for event in own if event.what in ("in_ml", "in_g", "out_ml", "out_g")}
    wanted = {way for way in ("in", "out") if row[f"{way}_ml"]}
    if "in" in has:
        row = {**row, "in_ml": put_in}
    if "out" in has:
        row = {**row, "out_ml": out}
    return {**row, "is_measured": wanted <= has}


def _elsewhere(rows: list[dict[str, Any]], used: set[int], events: Sequence[BayEvent]) -> None:
    """What was read at other steps: out by the flow proof with the first stage that lets out, in with the last pour.

    A leftover of a package that was counted in as a whole is taken off the last pour.
    """
    every = bay_events.totals(events)
    at_stages = bay_events.totals(
        [event for event in bay_events.counted(events) if event.step_id in used and not event.what.startswith("left_")]
    )
    more_in, more_out = every[0] - at_stages[0], every[1] - at_stages[1]
    for more, way, places in ((more_out, "out_ml", rows), (more_in, "in_ml", rows[::-1])):
        place = next((row for row in places if row[way] > 0), None)
        if more and place is not None:
            place[way] = max(0, place[way] + more)


def share(kept: Mapping[str, Any]) -> tuple[int, int] | None:
    """The share of new fluid of stages that were kept, in ppm, over what the sheet leaves open; none: no fill known.

    raises  CalcError where they cannot be run
    check   2.65 L out and 2.75 L in, of 7.2 to 8.6 L: 2.75 / 8.70 = 316,092 to 2.75 / 7.30 = 376,712 ppm
    """
    facts = courses.facts_from(kept["sheet"])
    if kept["kind"] == "sumps":
        return _of_sumps(kept["stages"], facts)
    if facts.total_fill_ml is None and kept["fill_ml"] is None:
        return None
    stages = kept["stages"]
    unit = _unit(kept, facts)
    found = course_bands.share_band(unit, [*_run(stages, unit.sump_ml.likely, unit.pickup_ml.likely)])
    return courses.ppm(found.low), courses.ppm(found.high)


def _unit(kept: Mapping[str, Any], facts: courses.SheetFacts) -> course_bands.UnitBands:
    """The unit of the sheet; where it names no sump, or the course needed none, all fluid is mixed as one."""
    low, high = facts.total_fill_ml or (kept["fill_ml"], kept["fill_ml"])
    sump = facts.sump_ml if kept["fill_ml"] is not None else None
    if sump is None:
        return course_bands.UnitBands(
            course_bands.band(low, high), course_bands.certain(low), course_bands.certain(-low)
        )
    course = courses.Course("", kept["kind"], kept["fill_ml"], (), (), 0, None, None)
    unit = courses.unit_bands(course, facts)
    assert unit is not None
    # What was measured came out as it was read; the band of the sheet's drain is for a drain that was planned.
    is_planned = any(row["op"] == "drain" and not row["is_measured"] for row in kept["stages"])
    return unit if is_planned else course_bands.UnitBands(unit.capacity_ml, unit.sump_ml, unit.pickup_ml)


def _run(stages: Sequence[Mapping[str, Any]], sump: Fraction, pickup: Fraction) -> Iterator[fluid.Stage]:
    """The stages as the calculation takes them; no more comes out than stands above bottom or pickup."""
    level = Fraction(0)
    for row in stages:
        put_in, out = row["in_ml"], row["out_ml"]
        if row["op"] == "mix":
            yield fluid.Mix()
        elif row["op"] == "pump" and out:
            level = max(level + put_in - out, pickup)
            yield fluid.Pump(put_in, level - pickup)
        elif row["op"] == "drain":
            level = max(level - out, -sump)
            yield fluid.Drain(level)
        else:
            level += put_in
            yield fluid.Add(put_in)
            if out:
                level = max(level - out, -sump)
                yield fluid.Drain(level)


def _of_sumps(stages: Sequence[Mapping[str, Any]], facts: courses.SheetFacts) -> tuple[int, int] | None:
    """The lowest and the highest share among sumps that are each one mixed fluid."""
    found = []
    for sump in facts.sumps:
        layout = fluid.UnitLayout(sump.total_fill_ml, sump.total_fill_ml, -sump.total_fill_ml)
        own = [row for row in stages if row["sump"] == sump.name]
        run = fluid.staged_exchange(layout, [*_run(own, Fraction(sump.total_fill_ml), Fraction(-sump.total_fill_ml))])
        found.append(courses.ppm(run.fresh_stirred))
    return (min(found), max(found)) if found else None


def words(kept: Mapping[str, Any]) -> str:
    """How the share came about, for the logbook: by measured liters, or why only as planned; empty: as planned."""
    if not kept:
        return ""
    if "cannot" in kept:
        return "share as planned: what was measured does not fit the unit of the sheet"
    count = len(kept["stages"])
    planned = sum(not row["is_measured"] for row in kept["stages"])
    rest = f", {planned} of {count} stages as planned" if planned else ""
    return f"share by the measured liters{rest}"
