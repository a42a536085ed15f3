"""Drafts of quotes: written, written once more, begun anew from an older version."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.http import Http404

from shopserv import calc
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, Stale, StateRefusal
from shopserv.common.fields import LARGEST_CENTS
from shopserv.jobs.models import Line, Option, Quote, QuoteVersion
from shopserv.jobs.selectors.quotes import DEEP
from shopserv.jobs.services.plan_data import Plan, PlannedOption, edits_of
from shopserv.jobs.services.plans import plan_for
from shopserv.registry import search
from shopserv.shop import numbers, trail
from shopserv.shop.actors import Actor


@transaction.atomic
def write(
    plan: Plan,
    *,
    actor: Actor,
    quote: Quote | None = None,
    edition: int | None = None,
    purchase_order_number: str = "",
    estimate_choice: str = "",
) -> QuoteVersion:
    """Write a plan down as a draft: a new quote, a new version of `quote`, or its draft once more.

    edition   of the draft that was looked at; needed when there is one
    raises    Stale with what stands now, if somebody saved in between; Refusal quote.empty, quote.no_customer,
              quote.below_zero, money.range
    """
    actor.must("write quote")
    if not plan.options:
        raise Refusal(plan.missing or "There is nothing to write down.", code="quote.empty")
    if quote is not None and quote.shop_id != actor.house.pk:
        raise Http404("no such quote")
    _refuse_totals(plan, actor.house.business.currency)
    draft = quote.versions.filter(state="draft").first() if quote else None
    if draft is None:
        version = _new_version(plan, actor, quote, purchase_order_number, estimate_choice)
        what = "quote written"
    else:
        version = _rewritten(draft, plan, actor, edition)
        _change_head(version.quote, purchase_order_number, estimate_choice)
        what = "draft rewritten"
    for planned in plan.options:
        _write_option(version, planned)
    totals = {option.letter: option.priced.total_cents for option in plan.options}
    trail.write(actor, what, version, totals_cents=totals, recommended=version.recommended)
    return version


def _refuse_totals(plan: Plan, currency: str) -> None:
    """A total below zero is no quote, and none may be larger than an amount can be; with the band's both ends."""
    for option in plan.options:
        totals = (option.priced.low_total_cents, option.priced.total_cents)
        if min(totals) < 0:
            raise Refusal(
                f"Option {option.letter} would come to {formats.money(min(totals), currency)}. A total below zero is "
                "no quote: a discount cannot be larger than the rest.",
                code="quote.below_zero",
                field="extra_price",
            )
        if max(totals) > LARGEST_CENTS:
            raise Refusal(
                f"Option {option.letter} would come to {formats.money(max(totals), currency)}. The largest amount is "
                f"{formats.money(LARGEST_CENTS, currency)}.",
                code="money.range",
                field="extra_price",
            )


def _head(plan: Plan, actor: Actor) -> dict[str, Any]:
    return {
        "made_by": actor.staff,
        "made_at": clock.now(),
        "recommended": plan.recommended,
        "why": plan.why,
        "note": plan.note,
        "inputs": plan.inputs,
        "rules": plan.rules,
        "is_addition": plan.adds_to is not None,
        "adds_to": plan.adds_to,
        "calc_version": calc.VERSION,
    }


def _new_version(
    plan: Plan, actor: Actor, quote: Quote | None, purchase_order_number: str, estimate_choice: str
) -> QuoteVersion:
    if quote is None:
        quote = _new_quote(plan, actor, purchase_order_number, estimate_choice)
    newest = quote.versions.order_by("-version").values_list("version", flat=True).first() or 0
    try:
        with transaction.atomic():
            return QuoteVersion.objects.create(shop=actor.house, quote=quote, version=newest + 1, **_head(plan, actor))
    except IntegrityError as cause:
        raise Stale(f"Somebody has begun a new version of {quote} in the meantime.", theirs=_theirs(quote)) from cause


def _new_quote(plan: Plan, actor: Actor, purchase_order_number: str, estimate_choice: str) -> Quote:
    if plan.customer is None:
        raise Refusal(f"Whose is {plan.vehicle}? Give the owner.", code="quote.no_customer", field="customer")
    visit = plan.visit
    quote = Quote(
        shop=actor.house,
        visit=visit,
        vehicle=plan.vehicle,
        customer=plan.customer,
        purchase_order_number=purchase_order_number or (visit.purchase_order_number if visit else ""),
        estimate_choice=estimate_choice or (visit.estimate_choice if visit else ""),
        made_at=clock.now(),
    )
    quote.number = numbers.draw(actor.house, "quote", clock.now().year)
    quote.save()
    search.index_number(quote.number, plan.vehicle, actor.house.pk)
    return quote


