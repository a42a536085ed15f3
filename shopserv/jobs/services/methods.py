"""Which methods a unit sheet and the findings leave open."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import Unit, UnitSheet
from shopserv.jobs import courses
from shopserv.jobs.findings import Standing, barred_because


def sheet_now(unit_code: str, day: date) -> UnitSheet | None:
    """The sheet in force of a unit by its code; none where there is none."""
    unit = Unit.objects.filter(code=unit_code).first()
    return catalog.sheet_in_force(unit, day) if unit else None


def sheet_facts(sheet: UnitSheet) -> courses.SheetFacts:
    """What a course needs of a unit sheet. One query."""
    return courses.facts_of(catalog.values_of(sheet), sheet.sumps)


def why_barred(
    sheet: UnitSheet | None,
    method: str,
    found: Sequence[Standing],
    facts: courses.SheetFacts,
    house: courses.HouseNumbers,
) -> str:
    """Why a method may not be offered on this unit as things stand, in one line; empty: it may."""
    if sheet is None:
        return "no unit sheet is in force"
    if method in sheet.barred:
        return "the unit sheet bars it"
    if method not in sheet.methods:
        return "the unit sheet does not name it"
    fraction = None
    try:
        fraction = min(
            courses.default_course(method, facts, house, fill).fraction_low_ppm or 0 for fill in courses.fills(facts)
        )
    except courses.CannotPlan as cause:
        return str(cause)
    return barred_because(method, found, fraction_low_ppm=fraction, is_named_for_hybrid=facts.names_electric_pump)
