"""How the figures of an option come about, for the holder of a link; without cost and margin."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from shopserv.common import clock
from shopserv.jobs.selectors.quotes import customer_decision
from shopserv.jobs.selectors.workings import option_workings
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.customer.door import by_link
from shopserv.web.query import says_what_was_asked


@require_safe
@says_what_was_asked
@by_link
def sums(request: HttpRequest, token: str, letter: str) -> HttpResponse:
    """The sums of one option of the version that the link opens, as a page or as JSON."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    decision = customer_decision(actor)
    if decision.state == "expired":
        return render(request, "customer/gone.html", {"shop": decision.shop, "decision": decision}, status=410)
    option, found = option_workings(actor, decision.quote_number, decision.version, letter)
    if workings.wants_json(request):
        return workings.as_json(f"{option.version} option {letter}", found)
    context = {
        "shop": decision.shop,
        "option": option,
        "sums": workings.shown(found, decision.shop.business.currency),
        "today": clock.today(decision.shop.time_zone),
    }
    return render(request, "customer/sums.html", context)
