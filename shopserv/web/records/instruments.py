"""The instruments of a shop: when each is to be checked, and whether a scale drifts by the packages weighed on it."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later
from django.views.decorators.http import require_http_methods

from shopserv.calc.drift import LIMIT, run_length
from shopserv.common import clock, drawing, formats
from shopserv.common.errors import Refusal
from shopserv.jobs.selectors.instruments import InstrumentRow, Weighed, instrument_rows
from shopserv.shop import instruments as deeds
from shopserv.shop.actors import Actor
from shopserv.web.fields import DayField
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once

UNITS = {"scale": " g", "level": "°"}
OF_DEGREES = ("thermometer", "scan tool")
KINDS = {
    "scale": later("scale"),
    "thermometer": later("thermometer"),
    "scan tool": later("scan tool"),
    "level": later("level"),
}


class CheckForm(PageForm):
    """A check that was made, and when the next is due. The last check as shown travels along."""

    checked_on = DayField(label=later("Checked on"))
    next_check_on = DayField(label=later("Next check"))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["checked_on"].not_after(today)  # type: ignore[attr-defined]


@require_http_methods(["GET", "POST"])
@acts_once
def instruments(request: HttpRequest) -> HttpResponse:
    """Every instrument with its check; a check is noted at its own."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    rows = instrument_rows(actor)
    today = clock.today(actor.house.time_zone)
    asked = request.POST.get("serial", "")
    forms = {
        row.instrument.serial: CheckForm(
            request.POST if row.instrument.serial == asked else None,
            today=today,
            auto_id=f"{row.instrument.serial}_%s",
        )
        for row in rows
    }
    refusal = None
    form = forms.get(asked)
    if form is not None and form.is_valid():
        try:
            deeds.note_check(
                deeds.instrument_for(actor, asked),
                actor=actor,
                checked_on=form.cleaned_data["checked_on"],
                next_check_on=form.cleaned_data["next_check_on"],
                was_on=_day(request.POST.get("was_on", "")),
            )
            messages.success(request, _("The check of %(serial)s is noted.") % {"serial": asked})
            return redirect("records:instruments")
        except Refusal as said:
            form.refuse(refusal := said)
    context = {
        "rows": [_shown(row, forms[row.instrument.serial], actor.house.units_first) for row in rows],
        "false_alarm": formats.number(Fraction(run_length(0))),
        "one_deviation": formats.number(Fraction(run_length(1)), 1),
        "limit": formats.number(Fraction(LIMIT)),
    }
    status = refusal.status if refusal else (422 if request.method == "POST" else 200)
    return render(request, "records/instruments.html", context, status=status)


def _day(text: str) -> date | None:
    """The last check as the page showed it; none: there was none, or it is no day."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _shown(row: InstrumentRow, form: CheckForm, units_first: str) -> dict[str, Any]:
    one, drift = row.instrument, row.drift
    found: dict[str, Any] = {
        "instrument": one,
        "kind": KINDS.get(one.kind, one.kind),
        "error": _error(one.kind, row.error.error, units_first),
        "step": _step(one.step_text, units_first),
        "is_overdue": row.is_overdue,
        "form": form,
        "drift": drift,
        "was_on": one.checked_on.isoformat() if one.checked_on else "",
    }
    if drift is None:
        return found
    deviation = drift.points[-1].deviation if drift.points else 0.0
    found |= {
        "verdict": drift.words[:1].upper() + drift.words[1:],
        "is_alarm": drift.alarm_at is not None,
        "deviation": f"{formats.number(Fraction(deviation) * 100, 2)} %" if deviation else "",
        "soon": _soon(deviation),
        "strip": _strip(row) if drift.points else None,
        "weighed": [
            _weighed(one, point.off, point.is_counted) for one, point in zip(row.weighed, drift.points, strict=True)
        ],
    }
    return found


def _error(kind: str, error: Fraction, units_first: str) -> str:
    """How far an instrument may be off, in the unit of its scale."""
    if kind in OF_DEGREES:
        return formats.degrees_apart(error, units_first)
    return f"{formats.trimmed(error)}{UNITS.get(kind, '')}"


def _step(text: str, units_first: str) -> str:
    """The step of a display with its sign: "0.1°" of "0.1 deg", "0.18 °F" of "0.1 C" where °F is read."""
    figure, _blank, unit = text.partition(" ")
    if unit == "deg":
        return f"{figure}°"
    if unit == "C" and figure.replace(".", "", 1).isdecimal():
        return formats.degrees_apart(Fraction(figure), units_first)
    return text


def _soon(deviation: float) -> str:
    """After how many packages 2 % would show, on average."""
    return formats.number(Fraction(run_length(0.02 / deviation)), 1) if deviation else ""


def _strip(row: InstrumentRow) -> Any:
    drift = row.drift
    assert drift is not None
    return drawing.drift_strip(
        [(point.z, point.up, point.down, point.is_counted) for point in drift.points],
        limit=LIMIT,
        alarm_at=drift.alarm_at,
        words=drift.words,
    )


def _weighed(one: Weighed, off: float, is_counted: bool) -> dict[str, Any]:
    return {
        "at": one.at,
        "order": one.order,
        "package": one.package,
        "net": f"{one.net_g:,} g",
        "off": f"{'+' if off > 0 else ''}{formats.number(Fraction(off) * 100, 2)} %",
        "is_counted": is_counted,
    }
