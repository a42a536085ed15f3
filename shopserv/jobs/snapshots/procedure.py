"""What the procedure sheet shows, frozen when the work is cleared. It shows no price and no telephone number."""

from __future__ import annotations

import zlib
from datetime import datetime
from typing import Any

from shopserv.catalog.models import Package
from shopserv.jobs import bay_words
from shopserv.jobs.bay_readings import ENGINE_STOPS
from shopserv.jobs.bay_stages import Place
from shopserv.jobs.findings import FINDINGS
from shopserv.jobs.models import BayStep, WorkOrder
from shopserv.jobs.snapshots.common import moment, shop_part, vehicle_part
from shopserv.registry import selectors as registry

SIGNS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O, which a hand writes like figures
NO_FAULT_CODE = "ADEFGHJKLMNQRSTVWXYZ"  # a mark that begins with B, C, P or U would read like a fault code


def procedure_paper(order: WorkOrder, *, at: datetime) -> dict[str, Any]:
    """Every value that the sheet shows, as plain data: unit and how it is known, fluid, the steps with their blanks."""
    visit = order.visit
    identified = registry.identification_of(visit.vehicle)
    shop = shop_part(order.shop)
    is_pit = order.bay is not None and Place(bay_kind=order.bay.kind).is_pit
    steps = [_step(order, step) for step in order.steps.order_by("order")]
    return {
        "document": "Procedure sheet",
        "work_order_number": order.number,
        "visit": {"number": visit.number},
        "at": moment(at),
        "shop": {name: shop[name] for name in _SHOP},
        "vehicle": vehicle_part(visit.vehicle, visit, at, order.shop),
        "unit": str(identified.unit) if identified else order.facts.get("unit", ""),
        "unit_known_by": identified.grade if identified else "not known",
        "sheet_version": order.facts.get("sheet_version"),
        "title": order.facts.get("title", ""),
        "method": order.facts.get("method", ""),
        "fluids": _fluids(order),
        "packages": dict(order.facts.get("packages", {})),
        "parts": [dict(row) for row in order.facts.get("parts", ())],
        "added": [{"title": row["title"], "parts": row["parts"]} for row in order.facts.get("added", ())],
        "bay": str(order.bay or ""),
        "technician": order.technician.name if order.technician else "",
        "steps": steps,
        "close_out": [words for _, words in order.rules.get("close_out_items", ())],
        "second_look_asked": bool(order.rules.get("look_asked")),
        "findings_list": [
            {"code": kind.code, "words": kind.bay_words, "grade": kind.grade, "effect": kind.effect}
            for kind in FINDINGS.values()
            if "bay" in kind.found_by
        ],
        "when_stopped": list(bay_words.WHEN_STOPPED),
        "foot": list(bay_words.by_bay(bay_words.FOOT, is_pit=is_pit, wheels_are_down=is_pit)),
    }


_SHOP = ("code", "name", "legal_name", "address", "phone", "registration_number", "time_zone", "units_first",
         "paper_size")  # fmt: skip
_FLUID = ("code", "name", "need_ml", "low_need_ml", "sump")


def _fluids(order: WorkOrder) -> list[dict[str, Any]]:
    """Each fluid with its sump and the packages it comes in; of one product in two sumps they stand at the first."""
    counts = dict(order.facts.get("packages", {}))
    product_of = dict(Package.objects.filter(stock_number__in=counts).values_list("stock_number", "product__code"))
    rows: list[dict[str, Any]] = []
    for fluid in order.facts.get("fluids", ()):
        row = {name: fluid.get(name, "") for name in _FLUID}
        is_first = row["code"] not in [one["code"] for one in rows]
        row["packages"] = {n: count for n, count in counts.items() if is_first and product_of.get(n) == row["code"]}
        rows.append(row)
    return rows


def _step(order: WorkOrder, step: BayStep) -> dict[str, Any]:
    return {
        "order": step.order,
        "code": step.code,
        "text": step.text,
        "cautions": list(step.cautions),
        "limits": dict(step.limits),
        "may_skip": step.may_skip,
        "is_fluid": step.is_fluid,
        "blanks": [
            {
                **{name: row[name] for name in ("what", "words")},
                "unit": _written(row["unit"]),
                "mark": mark_of(order.number, step.order, place),
            }
            for place, row in enumerate(step.needs)
        ],
    }


def _written(unit: str) -> str:
    """The unit that is written by hand: keys step by 0.1 qt, on paper stand quarts."""
    if unit == "choice":
        return " / ".join(filter(None, ENGINE_STOPS))
    return unit.removeprefix("0.1").strip()


def mark_of(number: str, step: int, blank: int) -> str:
    """The three signs beside a blank: two for the blank of the step, and a check sign over the work order's number.

    check   the sign differs between two work orders or two blanks often enough to catch a value on the wrong line
    """
    place = step * 4 + blank
    first = NO_FAULT_CODE[place // len(SIGNS) % len(NO_FAULT_CODE)]
    second = SIGNS[place % len(SIGNS)]
    third = SIGNS[zlib.crc32(f"{number} {place}".encode()) % len(SIGNS)]
    return f"{first}{second}{third}"
