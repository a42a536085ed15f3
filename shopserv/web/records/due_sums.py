"""The sums behind the due day of a vehicle: both clocks, the factors, and what would move the day most."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from shopserv.common import clock
from shopserv.jobs.selectors import open_file
from shopserv.reminders.workings import due_workings
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.query import says_what_was_asked


@require_GET
@says_what_was_asked
def due_sums(request: HttpRequest, number: str) -> HttpResponse:
    """Every sum of the forecast that counts, as a page or as JSON; no price is among them."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    open_file.file_for(actor, number)  # the logbook's own test: who may not open it sees no sum of it
    row, found = due_workings(actor, number, clock.today(actor.house.time_zone))
    if workings.wants_json(request):
        return workings.as_json(f"forecast of {row.vehicle.number}", found)
    context = {"vehicle": row.vehicle, "forecast": row, "sums": workings.shown(found)}
    return render(request, "records/due_sums.html", context)
