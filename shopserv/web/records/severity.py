"""The severity of a vehicle's life on its fluid: what goes in, how it is known, what would move the day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.calc.intervals import REFERENCE_C
from shopserv.calc.severity import doubt, swings
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, Stale
from shopserv.jobs.selectors import open_file
from shopserv.jobs.selectors.open_file import Head
from shopserv.jobs.services.top_ups import laboratory, top_up
from shopserv.reminders.exposure import Exposure, exposure_of, fluids_of
from shopserv.reminders.services import severity as deeds
from shopserv.shop import climates
from shopserv.shop.actors import Actor
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, says_what_was_asked
from shopserv.web.records import severity_rows
from shopserv.web.records.life import doubt_words
from shopserv.web.records.severity_forms import HomeForm, LogForm, SlipForm, TopUpForm, UseForm, WaterForm

ACTS = ("use", "home", "log", "withdraw", "water", "slip", "topped")
FIELDS = {"short_trip_ppm": "short_trips"}


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def severity(request: HttpRequest, number: str) -> HttpResponse:
    """What shortens the life of a vehicle's fluid; its use, home, temperature log or laboratory figure noted."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    Asked(request)
    head = open_file.file_for(actor, number)
    today = clock.today(actor.house.time_zone)
    found = exposure_of(actor, head.vehicle, today=today)
    forms = _forms(request, actor, head, found, today)
    status = 200
    form = forms.get(request.POST.get("act", "")) if request.method == "POST" else None
    if request.method == "POST":
        status = 422
        if form is not None and form.is_valid():
            try:
                said = _DONE[request.POST["act"]](actor, head, form)
            except Refusal as refusal:
                refusal.field = FIELDS.get(refusal.field, refusal.field)
                form.refuse(refusal)
                status = refusal.status
                if isinstance(refusal, Stale):  # sent again, it puts this side in the place of the other
                    form.data = {**request.POST.dict(), "edition": head.vehicle.edition}
            else:
                messages.success(request, said)
                return HttpResponseRedirect(reverse("records:severity", args=[head.vehicle.number]))
    return render(request, "records/severity.html", _context(actor, head, found, forms, today), status=status)


def _forms(request: HttpRequest, actor: Actor, head: Head, found: Exposure, today: date) -> dict[str, Any]:
    act = request.POST.get("act", "") if request.method == "POST" else ""
    data = {name: request.POST if act == name else None for name in ACTS}
    return {
        "use": UseForm(data["use"], first=actor.house.units_first, use=found.use),
        "home": HomeForm(
            data["home"],
            places=list(climates.places_of(actor)),
            reference=climates.reference_places(),
            initial={"edition": head.vehicle.edition, "place": found.place.code if found.place else ""},
        ),
        "log": LogForm(data["log"], request.FILES if act == "log" else None),
        "withdraw": PageForm(data["withdraw"]),
        "water": WaterForm(data["water"], today=today),
        "slip": SlipForm(data["slip"], slips=severity_rows.slips(found.results)),
        "topped": TopUpForm(
            data["topped"],
            today=today,
            unit=head.odometer_unit,
            first=actor.house.units_first,
            fluids=fluids_of(actor),
        ),
    }


def _note_use(actor: Actor, head: Head, form: Any) -> str:
    deeds.note_profile(head.vehicle, actor=actor, **form.said())
    return _("How it is used is noted.")


def _choose_home(actor: Actor, head: Head, form: Any) -> str:
    said = form.cleaned_data
    row = deeds.choose_place(head.vehicle, actor=actor, code=said["place"], edition=said["edition"] or 0)
    return _("At home in %(place)s.") % {"place": row.home_climate}


def _take_log(actor: Actor, head: Head, form: Any) -> str:
    use = deeds.note_log(head.vehicle, actor=actor, **form.said(), is_heat_confirmed="log.heat" in form.confirmed)
    log = use.log
    assert log is not None
    return _("%(rows)s lines of %(file)s taken: %(hours)s hours of running, from %(begins)s to %(ends)s.") % {
        "rows": formats.number(log.rows),
        "file": log.file_name,
        "hours": formats.number(Fraction(log.milliseconds, 3_600_000), 1),
        "begins": log.begins,
        "ends": log.ends,
    }


def _withdraw_log(actor: Actor, head: Head, form: Any) -> str:
    deeds.withdraw_log(head.vehicle, actor=actor)
    return _("The log counts no more.")


def _note_water(actor: Actor, head: Head, form: Any) -> str:
    row = laboratory(head.vehicle, actor=actor, **form.said())
    return _("Slip %(slip)s noted.") % {"slip": row.reference}


def _withdraw_water(actor: Actor, head: Head, form: Any) -> str:
    said = form.cleaned_data
    row = deeds.withdraw_water(head.vehicle, actor=actor, reference=said["slip"], why=said["why"])
    return _("Slip %(slip)s counts no more.") % {"slip": row.reference}


def _note_top_up(actor: Actor, head: Head, form: Any) -> str:
    row = top_up(head.vehicle, actor=actor, **form.said())
    if row.note:
        return _("Topped up with %(fluid)s: it %(note)s. Wrong fluid is suspected (K-06).") % {
            "fluid": row.fluid_code,
            "note": row.note,
        }
    return _("Topped up: %(share)s new.") % {"share": formats.share(row.fraction_low_ppm, row.fraction_high_ppm)}


_DONE: dict[str, Callable[[Actor, Head, Any], str]] = {
    "use": _note_use,
    "home": _choose_home,
    "log": _take_log,
    "withdraw": _withdraw_log,
    "water": _note_water,
    "slip": _withdraw_water,
    "topped": _note_top_up,
}


def _context(actor: Actor, head: Head, found: Exposure, forms: dict[str, Any], today: date) -> dict[str, Any]:
    first = actor.house.units_first
    context: dict[str, Any] = {
        "head": head,
        "vehicle": head.vehicle,
        "found": found,
        "forms": forms,
        "is_refused": any(form.is_bound and form.errors for form in forms.values()),
        "may_take_in": actor.may("take in"),
        "inputs": severity_rows.inputs(found, first),
    }
    if found.clocks and found.state and found.use:
        factors = found.clocks.severity
        is_past = found.clocks.due <= today
        context |= {
            "is_past": is_past,
            "lead": severity_rows.lead(found, found.clocks),
            "due": severity_rows.due_words(found.clocks, found.unit, today),
            "sample": severity_rows.sample_words(found),
            "moisture": severity_rows.moisture_parts(factors, found.use.short_trip_ppm, found.use.stored_months),
            "heat": severity_rows.heat_parts(factors, first),
            "intervals": severity_rows.interval_parts(found, factors),
            "strip": severity_rows.strip(factors, first),
            "book": severity_rows.book(found),
            "doubt": doubt_words(doubt(found.state, today), today),
            "inside": severity_rows.inside(found),
            "mark": severity_rows.degrees(float(REFERENCE_C), first),
            "swings": severity_rows.swings(swings(found.state, today, int(is_past))),
        }
    return context
