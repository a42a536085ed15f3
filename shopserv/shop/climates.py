"""Climate places: the shop's own figures, and the air of real places to choose from."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from shopserv.calc import moisture
from shopserv.calc.errors import CalcError
from shopserv.common import clock
from shopserv.common.errors import Refusal, Stale
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace, Shop

MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Month:
    """Mean temperature of a month, and its mean relative humidity or, in its place, its mean dew point."""

    mean_mdegc: int
    humidity_ppm: int | None = None
    dew_point_mdegc: int | None = None


def places_of(actor: Actor) -> QuerySet[ClimatePlace]:
    """Every place on file, of each code the newest row that has begun, by name."""
    actor.must("open file")
    begun = ClimatePlace.objects.filter(from_on__lte=clock.today(actor.house.time_zone))
    newest: dict[str, int] = {}
    for code, pk in begun.order_by("from_on").values_list("code", "pk"):
        newest[code] = pk
    return ClimatePlace.objects.filter(pk__in=newest.values()).order_by("kind", "name")


def reference_places() -> Sequence[dict[str, Any]]:
    """The air of real places as it lies in the repository, each with its source, license and period."""
    found: list[dict[str, Any]] = _reference()["places"]
    return found


@cache
def _reference() -> dict[str, Any]:
    path = Path(settings.BASE_DIR) / "fixtures" / "climate" / "places.json"
    data: dict[str, Any] = json.loads(path.read_text("utf-8"))
    return data


@transaction.atomic
def take_reference(code: str, *, actor: Actor) -> ClimatePlace:
    """Put a place of the reference data on file; the row that is there where it was taken before.

    raises  Refusal place.unknown
    """
    actor.must("take in")
    known = ClimatePlace.objects.filter(code=code, kind="reference").first()
    if known:
        return known
    place = next((one for one in reference_places() if one["code"] == code), None)
    if place is None:
        raise Refusal(f"“{code}” is no place of the list. Choose one from it.", code="place.unknown", field="place")
    return _save(
        actor,
        code=place["code"],
        name=place["name"],
        altitude_m=place["altitude_m"],
        mean_mdegc=[round(1000 * celsius) for celsius in place["mean_c"]],
        humidity_ppm=[round(10_000 * percent) for percent in place["rh_pct"]],
        swing_mk=[round(1000 * kelvin) for kelvin in place["daily_swing_k"]],
        kind="reference",
        source=place["source"],
        license=place["license"],
        period=place["period"],
    )


def place_called(code: str, *, actor: Actor) -> ClimatePlace:
    """The place of this code on file; one of the reference data is put on file.

    raises  Refusal place.unknown
    """
    return places_of(actor).filter(code=code).first() or take_reference(code, actor=actor)


@dataclass(frozen=True, slots=True)
class Year:
    """A place's air in a few figures; `moisture` is the factor that it alone makes, without short trips or storage."""

    mean_c: float
    coldest_c: float
    warmest_c: float
    humidity_ppm: int
    moisture: float


def year_of(place: ClimatePlace) -> Year:
    """The yearly figures of a place."""
    degrees = [mdegc / 1000 for mdegc in place.mean_mdegc]
    months = list(zip(degrees, (ppm / MILLION for ppm in place.humidity_ppm), strict=True))
    return Year(
        sum(degrees) / 12,
        min(degrees),
        max(degrees),
        round(sum(place.humidity_ppm) / 12),
        float(moisture.moisture_factor(months, 0, altitude_m=place.altitude_m)),
    )


@transaction.atomic
def add_place(
    *, actor: Actor, name: str, altitude_m: int, months: Sequence[Month], source: str, period: str = ""
) -> ClimatePlace:
    """Put a place with the shop's own figures on file.

    months   twelve, or one that stands for the whole year
    source   where the figures come from
    raises   Refusal place.months, place.name, place.dew_point with the month in its field
    """
    actor.must("house rules")
    if len(months) not in (1, 12):
        raise Refusal(f"{len(months)} months were given; it takes 12, or one for the whole year.", code="place.months")
    if ClimatePlace.objects.filter(name__iexact=name).exists():
        raise Refusal(f"A place “{name}” is on file. Give this one another name.", code="place.name", field="name")
    humidity = [_humidity(month, number) for number, month in enumerate(months, start=1)]
    times = 12 // len(months)
    return _save(
        actor,
        code=f"OWN-{ClimatePlace.objects.filter(code__startswith='OWN-').count() + 1}",
        name=name,
        altitude_m=altitude_m,
        mean_mdegc=[month.mean_mdegc for month in months] * times,
        humidity_ppm=humidity * times,
        swing_mk=[],
        kind="own",
        source=source,
        period=period or ("one figure for the whole year" if times > 1 else ""),
        is_from_dew_point=any(month.humidity_ppm is None for month in months),
    )


def _humidity(month: Month, number: int) -> int:
    """As typed, or worked out of the dew point."""
    field = f"air_{number}"
    if month.humidity_ppm is not None:
        return month.humidity_ppm
    if month.dew_point_mdegc is None:
        raise Refusal(f"Month {number} has neither humidity nor dew point.", code="place.dew_point", field=field)
    try:
        return round(MILLION * moisture.relative_humidity(month.mean_mdegc / 1000, month.dew_point_mdegc / 1000))
    except CalcError as cause:
        raise Refusal(f"Month {number}: {cause}", code="place.dew_point", field=field) from cause


def _save(actor: Actor, **columns: Any) -> ClimatePlace:
    try:
        with transaction.atomic():
            place = ClimatePlace.objects.create(from_on=_begin(columns["kind"], actor), **columns)
    except IntegrityError as cause:
        raise Refusal(
            f"{columns['name']} was put on file a moment ago. Choose it from the list.",
            code="place.twice",
            field="name",
            status=409,
        ) from cause
    trail.write(actor, "climate place added", place, kind=place.kind, source=place.source)
    return place


def _begin(kind: str, actor: Actor) -> date:
    """Reference data are of the past, whenever they are chosen; own figures count from today."""
    return date(2000, 1, 1) if kind == "reference" else clock.today(actor.house.time_zone)


@transaction.atomic
def choose_for_shop(code: str, *, actor: Actor, edition: int) -> Shop:
    """Make a place the one that vehicles first seen at the shop get; those on file keep theirs.

    code     of a place on file, or of the reference data
    raises   Refusal place.unknown; Stale if the shop was changed in between
    """
    actor.must("house rules")
    shop = actor.house
    place = place_called(code, actor=actor)
    before = str(shop.climate or "")
    if not Shop.objects.filter(pk=shop.pk, edition=edition).update(climate=place, edition=edition + 1):
        shop.refresh_from_db()
        raise Stale(f"{shop.short_name} was changed by somebody else in the meantime.", theirs={"place": shop.climate})
    shop.refresh_from_db()
    trail.write(actor, "shop's place changed", shop, before={"place": before}, place=str(place))
    return shop
