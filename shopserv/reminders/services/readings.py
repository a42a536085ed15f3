"""A reading noted outside a visit, with the forecast that follows from it."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from shopserv.common.errors import Refusal
from shopserv.logbook import services as logbook
from shopserv.logbook.doubts import doubts_of
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
    old_figure: int | None = None,
    old_is_estimate: bool = False,
    replaced_on: date | None = None,
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
        old_figure=old_figure,
        old_is_estimate=old_is_estimate,
        replaced_on=replaced_on,
        is_jump_confirmed=is_jump_confirmed,
    )
    forecasts.renew(vehicle, actor=actor)
    return reading


@transaction.atomic
def settle(vehicle: Vehicle, *, actor: Actor, key: int, answer: str) -> OdometerReading:
    """Say what a doubted reading of `vehicle` is, and make the forecast anew with it.

    key       row of the reading
    answer    "right", "aside", or "read as" for the figure that was likely meant
    raises    Refusal odometer.settled where the reading is doubted no more; those of logbook.services.settle_reading
    """
    actor.must("take in")
    doubt = next((one for one in doubts_of(actor, vehicle) if one.reading.pk == key), None)
    if doubt is None:
        raise Refusal("This reading is doubted no more: look again.", code="odometer.settled", field="answer")
    reading = logbook.settle_reading(
        doubt.reading, actor=actor, answer=answer, kind=doubt.verdict.kind, meant=doubt.meant
    )
    forecasts.renew(vehicle, actor=actor)
    return reading
