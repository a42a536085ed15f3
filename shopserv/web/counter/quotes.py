"""The quote sheet: the draft, the offer, earlier versions, the yes that the writer records, the room that is left."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopserv.common.errors import Refusal, Stale
from shopserv.jobs.courses import METHODS
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import quotes as reads
from shopserv.jobs.selectors.room_left import room_left
from shopserv.jobs.selectors.workings import option_workings
from shopserv.jobs.services import authorize, quotes
from shopserv.papers.layout.common import tolerance_words
from shopserv.registry.models import ContactPoint
from shopserv.registry.selectors import permitted_points
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.counter import links
from shopserv.web.counter.columns import drawn, lines_words, rows_of
from shopserv.web.counter.draft_form import DraftForm
from shopserv.web.counter.visit_forms import ConsentForm, FitsForm
from shopserv.web.forms import form_page, new_key
from shopserv.web.once import acts_once
from shopserv.web.query import says_what_was_asked
from shopserv.web.sides import sides_of


@require_http_methods(["GET", "POST"])
@acts_once
def sheet(request: HttpRequest, number: str) -> HttpResponse:
    """The quote sheet: the draft, or the newest version; a POST saves the draft or offers it."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = reads.quote_sheet(actor, number)
    form, contacts = None, []
    if found.version.state == "draft" or request.method == "POST":
        contacts = permitted_points(found.quote.customer, "status")
        form = _draft_form(request, found, contacts)
    context = _context(request, actor, found, form)
    if request.method != "POST" or form is None:
        return render(request, "counter/quote.html", context)
    if not form.is_valid():
        return form_page(request, "counter/quote.html", context)
    try:
        return _act(request, actor, found, form, contacts)
    except Stale as refusal:
        return _both_sides(request, actor, number, contacts, refusal)
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, "counter/quote.html", context, refusal)


def _both_sides(
    request: HttpRequest, actor: Actor, number: str, contacts: list[ContactPoint], refusal: Stale
) -> HttpResponse:
    """What was typed beside what stands now; only from here on the form carries the new edition."""
    found = reads.quote_sheet(actor, number)
    form = _draft_form(request, found, contacts)
    form.data = {**request.POST.dict(), "edition": found.version.edition}
    sides = [side for side in sides_of(form, form.initial) if side.differs]
    context = {**_context(request, actor, found, form), "refusal": refusal, "sides": sides}
    return form_page(request, "counter/quote.html", context, refusal)


def _draft_form(request: HttpRequest, found: reads.QuoteSheet, contacts: list[ContactPoint]) -> DraftForm:
    barred = found.version.inputs.get("barred", [])  # as they were when it was written; saving asks again
    return DraftForm(
        request.POST if request.method == "POST" else None,
        chosen_contact=links.choice(request, found.quote),
        version=found.version,
        options=[column.option for column in found.columns],
        methods=[method for method in METHODS if method not in barred],
        contacts=contacts,
    )


def _act(
    request: HttpRequest, actor: Actor, found: reads.QuoteSheet, form: DraftForm, contacts: list[ContactPoint]
) -> HttpResponse:
    quote, version = found.quote, found.version
    edition = form.cleaned_data["edition"]
    if form.has_changed() or request.POST.get("act") != "offer":
        plan = quotes.plan_for(
            actor,
            quote.vehicle,
            visit=quote.visit,
            customer=quote.customer,
            edits=form.edits(),
            adds_to=version.adds_to,
        )
        version = quotes.write(plan, actor=actor, quote=quote, edition=edition)
        edition = version.edition
    said = form.cleaned_data
    if request.POST.get("act") != "offer":
        links.keep_choice(request, quote, said["contact"])
        return redirect("counter:quote", quote.number)
    contact = next((point for point in contacts if str(point.pk) == said["contact"]), None)
    offered = quotes.offer(
        version,
        actor=actor,
        edition=edition,
        contact=contact,
        confirmed=form.confirmed,
        below_floor_because=said["below_floor_because"],
    )
    if offered.token and contact:
        links.show_once(request, offered.version, contact, offered.token)
    return redirect("counter:quote", quote.number)


