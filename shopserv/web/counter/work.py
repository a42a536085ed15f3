"""The work order at the counter: cleared for a bay, watched, invoiced; and the papers of a visit."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopserv.jobs.selectors import room_left, visits
from shopserv.jobs.selectors import work as reads
from shopserv.papers.selectors import papers_of_visit
from shopserv.shop.actors import Actor
from shopserv.web.counter.visit_forms import ClearForm


@require_GET
def work(request: HttpRequest, number: str) -> HttpResponse:
    """One work order: what was agreed, how far it is, what is missing."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    order = reads.order_for(actor, number)
    form = ClearForm(bays=reads.bays_of(actor), people=reads.technicians_of(actor), initial={"edition": order.edition})
    return render(request, "counter/work.html", _context(actor, number, form))


def _context(actor: Actor, number: str, form: ClearForm) -> dict[str, object]:
    order = reads.order_for(actor, number)
    return {
        "order": order,
        "visit": order.visit,
        "form": form,
        "room": room_left.room_left_of_work(actor, number),
        "findings": visits.standing(order.visit),
        "steps": order.steps.order_by("order"),
        "looks": order.second_looks.order_by("attempt"),
    }


@require_GET
def papers(request: HttpRequest, number: str) -> HttpResponse:
    """The documents of one visit."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit = visits.visit_for(actor, number)
    return render(request, "counter/papers.html", {"visit": visit, "papers": papers_of_visit(actor, visit.number)})
