"""The sums behind level and balance, as they stand on the close-out page."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from shopserv.calc.balance import COVERAGE
from shopserv.common import formats
from shopserv.jobs.models import LevelRecord, MassBalance
from shopserv.jobs.selectors.bay import BaySheet
from shopserv.web.bay.shown import in_degrees


def level_sum(record: LevelRecord, units_first: str) -> dict[str, Any]:
    """A level record: what was read, and its error budget item by item."""
    kept: Mapping[str, Any] = record.budget
    rows: list[dict[str, Any]] = [
        {
            "what": in_degrees(row["words"], units_first),
            "how": formats.percent(row["share_ppm"]) if "share_ppm" in row else "",
            "figure": f"{formats.number(Fraction(row['ml_tenths'], 10), 1)} mL",
        }
        for row in kept.get("items", ())
    ]
    root = Fraction(record.budget_ml_tenths, 10)
    rows.append(
        {
            "what": _("root of the sum of squares"),
            "how": _("how far the level may be off"),
            "figure": f"{formats.number(root, 1)} mL",
            "is_sum": True,
        }
    )
    limit = kept.get("limit_ml")
    allowed = _("of %(limit)s mL") % {"limit": formats.number(limit)} if limit is not None else _("limit not known")
    rows.append({"what": _("twice that"), "how": allowed, "figure": f"{formats.number(2 * root)} mL"})
    tilt = (record.tilt_fore_aft_tenths_deg, record.tilt_side_tenths_deg)
    return {
        "attempt": record.attempt,
        "passes": record.passes,
        "verdict": kept.get("wrong") or kept.get("verdict", ""),
        "temperature": formats.temperature(record.temp_mdegc, units_first),
        "tilt": _("%(fore)s° fore-aft, %(side)s° to the side")
        % {"fore": formats.number(Fraction(tilt[0], 10), 1), "side": formats.number(Fraction(tilt[1], 10), 1)},
        "record": record,
        "instruments": kept.get("instruments", ()),
        "missing": kept.get("missing", ()),
        "advice": kept.get("advice", ""),
        "rows": rows,
    }


def balance_now(bay: BaySheet, units_first: str) -> dict[str, Any] | None:
    """The running balance with its sum; none where nothing moved."""
    now = bay.balance_now
    if now is None:
        return None
    return _balance(now.in_ml, now.out_ml, now.difference_ml, now.band_ml, now.verdict, now.working, units_first) | {
        "is_inside": now.is_inside
    }


def kept_balance(kept: MassBalance, units_first: str) -> dict[str, Any]:
    """The balance as it was stored at the close-out."""
    difference, band = Fraction(kept.difference_ml_tenths, 10), Fraction(kept.band_ml_tenths, 10)
    found = _balance(kept.in_ml, kept.out_ml, difference, band, kept.verdict, kept.working, units_first)
    return found | {"is_inside": kept.is_inside}


def _balance(
    put_in: Any, out: Any, difference: Any, band: Any, verdict: str, working: Mapping[str, Any], units_first: str
) -> dict[str, Any]:
    rows: list[dict[str, Any]] = [
        {"what": row["words"], "how": "", "figure": f"{formats.number(Fraction(str(row['value'])))} {row['unit']}"}
        for row in working.get("steps", ())
    ]
    return {
        "put_in": formats.volume(put_in, units_first),
        "out": formats.volume(out, units_first),
        "difference": formats.volume(difference, units_first, 2),
        "band": formats.volume(COVERAGE * band, units_first, 2),
        "verdict": verdict.removeprefix("closes "),  # the word stands before it
        "rows": rows,
        "causes": [_cause(row) for row in working.get("causes", ())],
        "formula": working.get("formula", ""),
        "assumptions": working.get("assumptions", ()),
    }


def _cause(row: Mapping[str, Any]) -> dict[str, str]:
    """What may have happened: its own amount, and what it leaves."""
    low, high = Fraction(str(row["low_ml"])), Fraction(str(row["high_ml"]))
    amount = formats.milliliters(low)
    if low != high:
        amount = _("%(low)s to %(high)s mL") % {"low": formats.number(low), "high": formats.number(high)}
    left = formats.milliliters(Fraction(str(row["left_ml"])))
    says = _("explains it") if row["explains"] else _("leaves %(left)s") % {"left": left}
    return {"words": row["words"], "amount": amount, "says": says, "weight": formats.percent(_ppm(row["weight"]))}


def _ppm(share: float) -> Fraction:
    return Fraction(share) * 1_000_000


def leftover_words(noted: Mapping[str, int] | None, units_first: str) -> str:
    """What was left over beside what was bought less what was poured; empty where it was not noted."""
    if not noted:
        return ""
    said = {name: formats.volume(noted[name], units_first) for name in ("left_ml", "bought_ml", "poured_ml")}
    apart = {"apart": formats.volume(abs(noted["apart_ml"]), units_first)}
    words = _("%(left_ml)s noted; bought %(bought_ml)s less poured %(poured_ml)s: %(apart)s apart.")
    return words % (said | apart)
