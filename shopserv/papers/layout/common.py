"""What every paper shows: its head, the vehicle, lines with prices, tax and the terms."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from fractions import Fraction
from typing import Any

from django.utils import timezone
from django.utils.dateformat import format as by_letters
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopserv.calc.money import half_up
from shopserv.common import formats

Data = Mapping[str, Any]


def local(text: str) -> datetime:
    """A moment of a snapshot in the present zone, which is the shop's."""
    return timezone.localtime(datetime.fromisoformat(text))


def moment(text: str, units_first: str) -> str:
    """A moment of a snapshot in words, or nothing."""
    return formats.moment(local(text), units_first) if text else ""


def head(data: Data, *, title: str, number: str, at: str, mark: str) -> dict[str, Any]:
    """Title, day, shop, customer, vehicle and visit.

    at     the moment that the paper is of, as text in the snapshot
    mark   hash of the snapshot; its first eight signs are the check mark of the file
    """
    shop, when = data["shop"], local(at)
    return {
        "title": title,
        "number": number,
        "created": when.date().isoformat(),
        "day_name": by_letters(when, "l"),
        "day": by_letters(when, "j"),
        "month": by_letters(when, "M Y"),
        "time": formats.clock_time(when, shop["units_first"]),
        "shop": shop,
        "shop_address": ", ".join(shop["address"]),
        "customer": data.get("customer"),
        "customer_address": ", ".join(data["customer"]["address"]) if data.get("customer") else "",
        "vehicle": vehicle(data["vehicle"]),
        "visit_number": data["visit"]["number"],
        "purchase_order_number": data.get("purchase_order_number", ""),
        "check_mark": f"{mark[:4]} {mark[4:8]}",
        "running": ", ".join(filter(None, [number, data["vehicle"]["number"], data["vehicle"]["plate"]])),
    }


def vehicle(data: Data) -> dict[str, str]:
    """The vehicle in words: number, year, make and model, plate, VIN, odometer."""
    odometer = data.get("odometer")
    return {
        "number": " ".join(filter(None, [data["number"], data.get("fleet_number", "")])),
        "words": " ".join(str(part) for part in (data["year"], data["make"], data["model"]) if part),
        "plate": data["plate"],
        "vin": data["vin"],
        "odometer": formats.odometer(odometer, data["odometer_unit"]) if odometer is not None else "",
    }


def kind_words(kind: str) -> str:
    """What a line is, for the customer."""
    words = {
        "labor": _("labor"), "diagnosis": _("diagnosis"), "fluid": _("fluid"), "part": _("part"),
        "core": _("core charge"), "sublet": _("outside work"), "supplies": _("supplies"), "waste": _("used fluid"),
        "discount": _("discount"), "fee": _("fee"),
    }  # fmt: skip
    return words[kind]


def rows_of(lines: Sequence[Data], *, title: str, method: str, shop: Data) -> list[dict[str, Any]]:
    """Lines as they are printed: kind, words, note, quantity, price of one, price."""
    currency = shop["currency"]
    return [
        {
            "kind": kind_words(line["kind"]),
            "text": title if line["kind"] == "labor" and line["text"] == method else line["text"],
            "number": "" if line["kind"] == "labor" else line["number"],  # the words say which operation it is
            "condition": line["condition"],
            "notes": _notes(line, shop),
            "quantity": _quantity(line, shop["units_first"]),
            "each": _each(line, currency),
            "price": formats.money_band(
                line.get("low_price_cents", line["price_cents"]), line["price_cents"], currency
            ),
            "is_taxed": line["is_taxed"],
        }
        for line in lines
    ]


def _each(line: Data, currency: str) -> str:
    """The price of one; of what is measured it says of what, where the quantity stands in another unit before it."""
    if not line["unit_price_cents"]:
        return ""
    price = formats.money(line["unit_price_cents"], currency)
    return _("%s a liter") % price if line["unit"] == "L" else price


