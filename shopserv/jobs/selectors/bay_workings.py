"""The workings behind level, balance, flow and cool-down of a job: as they were kept, or as they stand now."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Any

from shopserv.calc.balance import COVERAGE
from shopserv.calc.working import Value, Working, from_dict
from shopserv.jobs.models import LevelRecord, MassBalance
from shopserv.jobs.selectors.bay import BaySheet, bay_sheet
from shopserv.jobs.workings.measured import share_working
from shopserv.shop.actors import Actor


def bay_workings(actor: Actor, number: str) -> tuple[BaySheet, dict[str, Working]]:
    """One job with its workings by the anchor that a page points at; no price is among them.

    raises   Http404, NotYours of selectors.bay.bay_sheet
    """
    sheet = bay_sheet(actor, number)
    found: dict[str, Working] = {}
    if sheet.levels:
        found["level"] = level_working(sheet.levels[-1])
    elif sheet.budget_now is not None:
        root = sheet.budget_now.root_sum_square_ml
        found["level"] = told(sheet.budget_now.working, "how far the level may be off", root, "mL")
    if sheet.balance is not None:
        found["balance"] = balance_working(sheet.balance)
    elif sheet.balance_now is not None:
        now = sheet.balance_now
        band = (now.difference_ml - COVERAGE * now.band_ml, now.difference_ml + COVERAGE * now.band_ml)
        found["balance"] = told(now.working, "in less out", now.difference_ml, "mL", *band)
    if sheet.flow is not None:
        found["flow"] = told(sheet.flow.working, "flow in the cooler line", sheet.flow.l_per_min, "L/min")
    if sheet.cooling is not None and sheet.cooling.clock is not None:
        cool = sheet.cooling.clock
        start = cool.start.minutes if cool.start else None
        found["cooling"] = told(cool.working, "minutes until the engine is started", start, "min")
    share = share_working(sheet.order.close_out.get("fluid", {}))
    if share is not None:
        found["share"] = share
    for record in reversed(sheet.levels[:-1]):
        found[f"level-{record.attempt}"] = level_working(record)
    return sheet, found


def level_working(record: LevelRecord) -> Working:
    """The error budget of a level record, as it was kept."""
    root = Fraction(record.budget_ml_tenths, 10)
    words = "how far the level may be off" if record.passes else f"how far the level may be off, try {record.attempt}"
    return told(record.budget.get("working", {}), words, root, "mL")


def balance_working(kept: MassBalance) -> Working:
    """In less out, as it was kept at the close-out."""
    difference, band = (Fraction(tenths, 10) for tenths in (kept.difference_ml_tenths, kept.band_ml_tenths))
    wide = COVERAGE * band
    return told(kept.working, "in less out", difference, "mL", difference - wide, difference + wide)


def told(
    kept: Mapping[str, Any] | Working, figure: str, value: Value, unit: str, low: Value = None, high: Value = None
) -> Working:
    """A kept working; what an older one does not say of its answer stands in the row beside it."""
    working = kept if isinstance(kept, Working) else from_dict(kept)
    if working.figure and working.value is not None:
        return working
    return replace(working, figure=working.figure or figure, value=value, unit=unit, low=low, high=high)
