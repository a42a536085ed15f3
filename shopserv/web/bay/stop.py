"""Stop: put on hold with the reason, or with what was found. Coolant is for the writer at once."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from shopserv.common.errors import Refusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import bay as reads
from shopserv.jobs.services import bay as deeds
from shopserv.jobs.services import work
from shopserv.shop.actors import Actor
from shopserv.web.bay import page
from shopserv.web.bay.forms import CoolantForm, FindingForm, HoldForm
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once


def _hold(order: WorkOrder, actor: Actor, form: PageForm) -> str:
    work.hold(order, actor=actor, reason=form.cleaned_data["words"])
    return ""


def _coolant(order: WorkOrder, actor: Actor, form: PageForm) -> str:
    signs = form.cleaned_data["signs"]
    return deeds.find_coolant(order, actor=actor, signs=signs, once_key=form.key[:80]).told


def _finding(order: WorkOrder, actor: Actor, form: PageForm) -> str:
    said = form.cleaned_data
    return deeds.find(order, actor=actor, code=said["code"], words=said["words"], once_key=form.key[:80]).told


KINDS: dict[str, tuple[type[PageForm], Callable[[WorkOrder, Actor, PageForm], str]]] = {
    "coolant": (CoolantForm, _coolant),
    "finding": (FindingForm, _finding),
    "hold": (HoldForm, _hold),
}


@require_http_methods(["GET", "POST"])
@acts_once
def stop(request: HttpRequest, number: str) -> HttpResponse:
    """What is in the way: coolant, another finding, or only a hold."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    asked = request.POST.get("act", "")
    forms = {
        name: kind(request.POST if name == asked else None, auto_id=f"{name}_%s")
        for name, (kind, _deed) in KINDS.items()
    }
    refusal = None
    if asked in KINDS and forms[asked].is_valid():
        try:
            told = KINDS[asked][1](bay.order, actor, forms[asked])
            if told:
                messages.warning(request, told)
            return redirect("bay:sheet", number)
        except Refusal as said:
            forms[asked].refuse(refusal := said)
    context = {**page.head(bay, page.shown_step(bay, 0)), "forms": forms}
    status = refusal.status if refusal else (422 if request.method == "POST" else 200)
    return render(request, "bay/stop.html", context, status=status)
