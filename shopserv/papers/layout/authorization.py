"""The record of a yes: who, when, how, what was agreed, how far an invoice may go beyond it."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats
from shopserv.papers.layout import common
from shopserv.papers.layout.common import Data


def context(data: Data, mark: str) -> dict[str, Any]:
    """What the template of an authorization record prints."""
    shop, option = data["shop"], data["option"]
    currency, first = shop["currency"], shop["units_first"]
    added = data["added_cents"]
    return {
        **common.head(data, title=_("Authorization"), number=data["quote_number"], at=data["at"], mark=mark),
        "version": data["quote_version"],
        "letter": option["letter"],
        "option_title": option["title"],
        "amount": formats.money(data["amount_cents"], currency),
        "tax": formats.money(data["tax_cents"], currency),
        "added": "" if added is None else formats.money(added, currency),
        "added_text": data["added_text"],
        "facts": [fact for fact in _facts(data, first) if fact["words"]],
        "rows": common.rows_of(option["lines"], title=option["title"], method=option["method"], shop=shop),
        "earlier": [
            {
                "at": common.moment(one["at"], first),
                "version": one["version"],
                "letter": one["letter"],
                "amount": formats.money(one["amount_cents"], currency),
                "state": one["state"],
            }
            for one in data["earlier"]
        ],
    }


def _facts(data: Data, first: str) -> list[dict[str, str]]:
    """The record in sentences, each with its name in front."""
    currency = data["shop"]["currency"]
    way = formats.consent_way(data["way"]) + (f", {data['contact_used']}" if data["contact_used"] else "")
    parts = "; ".join(
        ", ".join(filter(None, [part["text"], part["condition"], part["number"]])) for part in data["parts"]
    )
    named = [
        (_("Given by"), f"{data['person']}, {data['capacity']}"),
        (_("Designated"), data["designation"]),
        (_("How"), way),
        (_("When"), common.moment(data["at"], first)),
        (_("Words"), f"“{data['words_read']}”" if data["words_read"] else ""),
        (_("Check words"), data["check_words"]),
        (_("Recorded by"), data["recorded_by"]),
        (_("Binds"), _("the method %s, and the parts below") % data["option"]["title"] if parts else ""),
        (_("Parts"), parts),
        (_("Purchase order"), data["purchase_order_number"]),
        (_("Your choice"), data["estimate_choice"]),
        (_("Beyond this"), common.tolerance_words(data["rule"], currency)),
        (_("By"), data["tolerance_source"]),
        (_("Promised for"), common.moment(data["visit"]["promised_at"], first)),
        (_("Old parts"), _("to be given back") if data["old_parts_wanted"] else _("not asked for")),
        (_("Storage"), common.storage_words(data["storage_terms"], currency)),
        (_("Version"), data["version_hash"]),
    ]
    return [{"name": name, "words": words} for name, words in named]
