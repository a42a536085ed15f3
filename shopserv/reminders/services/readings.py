"""A reading noted outside a visit, with the forecast that follows from it."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from shopserv.common.errors import Refusal
from shopserv.logbook import services as logbook
from shopserv.logbook.models import OdometerReading
from shopserv.registry.models import Vehicle
from shopserv.reminders.services import forecasts
from shopserv.shop.actors import Actor

BY_HAND = ("customer", "fleet file", "certificate", "estimate")  # the other sources belong to visit and work


@transaction.atomic
def note(
    vehicle: Vehicle,
    *,
    actor: Actor,
    figure: int,
    unit: str,
    source: str,
    as_typed: str = "",
    on: date | None = None,
    why_lower: str = "",
    first_figure: int = 0,
    is_jump_confirmed: bool = False,
) -> OdometerReading:
    """Note what somebody read off the odometer, and make the forecast anew with it.

    The arguments are those of `logbook.services.note_reading`.

    raises  Refusal of that deed; odometer.source for a source that is not one of BY_HAND
    """
    actor.must("take in")
    if source not in BY_HAND:
        raise Refusal("Say who read the odometer, or from which paper.", code="odometer.source", field="source")
    reading = logbook.note_reading(
        vehicle,
        actor=actor,
        figure=figure,
        unit=unit,
        source=source,
        as_typed=as_typed,
        on=on,
        why_lower=why_lower,
        first_figure=first_figure,
        is_jump_confirmed=is_jump_confirmed,
    )
    forecasts.renew(vehicle, actor=actor)
    return reading
