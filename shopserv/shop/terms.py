"""The terms in force on a day: of each kind the newest row that has begun."""

from __future__ import annotations

from datetime import date
from typing import TypeVar

from django.db.models import QuerySet

from shopserv.common.errors import Refusal
from shopserv.shop.models import (
    HouseRules,
    MarkupTable,
    RateCard,
    Shop,
    SuppliesRule,
    TaxRate,
    ToleranceRule,
    WasteRule,
)
from shopserv.shop.models.terms import FromDay

Term = TypeVar("Term", bound=FromDay)


def _on(rows: QuerySet[Term], day: date, what: str) -> Term:
    row = rows.filter(from_on__lte=day).order_by("-from_on").first()
    if row is None:
        raise Refusal(f"No {what} is in force on {day}. Add one under House rules.", code="terms.missing")
    return row


def house_rules(shop: Shop, day: date) -> HouseRules:
    """The rules of the house on `day`."""
    return _on(HouseRules.objects.filter(business=shop.business_id), day, "set of house rules")


def rate_card(shop: Shop, day: date) -> RateCard:
    """What an hour is sold for on `day`."""
    return _on(RateCard.objects.filter(shop=shop), day, "labor rate")


def markup(shop: Shop, day: date) -> MarkupTable:
    """The mark-up bands on `day`."""
    return _on(MarkupTable.objects.filter(business=shop.business_id, customer_group="all"), day, "mark-up table")


def supplies_rule(shop: Shop, day: date) -> SuppliesRule:
    """The supplies rule of the place on `day`."""
    return _on(SuppliesRule.objects.filter(shop=shop), day, "supplies rule")


def waste_rule(shop: Shop, day: date) -> WasteRule:
    """The rule for used fluid on `day`."""
    return _on(WasteRule.objects.filter(shop=shop), day, "used-oil rule")


def tolerance_rule(shop: Shop, day: date) -> ToleranceRule:
    """The tolerance of the place on `day`; an unknown place allows nothing over."""
    row = ToleranceRule.objects.filter(shop=shop, from_on__lte=day).order_by("-from_on").first()
    if row is None:
        return ToleranceRule(
            shop=shop, code="consent-only", kind="none", words="nothing over without a new yes", from_on=day
        )
    return row


def tax_rates(shop: Shop, day: date) -> list[TaxRate]:
    """Of each jurisdiction the rate in force on `day`, largest first."""
    newest: dict[tuple[str, str], TaxRate] = {}
    for rate in TaxRate.objects.filter(shop=shop, from_on__lte=day).order_by("from_on"):
        newest[(rate.jurisdiction, rate.category)] = rate
    return sorted(newest.values(), key=lambda rate: (-rate.rate_ppm, rate.jurisdiction))