def _quantity(line: Data, units_first: str) -> str:
    thousandths, unit = line["quantity_thousandths"], line["unit"]
    if unit == "L":
        return formats.volume(thousandths, units_first)
    if unit == "h":
        return formats.hours(thousandths // 100)
    return "" if thousandths == 1000 else formats.trimmed(Fraction(thousandths, 1000), 3)


def _notes(line: Data, shop: Data) -> list[str]:
    detail = line.get("detail") or {}
    notes = []
    if packages := detail.get("packages"):
        notes.append(", ".join(f"{count} × {number}" for number, count in sorted(packages.items())))
    if (poured := detail.get("poured_ml")) is not None:
        notes.append(_("%s poured, as measured") % formats.volume(poured, shop["units_first"]))
        if not detail["left_ml"]:
            notes.append(_("nothing left over"))
    if left := detail.get("left_ml"):
        volume = formats.volume(left, shop["units_first"])
        yours = detail.get("leftover") == "the customer's"
        notes.append((_("%s left over, yours to take") if yours else _("%s left over, stays here")) % volume)
    if vendor := detail.get("vendor"):
        notes.append(_("by %s") % vendor)
    if sentence := detail.get("sentence"):
        notes.append(sentence)
    return notes


def tax_rows(lines: Sequence[Data], tax_cents: int, currency: str, parts: Sequence[Any] = ()) -> list[dict[str, str]]:
    """The tax of an option: rate, base and amount by rising rate; where there is one rate, with its jurisdictions.

    An addition shows what it adds to the rounded tax of the job: the highest rate carries the cent that may be between.
    """
    bases: dict[int, int] = {}
    for line in lines:
        if line["is_taxed"]:
            bases[line["tax_rate_ppm"]] = bases.get(line["tax_rate_ppm"], 0) + line["price_cents"]
    named = ", ".join(f"{name} {formats.percent(ppm, 3)}" for name, ppm in parts)
    rows, rest = [], tax_cents
    for rate, base in sorted(bases.items()):
        tax = rest if rate == max(bases) else half_up(base * rate, 1_000_000)
        rest -= tax
        rows.append(
            {
                "rate": formats.percent(rate, 3),
                "named": named if len(parts) > 1 and len(bases) == 1 else "",
                "base": formats.money(base, currency),
                "tax": formats.money(tax, currency),
            }
        )
    return rows


def guarantee_words(guarantee: Data) -> str:
    """The guarantee in one sentence, or nothing where none is given."""
    if not guarantee:
        return ""
    months = ngettext("%d month", "%d months", guarantee["months"]) % guarantee["months"]
    miles = formats.odometer(guarantee["miles"])
    on = ", ".join(guarantee.get("on", []))
    return _("%(months)s or %(miles)s, whichever comes first, on %(on)s.") % {
        "months": months,
        "miles": miles,
        "on": on,
    }


def storage_words(storage: Data, currency: str) -> str:
    """What it costs to leave the vehicle here, or nothing."""
    if not storage:
        return ""
    days = ngettext("%d day is free", "%d days are free", storage["free_days"]) % storage["free_days"]
    return _("After the work is done %(days)s, then %(price)s a day.") % {
        "days": days,
        "price": formats.money(storage["cents_per_day"], currency),
    }


def tolerance_words(rule: Data, currency: str) -> str:
    """How far an invoice may go beyond what was agreed, in words made from the rule's figures."""
    if rule["kind"] == "none":
        return _("Nothing beyond the agreed total without a new yes.")
    percent = formats.percent(rule["percent_ppm"] or 0, 3)
    fixed = formats.money(rule["amount_cents"] or 0, currency)
    both = {"percent": percent, "amount": fixed}
    words = {
        "percent": _("Up to %(percent)s over the agreed total") % both,
        "amount": _("Up to %(amount)s over the agreed total") % both,
        "lesser_of": _("Up to %(amount)s or %(percent)s over the agreed total, whichever is less") % both,
        "greater_of": _("Up to %(amount)s or %(percent)s over the agreed total, whichever is greater") % both,
    }[rule["kind"]]
    if rule["base"] == "before_tax":
        words += _(", both before tax")
    if rule["cap_cents"] is not None:
        words += _(", never more than %s") % formats.money(rule["cap_cents"], currency)
    return words + "."
