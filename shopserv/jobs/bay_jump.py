"""Two temperatures of the fluid that cannot belong together, at the steps to the level: what is asked. No tables."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from shopserv.calc import errors, jump, measures
from shopserv.common import formats
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_bench import Tool, tool
from shopserv.jobs.bay_cooling import cooling_of, each_try
from shopserv.jobs.bay_events import counted, latest
from shopserv.jobs.models import BayEvent, BayStep
from shopserv.shop.models import Shop

BUCKET = "flow_proof"  # what comes first stood in the cooler: it may be as cold as the air, and colder than the sump
COMPARED = ("lines_open", BUCKET, "warm_up", "cool_down_1", "cool_down_2", "level_sump", "level")
CIRCUIT_ML = 1_000  # of a cooler circuit that the sheet says nothing of; common practice, no source
WHY = {  # how two readings may both be right, or which of them counts
    "late": "typed later than it was read",
    "instrument": "another instrument, or its probe elsewhere",
    "engine": "the engine ran, or stood, in between",
    "driven": "the vehicle was driven in between",
    "poured": "cold fluid went in that is not noted",
    "before": "the earlier one was misread",
}


def jumped(
    step: BayStep, steps: Sequence[BayStep], events: Sequence[BayEvent], tools: Sequence[Tool], now: Tool | None = None
) -> str:
    """What is wrong between the temperature of a step and the one read before; empty: both can be right.

    step   the one that is judged; of more than one sump none is: their fluids are not one
    now    the instrument of this reading, where it is known better than by its press
    """
    pair = _pair(step, steps, events)
    if pair is None:
        return ""
    said = _between_two(step, pair, steps, events, tools, now)
    is_bucket = pair[0].step_id in {one.pk for one in steps if one.code == BUCKET}
    if said and is_bucket and (pair[1].value or 0) > (pair[0].value or 0):
        sump = _pair(step, [one for one in steps if one.code != BUCKET], events)
        return said if sump is None else _between_two(step, sump, steps, events, tools, now)
    return said


def _between_two(
    step: BayStep,
    pair: tuple[BayEvent, BayEvent],
    steps: Sequence[BayStep],
    events: Sequence[BayEvent],
    tools: Sequence[Tool],
    now: Tool | None,
) -> str:
    """What is wrong between two readings, in words; a bucket is never too cold."""
    by = [_by(one, tools, now if one is pair[1] else None) for one in pair]
    read = [_read(one, pair[0], whose) for one, whose in zip(pair, by, strict=True)]
    try:
        found = jump.jump(read[0], read[1], _between(*pair, steps, events, tools))
    except errors.CalcError:  # what no fluid has is refused elsewhere, with its own words
        return ""
    is_cold_bucket = found.off_k < 0 and step.code == BUCKET
    return "" if found.fits or is_cold_bucket else _words(pair, by, found, step.shop)


def _by(event: BayEvent, tools: Sequence[Tool], now: Tool | None) -> tuple[Tool, bool]:
    """The instrument of a reading, and whether it is known: named, or the only one there is."""
    of_kind = [one for one in tools if one.kind == "thermometer"]
    return now or tool(tools, "thermometer", event.instrument), bool(now or event.instrument or len(of_kind) == 1)


def _pair(step: BayStep, steps: Sequence[BayStep], events: Sequence[BayEvent]) -> tuple[BayEvent, BayEvent] | None:
    """(the reading before, the reading of the step); none where there are not both, or they came from paper."""
    then = latest(events, "temp_mdegc", step.pk)
    if step.code not in COMPARED or then is None or step.limits.get("sump"):
        return None
    of = {one.pk: one for one in steps if one.code in COMPARED and not one.limits.get("sump")}
    before = [one for one in counted(events) if one.what == "temp_mdegc" and one.step_id in of]
    if step.code == "cool_down_2":  # done again it adds a reading, the earlier ones stay
        before += each_try(events, step.pk)
    before = [one for one in before if one.pk < then.pk and one.value is not None]
    if step.code != "cool_down_2":
        before = [one for one in before if one.step_id != step.pk]
    first = max(before, key=lambda one: one.pk, default=None)
    if first is None or then.value is None or first.is_from_paper or then.is_from_paper:
        return None
    return first, then


def _between(
    first: BayEvent, then: BayEvent, steps: Sequence[BayStep], events: Sequence[BayEvent], tools: Sequence[Tool]
) -> jump.Between:
    air = latest(events, "ambient_mdegc")
    limits: dict[str, Any] = next((one.limits for one in reversed(steps) if one.code == "level"), {})
    codes = {one.pk: one.code for one in steps}
    is_cooling = all(codes[one.step_id or 0].startswith("cool_down") for one in (first, then))
    started = any(
        one.what == "done" and codes.get(one.step_id or 0) == "start_engine" and first.pk < one.pk < then.pk
        for one in events
    )
    earlier = [one for one in events if one.pk < then.pk]
    cooling = cooling_of(steps, earlier, tools)
    clock = cooling.clock if cooling else None
    poured = [one for one in counted(events) if one.pk > first.pk and one.what in ("in_ml", "in_g")]
    return jump.Between(
        air_c=None if air is None or air.value is None else Fraction(air.value, 1000),
        constant_min=None if clock is None else jump.shortest_constant(clock),
        is_running=started or not is_cooling,
        poured_ml=sum(Fraction(one.value or 0) / (jump.DENSITY if one.what == "in_g" else 1) for one in poured),
        circuit_ml=limits.get("cooler_ml") or CIRCUIT_ML,
        fill_ml=limits.get("fill_ml"),
    )


def _read(event: BayEvent, first: BayEvent, by: tuple[Tool, bool]) -> jump.Read:
    value, unit = event.value or 0, event.unit[-2:]
    figure = measures.mdegc_to_f(value) if unit == "°F" else Fraction(value, 1000)
    return jump.Read(
        minutes=Fraction(int((event.received_at - first.received_at).total_seconds()), 60),
        celsius=Fraction(value, 1000),
        error_k=by[0].trusted,
        figure=f"{float(figure):.1f}",
        unit=unit,
        instrument=by[0].serial if by[1] else "",
    )


def _words(pair: tuple[BayEvent, BayEvent], by: Sequence[tuple[Tool, bool]], found: jump.Jump, shop: Shop) -> str:
    units = shop.units_first

    def said(event: BayEvent, whose: tuple[Tool, bool]) -> str:
        at = event.received_at.astimezone(ZoneInfo(shop.time_zone)).replace(tzinfo=None)
        named = f"by {whose[0].words}" if whose[1] else "instrument not named"
        return f"{formats.temperature(event.value or 0, units)} at {formats.clock_time(at, units)}, {named}"

    low, high = (readings.temperature(round(celsius * 1000), units) for celsius in (found.low_c, found.high_c))
    order = pair[0].step.order if pair[0].step else 0
    return (
        f"Step {order} read {said(pair[0], by[0])}; now {said(pair[1], by[1])}. "
        f"In that time it can come to {low} at the least and {high} at the most. "
        f"Likely: {'; '.join(_in_either(found.likely))}. "
        "Read it once more and type it, or choose how both can be right."
    )


def _in_either(likely: Sequence[str]) -> list[str]:
    """What is likely, a slip that explains either reading said once."""
    said = []
    for words in likely:
        slip, comma, when = words.partition(", ")
        if comma and {f"{slip}, now", f"{slip}, before"} <= set(likely):
            if when == "now":
                said.append(f"{slip}, in either")
        else:
            said.append(words)
    return said
