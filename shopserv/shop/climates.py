"""Climate places: the shop's own figures, and the air of real places to choose from."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
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
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, Stale
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace, Shop

MILLION = 1_000_000
LEAST_AIR_MDEGC, MOST_AIR_MDEGC = -45_000, 60_000  # the formula of humid air begins at -45 °C; 60: common practice
USUAL_YEAR_MDEGC = (0, 30_000)  # yearly means of most inhabited places: common practice, no source
USUAL_LEAST_HUMIDITY_PPM = 100_000  # monthly means of deserts lie above it: common practice, no source


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

    raises  Refusal place.unknown; place.fault where nothing can be computed from its figures
    """
    place = places_of(actor).filter(code=code).first() or take_reference(code, actor=actor)
    if fault := fault_of(place):
        raise Refusal(
            f"Nothing can be computed from the figures of {place}: {fault} Correct the place, or choose another.",
            code="place.fault",
            field="place",
        )
    return place


def fault_of(place: ClimatePlace) -> str:
    """Why nothing can be computed from the figures of a place; empty where it can."""
    try:
        year_of(place)
    except CalcError as cause:
        return str(cause)
    return ""


@dataclass(frozen=True, slots=True)
class Year:
    """A place's air in a few figures; `moisture` is the factor that it alone makes, without short trips or storage."""

    mean_c: float
    coldest_c: float
    warmest_c: float
    humidity_ppm: int
    moisture: float


def year_of(place: ClimatePlace) -> Year:
    """The yearly figures of a place.

    raises  CalcError for figures beyond the formulas
    """
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
    *,
    actor: Actor,
    name: str,
    altitude_m: int,
    months: Sequence[Month],
    source: str,
    period: str = "",
    corrects: str = "",
    confirmed: Collection[str] = (),
) -> ClimatePlace:
    """Put a place with the shop's own figures on file, or correct one from today on.

    months     twelve, or one that stands for the whole year
    source     where the figures come from
    corrects   code of the own place that they correct: a new row from today; one of today is amended
    confirmed  codes of what was asked and is right as typed: place.year, place.dry
    raises     Refusal place.months, place.name, place.corrects, place.altitude; place.heat, place.humidity,
               place.dew_point with the month in their field; to be confirmed: place.year (a cold or hot year, as °C
               typed for °F gives), place.dry (as 0.7 typed for 70 % gives)
    """
    actor.must("house rules")
    if len(months) not in (1, 12):
        raise Refusal(f"{len(months)} months were given; it takes 12, or one for the whole year.", code="place.months")
    if corrects and not ClimatePlace.objects.filter(code=corrects, kind="own").exists():
        raise Refusal("No own place is on file under this code.", code="place.corrects", field="corrects")
    if ClimatePlace.objects.filter(name__iexact=name).exclude(code=corrects).exists():
        raise Refusal(f"A place “{name}” is on file. Give this one another name.", code="place.name", field="name")
    for number, month in enumerate(months, start=1):
        _refuse_beyond(month, number)
    humidity = [_humidity(month, number) for number, month in enumerate(months, start=1)]
    times = 12 // len(months)
    columns = {
        "code": corrects or f"OWN-{ClimatePlace.objects.filter(code__startswith='OWN-').count() + 1}",
        "name": name,
        "altitude_m": altitude_m,
        "mean_mdegc": [month.mean_mdegc for month in months] * times,
        "humidity_ppm": humidity * times,
        "swing_mk": [],
        "kind": "own",
        "source": source,
        "period": period or ("one figure for the whole year" if times > 1 else ""),
        "is_from_dew_point": any(month.humidity_ppm is None for month in months),
    }
    if fault := fault_of(ClimatePlace(**columns)):
        raise Refusal(
            f"Nothing can be computed from these figures: {fault} Look at the height.",
            code="place.altitude",
            field="altitude",
        )
    _ask_what_is_odd(columns, confirmed)
    return _correct(actor, columns) if corrects else _save(actor, **columns)


def _refuse_beyond(month: Month, number: int) -> None:
    """Refuse a mean that no air has."""
    bounds = f"{formats.temperature(LEAST_AIR_MDEGC)} to {formats.temperature(MOST_AIR_MDEGC)}"
    if not LEAST_AIR_MDEGC <= month.mean_mdegc <= MOST_AIR_MDEGC:
        raise Refusal(
            f"{formats.temperature(month.mean_mdegc)} is no monthly mean of the air; it takes {bounds}. "
            "Look at the figure and its unit.",
            code="place.heat",
            field=f"heat_{number}",
        )
    dew = month.dew_point_mdegc
    if dew is not None and not LEAST_AIR_MDEGC <= dew <= MOST_AIR_MDEGC:
        raise Refusal(
            f"{formats.temperature(dew)} is no dew point of a monthly mean; it takes {bounds}.",
            code="place.dew_point",
            field=f"air_{number}",
        )
    if month.humidity_ppm is not None and not 0 <= month.humidity_ppm <= MILLION:
        raise Refusal(
            f"{formats.percent(month.humidity_ppm, 2)} is no relative humidity; it takes 0 to 100 %.",
            code="place.humidity",
            field=f"air_{number}",
        )


def _ask_what_is_odd(columns: dict[str, Any], confirmed: Collection[str]) -> None:
    mean = round(sum(columns["mean_mdegc"]) / 12)
    low, high = USUAL_YEAR_MDEGC
    if not low <= mean <= high and "place.year" not in confirmed:
        raise Refusal(
            f"The mean of the year would be {formats.temperature(mean)}: °F and °C may have been mixed up. "
            "Write the unit behind each figure, or tick that they are right as typed.",
            code="place.year",
            field="heat_1",
            confirmable=True,
        )
    driest = min(columns["humidity_ppm"])
    if driest < USUAL_LEAST_HUMIDITY_PPM and "place.dry" not in confirmed:
        number = columns["humidity_ppm"].index(driest) + 1
        raise Refusal(
            f"{formats.percent(driest, 2)} is drier than a desert: “70” stands for 70 %, “0.7” for less than "
            "one percent. Mend it, or tick that it is right as typed.",
            code="place.dry",
            field=f"air_{number}",
            confirmable=True,
        )


def _correct(actor: Actor, columns: dict[str, Any]) -> ClimatePlace:
    """A new row from today; a row that began today is amended. The shop's own place moves along."""
    begun = _begin("own", actor)
    before = ClimatePlace.objects.filter(code=columns["code"]).order_by("-from_on")[0]
    old = {"mean_mdegc": before.mean_mdegc, "humidity_ppm": before.humidity_ppm, "source": before.source}
    place, _is_new = ClimatePlace.objects.update_or_create(
        code=columns["code"], from_on=begun, defaults={k: v for k, v in columns.items() if k != "code"}
    )
    Shop.objects.filter(climate__code=place.code).exclude(climate=place).update(climate=place)
    trail.write(actor, "climate place corrected", place, before=old, source=place.source)
    return place


def _humidity(month: Month, number: int) -> int:
    """As typed, or worked out of the dew point."""
    field = f"air_{number}"
    if month.humidity_ppm is not None:
        return month.humidity_ppm
    if month.dew_point_mdegc is None:
        raise Refusal(f"Month {number} has neither humidity nor dew point.", code="place.dew_point", field=field)
    if month.dew_point_mdegc > month.mean_mdegc:
        raise Refusal(
            f"Month {number}: a dew point of {formats.temperature(month.dew_point_mdegc)} lies above the mean of "
            f"{formats.temperature(month.mean_mdegc)}; air holds no more water than that. Look at both figures.",
            code="place.dew_point",
            field=field,
        )
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
