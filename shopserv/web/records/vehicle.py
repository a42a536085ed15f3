"""The logbook: the life of one vehicle, and what may be noted on it here."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.common import clock, formats
from shopserv.common.errors import Refusal
from shopserv.jobs.findings import FINDINGS
from shopserv.jobs.selectors import entries, open_file
from shopserv.jobs.selectors.entries import RANKS, Key
from shopserv.jobs.selectors.open_file import Head
from shopserv.logbook.doubts import doubts_of
from shopserv.registry import selectors as registry
from shopserv.registry.services import vehicles
from shopserv.reminders.clocks import clocks_of
from shopserv.reminders.services import letters, readings
from shopserv.reminders.workings import doubt_of
from shopserv.shop.actors import Actor
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once
from shopserv.web.query import LARGEST_KEY, Asked, says_what_was_asked
from shopserv.web.records import doubts, life
from shopserv.web.records.forms import WENT_BACK, OwnerForm, PlateForm, ReadingForm
from shopserv.web.records.lines import Page, lines_html, method_words

ACTS = ("reading", "plate", "owner", *doubts.ANSWERS)


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def vehicle(request: HttpRequest, number: str) -> HttpResponse:
    """The logbook of one vehicle; a reading, another plate or another owner noted on it."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    before = _before(Asked(request, "before"))
    head = open_file.file_for(actor, number)
    if head.vehicle.merged_into and request.method == "GET":
        return HttpResponseRedirect(reverse("records:vehicle", args=[head.vehicle.merged_into.number]))
    today = clock.today(actor.house.time_zone)
    forms = _forms(request, head, today)
    if request.method != "POST":
        return render(request, "records/vehicle.html", _context(actor, head, forms, today, before))
    status = 422
    form = forms.get(request.POST.get("act", ""))
    if form is not None and form.is_valid():
        try:
            said = _DONE[request.POST["act"]](actor, head, form)
        except Refusal as refusal:
            _refuse(form, refusal)
            if refusal.code == WENT_BACK:
                form.propose(actor, head.vehicle, today)
            status = refusal.status
        else:
            if said:
                messages.success(request, said)
                return HttpResponseRedirect(reverse("records:vehicle", args=[head.vehicle.number]))
    return render(request, "records/vehicle.html", _context(actor, head, forms, today, before), status=status)


def _forms(request: HttpRequest, head: Head, today: date) -> dict[str, Any]:
    act = request.POST.get("act", "") if request.method == "POST" else ""
    data = {name: request.POST if act == name else None for name in ACTS}
    return {
        "reading": ReadingForm(data["reading"], unit=head.odometer_unit, today=today),
        "plate": PlateForm(data["plate"], today=today, initial={"plate": head.plate}),
        "owner": OwnerForm(data["owner"], today=today),
        **{name: doubts.DoubtForm(data[name]) for name in doubts.ANSWERS},
    }


def _refuse(form: PageForm, refusal: Refusal) -> None:
    """A reading that went back is answered by its reason, not by a tick; an owner stands in a field of that name."""
    if refusal.code == WENT_BACK or refusal.field == "keeper":
        field = "owner" if refusal.field == "keeper" else "odometer"
        form.add_error(field, ValidationError(refusal.message, code=refusal.code))
    else:
        form.refuse(refusal)


def _note_reading(actor: Actor, head: Head, form: Any) -> str:
    reading = readings.note(head.vehicle, actor=actor, **form.reading())
    shown = formats.odometer(reading.figure, reading.unit)
    if reading.state == "set aside":
        return _("%(figure)s kept and not counted: %(why)s.") % {"figure": shown, "why": reading.reason}
    typed = form.cleaned_data["odometer"]
    if typed.unit != reading.unit:
        return _("%(figure)s noted; %(typed)s was typed.") % {"figure": shown, "typed": reading.as_typed}
    return _("%(figure)s noted.") % {"figure": shown}


def _change_plate(actor: Actor, head: Head, form: Any) -> str:
    said = form.cleaned_data
    row = vehicles.change_plate(head.vehicle, actor=actor, plate=said["plate"], place=said["place"], on=said["since"])
    return _("Plate %(plate)s noted.") % {"plate": row.as_typed} if row.plate else _("Noted: no plate.")


