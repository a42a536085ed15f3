"""The unit sheet: one unit's facts and where each of them comes from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import UnitSheet
from shopserv.catalog.sheets import values_by_what
from shopserv.common import clock
from shopserv.jobs.selectors.learned import measured_fills
from shopserv.logbook.selectors import services_by_sheet
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.query import Asked, says_what_was_asked
from shopserv.web.records import measured
from shopserv.web.records.lines import method_words
from shopserv.web.records.sheet_rows import sections_html

LARGEST_VERSION = 999_999


@require_GET
@says_what_was_asked
def unit(request: HttpRequest, code: str) -> HttpResponse:
    """A unit's sheet in force today, or the version that was asked for."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    asked = Asked(request, "version").whole("version", 1, LARGEST_VERSION, 0)
    found = catalog.unit_for(actor, code)
    sheets = list(catalog.sheets_of(actor, found))
    sheet = _chosen(sheets, asked, clock.today(actor.house.time_zone))
    context: dict[str, Any] = {
        "unit": found,
        "sheets": sheets,
        "sheet": sheet,
        "fitments": catalog.fitments_of(actor, found),
        "done": services_by_sheet(actor, found.code).get(sheet.version, 0) if sheet else 0,
    }
    if sheet:
        values = {row.what: row for row in sheet.values.all()}
        context |= {
            "rows": sections_html(values, actor.house.units_first),
            "fluids": catalog.fluids_asked(sheet),
            "methods": [method_words(code) for code in sheet.methods],
            "barred": [method_words(code) for code in sheet.barred],
        }
        fills = measured_fills(actor, found, values_by_what(sheet.values.all()))
        context |= {
            "measured": measured.lines(fills, actor.house.units_first),
            "sums": workings.shown(measured.workings_of(fills)),
            "may_decide": actor.may("house rules"),
        }
    return render(request, "records/unit.html", context)


def _chosen(sheets: Sequence[UnitSheet], asked: int, today: date) -> UnitSheet | None:
    if asked:
        found = next((one for one in sheets if one.version == asked), None)
        if found is None:
            raise Http404("no such version")
        return found
    begun = [one for one in sheets if one.state == "in force" and one.from_on and one.from_on <= today]
    return max(begun, key=lambda one: (one.from_on, one.version), default=next(iter(sheets), None))
