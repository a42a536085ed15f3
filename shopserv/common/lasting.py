"""What the money of an option buys, told as an estimate: whole months or hundreds of miles, and whole dollars."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats

THOUSAND = 1000
STEP = 100  # of miles or kilometers; common practice, no source: no forecast is better


def figure(bought: Mapping[str, Any]) -> str:
    """ "16 to 36 months": the band of share and interval, never narrower than the two exact ends.

    bought   jobs.bought.bought_by; versions older than the wide band show that of the share alone
    """
    by_age = bought["governs"] == "months"
    unit = _("months") if by_age else bought["unit"]
    low, high = ends(bought)
    if bought.get("per_cents") is None:
        at_once = _("due again at once")
        if high <= 0:
            return at_once
        return _("%(at_once)s, at most %(high)s %(unit)s") % {"at_once": at_once, "high": f"{high:,}", "unit": unit}
    band = f"{low:,}" if low == high else _("%(low)s to %(high)s") % {"low": f"{low:,}", "high": f"{high:,}"}
    return f"{band} {unit}"


def ends(bought: Mapping[str, Any]) -> tuple[int, int]:
    """The whole months, or hundreds of the unit: the low end counted down, the high end counted up."""
    by_age = bought["governs"] == "months"
    clock, step = ("months", 1) if by_age else ("distance", STEP)
    low = bought.get("wide_low_thousandths", bought[f"credit_{clock}_thousandths"])
    high = bought.get("wide_high_thousandths", bought[f"high_{clock}_thousandths"])
    each = step * THOUSAND
    return low // each * step, -(-high // each) * step


def price(bought: Mapping[str, Any]) -> str:
    """ "about $19 a month"; empty where it is due again at once."""
    if bought.get("per_cents") is None:
        return ""
    each = _("a month") if bought["governs"] == "months" else _("a thousand %(unit)s") % {"unit": bought["unit"]}
    dollars = formats.money((bought["per_cents"] + 50) // 100 * 100).removesuffix(".00")
    return _("about %(money)s %(each)s") % {"money": dollars, "each": each}


def covers(bought: Mapping[str, Any]) -> str:
    """What the band holds."""
    if "wide_low_thousandths" in bought:
        return _("estimate: share of new fluid, and the interval 20 % shorter or longer")
    return _("estimate: share of new fluid")
