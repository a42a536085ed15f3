"""The terms of a shop on a day as plain data, as a quote freezes them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from shopserv.common import formats
from shopserv.jobs import sums
from shopserv.jobs.models import Authorization
from shopserv.registry import selectors as registry
from shopserv.registry.models import Customer
from shopserv.shop import terms
from shopserv.shop.models import Shop, SuppliesRule, TaxRate, ToleranceRule, WasteRule


def terms_on(shop: Shop, customer: Customer | None, day: date) -> dict[str, Any]:
    """Rates, mark-up, tax, supplies, waste, tolerance, fluid price, margin floor and days, by name.

    tax   rate_ppm is the sum of the jurisdictions; exempt names the certificate that stands on `day`; ended is the
          sentence for the writer where one has run out: then tax is charged
    """
    rates = terms.tax_rates(shop, day)
    card, rules = terms.rate_card(shop, day), terms.house_rules(shop, day)
    certificate = registry.exemption_on(customer, day) if customer else None
    return {
        "day": day.isoformat(),
        "rate": {"sold_cents": card.sold_per_hour_cents, "cost_cents": card.cost_per_hour_cents},
        "rate_from": card.from_on.isoformat(),
        "markup": [[band["above_cents"], band["markup_ppm"]] for band in terms.markup(shop, day).bands],
        "tax": {
            "parts": [[rate.jurisdiction, rate.rate_ppm] for rate in rates],
            "rate_ppm": sum(rate.rate_ppm for rate in rates),
            "applies_to": dict(rates[0].applies_to) if rates else {},
            **_by_jurisdiction(rates),
            "exempt": certificate.number if certificate else "",
            "ended": "" if certificate or customer is None else _ended(customer, day),
        },
        "supplies": _supplies(terms.supplies_rule(shop, day)),
        "waste": _waste(terms.waste_rule(shop, day)),
        "tolerance": tolerance_as_dict(terms.tolerance_rule(shop, day)),
        "fluid_rule": shop.fluid_price_rule,
        "margin_floor_ppm": rules.margin_floor_ppm,
        "good_days": rules.quote_good_days,
        "course_numbers": dict(rules.course_numbers),
        "included_work": dict(rules.included_work),
        "guarantee": dict(rules.guarantee),
        "storage_terms": dict(rules.storage_terms),
        "house_rules_version": rules.version,
    }


def _by_jurisdiction(rates: Sequence[TaxRate]) -> dict[str, Any]:
    """Who taxes what, where they do not all tax the same kinds of line; else nothing, and applies_to holds for all."""
    if all(rate.applies_to == rates[0].applies_to for rate in rates):
        return {}
    return {"by_jurisdiction": [[rate.jurisdiction, rate.rate_ppm, dict(rate.applies_to)] for rate in rates]}


def _ended(customer: Customer, day: date) -> str:
    """What the writer has to be told of a certificate that is no longer valid."""
    if customer.tax_state != "exempt":
        return ""
    last = customer.exemptions.filter(to_on__lt=day).order_by("-to_on").first()
    if last is None or last.to_on is None:
        return f"{customer.name} is marked tax-exempt, but no certificate is valid: tax is charged."
    return f"The exemption certificate {last.number} ended on {last.to_on:%B %-d, %Y}: tax is charged."


def _supplies(rule: SuppliesRule) -> dict[str, Any]:
    currency = rule.shop.business.currency
    cap = f", at most {formats.money(rule.cap_cents, currency)}" if rule.cap_cents is not None else ""
    return {
        "kind": rule.kind,
        "share_ppm": rule.share_ppm,
        "cap_cents": rule.cap_cents,
        "text": f"{rule.share_ppm / 10_000:g} % of labor{cap}",
        "sentence": rule.sentence,
    }


def _waste(rule: WasteRule) -> dict[str, Any]:
    text = f"used fluid, {formats.money(rule.cents_per_liter, rule.shop.business.currency)} a liter"
    return {"cents_per_liter": rule.cents_per_liter, "text": text, "sentence": rule.sentence}


def tolerance_as_dict(rule: ToleranceRule) -> dict[str, Any]:
    """The tolerance in force, in figures and words."""
    names = ("code", "kind", "percent_ppm", "amount_cents", "cap_cents", "base", "words", "source")
    return {name: getattr(rule, name) for name in names}


def priced_terms(rules: Mapping[str, Any], adds_to: Authorization | None) -> dict[str, Any]:
    """What sums.price needs of the terms; for an addition with what was agreed before it."""
    before: dict[str, Any] = agreed_before(adds_to) if adds_to else {"labor_before_cents": 0, "taxed_before_cents": 0}
    taxes = rules["tax"].get("by_jurisdiction")
    if taxes is not None:
        before = {**before, "taxes": taxes, "taxed_before": taxed_before(adds_to) if adds_to else {}}
    if included := rules.get("included_work"):
        before = {**before, "included": included, "before": operations_before(adds_to) if adds_to else []}
    return {
        "sold_cents": rules["rate"]["sold_cents"],
        "hour_cost_cents": rules["rate"]["cost_cents"],
        "bands": rules["markup"],
        "fluid_rule": rules["fluid_rule"],
        "supplies": rules["supplies"],
        "waste": rules["waste"],
        "tax_rate_ppm": rules["tax"]["rate_ppm"],
        "taxed": rules["tax"]["applies_to"],
        "exempt": bool(rules["tax"]["exempt"]),
        **before,
    }


def agreed_before(authorization: Authorization) -> dict[str, Any]:
    """Labor and taxed lines agreed so far, through every addition, in cents."""
    labor = taxed = 0
    for one in chain_of(authorization):
        for line in one.option.lines.all():
            labor += line.price_cents if line.kind == "labor" else 0
            taxed += line.price_cents if line.is_taxed else 0
    return {"labor_before_cents": labor, "taxed_before_cents": taxed}


def taxed_before(authorization: Authorization) -> dict[str, int]:
    """Taxed lines agreed so far by their rate, in cents."""
    bases: dict[str, int] = {}
    for one in chain_of(authorization):
        for line in one.option.lines.all():
            if line.is_taxed:
                bases[str(line.tax_rate_ppm)] = bases.get(str(line.tax_rate_ppm), 0) + line.price_cents
    return bases


def operations_before(authorization: Authorization) -> list[list[Any]]:
    """The operations agreed so far, as their options froze them: name and tenths."""
    found: list[list[Any]] = []
    for one in chain_of(authorization):
        found += [[name, tenths] for name, tenths in sums.operations_of(one.option.snapshot)]
    return found


def chain_of(authorization: Authorization) -> list[Authorization]:
    """An authorization and those that it adds to, the first one first."""
    found = [authorization]
    while found[0].option.version.adds_to is not None:
        found.insert(0, found[0].option.version.adds_to)
    return found
