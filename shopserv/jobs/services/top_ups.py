"""What is noted outside a visit and makes something suspect: another fluid topped up (K-06), much water (K-13)."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from shopserv.jobs.models import Visit
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services.findings import note_finding
from shopserv.logbook.models import LaboratoryResult, ServiceRecord
from shopserv.registry.models import Vehicle
from shopserv.reminders.services.severity import note_water
from shopserv.reminders.services.top_ups import note_top_up
from shopserv.shop.actors import Actor


@transaction.atomic
def top_up(vehicle: Vehicle, *, actor: Actor, **facts: Any) -> ServiceRecord:
    """Note a top-up; one with another fluid is a finding on the visit that the vehicle is on here, or on its next.

    facts    and refusals are those of `reminders.services.top_ups.note_top_up`
    """
    record = note_top_up(vehicle, actor=actor, **facts)
    _suspect_now(vehicle, actor)
    return record


@transaction.atomic
def laboratory(vehicle: Vehicle, *, actor: Actor, **facts: Any) -> LaboratoryResult:
    """Note a laboratory's figure; one far above its limit is a finding on the visit it is on here, or on its next.

    facts    and refusals are those of `reminders.services.severity.note_water`
    """
    row = note_water(vehicle, actor=actor, **facts)
    _suspect_now(vehicle, actor)
    return row


def _suspect_now(vehicle: Vehicle, actor: Actor) -> None:
    visit = Visit.objects.filter(vehicle=vehicle, shop=actor.house, state__in=OPEN_VISIT).first()
    if visit:
        suspect_from_logbook(visit, actor=actor)


def suspect_from_logbook(visit: Visit, *, actor: Actor) -> None:
    """Note as suspected what the logbook makes suspect and no finding speaks of yet."""
    for found in selectors.suspicions_on(visit.vehicle):
        note_finding(visit, actor=actor, code=found.code, signs=found.signs, words=found.words)
