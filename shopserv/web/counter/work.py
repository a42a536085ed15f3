"""The work order at the counter: cleared for a bay, watched, invoiced; and the papers of a visit."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from shopserv.billing import selectors as bills
from shopserv.billing import services as billing
from shopserv.billing.workings import invoice_workings
from shopserv.common.errors import Refusal
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import room_left, visits
from shopserv.jobs.selectors import work as reads
from shopserv.jobs.services import work as deeds
from shopserv.papers.pages import language_words
from shopserv.papers.selectors import papers_of_visit
from shopserv.shop.actors import Actor
from shopserv.shop.models import Bay, Staff
from shopserv.web import workings
from shopserv.web.counter.finding_forms import finding_form
from shopserv.web.counter.visit_forms import ActForm, ClearForm
from shopserv.web.forms import PageForm, form_page
from shopserv.web.once import acts_once
from shopserv.web.query import says_what_was_asked

ACTS = ("clear", "resume", "cut short", "issue")


@require_http_methods(["GET", "POST"])
@acts_once
def work(request: HttpRequest, number: str) -> HttpResponse:
    """One work order: what was agreed, how far it is, what is missing; cleared, gone on with, or invoiced here."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    order = reads.order_for(actor, number)
    bays, people = reads.bays_of(actor), reads.technicians_of(actor)
    act = request.POST.get("act", "")
    data = request.POST if request.method == "POST" else None
    clear = ClearForm(data if act == "clear" else None, bays=bays, people=people, initial={"edition": order.edition})
    other = ActForm(data if act in ACTS and act != "clear" else None, initial={"edition": order.edition})
    form = clear if act == "clear" else other
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(_done(act, order, actor, form, bays, people))
        except Refusal as refusal:
            form.refuse(refusal)
            return form_page(request, "counter/work.html", _context(actor, order, clear, other), refusal)
    status = 422 if request.method == "POST" else 200
    return render(request, "counter/work.html", _context(actor, order, clear, other), status=status)


def _done(
    act: str, order: WorkOrder, actor: Actor, form: PageForm, bays: Sequence[Bay], people: Sequence[Staff]
) -> str:
    said = form.cleaned_data
    if act == "clear":
        bay = next(one for one in bays if str(one.pk) == said["bay"])
        technician = next(one for one in people if str(one.pk) == said["technician"])
        deeds.clear(order, actor=actor, bay=bay, technician=technician, confirmed=form.confirmed)
    elif act == "resume":
        deeds.resume(order, actor=actor, words=said["words"])
    elif act == "cut short":
        deeds.cut_short(order, actor=actor, words=said["words"])
    elif act == "issue":
        billing.issue(order, actor=actor, edition=said["edition"])
        return reverse("counter:papers", args=[order.visit.number])
    return reverse("counter:work", args=[order.number])


def _context(actor: Actor, order: WorkOrder, clear: ClearForm, other: ActForm) -> dict[str, object]:
    waits = order.state in ("level set", "second look done")
    missing = bills.blockers(actor, order) if waits else []
    return {
        "order": order,
        "visit": order.visit,
        "form": clear,
        "other": other,
        "agreed": reads.agreed_for(actor, order),
        "room": room_left.room_left_of_work(actor, order.number),
        "may_clear": order.state == "written up" and order.visit.state not in reads.GONE,
        "missing": missing,
        "bill": bills.bill_for(actor, order) if waits else None,
        "may_issue": waits and not missing,
        "invoices": bills.invoices_for(actor, order),
        "findings": visits.standing(order.visit),
        "finding": finding_form(actor, order.visit),
        "steps": reads.steps_of(actor, order),
        "looks": reads.looks_of(actor, order),
    }


@require_GET
@says_what_was_asked
def sums(request: HttpRequest, number: str) -> HttpResponse:
    """The sums behind the invoice of a work order, or behind what it would come to; as a page or as JSON."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    order, invoice, found = invoice_workings(actor, number)
    if workings.wants_json(request):
        return workings.as_json(f"invoice {invoice}" if invoice else f"work order {order}", found)
    context = {
        "order": order,
        "invoice": invoice,
        "agreed": reads.agreed_for(actor, order),
        "sums": workings.shown(found, actor.house.business.currency),
    }
    return render(request, "counter/work_sums.html", context)


@require_GET
def papers(request: HttpRequest, number: str) -> HttpResponse:
    """The documents of one visit."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit = visits.visit_for(actor, number)
    rows = [(paper, language_words(paper.language)) for paper in papers_of_visit(actor, visit.number)]
    return render(request, "counter/papers.html", {"visit": visit, "papers": rows})
