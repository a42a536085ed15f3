"""The level is set, or taken back into the bay: deeds under the technician's own PIN, and with the reason."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.selectors import bay as reads
from shopserv.jobs.services import bay as deeds
from shopserv.shop.actors import Actor
from shopserv.web.bay import page, shown
from shopserv.web.bay.deed_forms import LevelForm
from shopserv.web.bay.forms import WhyForm
from shopserv.web.once import acts_once


@require_http_methods(["GET", "POST"])
@acts_once
def level(request: HttpRequest, number: str) -> HttpResponse:
    """How the level was set, beside what was read; the record is kept with its error budget."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    data = request.POST if request.method == "POST" else None
    form = LevelForm(data, limits=bay.level, tools=bay.tools)
    refusal = None
    if data is not None and form.is_valid():
        try:
            found = deeds.set_level(
                bay.order,
                actor=actor,
                pin=form.cleaned_data["pin"],
                setting=form.setting(),
                once_key=form.key[:80],
                is_confirmed=form.is_confirmed,
                answers=form.answers(),
            )
        except Refusal as said:
            form.refuse(refusal := said)
        else:
            if not found.is_held:
                messages.success(request, _("Level set: %(verdict)s.") % {"verdict": found.told})
            return redirect("bay:sheet", number)
    status = refusal.status if refusal else (422 if data is not None else 200)
    context = _context(bay, form) | {"up": refusal.field if refusal else ""}
    return render(request, "bay/level.html", context, status=status)


def _context(bay: reads.BaySheet, form: LevelForm) -> dict[str, Any]:
    step = next((one for one in reversed(bay.steps) if one.code == "level"), page.shown_step(bay, 0))
    stood = next((one for one in reversed(bay.steps) if one.code == "levelness"), step)
    tilt = shown.was_read(stood, page.read_at(bay, stood)) if stood is not step else []
    return {
        **page.head(bay, step),
        "form": form,
        "stood": stood,
        "was_read": [*shown.was_read(step, page.read_at(bay, step)), *tilt],
        "budget": shown.budget_rows(bay.budget_now, bay.order.shop.units_first) | {"sums": shown.sums_url(bay)}
        if bay.budget_now
        else None,
    }


@require_http_methods(["GET", "POST"])
@acts_once
def recheck(request: HttpRequest, number: str) -> HttpResponse:
    """Back into the bay after the level was set; or, after a no that only asked for mending, another look."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    data = request.POST if request.method == "POST" else None
    form = WhyForm(data)
    refusal = None
    if data is not None and form.is_valid():
        try:
            _back(bay, actor, form, data.get("act", ""))
            return redirect("bay:sheet", number)
        except Refusal as said:
            form.refuse(refusal := said)
    status = refusal.status if refusal else (422 if data is not None else 200)
    context = {**page.head(bay, page.shown_step(bay, 0)), "form": form, "said_no": page.said_no(bay)}
    return render(request, "bay/recheck.html", context, status=status)


def _back(bay: reads.BaySheet, actor: Actor, form: WhyForm, act: str) -> None:
    words = form.cleaned_data["words"]
    if act == "recheck":
        deeds.recheck(bay.order, actor=actor, words=words, once_key=form.key[:80])
    elif act == "look again":
        deeds.ask_again(bay.order, actor=actor, words=words)
    else:
        raise StateRefusal(_("Nothing was asked for. Press the button once more."), code="bay.act")
