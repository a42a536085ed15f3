"""Your decision: yes to one option of one version, or to none."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_POST, require_safe

from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors.quotes import Decision, customer_decision, option_for, version_for
from shopserv.jobs.services.authorize import answer as take_answer
from shopserv.jobs.services.quotes import decline as note_none
from shopserv.papers.layout.common import tolerance_words
from shopserv.shop.actors import Actor
from shopserv.web.customer.choices import shown
from shopserv.web.customer.door import by_link
from shopserv.web.customer.forms import AnswerForm
from shopserv.web.once import acts_once

HOME = "../"  # of the link: its token stands in no answer that is kept


@require_safe
@by_link
def decision(request: HttpRequest, token: str) -> HttpResponse:
    """What the holder of the link is asked, or how it was answered. Looking changes nothing."""
    found = customer_decision(_actor(request))
    return _page(request, found, AnswerForm(decision=found))


@require_POST
@by_link
@acts_once
def answer(request: HttpRequest, token: str) -> HttpResponse:
    """Yes to one option. What was answered first stands; a yes that comes too late is kept and asks again."""
    actor = _actor(request)
    found = customer_decision(actor)
    if found.state == "agreed":
        return _second(request, found)
    form = AnswerForm(request.POST, decision=found)
    if not form.is_valid():
        return _page(request, found, form, status=422)
    consent = form.consent(actor.from_where, "fleet contact" if found.is_fleet else "keeper")
    try:
        taken = take_answer(option_for(actor, form.chosen.pk), actor=actor, consent=consent)
    except StateRefusal:  # somebody else with the link was faster: the page says who and when
        return _second(request, customer_decision(actor))
    except Refusal as refusal:
        form.refuse(refusal)
        return _page(request, found, form, status=refusal.status)
    if isinstance(taken, WorkOrder):
        return HttpResponseRedirect(HOME)
    late = _page(request, found, form, status=409, late=form.chosen)
    late.kept_at = HOME  # type: ignore[attr-defined]
    return late


def _second(request: HttpRequest, found: Decision) -> HttpResponse:
    """A yes after a yes: what was answered first, and that this one did not count unless it says the same."""
    pressed = next((one for one in found.choices if one.letter == request.POST.get("option")), None)
    is_same = found.yes is not None and found.yes.state == "counted" and pressed and pressed.letter == found.agreed
    if pressed is None or is_same:
        return HttpResponseRedirect(HOME)
    return _page(request, found, AnswerForm(decision=found), status=409, late=pressed)


@require_POST
@by_link
@acts_once
def decline(request: HttpRequest, token: str) -> HttpResponse:
    """None of these for now."""
    actor = _actor(request)
    found = customer_decision(actor)
    if found.state == "offered":
        person = request.POST.get("person", "").strip()[:120]
        with suppress(StateRefusal):  # answered in the meantime: the page says how
            note_none(version_for(actor, found.quote_number, found.version), actor=actor, person=person)
    return HttpResponseRedirect(HOME)


def _actor(request: HttpRequest) -> Actor:
    actor: Actor = request.actor  # type: ignore[attr-defined]
    return actor


def _page(
    request: HttpRequest, found: Decision, form: AnswerForm, *, status: int = 200, late: Any = None
) -> HttpResponse:
    if found.state == "expired":
        return render(request, "customer/gone.html", {"shop": found.shop, "decision": found}, status=410)
    options = shown(found)
    context = {
        "decision": found,
        "form": form,
        "options": options,
        "agreed": next((one for one in options if one.choice.letter == found.agreed), None),
        "tolerance": tolerance_words(found.tolerance, found.shop.business.currency),
        "late": late,
        "late_total": late and found.newer_totals.get(late.letter),
        "today": clock.today(found.shop.time_zone),
    }
    name = "decision" if found.state == "offered" else "answered"
    return render(request, f"customer/{name}.html", context, status=status)
