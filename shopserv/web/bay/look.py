"""The second look: another person's own figures first, then both, then the answer."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import looks as reads
from shopserv.jobs.services import bay as deeds
from shopserv.shop.actors import Actor
from shopserv.shop.models import Staff
from shopserv.web.bay.deed_forms import AnswerForm, LookForm
from shopserv.web.bay.figures import plain
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, says_what_was_asked


@require_GET
@says_what_was_asked
def looks(request: HttpRequest) -> HttpResponse:
    """Jobs that wait for a second look, and those that run and may be looked at now."""
    Asked(request)
    rows = reads.looks_waiting(request.actor)  # type: ignore[attr-defined]
    return render(request, "bay/looks.html", {"rows": rows})


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def look(request: HttpRequest, number: str) -> HttpResponse:
    """Own figures, then both figures and the answer; each under the name and PIN of whoever looks."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    sheet = reads.second_look_for(actor, number)
    if request.method == "POST" and request.POST.get("key"):
        return _stepped(request, sheet)
    is_figures = request.POST.get("act", "figures") == "figures"
    data = request.POST if request.method == "POST" else None
    own = LookForm(data if is_figures else None, sheet=sheet)
    answer = AnswerForm(data if not is_figures else None, sheet=sheet)
    form: LookForm | AnswerForm = own if is_figures else answer
    refusal = None
    if data is not None and form.is_valid():
        try:
            _done(request, sheet, actor, form, data.get("act", ""))
            return redirect("bay:looks" if not is_figures else "bay:look", *([] if not is_figures else [number]))
        except Refusal as said:
            form.refuse(refusal := said)
    status = refusal.status if refusal else (422 if data is not None else 200)
    again = request.method == "GET" and Asked(request, "again").whole("again", 0, 1, 0) == 1
    return render(request, "bay/look.html", _context(sheet, own, answer, again=again), status=status)


def _done(request: HttpRequest, sheet: reads.LookSheet, actor: Actor, form: LookForm | AnswerForm, act: str) -> None:
    by = _person(sheet, form)
    pin = form.cleaned_data["pin"]
    if isinstance(form, LookForm):
        deeds.give_figures(sheet.order, actor=actor, by=by, pin=pin, own=form.own(), is_own=sheet.may_own)
        return
    words = form.said() or (sheet.reasons[-1] if act == "could not see" else "")
    found = deeds.take_second_look(
        sheet.order, actor=actor, by=by, pin=pin, answer=act, words=words, is_own=sheet.may_own
    )
    said = _("%(name)s said yes: %(number)s is ready for the counter.") if found.state == "yes" else _(
        "%(name)s said no: %(number)s goes back to its technician."
    )  # fmt: skip
    messages.info(request, said % {"name": by.first_name, "number": sheet.order.number})


def _person(sheet: reads.LookSheet, form: PageForm) -> Staff:
    people = [*sheet.lookers, *([sheet.order.technician] if sheet.order.technician else [])]
    return next(one for one in people if str(one.pk) == form.cleaned_data["by"])


def _stepped(request: HttpRequest, sheet: reads.LookSheet) -> HttpResponse:
    """A key without script: the page again with one figure stepped; nothing is kept before name and PIN."""
    what, _colon, by = request.POST["key"].partition(":")
    form = LookForm(request.POST, sheet=sheet)
    form.is_valid()
    data = QueryDict(mutable=True)
    data.update({name: str(value) for name, value in form.stepped(what, _whole(by)).items()})
    again = LookForm(initial=data.dict(), sheet=sheet)
    for name, value in data.items():
        again.fields[name].initial = value
    return render(request, "bay/look.html", _context(sheet, again, AnswerForm(sheet=sheet), again=True))


def _whole(text: str) -> int:
    try:
        return int(text[:6])
    except ValueError:
        return 0


def _context(sheet: reads.LookSheet, own: LookForm, answer: AnswerForm, *, again: bool = False) -> dict[str, Any]:
    figures = [(item, own[item.what], plain(item.step, item.unit) if item.unit else "") for item in sheet.items]
    entitled = bool(sheet.lookers) or sheet.may_own
    asks_answer = sheet.is_answerable and not again and not own.is_bound
    is_open = sheet.look is not None or sheet.order.closed_out_at is None
    return {
        "sheet": sheet,
        "order": sheet.order,
        "own": own,
        "answer": answer,
        "figures": figures,
        "asks_answer": entitled and asks_answer,
        "asks_figures": entitled and not asks_answer and is_open and sheet.order.state == "level set",
        "unit_words": sheet.order.facts.get("unit", ""),
    }
