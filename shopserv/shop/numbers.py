"""Printed numbers: drawn in the transaction that uses them, last, so that none is ever missing or double."""

from __future__ import annotations

from django.db import connection
from django.db.models import F

from shopserv.shop.models import NumberSeries, Shop

LETTERS = {"visit": "V", "quote": "Q", "work order": "W", "credit note": "C", "invoice": ""}
YEARLY = {"invoice", "credit note"}


def draw(shop: Shop, kind: str, year: int) -> str:
    """The next number of `kind` at `shop`: BRW-W-204, BRW-2026-0077, BRW-C-2026-0003.

    The counter row stays locked to the end of the transaction: a roll-back gives the number back.
    year    of the paper; only the kinds of YEARLY begin again with it
    """
    if not connection.in_atomic_block:
        raise RuntimeError("a number is drawn inside the deed that uses it")
    series_year = year if kind in YEARLY else 0
    count = _next(shop, kind, series_year)
    letter = LETTERS[kind]
    parts = [shop.code, letter, f"{series_year}-{count:04d}" if series_year else str(count)]
    return "-".join(part for part in parts if part)


def _next(shop: Shop, kind: str, year: int) -> int:
    # An UPDATE first takes the lock; reading afterwards inside it is safe on both engines.
    which = NumberSeries.objects.filter(shop=shop, kind=kind, year=year)
    if not which.update(next=F("next") + 1):
        NumberSeries.objects.bulk_create([NumberSeries(shop=shop, kind=kind, year=year)], ignore_conflicts=True)
        which.update(next=F("next") + 1)
    return which.values_list("next", flat=True).get() - 1
