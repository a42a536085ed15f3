"""What the authorization record shows, frozen when a consent counts."""

from __future__ import annotations

from typing import Any

from shopserv.jobs.models import Authorization
from shopserv.jobs.snapshots.common import customer_part, moment, shop_part, vehicle_part, visit_part
from shopserv.jobs.snapshots.quote import in_order, option_part


def authorization_paper(authorization: Authorization, *, earlier: list[Authorization]) -> dict[str, Any]:
    """Every value that the record shows, as plain data.

    earlier   the authorizations of the quote before this one, oldest first; they stay readable for ever
    """
    option = authorization.option
    version, quote = option.version, authorization.quote
    shop = quote.shop
    return {
        "document": "Authorization record",
        "quote_number": quote.number,
        "quote_version": version.version,
        "at": moment(authorization.at),
        "shop": shop_part(shop),
        "customer": customer_part(quote.customer),
        "vehicle": vehicle_part(quote.vehicle, quote.visit, authorization.at, shop),
        "visit": visit_part(quote.visit),
        "option": option_part(option),
        "method": option.method,
        "parts": [
            {"number": line.number, "text": line.text, "condition": line.condition}
            for line in in_order(option)
            if line.kind == "part"
        ],
        "amount_cents": authorization.amount_cents,
        "tax_cents": authorization.tax_cents,
        "added_cents": authorization.added_cents,
        "added_text": authorization.added_text,
        "person": authorization.person,
        "capacity": authorization.capacity,
        "designation": authorization.designation,
        "way": authorization.way,
        "contact_used": authorization.contact_used,
        "words_read": authorization.words_read,
        "check_words": authorization.check_words,
        "version_hash": authorization.version_hash,
        "purchase_order_number": authorization.purchase_order_number,
        "estimate_choice": quote.estimate_choice,
        "old_parts_wanted": authorization.old_parts_wanted,
        "rule": authorization.rule,
        "tolerance_words": authorization.rule["words"],
        "tolerance_source": authorization.rule["source"],
        "recorded_by": authorization.recorded_by,
        "storage_terms": version.rules["storage_terms"],
        "earlier": [
            {
                "at": moment(one.at),
                "version": one.option.version.version,
                "letter": one.option.letter,
                "amount_cents": one.amount_cents,
                "state": one.state,
            }
            for one in earlier
        ],
    }
