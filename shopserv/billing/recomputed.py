"""Invoices computed again from their lines, and their lines from the options that were agreed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any

from shopserv.billing.models import Invoice, InvoiceLine
from shopserv.calc.money import amount, cents
from shopserv.calc.tax import TaxLine, tax_by_rate
from shopserv.common.recomputed import Again
from shopserv.jobs.models import Line
from shopserv.papers.recomputed import paper_of
from shopserv.shop.actors import Actor

PPM = Decimal(1_000_000)


def recomputed(actor: Actor) -> Iterator[Again]:
    """Every issued invoice; for the clock, which stands in no shop."""
    actor.must("tick")
    rows = Invoice.objects.select_related("work_order").prefetch_related("lines").order_by("pk")
    for invoice in rows.iterator(chunk_size=200):
        keys = [line.billed_line for line in invoice.lines.all() if line.billed_line]
        yield of_invoice(invoice, Line.objects.in_bulk(keys), paper_of("invoice", invoice.number, 1))


def of_invoice(invoice: Invoice, billed: Mapping[int, Line], paper: Mapping[str, Any] | None = None) -> Again:
    """One invoice: its sums from its lines and on its paper, each line from the line that it bills.

    A fluid that was agreed as a band is billed by what went in, inside the band.
    """
    lines = sorted(invoice.lines.all(), key=lambda line: line.order)
    net = sum(line.price_cents for line in lines)
    rates = []
    for ppm in sorted({line.tax_rate_ppm for line in lines if line.is_taxed}):
        base = sum(line.price_cents for line in lines if line.is_taxed and line.tax_rate_ppm == ppm)
        tax = cents(tax_by_rate([TaxLine(amount(base), Decimal(ppm) / PPM)]).total_tax)
        rates.append({"rate_ppm": ppm, "base_cents": base, "tax_cents": tax})
    total_tax = sum(row["tax_cents"] for row in rates)
    stored: dict[str, Any] = {
        "net_cents": invoice.net_cents,
        "tax_by_rate": invoice.tax_by_rate,
        "tax_cents": invoice.tax_cents,
        "total_cents": invoice.total_cents,
    }
    computed: dict[str, Any] = {
        "net_cents": net,
        "tax_by_rate": rates,
        "tax_cents": total_tax,
        "total_cents": net + total_tax,
    }
    for line in lines:
        agreed = billed.get(line.billed_line or 0)
        if agreed is not None:
            stored[f"line {line.order}"] = line.price_cents
            computed[f"line {line.order}"] = _agreed(line, agreed)
    if paper is not None:
        for name in ("net_cents", "tax_cents", "total_cents"):
            stored[f"{name} on paper"], computed[f"{name} on paper"] = paper[name], computed[name]
    return Again(f"invoice {invoice}", stored, computed)


def _agreed(line: InvoiceLine, agreed: Line) -> int:
    """What may be billed for an agreed line: its price, or within its band what stands."""
    low, high = sorted((agreed.low_price_cents, agreed.price_cents))
    return min(max(line.price_cents, low), high)
