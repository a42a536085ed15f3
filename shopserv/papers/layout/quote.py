"""The estimate or quote: options side by side, each with its lines, then the terms and the place for a yes."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats, fresh, lasting
from shopserv.papers.layout import common
from shopserv.papers.layout.common import Data


def context(data: Data, mark: str) -> dict[str, Any]:
    """What the template of a quote prints."""
    shop = data["shop"]
    return {
        **common.head(
            data,
            title=data["document"],
            number=_("%(number)s version %(version)s") % {"number": data["number"], "version": data["version"]},
            at=data["offered_at"],
            mark=mark,
        ),
        "good_until": common.moment(data["good_until"], shop["units_first"]),
        "is_addition": data["is_addition"],
        "agreed_before": _money_or_nothing(data["agreed_before_cents"], shop),
        "complaints": data["visit"]["complaints"],
        "promised": common.moment(data["visit"]["promised_at"], shop["units_first"]),
        "estimate_choice": data["estimate_choice"],
        "findings": data["findings"],
        "note": data["note"],
        "unit": data["unit"],
        "sheet_version": data["sheet_version"],
        "options": [_option(option, data) for option in data["options"]],
        "recommended": data["recommended"],
        "why": data["why"],
        "terms": _terms(data),
        "check_words": data["check_words"],
        "signing": bool(data["options"]),
    }


def _money_or_nothing(cents: int | None, shop: Data) -> str:
    return "" if cents is None else formats.money(cents, shop["currency"])


def _option(option: Data, data: Data) -> dict[str, Any]:
    shop = data["shop"]
    currency, before = shop["currency"], data["agreed_before_cents"]
    share = fresh.share_of(option["fraction_low_ppm"], option["fraction_high_ppm"], option["course"])
    return {
        "letter": option["letter"],
        "title": option["title"],
        "is_recommended": option["letter"] == data["recommended"],
        "rows": common.rows_of(option["lines"], title=option["title"], method=option["method"], shop=shop),
        "net": formats.money(option["net_cents"], currency),
        "taxes": common.tax_rows(option["lines"], option["tax_cents"], currency, data["rules"]["tax"]["parts"]),
        "total": formats.money_band(option["low_total_cents"], option["total_cents"], currency),
        "new_total": _money_or_nothing(None if before is None else before + option["total_cents"], shop),
        "share": share.figure if share.covers else "",
        "lasts": _lasts(option["bought"]),
        "not_included": option["not_included"],
        "teardown": option["teardown_words"],
    }


def _lasts(bought: Data) -> str:
    """How long it lasts by the model, by the clock that runs out first."""
    if not bought:
        return ""
    return lasting.figure(bought)


def _terms(data: Data) -> list[dict[str, str]]:
    """What holds besides, each with its name in front."""
    currency = data["shop"]["currency"]
    charge = data["charge_for_this_paper_cents"]
    named = [
        (_("Beyond this"), common.tolerance_words(data["rules"]["tolerance"], currency)),
        (_("Fluid"), data["fluid_price_words"]),
        (
            _("New fluid"),
            data["model_words"] if any(o["fraction_low_ppm"] is not None for o in data["options"]) else "",
        ),
        (_("How long it lasts"), next((lasting.covers(o["bought"]) for o in data["options"] if o["bought"]), "")),
        (_("Guarantee"), common.guarantee_words(data["guarantee"])),
        (_("Old parts"), data["old_parts_words"]),
        (_("Storage"), common.storage_words(data["storage_terms"], currency)),
        (_("This paper"), formats.money(charge, currency) if charge else _("There is no charge for it.")),
    ]
    return [{"name": name, "words": words[:1].upper() + words[1:]} for name, words in named if words]
