"""The labor of a drain that a course opens and its method does not: of the price list, or asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from shopserv.catalog.models import LaborOperation
from shopserv.catalog.price_list import PriceList
from shopserv.jobs import courses
from shopserv.jobs.services.plan_data import ExtraLine, OptionEdit

WORDS = {"drain plug": "drain that this course opens", "pan": "pan that this course takes off"}
QUESTION = {
    "drain plug": "labor of the drain that this course opens",
    "pan": "labor of the pan that this course takes off",
}
OPERATIONS = {"drain plug": "single drain", "pan": "pan drop with filter"}


def opened_besides(method: str, stages: Sequence[Mapping[str, Any]] | None, facts: courses.SheetFacts) -> str:
    """What stages open that the method by itself does not: drain plug, pan, or nothing.

    source   common practice, no source: without a drain plug, fluid comes out of the sump with its pan
    """
    template = courses.METHODS[method]
    if template.first or template.kind == "sumps" or not _lets_out(stages or ()):
        return ""
    return "drain plug" if facts.drain_ml or not facts.pan_ml else "pan"


def _lets_out(stages: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a drain among the stages lets anything out; one of nothing, as it is put in, opens nothing.

    After a pump the level is taken to be full, which is above where it truly stands.
    """
    level = 0
    for stage in stages:
        if stage["op"] == "drain":
            if stage["to_ml"] < level:
                return True
            level = stage["to_ml"]
        elif stage["op"] == "pump":
            level = 0
        else:
            level += stage.get("volume_ml", 0)
    return False


def operation_of(prices: PriceList, opened: str) -> LaborOperation | None:
    """The operation of the price list that opens, drains and closes it; none: there is none for this unit."""
    return prices.labor(OPERATIONS[opened]) if opened else None


def line_of(edit: OptionEdit, opened: str, listed: LaborOperation | None) -> tuple[ExtraLine, ...]:
    """The line that sells it; none where nothing is opened, the list has no operation, or a person added it."""
    if listed is None or any(line.kind == "labor" and line.number == OPERATIONS[opened] for line in edit.extras):
        return ()
    return (ExtraLine(kind="labor", text=WORDS[opened], number=OPERATIONS[opened]),)


def asked(edit: OptionEdit, opened: str, listed: LaborOperation | None, listed_tenths: int | None) -> list[str]:
    """What has to be answered before it is offered; a labor line, or more time than the method's, is an answer."""
    if not opened or listed is not None or any(line.kind == "labor" for line in edit.extras):
        return []
    if edit.tenths is not None and listed_tenths is not None and edit.tenths > listed_tenths:
        return []
    return [QUESTION[opened]]
