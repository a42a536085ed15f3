"""The house: business, shops, people, terms, numbers, once-keys, links and the trail."""

from shopserv.shop.models.house import Bay, Business, ClimatePlace, Instrument, Shop
from shopserv.shop.models.machinery import CustomerLink, KeptDraft, NumberSeries, OnceKey, TrailEntry
from shopserv.shop.models.people import RoleGrant, Staff
from shopserv.shop.models.terms import (
    HouseRules,
    MarkupTable,
    RateCard,
    SuppliesRule,
    TaxRate,
    ToleranceRule,
    WasteRule,
)

__all__ = [
    "Bay",
    "Business",
    "ClimatePlace",
    "CustomerLink",
    "HouseRules",
    "Instrument",
    "KeptDraft",
    "MarkupTable",
    "NumberSeries",
    "OnceKey",
    "RateCard",
    "RoleGrant",
    "Shop",
    "Staff",
    "SuppliesRule",
    "TaxRate",
    "ToleranceRule",
    "TrailEntry",
    "WasteRule",
]
