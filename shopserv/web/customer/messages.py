"""Reminders on or off, by the customer alone."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from shopserv.common import clock
from shopserv.registry.selectors import own_addresses
from shopserv.reminders.services import letters
from shopserv.shop.actors import Actor
from shopserv.web.customer.door import by_link
from shopserv.web.forms import new_key
from shopserv.web.once import acts_once

PURPOSE = "reminder"


@require_http_methods(["GET", "HEAD", "POST"])
@by_link
@acts_once
def reminders(request: HttpRequest, token: str) -> HttpResponse:
    """Each e-mail address of the holder with whether reminders go there; a press turns one on or off."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    points = own_addresses(actor, PURPOSE)
    if not points:
        raise Http404("no address on file")
    if request.method == "POST":
        point = next((one for one, _ in points if str(one.pk) == request.POST.get("address")), None)
        if point is None or request.POST.get("turn") not in ("on", "off"):
            raise Http404("no such address")
        letters.permit(point, actor=actor, purpose=PURPOSE, given=request.POST["turn"] == "on", how="page")
        return HttpResponseRedirect("./")
    context = {
        "shop": actor.house,
        "rows": [(point, masked(point.value), is_on, new_key()) for point, is_on in points],
        "today": clock.today(actor.house.time_zone),
    }
    return render(request, "customer/reminders.html", context)


def masked(address: str) -> str:
    """An address that its owner knows again and another reader of the link does not learn: "a…@example.com"."""
    name, _, place = address.partition("@")
    return f"{name[:1]}…@{place}"
