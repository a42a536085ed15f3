"""The help: how a day goes, the words of the shop, cautions, and where the figures come from."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from shopserv import calc
from shopserv.common import formats
from shopserv.jobs import bay_words
from shopserv.jobs.findings import FINDINGS
from shopserv.jobs.selectors.fluid_course import gains
from shopserv.shop.actors import Actor
from shopserv.shop.places import most_on
from shopserv.web.help import words
from shopserv.web.help.checked import checked
from shopserv.web.help.how_sure import how_sure
from shopserv.web.help.sources import sources
from shopserv.web.nav import may_open

AGREED_CENTS = 44_295  # the option of the worked example, to compare the places by


@require_GET
def page(request: HttpRequest) -> HttpResponse:
    """One page for everybody who is signed in; steps lead where the reader may go."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    rows = sources()
    context = {
        "steps": [(name, reverse(url) if may_open(actor, url) else "", how) for name, url, how in words.DAY],
        "glossary": words.GLOSSARY,
        "keys": words.KEYS,
        "findings": FINDINGS.values(),
        "cautions": bay_words.FOOT[:-1],
        "maker_first": bay_words.MAKER,
        "when_stopped": bay_words.WHEN_STOPPED,
        "sources": rows,
        "ours": sum(row.is_ours for row in rows),
        "calc_version": calc.VERSION,
        "checked": checked(),
        "how_sure": how_sure(),
        "places": [(one, formats.money(most)) for one, most in most_on(AGREED_CENTS)],
        "agreed": formats.money(AGREED_CENTS),
    }
    return render(request, "help/help.html", context)


@require_GET
def orders(request: HttpRequest) -> HttpResponse:
    """What the best order of stages gains over the house's courses, unit by unit, computed as the page is asked for."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    return render(request, "help/orders.html", {"gains": gains(actor), "first": actor.house.units_first})
