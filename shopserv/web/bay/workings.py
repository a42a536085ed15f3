"""The sums behind level, balance, flow and cool-down of a job."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopserv.jobs.selectors.bay_workings import bay_workings
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.query import says_what_was_asked


@require_GET
@says_what_was_asked
def sums(request: HttpRequest, number: str) -> HttpResponse:
    """Every sum of a job, as a page or as JSON; no price is among them."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    sheet, found = bay_workings(actor, number)
    if workings.wants_json(request):
        return workings.as_json(f"work order {sheet.order}", found)
    context = {"order": sheet.order, "sums": workings.shown(found)}
    return render(request, "bay/sums.html", context)
