"""What happens around the work: a vehicle expected, a call, another promise, waiting, leaving, handing over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopserv.billing import services as billing
from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors import visits as reads
from shopserv.jobs.services import visits
from shopserv.registry import selectors as registry
from shopserv.shop.actors import Actor
from shopserv.web.counter.plan import visit_page
from shopserv.web.counter.visit_forms import ExpectForm, VisitActForm
from shopserv.web.forms import form_page
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, says_what_was_asked


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def expect(request: HttpRequest) -> HttpResponse:
    """Write down that a vehicle on file is expected (?vehicle=)."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    number = request.POST.get("vehicle") or Asked(request, "vehicle").text("vehicle")
    vehicle = registry.vehicle_for(actor, number)
    zone = actor.house.time_zone
    customer = registry.keeper_on(vehicle, clock.today(zone))
    form = ExpectForm(request.POST if request.method == "POST" else None, zone=zone)
    context = {"form": form, "vehicle": vehicle, "customer": customer}
    if request.method != "POST":
        return render(request, "counter/expect.html", context)
    if form.is_valid() and customer and form.moment:
        try:
            said = form.cleaned_data
            visits.expect(
                actor=actor,
                vehicle=vehicle,
                customer=customer,
                expected_at=form.moment,
                brought_by=said["brought_by"],
            )
        except Refusal as refusal:
            form.refuse(refusal)
            return form_page(request, "counter/expect.html", context, refusal)
        return redirect("counter:desk")
    if customer is None:
        form.add_error(None, _("Whose is it? Note the owner in the logbook first."))
    return form_page(request, "counter/expect.html", context)


@require_POST
@acts_once
def act(request: HttpRequest, number: str) -> HttpResponse:
    """One act on a visit; a refused one comes back on the page of the visit."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit = reads.visit_for(actor, number)
    form = VisitActForm(request.POST, zone=actor.house.time_zone)
    if not form.is_valid():
        return visit_page(request, actor, number, around=form, status=422)
    try:
        said = _done(request.POST.get("act", ""), visit, actor, form)
    except Refusal as refusal:
        form.refuse(refusal)
        return visit_page(request, actor, number, around=form, status=refusal.status)
    messages.success(request, said)
    return redirect("counter:visit", number)


def _done(name: str, visit: Visit, actor: Actor, form: VisitActForm) -> str:
    said = form.cleaned_data
    match name:
        case "try":
            count = visits.note_try(visit, actor=actor, contact_used=said["contact_used"], words=said["words"])
            return _("Noted: tried %(count)s times and not reached.") % {"count": count}
        case "promise":
            if form.moment is None:
                raise Refusal(_("Promised for when? Type a time, like 4:30 PM."), code="promise.missing", field="at")
            edition = said["edition"] or 0
            visits.change_promise(visit, actor=actor, promised_at=form.moment, words=said["words"], edition=edition)
            return _("Another time is promised; the old one stays on the trail.")
        case "wait":
            visits.wait_for_word(visit, actor=actor, words=said["words"])
            return _("Nothing goes on until the customer says a word.")
        case "turn away":
            visits.turn_away(visit, actor=actor, words=_needed(said["words"]))
            return _("Turned away.")
        case "leave":
            visits.leave(visit, actor=actor, words=said["words"])
            return _("The vehicle left without work.")
        case "hand over":
            billing.hand_over(visit, actor=actor, words=said["words"])
            return _("Handed over.")
    raise Refusal(_("There is no such act."), code="act.unknown")


def _needed(words: str) -> str:
    if not words.strip():
        raise Refusal(_("Why? A few words are kept with it."), code="required", field="words")
    return words
