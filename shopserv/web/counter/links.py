"""A link for the customer: made for a version on offer, shown once, sent by the writer."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote as quoted

from django import forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from shopserv.common.errors import Refusal
from shopserv.jobs.models import Quote, QuoteVersion
from shopserv.jobs.selectors import quotes as reads
from shopserv.jobs.services import quotes
from shopserv.registry.models import ContactPoint
from shopserv.registry.selectors import permitted_points
from shopserv.shop.actors import Actor
from shopserv.web.forms import PageForm, form_page
from shopserv.web.once import acts_once

CHOSEN = "links to make"  # in the session: quote -> contact point, until the draft is offered
GIVEN = "links given"  # in the session: a link can be read off this once, it is kept nowhere in clear


class LinkForm(PageForm):
    """For whom the link is."""

    contact = forms.ChoiceField(
        label=gettext_lazy("Make a link for"),
        error_messages={"required": gettext_lazy("Choose the address or number that the link is for.")},
    )

    def __init__(self, *args: Any, contacts: list[ContactPoint], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        points = [(str(point.pk), f"{point.kind} {point.as_typed}") for point in contacts]
        self.fields["contact"].choices = [("", "–"), *points]  # type: ignore[attr-defined]


@require_http_methods(["GET", "POST"])
@acts_once
def link(request: HttpRequest, number: str) -> HttpResponse:
    """Make one more link to the version on offer; the quote sheet shows it once."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = reads.quote_sheet(actor, number)
    offered = on_offer(found)
    contacts = permitted_points(found.quote.customer, "status")
    form = LinkForm(request.POST if request.method == "POST" else None, contacts=contacts)
    context = {"quote": found.quote, "version": offered, "form": form, "contacts": contacts}
    if offered is None:
        return render(request, "counter/link.html", context, status=409)
    if request.method != "POST":
        return render(request, "counter/link.html", context)
    if not form.is_valid():
        return form_page(request, "counter/link.html", context)
    contact = next(point for point in contacts if str(point.pk) == form.cleaned_data["contact"])
    try:
        token = quotes.give_link(offered, actor=actor, contact=contact)
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, "counter/link.html", context, refusal)
    show_once(request, offered, contact, token)
    return redirect("counter:quote", number)


def on_offer(found: reads.QuoteSheet) -> QuoteVersion | None:
    """The version that is on offer, which a draft may stand before."""
    return next((one for one in (found.version, *found.earlier) if one.state == "offered"), None)


def keep_choice(request: HttpRequest, quote: Quote, contact: str) -> None:
    """Keep for whom a link is to be made, as chosen on a draft that was saved; for this sign-in."""
    chosen = {**request.session.get(CHOSEN, {}), str(quote.pk): contact}
    if not contact:
        del chosen[str(quote.pk)]
    if chosen != request.session.get(CHOSEN, {}):
        request.session[CHOSEN] = chosen


def choice(request: HttpRequest, quote: Quote) -> str:
    """For whom a link is to be made when this draft is offered; empty: nobody was chosen."""
    chosen: str = request.session.get(CHOSEN, {}).get(str(quote.pk), "")
    return chosen


def show_once(request: HttpRequest, version: QuoteVersion, contact: ContactPoint, token: str) -> None:
    """Keep a link in the session for the quote sheet of this sign-in."""
    address = settings.SITE_URL + reverse("customer:decision", args=[token])
    given = {"address": address, "to": contact.as_typed, "write": _message(contact, version, address)}
    request.session[GIVEN] = {**request.session.get(GIVEN, {}), str(version.pk): given}


def shown(request: HttpRequest, version: QuoteVersion | None) -> dict[str, str]:
    """The link to a version that was made in this sign-in, or nothing."""
    given: dict[str, dict[str, str]] = request.session.get(GIVEN, {})
    return given.get(str(version.pk), {}) if version else {}


def _message(contact: ContactPoint, version: QuoteVersion, address: str) -> str:
    """An address that opens a message with the link in the writer's own program: nothing of ours keeps the link."""
    subject = _("%(shop)s, estimate %(number)s") % {"shop": version.quote.shop.name, "number": version.quote.number}
    if contact.kind == "e-mail":
        return f"mailto:{quoted(contact.value)}?subject={quoted(subject)}&body={quoted(f'{subject}: {address}')}"
    return f"sms:{quoted(contact.value, safe='+')}?body={quoted(f'{subject}: {address}')}"
