"""Unit sheets, fluids, packages, parts and labor as they stand on a day. The catalog belongs to the business."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from shopserv.catalog.models import (
    Fitment,
    FluidProduct,
    FluidSpecification,
    Package,
    Unit,
    UnitSheet,
)
from shopserv.catalog.sheets import Value, values_by_what
from shopserv.shop.actors import Actor


def units_of(actor: Actor) -> QuerySet[Unit]:
    """All units, by code."""
    actor.must("unit sheet")
    return Unit.objects.select_related("successor").order_by("code")


def unit_for(actor: Actor, code: str) -> Unit:
    """One unit by its code; Http404 for one that there is not."""
    return get_object_or_404(units_of(actor), code=code)


def sheets_of(actor: Actor, unit: Unit) -> QuerySet[UnitSheet]:
    """Every version of a unit's sheet, newest first, with its values."""
    actor.must("unit sheet")
    return unit.sheets.prefetch_related("values__by").order_by("-version")


def fluids_asked(sheet: UnitSheet) -> list[tuple[dict[str, str], FluidSpecification | None]]:
    """What the sheet asks for by build month and sump, each with its specification and what meets it. Two queries."""
    codes = [row["spec"] for row in sheet.fluids]
    found = FluidSpecification.objects.filter(code__in=codes).select_related("successor").prefetch_related("products")
    by_code = {row.code: row for row in found}
    return [(row, by_code.get(row["spec"])) for row in sheet.fluids]


def fitments_of(actor: Actor, unit: Unit) -> list[Fitment]:
    """The vehicles that a unit stands in, heaviest evidence first."""
    actor.must("unit sheet")
    rows = unit.fitments.filter(is_current=True)
    return list(rows.order_by("-weight_ppm", "make", "model", "year_from", "pk"))


def sheet_in_force(unit: Unit, day: date) -> UnitSheet | None:
    """The version in force on `day` with its values: the newest that had begun and was not withdrawn, or none."""
    rows = unit.sheets.filter(state="in force", from_on__lte=day).prefetch_related("values")
    return rows.order_by("-from_on", "-version").first()


def sheet_version(unit_code: str, version: int) -> UnitSheet:
    """The version that a quote or a job names, whatever its state is now; Http404 for one that there is not."""
    return get_object_or_404(UnitSheet.objects.select_related("unit"), unit__code=unit_code, version=version)


def values_of(sheet: UnitSheet) -> dict[str, Value]:
    """What the sheet says, by `catalog.sheets.WHAT`; what is not known is not in it. One query at most."""
    return values_by_what(sheet.values.all())


def specification_for(sheet: UnitSheet, build_month: str = "", sump: str = "") -> FluidSpecification | None:
    """The fluid specification that the sheet asks for a vehicle of `build_month` (and one of several sumps).

    build_month   "2009-05"; empty: not known, then the one that holds for the newest
    """
    rows = [row for row in sheet.fluids if row.get("sump", "") == sump]
    dated = [row for row in rows if "to_build" in row and build_month and build_month <= row["to_build"]]
    open_ended = [row for row in rows if "to_build" not in row]
    chosen = (dated or open_ended or rows)[:1]
    if not chosen:
        return None
    return FluidSpecification.objects.select_related("successor").get(code=chosen[0]["spec"])


def products_meeting(specification: FluidSpecification, day: date) -> list[FluidProduct]:
    """Products that may be filled where `specification` is asked, not barred.

    Of a specification withdrawn by `day`, those of its successor count only if that fits backward; products that
    meet the withdrawn one by name count still.
    """
    codes = [specification.code]
    withdrawn = specification.withdrawn_on is not None and specification.withdrawn_on <= day
    if withdrawn and specification.backward_fit and specification.successor:
        codes.append(specification.successor.code)
    rows = FluidProduct.objects.filter(meets__code__in=codes).exclude(state="barred").distinct()
    return list(rows.order_by("code"))


def packages_called(numbers: Iterable[str]) -> list[Package]:
    """The packages of these stock numbers, largest first."""
    return list(Package.objects.filter(stock_number__in=list(numbers)).order_by("-volume_ml", "stock_number"))


def volume_of_packages(counts: Mapping[str, int]) -> int | None:
    """What so many packages of each stock number hold together, in mL; none where one is not known, or none named."""
    rows = dict(Package.objects.filter(stock_number__in=list(counts)).values_list("stock_number", "volume_ml"))
    if not counts or set(counts) - set(rows):
        return None
    return sum(rows[number] * count for number, count in counts.items())
