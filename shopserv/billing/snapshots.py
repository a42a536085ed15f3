"""What an invoice shows, frozen when it is issued."""

from __future__ import annotations

from typing import Any

from shopserv.billing.bills import BilledLine
from shopserv.billing.models import Invoice
from shopserv.jobs.models import Authorization, WorkOrder
from shopserv.jobs.selectors import house_terms
from shopserv.jobs.snapshots.common import customer_part, moment, shop_part, vehicle_part, visit_part
from shopserv.jobs.snapshots.quote import FLUID_PRICE_WORDS


def invoice_paper(
    invoice: Invoice,
    *,
    lines: tuple[BilledLine, ...],
    authorization: Authorization,
    order: WorkOrder,
    odometer: dict[str, Any],
    guarantee: dict[str, Any],
    workers: list[dict[str, str]],
) -> dict[str, Any]:
    """Every value that the paper shows, as plain data; cost and margin are not among it.

    odometer   in, out and their unit
    workers    initials and name of those who did the work and of the second look, with what each did
    """
    shop, quote = invoice.shop, authorization.quote
    version = authorization.option.version
    return {
        "document": "Invoice",
        "number": invoice.number,
        "kind": invoice.kind,
        "issued_on": invoice.issued_on.isoformat(),
        "issued_at": moment(invoice.issued_at),
        "delivered_on": invoice.delivered_on.isoformat(),
        "due_on": invoice.due_on.isoformat(),
        "terms_days": invoice.customer.terms_days,
        "shop": {**shop_part(shop), "waste_id": shop.waste_id_on_papers},
        "customer": {**customer_part(invoice.customer), "country": invoice.customer.country},
        "vehicle": vehicle_part(invoice.vehicle, order.visit, invoice.issued_at, shop),
        "visit": visit_part(order.visit),
        "odometer": odometer,
        "work_order_number": order.number,
        "quote_number": quote.number,
        "quote_version": version.version,
        "title": house_terms.chain_of(authorization)[0].option.title,
        "purchase_order_number": invoice.purchase_order_number,
        "lines": [_line(number, line) for number, line in enumerate(lines, start=1)],
        "net_cents": invoice.net_cents,
        "tax_by_rate": invoice.tax_by_rate,
        "tax_cents": invoice.tax_cents,
        "total_cents": invoice.total_cents,
        "paid_cents": 0,
        "exemption_text": invoice.exemption_text,
        "authorizations": [_yes(one) for one in house_terms.chain_of(authorization)],
        "tolerance": authorization.rule,
        "guarantee": guarantee,
        "guarantee_text": invoice.guarantee_text,
        "old_parts_wanted": authorization.old_parts_wanted,
        "fluid_price_words": FLUID_PRICE_WORDS[version.rules["fluid_rule"]],
        "storage_terms": version.rules["storage_terms"],
        "workers": workers,
        "issued_by": invoice.issued_by,
    }


def _line(number: int, line: BilledLine) -> dict[str, Any]:
    names = (
        "kind", "number", "text", "quantity_thousandths", "unit", "unit_price_cents", "price_cents", "is_taxed",
        "tax_rate_ppm", "condition", "detail",
    )  # fmt: skip
    return {"order": number, **{name: getattr(line, name) for name in names}}


def _yes(one: Authorization) -> dict[str, Any]:
    return {
        "at": moment(one.at),
        "version": one.option.version.version,
        "letter": one.option.letter,
        "person": one.person,
        "way": one.way,
        "contact_used": one.contact_used,
        "amount_cents": one.amount_cents,
        "added_cents": one.added_cents,
        "added_text": one.added_text,
    }
