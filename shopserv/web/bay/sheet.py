"""The bay sheet: one job, one step a page; readings by keys or typed, done, skipped, done again."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.models import BayStep, WorkOrder
from shopserv.jobs.selectors import bay as reads
from shopserv.jobs.services import bay as deeds
from shopserv.jobs.services import work
from shopserv.shop.actors import Actor
from shopserv.web.bay import page
from shopserv.web.bay.forms import RolledOutForm, StepForm, WhyForm
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, says_what_was_asked

MOST_STEPS = 999


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """The step that is up, or the one looked at; taken into the bay, and gone on with, here."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    if request.method == "POST":
        return _act(request, actor, number)
    asked = Asked(request, "step", "up", "again")
    bay = reads.bay_sheet(actor, number)
    step = page.shown_step(bay, asked.whole("step", 1, MOST_STEPS, 0))
    again = asked.whole("again", 0, 1, 0) == 1 and page.may_redo(bay, step)
    form = StepForm(needs=step.needs, read={} if again else page.read_at(bay, step), words=again)
    return page.sheet_page(request, bay, step, form, up=asked.text("up"), again=again)


def _act(request: HttpRequest, actor: Actor, number: str) -> HttpResponse:
    order = reads.bay_order_for(actor, number)
    form = RolledOutForm(request.POST)
    try:
        form.is_valid()
        _done(order, actor, request.POST.get("act", ""), form.cleaned_data.get("words", ""))
    except Refusal as refusal:
        return page.refused(request, reads.bay_sheet(actor, number), refusal)
    return redirect("bay:sheet", number)


def _done(order: WorkOrder, actor: Actor, act: str, words: str) -> None:
    if act == "start":
        work.start(order, actor=actor, rolled_out=words)
    elif act == "resume":
        work.resume(order, actor=actor)
    else:
        raise Refusal(_("Nothing was asked for. Press the button once more."), code="bay.act")


@require_POST
@acts_once
def press(request: HttpRequest, number: str, step: int) -> HttpResponse:
    """A key without script: the figure, changed by it, is kept as one event; the page comes back with it.

    The level step sends its figures here when they are read; how it was set is asked on its own page.
    """
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    row = bay.step(step)
    form = StepForm(request.POST, needs=row.needs, read=page.read_at(bay, row))
    what, by = _key(request.POST.get("key", ""))
    following, shown = request.POST.get("next", ""), form.as_shown
    up = what or following or request.POST.get("up", "")
    is_key = bool(up or shown)
    stood = shown or (request.POST.get("big", "") if following else "")
    if is_key:
        form.let_be_missing(but=stood)
    if not form.is_valid():
        return page.sheet_page(request, bay, row, form, up=up, status=422)
    try:
        if row.state != "now":
            words = _("Step %(n)s is not up. Where it was done, it is done again, with the reason.")
            raise StateRefusal(words % {"n": row.order}, code="bay.step")
        for one in form.key_presses(what, by, stood) if is_key else form.presses():
            deeds.press(row, one, actor=actor, answers=form.answers())
    except Refusal as refusal:
        form.refuse(refusal)
        return page.sheet_page(request, bay, row, form, up=up, refusal=refusal)
    if row.code == "level" and not is_key:
        return redirect("bay:level", number)
    return redirect(f"{reverse('bay:sheet', args=[number])}?step={row.order}&up={up}")


def _key(text: str) -> tuple[str, int]:
    """What a key says: "in_ml:-10" takes ten of its unit off."""
    what, _colon, by = text.partition(":")
    try:
        return what, int(by[:9])
    except ValueError:
        return "", 0


@require_POST
@acts_once
def finish(request: HttpRequest, number: str, step: int) -> HttpResponse:
    """The step is done, with the readings it needs; the next comes up."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    row = bay.step(step)
    form = StepForm(request.POST, needs=row.needs, read=page.read_at(bay, row))
    if not form.is_valid():
        return page.sheet_page(request, bay, row, form, status=422)
    try:
        found = deeds.finish_step(
            row,
            actor=actor,
            presses=form.presses(),
            once_key=form.key[:80],
            is_confirmed=form.is_confirmed,
            answers=form.answers(),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return page.sheet_page(request, reads.bay_sheet(actor, number), row, form, refusal=refusal)
    return _told(request, number, found)


@require_POST
@acts_once
def redo(request: HttpRequest, number: str, step: int) -> HttpResponse:
    """A step that was done is done again: its new readings count, the old ones stay to be read."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    row = bay.step(step)
    form = StepForm(request.POST, needs=row.needs, read={}, words=True)
    if request.POST.get("key") or request.POST.get("up"):
        return _stepped(request, bay, row, form)
    if not form.is_valid():
        return page.sheet_page(request, bay, row, form, again=True, status=422)
    try:
        found = deeds.redo_step(
            row,
            actor=actor,
            presses=form.presses(),
            words=form.cleaned_data["words"],
            once_key=form.key[:80],
            is_confirmed=form.is_confirmed,
            answers=form.answers(),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return page.sheet_page(request, reads.bay_sheet(actor, number), row, form, again=True, refusal=refusal)
    return _told(request, number, found)


def _stepped(request: HttpRequest, bay: reads.BaySheet, row: BayStep, form: StepForm) -> HttpResponse:
    """A key of a step that is done again: its figures are kept with the reason, all at once."""
    form.let_be_missing()
    form.is_valid()
    what, by = _key(request.POST.get("key", ""))
    again = StepForm(needs=row.needs, read={}, words=True)
    again.show(form.stepped(what, by))
    return page.sheet_page(request, bay, row, again, up=what or request.POST.get("up", ""), again=True)


def _told(request: HttpRequest, number: str, found: deeds.Finished) -> HttpResponse:
    if found.told and not found.is_held:
        messages.info(request, found.told)
    return redirect("bay:sheet", number)


@require_http_methods(["GET", "POST"])
@acts_once
def skip(request: HttpRequest, number: str, step: int) -> HttpResponse:
    """A step that may be left out is left out, with the reason."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    row = bay.step(step)
    form = WhyForm(request.POST if request.method == "POST" else None)
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            deeds.skip_step(row, actor=actor, words=form.cleaned_data["words"], once_key=form.key[:80])
            return redirect("bay:sheet", number)
        except Refusal as said:
            form.refuse(refusal := said)
    status = refusal.status if refusal else (422 if request.method == "POST" else 200)
    return render(request, "bay/skip.html", _skip_context(bay, row, form), status=status)


def _skip_context(bay: reads.BaySheet, step: BayStep, form: WhyForm) -> dict[str, Any]:
    return {**page.head(bay, step), "form": form}
