"""The visit at the counter: what is known of the vehicle, what bars a method, what the plan proposes."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from shopserv.billing.selectors import not_invoiced
from shopserv.catalog import selectors as catalog
from shopserv.common import formats, fresh
from shopserv.common.errors import Refusal
from shopserv.jobs.models import QuoteVersion
from shopserv.jobs.selectors import quotes as quote_reads
from shopserv.jobs.selectors import visits
from shopserv.jobs.selectors import work as work_reads
from shopserv.jobs.services import quotes
from shopserv.jobs.states import VISIT_MOVES
from shopserv.logbook.doubts import doubts_of
from shopserv.registry.services import units
from shopserv.shop.actors import Actor
from shopserv.web.counter.columns import order_words
from shopserv.web.counter.finding_forms import FindingForm, finding_form
from shopserv.web.counter.visit_forms import IdentifyForm, VisitActForm
from shopserv.web.forms import form_page, new_key
from shopserv.web.once import acts_once
from shopserv.web.records.doubts import words as doubt_words

INSIDE = ("here", "waiting on word", "in work", "ready")


def _where(act: str) -> tuple[str, ...]:
    """The states of a visit in which a move can be made."""
    return tuple(move.source for move in VISIT_MOVES if move.act == act)


ACTS = (  # name of the act, its words, the states of the visit in which it can be done
    ("try", gettext_lazy("tried, not reached"), ("expected", *INSIDE)),
    ("promise", gettext_lazy("promise another time"), INSIDE),
    ("wait", gettext_lazy("wait for the customer's word"), _where("wait for word")),
    ("turn away", gettext_lazy("turn it away"), _where("turn away")),
    ("hand over", gettext_lazy("hand it over"), _where("hand over")),
    ("leave", gettext_lazy("it leaves without work"), _where("leave")),
)


@require_GET
def visit(request: HttpRequest, number: str) -> HttpResponse:
    """One visit: its plan, its findings, its quotes; an expected one leads to the intake slip."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    return visit_page(request, actor, number)


def visit_page(
    request: HttpRequest,
    actor: Actor,
    number: str,
    *,
    around: VisitActForm | None = None,
    finding: FindingForm | None = None,
    status: int = 200,
) -> HttpResponse:
    """The page of a visit, with a form that came back, if one did."""
    return render(request, "counter/visit.html", _context(actor, number, around=around, finding=finding), status=status)


def _context(
    actor: Actor,
    number: str,
    form: IdentifyForm | None = None,
    around: VisitActForm | None = None,
    finding: FindingForm | None = None,
) -> dict[str, object]:
    found = visits.visit_for(actor, number)
    plan = quotes.plan_for(actor, found.vehicle, visit=found, customer=found.customer)
    first = actor.house.units_first
    on_offer = quote_reads.on_offer_for(actor, found)
    return {
        "visit": found,
        "plan": plan,
        "rows": format_html_join("", "{}", ((plan_row(one, plan.recommended, first),) for one in plan.options)),
        "covers": "; ".join(dict.fromkeys(said for one in plan.options if (said := planned_share(one).covers))),
        "odometer_doubts": [
            doubt_words(one) for one in doubts_of(actor, found.vehicle) if found.reading_id == one.reading.pk
        ],
        "is_changed_elsewhere": visits.changed_elsewhere(found),
        "complaint": visits.complaint_of(found),
        "tries": visits.tries_of(found),
        "quotes": quote_reads.quotes_on(actor, found),
        "on_offer": on_offer,
        "offered_rows": _offered_rows(on_offer) if on_offer else "",
        "orders": work_reads.orders_on(actor, found),
        "form": form
        or IdentifyForm(units=catalog.units_of(actor), initial={"unit": plan.unit.code if plan.unit else ""}),
        "around": around or VisitActForm(zone=actor.house.time_zone, initial={"edition": found.edition}),
        "finding": finding or finding_form(actor, found),
        "agreed": work_reads.agreed_on(actor, found),
        "may_go": found.state in ("ready", "held for payment") and not not_invoiced(actor, found),
        "acts": [(name, words) for name, words, states in ACTS if found.state in states],
        "once": new_key(),
    }


def _offered_rows(version: QuoteVersion) -> SafeString:
    """The options on offer: letter, what we recommend, title, total."""
    chosen = format_html(' <span class="we-recommend">{}</span>', _("we recommend"))
    return format_html_join(
        "",
        '<tr><td>{}{}</td><td>{}</td><td class="number computed">{}</td></tr>',
        (
            (
                one.letter,
                chosen if one.letter == version.recommended else "",
                one.title,
                formats.money_band(one.low_total_cents, one.total_cents),
            )
            for one in version.options.all()
        ),
    )


def planned_share(one: quotes.PlannedOption) -> fresh.Share:
    """The share of a proposed option as every page tells it."""
    low, high = one.fraction_ppm or (None, None)
    return fresh.share_of(low, high, one.course.as_dict() if one.course else {})


def plan_row(one: quotes.PlannedOption, recommended: str, first: str) -> SafeString:
    """One proposed option: method and order, what turns too high, liters, share of new fluid, total."""
    course, low = one.course, one.low_course
    dips = [
        _("Turning parts dip at stage “%(stage)s”: the fluid foams.") % {"stage": s}
        for s in (course.too_high if course else ())
    ]
    volumes = formats.volume_band((low or course).new_ml, course.new_ml, first) if course else "–"
    return format_html(
        '<tr><td>{}{}</td><td>{}<span class="second-line">{}</span>{}</td><td class="number computed">{}</td>'
        '<td class="number computed">{}</td><td class="number computed">{}</td></tr>',
        one.letter,
        format_html(' <span class="we-recommend">{}</span>', _("we recommend")) if one.letter == recommended else "",
        one.title,
        order_words(course.as_dict(), first) if course else "",
        format_html_join("", '<span class="second-line"><b>{}</b></span>', ((words,) for words in dips)),
        volumes,
        planned_share(one).figure,
        formats.money_band(one.priced.low_total_cents, one.priced.total_cents),
    )


@require_POST
@acts_once
def identify(request: HttpRequest, number: str) -> HttpResponse:
    """Note which unit the vehicle has and how we know."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = visits.visit_for(actor, number)
    form = IdentifyForm(request.POST, units=catalog.units_of(actor))
    if not form.is_valid():
        return form_page(request, "counter/visit.html", _context(actor, number, form))
    unit = catalog.unit_for(actor, form.cleaned_data["unit"])
    try:
        units.identify(
            found.vehicle, actor=actor, unit=unit, grade=form.cleaned_data["grade"], evidence=form.evidence()
        )
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, "counter/visit.html", _context(actor, number, form), refusal)
    return redirect("counter:visit", number)


@require_POST
@acts_once
def write(request: HttpRequest, number: str) -> HttpResponse:
    """Write the plan down as the draft of a quote."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    found = visits.visit_for(actor, number)
    plan = quotes.plan_for(actor, found.vehicle, visit=found, customer=found.customer)
    try:
        version = quotes.write(plan, actor=actor, purchase_order_number=found.purchase_order_number)
    except Refusal as refusal:
        return form_page(request, "refused.html", {"refusal": refusal}, refusal)
    return redirect("counter:quote", version.quote.number)
