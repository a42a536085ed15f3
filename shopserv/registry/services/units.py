"""Which unit a vehicle has: identified, doubted, settled."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import transaction

from shopserv.catalog.models import Unit
from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.common.moves import Move, move
from shopserv.registry import selectors
from shopserv.registry.models import Identification, Vehicle
from shopserv.registry.which_looks import fits_tag
from shopserv.shop import trail
from shopserv.shop.actors import Actor

IDENTIFICATION_MOVES = [  # job.md section 7.13
    Move("counted", "replace", "replaced", "writer technician owner", "stronger evidence"),
    Move("counted", "dispute", "disputed", "technician"),
    Move("disputed", "settle", "counted", "owner"),
    Move("disputed", "give up", "replaced", "owner", "another unit is settled on"),
]
STRENGTH = {"assumed": 0, "by evidence": 1, "read from tag": 2}


@transaction.atomic
def identify(
    vehicle: Vehicle, *, actor: Actor, unit: Unit, grade: str, evidence: Sequence[dict[str, Any]] = ()
) -> Identification:
    """Note which unit the vehicle has and how we know; the one before is replaced, not lost.

    evidence   for “read from tag” one row {"what": "tag", "read": what it reads}, which fits the pattern of the unit
    raises     Refusal identification.grade, identification.disputed, identification.weaker, identification.tag
    """
    actor.must("identify unit")
    if grade not in STRENGTH:
        raise Refusal(f"“{grade}” is no way of knowing.", code="identification.grade", field="grade")
    before = selectors.identification_of(vehicle)
    if before and before.state == "disputed":
        raise Refusal(
            f"The unit of {vehicle} is in doubt ({before.unit}). The shop owner settles it.",
            code="identification.disputed",
        )
    if before and STRENGTH[grade] < STRENGTH[before.grade]:
        raise Refusal(
            f"{before.unit} was {before.grade}; “{grade}” is weaker. If that was wrong, let it be disputed.",
            code="identification.weaker",
            field="grade",
        )
    if grade == "read from tag":
        _refuse_other_tag(unit, evidence)
    if before:
        move(before, "replace", IDENTIFICATION_MOVES, actor)
    row = _count(vehicle, unit, grade, evidence, actor)
    trail.write(
        actor,
        "unit identified",
        vehicle,
        before={"unit": before.unit.code if before else ""},
        unit=unit.code,
        grade=grade,
    )
    return row


@transaction.atomic
def dispute(identification: Identification, *, actor: Actor, evidence: Sequence[dict[str, Any]]) -> Identification:
    """Note that what is seen does not fit the unit on file; nothing is priced on it until the owner has settled it."""
    actor.must("bay work")
    seen = [*identification.evidence, *evidence]
    move(identification, "dispute", IDENTIFICATION_MOVES, actor, evidence=seen)
    trail.write(
        actor, "identification disputed", identification.vehicle, unit=identification.unit.code, seen=list(evidence)
    )
    return identification


@transaction.atomic
def settle(
    identification: Identification, *, actor: Actor, unit: Unit, grade: str, evidence: Sequence[dict[str, Any]] = ()
) -> Identification:
    """Settle a disputed identification: on the unit on file, or on another, which then counts instead."""
    actor.must("settle identification")
    vehicle, before = identification.vehicle, identification.unit.code
    if unit.pk == identification.unit_id:
        move(identification, "settle", IDENTIFICATION_MOVES, actor, grade=grade)
        row = identification
    else:
        move(identification, "give up", IDENTIFICATION_MOVES, actor)
        row = _count(vehicle, unit, grade, evidence, actor)
    trail.write(actor, "identification settled", vehicle, before={"unit": before}, unit=unit.code, grade=grade)
    return row


def _refuse_other_tag(unit: Unit, evidence: Sequence[dict[str, Any]]) -> None:
    read = next((str(row.get("read", "")) for row in evidence if row.get("what") == "tag"), "")
    if not read.strip():
        raise Refusal(
            f"What does the tag read? It has the form {unit.tag_pattern or 'the vehicle maker gives it'}.",
            code="identification.tag",
            field="tag",
        )
    if unit.tag_pattern and not fits_tag(unit.tag_pattern, read):
        raise Refusal(
            f"“{read}” is no tag of {unit}, which reads {unit.tag_pattern}. Read it again, or choose the unit that it "
            "names.",
            code="identification.tag",
            field="tag",
        )


def _count(
    vehicle: Vehicle, unit: Unit, grade: str, evidence: Sequence[dict[str, Any]], actor: Actor
) -> Identification:
    return Identification.objects.create(
        vehicle=vehicle, unit=unit, grade=grade, evidence=list(evidence), by=actor.name, at=clock.now()
    )
