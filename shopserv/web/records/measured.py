"""What the shop has measured, beside the unit sheet: figures, drawing, and whether somebody has to decide."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopserv.calc import learns
from shopserv.calc.working import Working
from shopserv.catalog.sheets import WHAT
from shopserv.common import formats
from shopserv.common.drawing.spread import Spread, spread
from shopserv.jobs.selectors.learned import Fills

DECIDE, WATCH, FINE = "needs your decision", "watch", "as it should be"


@dataclass(frozen=True, slots=True)
class Line:
    """One value of the sheet beside what was measured; `interval` is empty where too few jobs were done."""

    what: str
    anchor: str
    printed: str
    median: str
    interval: str
    count: str
    grade: str
    verdict: str
    drawing: Spread | None


def lines(fills: list[Fills], units_first: str) -> list[Line]:
    """Each measured value, in the order of the sheet."""
    return [_line(one, units_first) for one in fills]


def workings_of(fills: list[Fills]) -> dict[str, Working]:
    """The working of each value that was measured, by the anchor that its line points at."""
    return {_anchor(one): one.judged.working for one in fills if one.values}


def _anchor(one: Fills) -> str:
    return f"measured-{one.what}"


def _line(one: Fills, first: str) -> Line:
    found, band = one.judged.learned, one.judged.printed
    interval = ""
    if found.low is not None and found.high is not None:
        interval = _("%(band)s at %(sure)s") % {
            "band": formats.volume_band(found.low, found.high, first, 2),
            "sure": formats.percent(round(found.confidence * 1_000_000), 1),
        }
    ends = None if found.low is None or found.high is None else (float(found.low), float(found.high))
    grade, verdict = _verdict(one)
    return Line(
        what=WHAT[one.what].words,
        anchor=_anchor(one),
        printed=formats.volume_band(band[0], band[1], first, 2) if band else _("not known"),
        median=formats.volume(found.median, first, 2) if found.median is not None else "",
        interval=interval,
        count=count_words(found),
        grade=grade,
        verdict=verdict,
        drawing=spread(
            [float(value) for value in one.values],
            float(found.median),
            ends,
            None if band is None else (float(band[0]), float(band[1])),
        )
        if found.median is not None
        else None,
    )


def count_words(found: learns.Learned) -> str:
    """How many were measured: "5 of 8" while nothing is said, else "12 jobs"."""
    if found.missing:
        return _("%(n)s of %(least)s jobs") % {"n": found.count, "least": learns.LEAST}
    return ngettext("%(n)s job", "%(n)s jobs", found.count) % {"n": found.count}


def _verdict(one: Fills) -> tuple[str, str]:
    """(grade, sentence)."""
    match one.judged.verdict:
        case learns.TOO_FEW:
            more = one.judged.learned.missing
            said = ngettext("One more says something.", "%(n)s more say something.", more)
            return "", said % {"n": more}
        case learns.UNKNOWN:
            return WATCH, _("The sheet does not say it; this is what was measured.")
        case learns.INSIDE:
            return FINE, _("The sheet agrees with what was measured.")
        case learns.BELOW:
            return DECIDE, _("The sheet says less than was measured.")
    return DECIDE, _("The sheet says more than was measured.")
