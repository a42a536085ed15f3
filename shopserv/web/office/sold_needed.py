"""Needed beside sold time by row of the price list: whether prices pay. Nobody's name is on it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from shopserv.calc import learns
from shopserv.catalog.models import Unit
from shopserv.catalog.sheets import WHAT
from shopserv.common import formats
from shopserv.common.drawing.spread import Spread, spread
from shopserv.jobs.courses import METHODS
from shopserv.jobs.selectors.learned import Fills, Operation, sheets_to_decide, sold_and_needed
from shopserv.shop.actors import Actor

MILLION = 1_000_000
DECIDE, FINE = "needs your decision", "as it should be"


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the price list; ratio and interval are empty where too few jobs were done."""

    words: str
    units: str
    sold: str
    count: str
    ratio: str
    interval: str
    needed: str
    grade: str
    verdict: str
    drawing: Spread | None


@require_GET
def sold_needed(request: HttpRequest) -> HttpResponse:
    """The owner's page of needed beside sold time."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = sold_and_needed(actor)
    context = {
        "lines": [_line(row) for row in found.rows],
        "sheets": [_sheet(unit, fills, actor.house.units_first) for unit, fills in sheets_to_decide(actor)],
        "left_out": found.left_out,
        "looked_at": found.looked_at,
        "least": learns.LEAST,
        "pause": learns.PAUSE_MIN,
    }
    return render(request, "office/sold_needed.html", context)


def _sheet(unit: Unit, fills: Fills, first: str) -> tuple[str, str, str]:
    """(code, name, sentence) of a value of a unit sheet that does not agree with what was measured."""
    judged = fills.judged
    low, high = judged.printed or (0, 0)
    said = {
        "what": WHAT[fills.what].words,
        "printed": formats.volume_band(low, high, first, 2),
        "measured": formats.volume(judged.learned.median or 0, first, 2),
        "jobs": _count(judged.learned),
    }
    return unit.code, unit.name, _("%(what)s: the sheet says %(printed)s, %(jobs)s have shown %(measured)s.") % said


def _line(row: Operation) -> Line:
    found = row.learned
    sold = formats.hours(row.tenths)
    words = METHODS[row.method].words if row.method in METHODS else row.words
    told = {"words": words, "units": row.units_pattern, "sold": sold, "count": _count(found)}
    if found.low is None or found.high is None or found.median is None:
        more = ngettext("One more says something.", "%(n)s more say something.", found.missing) % {"n": found.missing}
        return Line(**told, ratio="", interval="", needed="", grade="", verdict=more, drawing=None)
    grade, verdict = _verdict(found.low, found.high)
    return Line(
        **told,
        ratio=formats.number(found.median, 2),
        interval=_("%(low)s to %(high)s at %(sure)s")
        % {
            "low": formats.number(found.low, 2),
            "high": formats.number(found.high, 2),
            "sure": formats.percent(round(found.confidence * MILLION), 1),
        },
        needed=_("%(n)s h") % {"n": formats.number(found.median * row.tenths / 10, 1)},
        grade=grade,
        verdict=verdict,
        drawing=_drawn(row, found.median, found.low, found.high),
    )


def _verdict(low: Fraction, high: Fraction) -> tuple[str, str]:
    if low > 1:
        return DECIDE, _("It takes longer than it is sold for.")
    if high < 1:
        return DECIDE, _("It takes less than it is sold for.")
    return FINE, _("What is sold lies within what it takes.")


def _drawn(row: Operation, median: Fraction, low: Fraction, high: Fraction) -> Spread:
    """In percent of what is sold; the notch stands at 100."""
    ticks = [float(ratio * 100) for ratio in row.ratios]
    return spread(ticks, float(median * 100), (float(low * 100), float(high * 100)), (100.0, 100.0))


def _count(found: learns.Learned) -> str:
    if found.missing:
        return _("%(n)s of %(least)s jobs") % {"n": found.count, "least": learns.LEAST}
    return ngettext("%(n)s job", "%(n)s jobs", found.count) % {"n": found.count}