def _rewritten(draft: QuoteVersion, plan: Plan, actor: Actor, edition: int | None) -> QuoteVersion:
    looked_at = edition or 0  # a draft that was not looked at counts as changed in between
    rows = QuoteVersion.objects.filter(pk=draft.pk, state="draft", edition=looked_at)
    if not rows.update(**_head(plan, actor), edition=looked_at + 1):
        raise stale(draft)
    Line.objects.filter(option__version=draft).delete()
    draft.options.all().delete()
    draft.refresh_from_db()
    return draft


def _change_head(quote: Quote, purchase_order_number: str, estimate_choice: str) -> None:
    changes = {"purchase_order_number": purchase_order_number, "estimate_choice": estimate_choice}
    given = {name: value for name, value in changes.items() if value}
    if given:
        Quote.objects.filter(pk=quote.pk).update(**given)
        quote.refresh_from_db()


def stale(draft: QuoteVersion) -> Stale:
    """Who saved the draft in between, and what stands now."""
    draft.refresh_from_db()
    who = draft.made_by.name if draft.made_by else "Somebody"
    local = draft.made_at.astimezone(ZoneInfo(draft.quote.shop.time_zone))
    return Stale(
        f"{who} saved {draft} at {local:%-I:%M %p}. What you typed is kept; look at both.", theirs=_theirs(draft.quote)
    )


def _theirs(quote: Quote) -> dict[str, Any]:
    """What stands now, for the page that shows both sides."""
    newest = quote.versions.prefetch_related(DEEP).order_by("-version").first()
    if newest is None:
        return {}
    return {
        "edition": newest.edition,
        "who": newest.made_by.name if newest.made_by else "",
        "at": newest.made_at,
        "inputs": newest.inputs,
        "totals_cents": {option.letter: option.total_cents for option in newest.options.all()},
        "note": newest.note,
    }


def _write_option(version: QuoteVersion, planned: PlannedOption) -> None:
    fraction = planned.fraction_ppm
    option = Option.objects.create(
        shop=version.shop,
        version=version,
        letter=planned.letter,
        kind=planned.kind,
        method=planned.method,
        title=planned.title,
        course=_course(planned),
        tenths=planned.tenths,
        net_cents=planned.priced.net_cents,
        tax_cents=planned.priced.tax_cents,
        total_cents=planned.priced.total_cents,
        low_total_cents=planned.priced.low_total_cents,
        cost_cents=planned.priced.cost_cents,
        fraction_low_ppm=fraction[0] if fraction else None,
        fraction_high_ppm=fraction[1] if fraction else None,
        bought=planned.bought or {},
        not_included=planned.not_included,
        snapshot=planned.inputs,
        working={"faults": [list(fault) for fault in planned.faults]},
    )
    rows = []
    for order, line in enumerate(planned.priced.lines, start=1):
        columns = {**asdict(line), "price_cents": line.price_cents or 0, "low_price_cents": line.low_price_cents or 0}
        if line.price_cents is None:
            columns["detail"] = {**line.detail, "blank": True}
        rows.append(Line(shop=version.shop, option=option, order=order, **columns))
    Line.objects.bulk_create(rows)


def _course(planned: PlannedOption) -> dict[str, Any]:
    if planned.course is None:
        return {}
    kept = planned.course.as_dict()
    if planned.low_course is not None and planned.low_course != planned.course:
        kept["low"] = planned.low_course.as_dict()
    return kept


@transaction.atomic
def revise(quote: Quote, *, actor: Actor) -> QuoteVersion:
    """Begin a new draft from the newest version that is not an addition, priced by the terms of today.

    raises  StateRefusal if there is a draft already
    """
    actor.must("write quote")
    if quote.shop_id != actor.house.pk:
        raise Http404("no such quote")
    if quote.versions.filter(state="draft").exists():
        raise StateRefusal(f"{quote} has a draft already. Go on with that.", code="quote.draft_there")
    newest = quote.versions.filter(is_addition=False).order_by("-version").first()
    if newest is None:
        raise Refusal(f"{quote} has no version to begin from.", code="quote.empty")
    plan = plan_for(actor, quote.vehicle, visit=quote.visit, customer=quote.customer, edits=edits_of(newest))
    version = write(plan, actor=actor, quote=quote)
    trail.write(actor, "quote revised", version, begun_from=newest.version)
    return version
