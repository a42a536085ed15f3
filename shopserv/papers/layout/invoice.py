"""The invoice: what was done and supplied, tax by rate, how it was agreed, the odometer, the guarantee."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopserv.common import formats
from shopserv.papers.layout import common
from shopserv.papers.layout.common import Data

SERVICES = ("labor", "diagnosis", "sublet")


def context(data: Data, mark: str) -> dict[str, Any]:
    """What the template of an invoice prints."""
    shop = data["shop"]
    currency = shop["currency"]
    untaxed = data["net_cents"] - sum(row["base_cents"] for row in data["tax_by_rate"])
    open_cents = data["total_cents"] - data["paid_cents"]
    return {
        **common.head(data, title=_("Invoice"), number=data["number"], at=data["issued_at"], mark=mark),
        "dates": _dates(data),
        "odometer_out": _odometer(data["odometer"]),
        "tax_number": shop["tax_number"],
        "waste_id": shop.get("waste_id", ""),
        "rows": common.rows_of(data["lines"], title=data["title"], method="", shop=shop),
        "services": formats.money(_sum(data, services=True), currency),
        "parts": formats.money(_sum(data, services=False), currency),
        "net": formats.money(data["net_cents"], currency),
        "taxes": [
            {
                "rate": formats.percent(row["rate_ppm"], 3),
                "base": formats.money(row["base_cents"], currency),
                "tax": formats.money(row["tax_cents"], currency),
            }
            for row in data["tax_by_rate"]
        ],
        "untaxed": formats.money(untaxed, currency) if untaxed else "",
        "total": formats.money(data["total_cents"], currency),
        "paid": formats.money(data["paid_cents"], currency),
        "open": formats.money(open_cents, currency),
        "due": _due(data),
        "facts": [fact for fact in _facts(data) if fact["words"]],
    }


def _dates(data: Data) -> str:
    issued, delivered = (formats.day(date.fromisoformat(data[name])) for name in ("issued_on", "delivered_on"))
    return _("Issued %(issued)s, delivered %(delivered)s.") % {"issued": issued, "delivered": delivered}


def _odometer(odometer: Data) -> str:
    out = formats.odometer(odometer["out"], odometer["unit"])
    if odometer["in"] is None:
        return _("Odometer out %s.") % out
    return _("Odometer in %(came)s, out %(out)s.") % {
        "came": formats.odometer(odometer["in"], odometer["unit"]),
        "out": out,
    }


def _sum(data: Data, *, services: bool) -> int:
    return sum(line["price_cents"] for line in data["lines"] if (line["kind"] in SERVICES) == services)


def _due(data: Data) -> str:
    day, days = formats.day(date.fromisoformat(data["due_on"])), data["terms_days"]
    if not days:
        return _("Due on receipt, %s.") % day
    words = ngettext("%d day", "%d days", days) % days
    return _("Due %(day)s, within %(days)s.") % {"day": day, "days": words}


def _facts(data: Data) -> list[dict[str, str]]:
    currency = data["shop"]["currency"]
    workers = "; ".join(f"{one['name']} ({one['initials']}), {one['did']}" for one in data["workers"])
    old_parts = _("to be given back") if data["old_parts_wanted"] else _("not asked for")
    named = [
        (_("Authorized"), " ".join(_yes(one, data["shop"]) for one in data["authorizations"])),
        (_("Beyond that"), common.tolerance_words(data["tolerance"], currency)),
        (_("Guarantee"), data["guarantee_text"]),
        (_("Done by"), workers),
        (_("Old parts"), old_parts),
        (_("Fluid"), data["fluid_price_words"]),
        (_("No tax"), data["exemption_text"]),
        (_("Storage"), common.storage_words(data["storage_terms"], currency)),
        (_("Papers"), f"{data['work_order_number']}, {data['quote_number']} / {data['quote_version']}"),
    ]
    return [{"name": name, "words": words} for name, words in named]


def _yes(one: Data, shop: Data) -> str:
    """One authorization in a sentence, an oral or electronic one with the number or address used."""
    currency = shop["currency"]
    values = {
        "at": common.moment(one["at"], shop["units_first"]),
        "person": one["person"],
        "way": formats.consent_way(one["way"]) + (f" {one['contact_used']}" if one["contact_used"] else ""),
        "amount": formats.money(one["amount_cents"], currency),
        "letter": one["letter"],
    }
    words = _("%(at)s, %(person)s %(way)s: option %(letter)s, agreed total %(amount)s") % values
    if one["added_cents"] is not None:
        added = {"amount": formats.money(one["added_cents"], currency), "what": one["added_text"]}
        words += _(", of it %(amount)s added: %(what)s") % added
    return words + "."