def _change_owner(actor: Actor, head: Head, form: Any) -> str:
    said = form.cleaned_data
    customer = None
    if not said["not_known"]:
        customer = form.choose(registry.customers_called(actor, said["owner"]))
        if customer is None:
            return ""
    letters.change_keeper(head.vehicle, actor=actor, customer=customer, on=said["owner_since"])
    return _("%(name)s is the owner now.") % {"name": customer.name} if customer else _("Noted: owner not known.")


def _settle(act: str) -> Callable[[Actor, Head, Any], str]:
    return lambda actor, head, form: doubts.settle(actor, head.vehicle, act, form)


_DONE: dict[str, Callable[[Actor, Head, Any], str]] = {
    "reading": _note_reading,
    "plate": _change_plate,
    "owner": _change_owner,
    **{act: _settle(act) for act in doubts.ANSWERS},
}


def _before(asked: Asked) -> Key | None:
    """The key of the last line of the page before: day, kind and row."""
    typed = asked.text("before")
    if not typed:
        return None
    day, _dot, rest = typed.partition(".")
    rank, _dot, pk = rest.partition(".")
    try:
        key = date.fromisoformat(day), int(rank), int(pk)
    except ValueError:
        key = None
    if key is None or not typed.isascii() or not 0 <= key[1] < len(RANKS) or not 0 <= key[2] <= LARGEST_KEY:
        raise asked.out_of_range("before", _("the end of the page before, as its link says it"))
    return key


def _context(actor: Actor, head: Head, forms: dict[str, Any], today: date, before: Key | None) -> dict[str, Any]:
    log = entries.log_of(actor, head.vehicle, before=before)
    forecast = head.forecast
    clocks = clocks_of(forecast, today) if forecast else None
    first_use = head.vehicle.in_service_on
    # The readings are judged again only where the forecast left one out: a page of the others asks nothing more.
    is_doubted = forecast is not None and "doubted" in forecast.working.get("inputs", {})
    doubted = doubts_of(actor, head.vehicle) if is_doubted else []
    in_doubt = frozenset(one.reading.pk for one in doubted)
    done = {
        entry.day: (entry.a or "", entry.n2, entry.n3)
        for entry in log.entries
        if entry.kind == "service" and entry.e != "corrected"
    }
    context: dict[str, Any] = {
        "head": head,
        "vehicle": head.vehicle,
        "lines": lines_html(Page(actor, log, clock.now(), today, first_use, head.odometer_unit, in_doubt)),
        "doubted": doubts.shown(doubted),
        "doubt_refused": [forms[act] for act in doubts.ANSWERS if forms[act].is_bound and forms[act].errors],
        "earlier": f"?before={log.before[0].isoformat()}.{log.before[1]}.{log.before[2]}" if log.before else "",
        "is_later": before is not None,
        "aside": sum(entry.kind == "reading" and entry.b == "set aside" for entry in log.entries),
        "findings": [(FINDINGS[one.code], one) for one in open_file.standing_of(actor, head.vehicle)],
        "forms": forms,
        "is_refused": any(form.is_bound and form.errors for form in forms.values()),
        "may_take_in": actor.may("take in"),
        "may_plan": actor.may("due soon"),
        "act": _act(actor, head),
    }
    if forecast:
        context |= {
            "forecast": forecast,
            "due": life.due_words(forecast, clocks, today),
            "worth_method": method_words(forecast.worth_method),
        }
    if forecast and clocks:
        context |= {
            "clocks": clocks,
            "strip": life.road(clocks, forecast, today, first_use, done),
            "two": life.two_clocks(clocks, forecast, today),
            "factors": life.factor_words(clocks),
            "rate": life.rate_words(clocks),
            "doubt": life.doubt_words(doubt_of(forecast), today),
            "crossing": life.crossing_words(clocks),
            "months_words": life.months_words(clocks, forecast, today),
            "age_book": life.age_book(clocks),
            "formula": forecast.working.get("formula", ""),
        }
    return context


def _act(actor: Actor, head: Head) -> tuple[str, str] | None:
    """The one main act: on with the visit that it is on, or the intake slip."""
    if not actor.may("take in"):
        return None
    if head.visit and head.visit[1] != "expected":
        words = _("New quote sheet") if head.visit[1] in ("here", "waiting on word") else _("Open the visit")
        return words, reverse("counter:visit", args=[head.visit[0]])
    return _("Take it in"), f"{reverse('counter:intake')}?vehicle={head.vehicle.number}"
