"""Close-out: every item confirmed, level and balance with their sums, what was not done."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import bay as reads
from shopserv.jobs.services import bay as deeds
from shopserv.shop.actors import Actor
from shopserv.web.bay import page, shown, sums
from shopserv.web.bay.deed_forms import CloseOutForm
from shopserv.web.once import acts_once


@require_http_methods(["GET", "POST"])
@acts_once
def close_out(request: HttpRequest, number: str) -> HttpResponse:
    """The list before the vehicle leaves the bay; afterwards the same page shows what was confirmed."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    data = request.POST if request.method == "POST" else None
    form = CloseOutForm(data, bay=bay, initial={"edition": bay.order.edition})
    refusal = None
    if data is not None and form.is_valid():
        try:
            found = _closed(bay, actor, form)
        except Refusal as said:
            form.refuse(refusal := said)
        else:
            asked = _("A second look is asked for.") if found.look else _("No second look is asked for.")
            messages.success(request, f"{_('Closed out.')} {asked}")
            return redirect("bay:close_out", number)
    status = refusal.status if refusal else (422 if data is not None else 200)
    context = _context(bay, form)
    return render(request, "bay/close_out.html", context, status=status)


def _closed(bay: reads.BaySheet, actor: Actor, form: CloseOutForm) -> deeds.ClosedOut:
    said = form.cleaned_data
    return deeds.close_out(
        bay.order,
        actor=actor,
        pin=said["pin"],
        edition=-1 if said["edition"] is None else said["edition"],
        items=form.ticks(),
        presses=form.presses(),
        balance_words=said["balance_words"],
        words=said["words"],
        why_lower=said["why_lower"],
        is_jump_confirmed="odometer.jump" in form.confirmed,
        instruments=form.instruments(),
        once_key=form.key[:80],
    )


def _context(bay: reads.BaySheet, form: CloseOutForm) -> dict[str, Any]:
    units = bay.order.shop.units_first
    return {
        **page.head(bay, page.shown_step(bay, 0)),
        "form": form,
        "may_close": bay.may_press and bay.order.state == "level set" and bay.order.closed_out_at is None,
        "open_steps": [step for step in bay.steps if step.state in ("ahead", "now")],
        "sums": shown.sums_url(bay),
        "level": sums.level_sum(bay.last_level, units) if bay.last_level else None,
        "earlier_levels": [sums.level_sum(one, units) for one in bay.levels[:-1]],
        "balance": sums.kept_balance(bay.balance, units) if bay.balance else sums.balance_now(bay, units),
        "leftover": sums.leftover_words(bay.order.close_out.get("leftover"), units),
        "items": bay.items,
        "not_done": bay.not_done,
        "look": bay.looks[-1] if bay.looks else None,
        "said_no": page.said_no(bay),
    }
