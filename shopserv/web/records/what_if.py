"""What if: distance a day, short trips, towing and new fluid moved, both clocks reckoned anew. Nothing is stored."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopserv.calc.severity import Clocks
from shopserv.common import clock, formats
from shopserv.common.drawing.bars import ClockBar, clock_bar
from shopserv.jobs.selectors import open_file
from shopserv.reminders.exposure import Exposure, WhatIf, exposure_of, towing_of, what_if
from shopserv.shop.actors import Actor
from shopserv.web.query import Asked, says_what_was_asked
from shopserv.web.records import severity_rows

NAMES = ("rate", "short", "towing", "new")
MOST = {"rate": 250, "short": 100, "towing": 100, "new": 100}


@dataclass(frozen=True, slots=True)
class Slider:
    """One slider: its name in the address, its words, where it stands, its end, what it is as it stands.

    shown   what is reckoned with: the exact figure while it stands where it stood, else the step it was moved to
    """

    name: str
    words: str
    value: int
    most: int
    unit: str
    now: str
    shown: str


@dataclass(frozen=True, slots=True)
class Side:
    """One clock of one way: its words, age, end, bar, and whether it governs."""

    words: str
    age: str
    ends: str
    bar: ClockBar
    governs: bool


@require_GET
@says_what_was_asked
def what_if_page(request: HttpRequest, number: str) -> HttpResponse:
    """The sliders of a vehicle, and both clocks as it stands and as it would be."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    asked = Asked(request, *NAMES)
    head = open_file.file_for(actor, number)
    today = clock.today(actor.house.time_zone)
    found = exposure_of(actor, head.vehicle, today=today)
    stand = _stand(found)
    moved = {name: asked.whole(name, 0, MOST[name], stand[name]) for name in NAMES}
    asks = _asked(moved, stand)
    would = what_if(found, asks, today=today)
    context: dict[str, Any] = {
        "vehicle": head.vehicle,
        "found": found,
        "sliders": _sliders(found, stand, moved),
        "is_moved": moved != stand,
    }
    if found.clocks and would and found.state:
        context |= {
            "now": _sides(found, found.clocks, today),
            "then": _sides(found, would, today),
            "lead": severity_rows.lead(found, would),
            "due": severity_rows.due_words(would, found.unit, today),
            "due_now": severity_rows.due_words(found.clocks, found.unit, today),
            "is_rate_unknown": found.state.rate is None,
            "moisture": severity_rows.moisture_parts(would.severity, _ppm(found, asks), _stored(found)),
            "heat": severity_rows.heat_parts(would.severity, actor.house.units_first),
            "intervals": severity_rows.interval_parts(found, would.severity),
            "credit": severity_rows.credit_parts(found, would, asks.share),
        }
    return render(request, "records/what_if.html", context)


def _stand(found: Exposure) -> dict[str, int]:
    """Where the sliders stand when nothing was moved, in whole steps."""
    state = found.state
    rate = state.rate if state and state.rate is not None else Fraction(0)
    short = state.use.short_trip if state else Fraction(0)
    return {
        "rate": min(MOST["rate"], round(rate)),
        "short": round(100 * short),
        "towing": round(100 * towing_of(found)),
        "new": 0,
    }


def _asked(moved: dict[str, int], stand: dict[str, int]) -> WhatIf:
    """What was moved; a slider that stands where it stood asks for the exact figure."""

    def share(name: str) -> Fraction | None:
        return None if moved[name] == stand[name] else Fraction(moved[name], 100)

    return WhatIf(
        rate=None if moved["rate"] == stand["rate"] else Fraction(moved["rate"]),
        short_trips=share("short"),
        towing=share("towing"),
        share=Fraction(moved["new"], 100),
    )


def _ppm(found: Exposure, asks: WhatIf) -> int:
    short = found.use.short_trip_ppm if found.use else 0
    return short if asks.short_trips is None else round(1_000_000 * asks.short_trips)


def _stored(found: Exposure) -> int:
    return found.use.stored_months if found.use else 0


def _sliders(found: Exposure, stand: dict[str, int], moved: dict[str, int]) -> list[Slider]:
    state = found.state
    rate = state.rate if state else None
    at = {name: _shown_at(found, name, stand[name], stand[name]) for name in NAMES}
    told = {
        "rate": _("not known yet") if rate is None else f"{at['rate']} {found.unit}",
        "short": f"{at['short']} %",
        "towing": f"{at['towing']} %",
        "new": _("no job"),
    }
    words = {
        "rate": _("Driven a day"),
        "short": _("Short trips"),
        "towing": _("Towing, share of the driving time"),
        "new": _("New fluid by a job today"),
    }
    return [
        Slider(
            name,
            words[name],
            moved[name],
            MOST[name],
            found.unit if name == "rate" else "%",
            told[name],
            _shown_at(found, name, moved[name], stand[name]),
        )
        for name in NAMES
    ]


def _shown_at(found: Exposure, name: str, moved: int, stand: int) -> str:
    """The figure that is reckoned with, to two places."""
    state = found.state
    if state is None or moved != stand or name == "new":
        return str(moved)
    exact = {
        "rate": Fraction(moved) if state.rate is None else state.rate,
        "short": 100 * state.use.short_trip,
        "towing": 100 * towing_of(found),
    }
    return formats.trimmed(exact[name], 2)


def _sides(found: Exposure, clocks: Clocks, today: date) -> list[Side]:
    state = found.state
    assert state is not None
    unit = {"mi": _("Miles"), "km": _("Kilometers")}[found.unit]
    factors = clocks.severity
    return [
        Side(
            _("Months"),
            formats.number(clocks.age[1], int(clocks.age[1].denominator > 1)),
            _ends(clocks.months_due, today),
            _bar(clocks.age[1], Fraction(factors.months), Fraction(state.base_months)),
            clocks.governs == "months",
        ),
        Side(
            unit,
            formats.number(clocks.age[0]),
            _ends_by_distance(found, clocks, today),
            _bar(clocks.age[0], factors.distance, state.base_distance),
            clocks.governs == "distance",
        ),
    ]


def _ends_by_distance(found: Exposure, clocks: Clocks, today: date) -> str:
    if clocks.past > 0:
        return _("past by %(far)s") % {"far": f"{formats.number(clocks.past)} {found.unit}"}
    return _("its end cannot be told yet") if clocks.distance_due is None else _ends(clocks.distance_due, today)


def _ends(on: date, today: date) -> str:
    return (_("ended %(on)s") if on < today else _("ends %(on)s")) % {"on": formats.day(on)}


def _bar(age: Fraction, here: Fraction, base: Fraction) -> ClockBar:
    return clock_bar(
        float(age),
        here=float(here),
        here_words=_("%(n)s here") % {"n": formats.number(here)},
        sheet=float(base),
        sheet_words=_("%(n)s on the sheet") % {"n": formats.number(base)},
    )
