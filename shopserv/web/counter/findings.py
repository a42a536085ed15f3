"""What was found, decided at the counter: go on in spite of it, lift it, or note what the slip left out."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shopserv.common.errors import Refusal
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors import visits
from shopserv.jobs.services import findings as deeds
from shopserv.shop.actors import Actor
from shopserv.web.counter.finding_forms import finding_form
from shopserv.web.counter.plan import visit_page
from shopserv.web.once import acts_once


@require_POST
@acts_once
def decide(request: HttpRequest, number: str) -> HttpResponse:
    """Decide a finding of a visit; what is refused comes back on the page of the visit."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit = visits.visit_for(actor, number)
    form = finding_form(actor, visit, request.POST)
    if not form.is_valid():
        return visit_page(request, actor, number, finding=form, status=422)
    try:
        said = _done(request.POST.get("act", ""), visit, actor, form.cleaned_data)
    except Refusal as refusal:
        form.refuse(refusal)
        return visit_page(request, actor, number, finding=form, status=refusal.status)
    messages.success(request, said)
    order = visit.work_orders.filter(number=request.POST.get("order", "")).first()
    return redirect("counter:work", order.number) if order else redirect("counter:visit", number)


def _done(name: str, visit: Visit, actor: Actor, said: dict[str, Any]) -> str:
    code, words = said["finding"], said["finding_words"]
    match name:
        case "decide":
            deeds.override_finding(visit, actor=actor, code=code, words=words, shown=said["finding_shown"])
            return _("Decided; the finding stays on the record with your words beside it.")
        case "lift":
            deeds.note_finding(visit, actor=actor, code=code, state="not confirmed", words=words)
            return _("Lifted; both entries stay on the record.")
        case "note":
            deeds.note_finding(visit, actor=actor, code=code, words=words)
            return _("Noted.")
    raise Refusal(_("There is no such act."), code="act.unknown")
