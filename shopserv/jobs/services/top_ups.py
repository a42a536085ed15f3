"""A top-up noted, and what it makes suspect: another fluid than the unit asks for is K-06."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shopserv.jobs.models import Visit
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services.findings import note_finding
from shopserv.logbook.models import ServiceRecord
from shopserv.registry.models import Vehicle
from shopserv.reminders.services.top_ups import note_top_up
from shopserv.shop.actors import Actor


@transaction.atomic
def top_up(vehicle: Vehicle, *, actor: Actor, **facts: Any) -> ServiceRecord:
    """Note a top-up; one with another fluid is a finding on the visit that the vehicle is on here, or on its next.

    facts    and refusals are those of `reminders.services.top_ups.note_top_up`
    """
    record = note_top_up(vehicle, actor=actor, **facts)
    visit = Visit.objects.filter(vehicle=vehicle, shop=actor.house, state__in=OPEN_VISIT).first()
    if visit:
        suspect_other_fluid(visit, actor=actor)
    return record


def suspect_other_fluid(visit: Visit, *, actor: Actor) -> None:
    """Note K-06 as suspected where a top-up put another fluid in that no finding speaks of yet."""
    found = selectors.other_fluid_on(visit.vehicle)
    if found:
        note_finding(visit, actor=actor, code=found.code, signs=found.signs, words=found.words)