def _context(request: HttpRequest, actor: Actor, found: reads.QuoteSheet, form: DraftForm | None) -> dict[str, Any]:
    first = actor.house.units_first
    offered = links.on_offer(found)
    columns, scale = drawn(found.columns, found.version.inputs.get("layout", {}), first)
    return {
        "sheet": found,
        "quote": found.quote,
        "version": found.version,
        "doubt": found.version.inputs.get("doubt", ""),
        "columns": columns,
        "scale": scale,
        "lines_words": lines_words(scale, first) if columns else "",
        "first": first,
        "rows": rows_of(found.columns, first),
        "form": form,
        "link": links.shown(request, offered),
        "offered": offered,
        "orders": list(found.authorization.work_orders.all()) if found.authorization else [],
        "once": new_key(),
    }


@require_GET
def version(request: HttpRequest, number: str, version: int) -> HttpResponse:
    """An earlier version, as it was offered."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = reads.version_for(actor, number, version)
    decision = None if found.state == "draft" else reads.preview(actor, number, version)
    return render(request, "counter/version.html", {"version": found, "quote": found.quote, "decision": decision})


@require_POST
@acts_once
def revise(request: HttpRequest, number: str) -> HttpResponse:
    """Begin a new version from the newest one."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    quote = reads.quote_for(actor, number)
    try:
        quotes.revise(quote, actor=actor)
    except Refusal as refusal:
        return form_page(request, "refused.html", {"refusal": refusal}, refusal)
    return redirect("counter:quote", number)


@require_http_methods(["GET", "POST"])
@acts_once
def consent(request: HttpRequest, number: str) -> HttpResponse:
    """Record the customer's yes to one option of the version on offer."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = reads.quote_sheet(actor, number)
    offered = links.on_offer(found)
    options = list(offered.options.all()) if offered else []
    initial = {
        "option": offered.recommended if offered else "",
        "person": found.quote.customer.contact_name or found.quote.customer.name,
        "capacity": "fleet contact" if found.quote.customer.contact_name else "keeper",
        "purchase_order_number": found.quote.purchase_order_number,
    }
    form = ConsentForm(request.POST if request.method == "POST" else None, options=options, initial=initial)
    context = {
        "sheet": found,
        "quote": found.quote,
        "version": offered,
        "options": options,
        "form": form,
        "tolerance": offered and tolerance_words(offered.rules["tolerance"], actor.house.business.currency),
    }
    if request.method != "POST" or offered is None:
        return render(request, "counter/consent.html", context, status=200 if offered else 409)
    if not form.is_valid():
        return form_page(request, "counter/consent.html", context)
    said = form.cleaned_data
    try:
        answer = authorize.answer(
            form.options[said["option"]],
            actor=actor,
            consent=authorize.Consent(
                person=said["person"],
                way=said["way"],
                capacity=said["capacity"],
                amount_cents=said["amount"],
                contact_used=said["contact_used"],
                words_read=said["words_read"],
                check_words=said["check_words"],
                version_hash=offered.snapshot_hash,
                purchase_order_number=said["purchase_order_number"],
                old_parts_wanted=said["old_parts_wanted"],
            ),
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, "counter/consent.html", context, refusal)
    return (
        redirect("counter:work", answer.number) if isinstance(answer, WorkOrder) else redirect("counter:quote", number)
    )


@require_GET
def room(request: HttpRequest, number: str) -> HttpResponse:
    """The money still inside the authorization, and whether more would fit."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    left = room_left(actor, number)
    form = FitsForm(request.GET or None)
    fits = None
    if form.is_bound and form.is_valid() and form.cleaned_data["more"] is not None and left:
        fits = left.fits(form.cleaned_data["more"])
    context = {
        "room": left,
        "rule": tolerance_words(left.rule, actor.house.business.currency) if left else "",
        "form": form,
        "fits": fits,
        "number": number,
        "quote": reads.quote_for(actor, number),
    }
    return render(request, "counter/room.html", context, status=422 if form.is_bound and not form.is_valid() else 200)


@require_GET
@says_what_was_asked
def working(request: HttpRequest, number: str, version: int, letter: str) -> HttpResponse:
    """The sums behind the figures of one option, as a page or as JSON."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    option, found = option_workings(actor, number, version, letter)
    if workings.wants_json(request):
        return workings.as_json(f"{option.version} option {letter}", found)
    sums = workings.shown(found, actor.house.business.currency)
    context = {"version": option.version, "option": option, "quote": option.version.quote, "sums": sums}
    return render(request, "counter/working.html", context)
