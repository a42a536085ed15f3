"""The intake slip: one vehicle taken in, in the order of talk."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.calc import vin
from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors import visits
from shopserv.jobs.services.visits import take_in
from shopserv.logbook import selectors as logbook
from shopserv.registry import selectors as registry
from shopserv.registry import vin_says
from shopserv.registry.models import Customer, Vehicle
from shopserv.shop.actors import Actor
from shopserv.web.counter.intake_form import IntakeForm
from shopserv.web.forms import form_page
from shopserv.web.once import acts_once
from shopserv.web.replaced import WENT_BACK

MEANT = ("vin.duplicate", "vin.near")  # another record is likely meant; the page leads to it


@require_http_methods(["GET", "POST"])
@acts_once
def intake(request: HttpRequest) -> HttpResponse:
    """Take a vehicle in: one on file (?vehicle=), one expected (?visit=), or a new one (?vin=)."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit, vehicle = _expected(request, actor)
    keeper = registry.keeper_on(vehicle, clock.today(actor.house.time_zone)) if vehicle else None
    customer = visit.customer if visit else keeper
    form = IntakeForm(
        request.POST if request.method == "POST" else None,
        vehicle=vehicle,
        customer=customer,
        unit=logbook.unit_of_instrument(vehicle) if vehicle else "mi",
        initial=_known(request, actor),
    )
    context = _context(form, visit, vehicle, customer, actor)
    if request.method != "POST":
        return render(request, "counter/intake.html", context)
    if not form.is_valid():
        return form_page(request, "counter/intake.html", context)
    try:
        taken = take_in(actor=actor, intake=form.intake(), visit=visit, confirmed=form.confirmed)
    except Refusal as refusal:
        form.refuse(refusal)
        if vehicle and refusal.code == WENT_BACK:
            form.propose(actor, vehicle, clock.today(actor.house.time_zone))
        if refusal.code in MEANT:
            context["on_file"] = registry.find(actor, form["vin"].value() or "")[:3]
        return form_page(request, "counter/intake.html", context, refusal)
    return redirect("counter:visit", taken.number)


def _expected(request: HttpRequest, actor: Actor) -> tuple[Visit | None, Vehicle | None]:
    number = request.POST.get("visit") or request.GET.get("visit", "")
    visit = visits.visit_for(actor, number) if number else None
    name = request.POST.get("vehicle") or request.GET.get("vehicle", "")
    if visit:
        return visit, visit.vehicle
    vehicle = registry.vehicle_for(actor, name) if name else None
    expected = visits.open_visit_of(actor, vehicle.pk) if vehicle else None
    return (expected if expected and expected.state == "expected" else None), vehicle


def _known(request: HttpRequest, actor: Actor) -> dict[str, Any]:
    """What the query says of a new vehicle, and what its VIN says where that was left open."""
    said = {name: request.GET.get(name, "").strip()[:60] for name in ("vin", "plate", "make", "year")}
    plain = vin.normal_form(said["vin"])
    year = vin_says.model_year(plain, clock.today(actor.house.time_zone).year)
    proposed = {"make": vin_says.maker(plain), "year": str(year or "")}
    return {**said, **{name: said[name] or proposed[name] for name in proposed}, "arrival": "driven"}


def _context(
    form: IntakeForm, visit: Visit | None, vehicle: Vehicle | None, customer: Customer | None, actor: Actor
) -> dict[str, Any]:
    last = logbook.last_counted(vehicle) if vehicle else None
    return {
        "form": form,
        "visit": visit,
        "vehicle": vehicle,
        "customer": customer,
        "last": last,
        "title": _("Intake slip"),
    }
