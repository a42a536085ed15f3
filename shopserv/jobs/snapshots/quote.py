"""What a quote paper shows, frozen when the version is offered."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from shopserv.common import fresh
from shopserv.common.fields import canonical, sha256
from shopserv.jobs import sums
from shopserv.jobs.models import Line, Option, QuoteVersion
from shopserv.jobs.selectors import visits
from shopserv.jobs.snapshots.common import customer_part, moment, shop_part, vehicle_part, visit_part

FLUID_PRICE_WORDS = {
    "whole-packages": "Fluid is charged by the whole package opened; what is left over is yours to take.",
    "by-liter": "Fluid is charged by the quart that went in or out with the job; what is left over stays here.",
}
OLD_PARTS_WORDS = (
    "You may have the old parts back, but for core parts and parts under warranty. Say so before work begins."
)
MODEL_WORDS = "The share of new fluid is a model figure: "
TEARDOWN_WORDS = "Once opened, the transmission may not go back together as it was."


def quote_paper(version: QuoteVersion, *, offered_at: datetime, good_until: datetime) -> dict[str, Any]:
    """Every value that the paper of a version shows, as plain data; its hash is what a consent names.

    The check words come from this very data and are added by `with_check_words`.
    """
    quote, shop, rules = version.quote, version.quote.shop, version.rules
    visit = quote.visit
    return {
        "document": shop.document_title,
        "number": quote.number,
        "version": version.version,
        "is_addition": version.is_addition,
        "offered_at": moment(offered_at),
        "good_until": moment(good_until),
        "shop": shop_part(shop),
        "customer": customer_part(quote.customer),
        "vehicle": vehicle_part(quote.vehicle, visit, offered_at, shop),
        "visit": visit_part(visit),
        "unit": version.inputs.get("unit", ""),
        "sheet_version": version.inputs.get("sheet_version"),
        "purchase_order_number": quote.purchase_order_number,
        "estimate_choice": quote.estimate_choice,
        "options": [option_part(option) for option in by_letter(version)],
        "recommended": version.recommended,
        "why": version.why,
        "note": version.note,
        "findings": _findings(version),
        "fluid_price_words": FLUID_PRICE_WORDS[rules["fluid_rule"]],
        "rules": public_rules(rules),
        "rules_hash": hash_of(rules),
        "guarantee": rules["guarantee"],
        "storage_terms": rules["storage_terms"],
        "tolerance_words": rules["tolerance"]["words"],
        "old_parts_words": OLD_PARTS_WORDS,
        "model_words": _model_words(version),
        "agreed_before_cents": version.adds_to.amount_cents if version.adds_to else None,
        "charge_for_this_paper_cents": 0,
    }


def by_letter(version: QuoteVersion) -> list[Option]:
    """The options in order of their letters, whatever the engine gives first."""
    return sorted(version.options.all(), key=lambda option: option.letter)


def in_order(option: Option) -> list[Line]:
    """The lines in their order, whatever the engine gives first."""
    return sorted(option.lines.all(), key=lambda line: line.order)


def _model_words(version: QuoteVersion) -> str:
    """What the shares run over, each way once."""
    shares = [fresh.share_of(one.fraction_low_ppm, one.fraction_high_ppm, one.course) for one in by_letter(version)]
    ways = dict.fromkeys(share.covers for share in shares if share.covers)
    return f"{MODEL_WORDS}{'; '.join(ways)}." if ways else ""


def public_rules(rules: dict[str, Any]) -> dict[str, Any]:
    """The terms that a customer may read: what an hour costs us, mark-up and margin floor stay inside."""
    return {
        **{name: rules[name] for name in ("day", "tax", "supplies", "waste", "tolerance", "fluid_rule", "good_days")},
        "sold_per_hour_cents": rules["rate"]["sold_cents"],
    }


def option_part(option: Option) -> dict[str, Any]:
    """One option with its lines; cost and margin stay out of it."""
    return {
        "letter": option.letter,
        "kind": option.kind,
        "method": option.method,
        "title": option.title,
        "course": option.course,
        "fraction_low_ppm": option.fraction_low_ppm,
        "fraction_high_ppm": option.fraction_high_ppm,
        "lines": [line_part(line) for line in in_order(option)],
        "net_cents": option.net_cents,
        "tax_cents": option.tax_cents,
        "total_cents": option.total_cents,
        "low_total_cents": option.low_total_cents,
        "bought": option.bought,
        "not_included": option.not_included,
        "teardown_words": TEARDOWN_WORDS if option.kind == "teardown" else "",
    }


def line_part(line: Line) -> dict[str, Any]:
    """One line as the customer sees it."""
    names = (
        "order", "kind", "number", "text", "quantity_thousandths", "unit", "unit_price_cents", "price_cents",
        "low_price_cents", "is_taxed", "tax_rate_ppm", "condition",
    )  # fmt: skip
    return {**{name: getattr(line, name) for name in names}, "detail": line.detail}


def _findings(version: QuoteVersion) -> list[dict[str, Any]]:
    """Grade and plain words, without codes."""
    if version.quote.visit is None:
        return []
    found = [one for one in visits.standing(version.quote.visit) if one.stands]
    return [{"grade": one.grade, "words": one.customer_words} for one in found]


def hash_of(paper: dict[str, Any]) -> str:
    """The SHA-256 of the paper's data, by which a consent names the version."""
    return sha256(canonical(paper))


def with_check_words(paper: dict[str, Any], version_hash: str, words: str) -> dict[str, Any]:
    """The paper as it is filed and printed."""
    return {**paper, "version_hash": version_hash, "check_words": words}


def differences(version: QuoteVersion) -> list[str]:
    """What comes out otherwise when the version is worked out again from its frozen inputs; empty: the same cents."""
    found = []
    for option in by_letter(version):
        again = sums.price(option.snapshot)
        said = (option.net_cents, option.tax_cents, option.total_cents, option.low_total_cents, option.cost_cents)
        made = (again.net_cents, again.tax_cents, again.total_cents, again.low_total_cents, again.cost_cents)
        lines = [(line.kind, line.number, line.price_cents, line.is_taxed) for line in in_order(option)]
        if said != made:
            found.append(f"{option}: {said} became {made}")
        if lines != [(row.kind, row.number, row.price_cents or 0, row.is_taxed) for row in again.lines]:
            found.append(f"{option}: its lines came out otherwise")
    return found
