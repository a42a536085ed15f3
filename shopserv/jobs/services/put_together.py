"""Work that is ended early: what was opened is put together again, filled, looked at; the steps for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

from django.db.models import Max

from shopserv.common import clock
from shopserv.jobs import bay_readings
from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_events import level_now
from shopserv.jobs.bay_stages import Step
from shopserv.jobs.models import BayEvent, BayStep, WorkOrder
from shopserv.jobs.services import work_steps
from shopserv.jobs.services.bay_rules import coolant_on
from shopserv.shop.actors import Actor

ENDED = "ended_early"
OPENS = frozenset(
    {"fill_plug_first", "hold_open_in", "lines_open", "flow_proof", "drain", "drain_pan", "add", "pump", "mix"}
)
# What opens -> what shuts it again; the last of both says how it stands.
SHUT_BY = (
    ("drain", "drain_plug"),
    ("drain_pan", "pan_on"),
    ("lines_open", "lines_back"),
    ("hold_open_in", "hold_open_out"),
)
BY_LINES = ("cooler_full", "lines_home")  # done only where the lines were open
NOT_WITH_COOLANT = frozenset({"leak_idle", "road_test", "leak_again"})  # with coolant in it, nothing runs
NOT_AGAIN = frozenset({"adaptation"})


def is_ended(order: WorkOrder) -> bool:
    """Whether it was ended early and is being put together again."""
    return ENDED in order.rules


def is_opened(order: WorkOrder) -> bool:
    """Whether anything on the vehicle was opened, drained or filled."""
    return any(step.code in OPENS for step in _touched(order))


def has_open_steps(order: WorkOrder) -> bool:
    """Whether a step is left to be done."""
    return order.steps.filter(state__in=("ahead", "now")).exists()


def begin(order: WorkOrder, actor: Actor, why: str) -> dict[str, Any]:
    """Put the steps that put it together again behind what was done, inside another deed.

    returns   the rules to keep
    """
    touched = _touched(order)
    values = work_steps.values_for(order)
    every = work_steps.built(order, order.bay, order.rules, values)
    steps = tuple(_remaining(order, touched, every))
    # Events stay with their steps; what nobody has touched goes.
    order.steps.filter(state="ahead").delete()
    order.steps.filter(state="now", events__isnull=True).delete()
    order.steps.filter(state="now").update(state="skipped", skip_reason="ended early")
    last = order.steps.aggregate(last=Max("order"))["last"] or 0
    work_steps.keep(order, steps, last)
    there = {row.code for row in touched} | {step.code for step in steps}
    return {
        **order.rules,
        "look_asked": order.rules.get("second_look") != "off",
        "close_out_items": work_steps.items_of(tuple(step for step in every if step.code in there)),
        ENDED: {"words": why, "by": actor.name, "at": clock.now().isoformat(), "behind": last},
    }


def _touched(order: WorkOrder) -> list[BayStep]:
    """The steps that were done, and the one that is up where something was read at it."""
    rows = (
        order.steps.filter(state__in=("done", "redone", "now", "skipped")).order_by("order").prefetch_related("events")
    )
    return [
        row for row in rows if row.state in ("done", "redone") or any(e.value is not None for e in row.events.all())
    ]


def _remaining(order: WorkOrder, touched: Sequence[BayStep], every: Sequence[Step]) -> Iterator[Step]:
    has_coolant = coolant_on(order) is not None
    codes = {step.code for step in touched}
    level_at = next(place for place, step in enumerate(every) if step.code == "levelness")
    before, behind = every[:level_at], every[level_at:]
    shut = _shutting(touched, before)
    # The pin that holds the thermostat open comes out once the cooler is full.
    yield from (step for step in shut if step.code != "hold_open_out")
    lines = {step.code: step for step in before if step.code in BY_LINES} if "lines_open" in codes else {}
    if "lines_home" in lines:
        yield lines["lines_home"]
    if not has_coolant:
        yield from _pour_back(order)
        if "cooler_full" in lines:
            yield lines["cooler_full"]
    yield from (step for step in shut if step.code == "hold_open_out")
    if has_coolant:
        behind = behind[1 + max(place for place, step in enumerate(behind) if step.code == "level") :]
    else:
        yield from (step for step in before if step.code == "cap_open" and step.code not in codes)
    for step in behind:
        if step.code in NOT_AGAIN or (has_coolant and step.code in NOT_WITH_COOLANT):
            continue
        if step.code in BY_LINES and "lines_open" not in codes:
            continue
        if "is_pumped" in step.limits and "lines_open" not in codes:
            step = replace(step, limits={**step.limits, "is_pumped": False})
        yield step


def _shutting(touched: Sequence[BayStep], before: Sequence[Step]) -> list[Step]:
    """The steps that shut what was opened last and not shut since, each sump by itself, in the order of the sheet."""
    codes = [(step.code, step.limits.get("sump", "")) for step in touched]
    wanted = {
        (shut, sump)
        for opened, shut in SHUT_BY
        for sump in {sump for code, sump in codes if code == opened}
        if _last(codes, (opened, sump)) > _last(codes, (shut, sump))
    }
    found = {(step.code, step.limits.get("sump", "")): step for step in reversed(before)}
    return [step for key, step in reversed(found.items()) if key in wanted]


def _last(codes: Sequence[tuple[str, str]], code: tuple[str, str]) -> int:
    return max((place for place, one in enumerate(codes) if one == code), default=-1)


def _pour_back(order: WorkOrder) -> Iterator[Step]:
    """What is out goes back in, each sump by itself."""
    by_sump: dict[str, list[BayEvent]] = defaultdict(list)
    for event in order.events.select_related("step").order_by("pk"):
        by_sump[event.step.limits.get("sump", "") if event.step else ""].append(event)
    for sump, events in by_sump.items():
        level = level_now(events)
        if level < 0:
            yield _add(-level, sump, order.shop.units_first)


def _add(ml: int, sump: str, units_first: str) -> Step:
    amount = bay_readings.volume(ml, units_first)
    where = f" into the {sump} sump" if sump else ""
    asked = bay_readings.need("in_ml", "poured in", units_first=units_first, start=ml, low=0)
    return Step(
        "add",
        f"Ended early: pour in{where} the {amount} that is out, of the fluid that the unit sheet names, engine off.",
        ("Read the name on the package before it is opened.", words.FIRE),
        needs=(asked,),
        limits={"op": "add", "sump": sump, "engine": "off", "level_after_ml": 0, "level_after": "full", "in_ml": ml},
        is_fluid=True,
    )
