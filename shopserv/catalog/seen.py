"""What the catalog knows that tells one unit from another: fitments, looks, features, and what was seen where."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from shopserv.catalog.models import Fitment, IdentifyRule, Look, Sighting, Unit, UnitSheet
from shopserv.catalog.sheets import Value, values_by_what
from shopserv.shop.actors import Actor


def fitments_named(make: str, model: str, wmi: str = "") -> list[Fitment]:
    """What may stand in such a vehicle, heaviest evidence first; by the maker's sign of the VIN where no name fits."""
    rows = Fitment.objects.filter(is_current=True).select_related("unit").order_by("-weight_ppm", "unit__code", "pk")
    named = list(rows.filter(make__iexact=make, model__iexact=model)) if make and model else []
    if named or not wmi:
        return named
    return list(rows.filter(wmi=wmi))


def looks_in_use() -> list[Look]:
    """The looks that may be asked for, with what they show on every unit."""
    return list(Look.objects.filter(is_current=True).prefetch_related("features__unit").order_by("code"))


def identify_rule(day: date) -> IdentifyRule | None:
    """The rule of the house on `day`; none: nothing is decided by evidence."""
    return IdentifyRule.objects.filter(from_on__lte=day).order_by("-from_on").first()


def units_with_tags() -> list[Unit]:
    """Every unit whose tag has a known form, by code."""
    return list(Unit.objects.exclude(tag_pattern="").order_by("code"))


def sheet_values(units: Collection[Unit], day: date) -> dict[str, dict[str, Value]]:
    """Code of the unit -> what its sheet in force on `day` says; a unit without one is left out. Two queries."""
    rows = UnitSheet.objects.filter(unit__in=units, state="in force", from_on__lte=day).select_related("unit")
    newest = {row.unit.code: row for row in rows.order_by("from_on", "version").prefetch_related("values")}
    return {code: values_by_what(row.values.all()) for code, row in newest.items()}


def sightings_on(actor: Actor, number: str) -> list[Sighting]:
    """What was seen on the vehicle and counts, oldest first."""
    actor.must("identify unit")
    return list(
        Sighting.objects.filter(vehicle=number, taken_back_at__isnull=True).select_related("look").order_by("pk")
    )
