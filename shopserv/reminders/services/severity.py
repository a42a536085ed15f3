"""What makes a vehicle's life hard on its fluid, noted with the forecast that follows from it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db import transaction

from shopserv.common import formats
from shopserv.common.errors import Refusal
from shopserv.logbook import services as logbook
from shopserv.logbook.models import LaboratoryResult
from shopserv.logbook.selectors import MUCH_WATER
from shopserv.registry.models import UsePattern, Vehicle
from shopserv.registry.services import use, vehicles
from shopserv.reminders.services import forecasts
from shopserv.shop import climates
from shopserv.shop.actors import Actor


@transaction.atomic
def note_profile(
    vehicle: Vehicle,
    *,
    actor: Actor,
    short_trip_ppm: int,
    stored_months: int,
    loads: Sequence[tuple[str, int, int]],
    is_assumed: bool,
) -> UsePattern:
    """Note how a vehicle is used, and make the forecast anew with it. Arguments of `registry.services.use`."""
    row = use.note_profile(
        vehicle,
        actor=actor,
        short_trip_ppm=short_trip_ppm,
        stored_months=stored_months,
        loads=loads,
        is_assumed=is_assumed,
    )
    forecasts.renew(vehicle, actor=actor)
    return row


@transaction.atomic
def note_log(
    vehicle: Vehicle,
    *,
    actor: Actor,
    file_name: str,
    data: bytes,
    time: int | None = None,
    heat: int | None = None,
    unit: str | None = None,
    ticks: str | None = None,
    are_faults_confirmed: bool = False,
    is_heat_confirmed: bool = False,
) -> UsePattern:
    """Take a temperature log, and make the forecast anew with it. Arguments of `registry.services.use`."""
    row = use.note_log(
        vehicle,
        actor=actor,
        file_name=file_name,
        data=data,
        time=time,
        heat=heat,
        unit=unit,
        ticks=ticks,
        are_faults_confirmed=are_faults_confirmed,
        is_heat_confirmed=is_heat_confirmed,
    )
    forecasts.renew(vehicle, actor=actor)
    return row


@transaction.atomic
def withdraw_log(vehicle: Vehicle, *, actor: Actor) -> UsePattern:
    """Let the log that counts count no more, and make the forecast anew. As `registry.services.use`."""
    row = use.withdraw_log(vehicle, actor=actor)
    forecasts.renew(vehicle, actor=actor)
    return row


@transaction.atomic
def note_water(
    vehicle: Vehicle,
    *,
    actor: Actor,
    sampled_on: date,
    reference: str,
    water_ppm: int,
    limit_ppm: int,
    limit_source: str,
    method: str = "",
    is_much_confirmed: bool = False,
) -> LaboratoryResult:
    """Note a laboratory's figure, and make the forecast anew with it. Arguments of `logbook.services.note_water`.

    is_much_confirmed   so much over the limit is right (`logbook.selectors.MUCH_WATER`)
    raises              Refusal of that deed; water.first_use for a sample before the vehicle was built or in use;
                        water.much, to be confirmed
    """
    actor.must("take in")
    begun = vehicle.in_service_on or (date.fromisoformat(f"{vehicle.build_month}-01") if vehicle.build_month else None)
    if begun and sampled_on < begun:
        what = "went into service" if vehicle.in_service_on else "was built"
        raise Refusal(
            f"The vehicle {what} on {formats.day(begun)}; a sample is of later. Look at the day and its year.",
            code="water.first_use",
            field="sampled_on",
        )
    if 0 < limit_ppm * MUCH_WATER < water_ppm <= logbook.MILLION and not is_much_confirmed:
        raise Refusal(
            f"{formats.number(water_ppm)} mg/kg is more than {MUCH_WATER} times the limit. Read the slip and its unit "
            "once more, or tick that it is right: water in the fluid is suspected then (K-13).",
            code="water.much",
            field="water_ppm",
            confirmable=True,
        )
    row = logbook.note_water(
        vehicle,
        actor=actor,
        sampled_on=sampled_on,
        reference=reference,
        water_ppm=water_ppm,
        limit_ppm=limit_ppm,
        limit_source=limit_source,
        method=method,
    )
    forecasts.renew(vehicle, actor=actor)
    return row


@transaction.atomic
def withdraw_water(vehicle: Vehicle, *, actor: Actor, reference: str, why: str) -> LaboratoryResult:
    """Let a laboratory's slip count no more, and make the forecast anew. As `logbook.services.withdraw_water`.

    What was suspected by it on a visit stands there until a person lifts it.
    """
    row = logbook.withdraw_water(vehicle, actor=actor, reference=reference, why=why)
    forecasts.renew(vehicle, actor=actor)
    return row


@transaction.atomic
def choose_place(vehicle: Vehicle, *, actor: Actor, code: str, edition: int) -> Vehicle:
    """Say where a vehicle is at home, and make the forecast anew with it.

    code     of a place on file, or of the reference data
    raises   Refusal place.unknown; Stale if the vehicle was changed in between
    """
    actor.must("take in")
    place = climates.place_called(code, actor=actor)
    if vehicle.home_climate_id == place.pk:
        raise Refusal(f"{place} is its home already. Choose another one.", code="place.same", field="place")
    changed = vehicles.change(vehicle, actor=actor, edition=edition, home_climate=place)
    forecasts.renew(changed, actor=actor)
    return changed
