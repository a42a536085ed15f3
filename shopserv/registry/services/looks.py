"""Looks that tell which unit a vehicle has: an answer noted, taken back, and the unit noted that they decide for."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction
from django.shortcuts import get_object_or_404

from shopserv.catalog.models import Sighting
from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.registry.models import Identification, Vehicle
from shopserv.registry.services import units
from shopserv.registry.which import Which, which_unit
from shopserv.registry.which_looks import Asked, fits_tag
from shopserv.shop import trail
from shopserv.shop.actors import Actor

UNSEEN = ""  # the answer of a look that showed nothing
LONGEST_TAG = 40


@transaction.atomic
def note(vehicle: Vehicle, *, actor: Actor, question: str, answer: str, visit: str = "") -> Sighting:
    """Note what a look at the vehicle showed; one answer to a question counts until it is taken back.

    question   its code, as `which_unit` puts it
    answer     code of the answer, of a tag what it reads; empty: it could not be seen
    raises     Refusal look.question, look.answer, look.half_tag, look.answered
    """
    actor.must("identify unit")
    here = which_unit(actor, vehicle)
    asked = _asked(here, question)
    said = " ".join(answer.split()).upper() if asked.look.reads == "tag" else answer
    if len(said) > LONGEST_TAG:
        raise Refusal(
            f"“{said[:12]}…” has {len(said)} signs, a tag at most {LONGEST_TAG}. Type the one line that stands on it, "
            "as A640-1234.",
            code="look.answer",
            field="tag",
        )
    if said and asked.look.reads == "tag":
        _refuse_half(said, here)
    if said and asked.look.reads != "tag" and said not in asked.question.answers:
        raise Refusal(f"“{said[:40]}” is no answer to “{asked.question.words}”. Choose one.", code="look.answer")
    words = (said if asked.look.reads == "tag" else asked.words_of(said)) if said else "could not be seen"
    try:
        with transaction.atomic():
            row = Sighting.objects.create(
                vehicle=vehicle.number,
                visit=visit,
                look=asked.look,
                question=question,
                words=asked.question.words,
                answer=said,
                answer_words=words,
                by=actor.name,
                at=clock.now(),
            )
    except IntegrityError:
        raise Refusal(
            f"“{asked.question.words}” was answered meanwhile. Take that answer back first if it was wrong.",
            code="look.answered",
            status=409,
        ) from None
    trail.write(actor, "look noted", vehicle, question=row.words, answer=row.answer_words)
    return row


def _is_part(said: str, pattern: str) -> bool:
    """Whether it can be a piece of a tag of this form, and not the whole of it."""
    starts = range(len(pattern) - len(said) + 1) if len(said) < len(pattern) else ()
    return any(fits_tag(pattern[at : at + len(said)], said) for at in starts)


def _refuse_half(said: str, here: Which) -> None:
    """A tag of which a part was read tells nothing against anything."""
    patterns = [one.unit.tag_pattern for one in here.candidates if one.unit.tag_pattern]
    if any(_is_part(said, pattern) for pattern in patterns):
        raise Refusal(
            f"“{said}” is less than a whole tag: those of the transmissions listed here read as {', '.join(patterns)} "
            "(# is a digit). Type the whole tag, or press “cannot see” if the rest cannot be read.",
            code="look.half_tag",
            field="tag",
        )


@transaction.atomic
def take_back(vehicle: Vehicle, *, actor: Actor, pk: int) -> Sighting:
    """Take an answer back: it counts no more and stays to be read.

    raises  Http404 where the vehicle has no such answer; Refusal look.taken_back
    """
    actor.must("identify unit")
    row = get_object_or_404(Sighting, pk=pk, vehicle=vehicle.number)
    there = Sighting.objects.filter(pk=row.pk, taken_back_at__isnull=True)
    if not there.update(taken_back_by=actor.name, taken_back_at=clock.now()):
        raise Refusal(f"“{row}” was taken back already.", code="look.taken_back", status=409)
    row.refresh_from_db()
    trail.write(actor, "look taken back", vehicle, before={"answer": row.answer_words}, question=row.words)
    return row


@transaction.atomic
def conclude(vehicle: Vehicle, *, actor: Actor, unit: str, grade: str) -> Identification:
    """Note the unit that the looks decide for, as the one who asks saw it: `unit` and `grade` as they were shown.

    raises  Refusal look.changed where an answer came in between; what `units.identify` raises
    """
    found = which_unit(actor, vehicle)
    if not found.grade or (found.lead.unit.code, found.grade) != (unit, grade):
        raise Refusal(
            "What was seen has changed meanwhile. Read again what it says now.", code="look.changed", status=409
        )
    evidence: list[dict[str, Any]] = [
        {"what": "tag", "read": one.sighting.answer}
        for one in found.evidence
        if one.sighting and one.sighting.look.reads == "tag"
    ]
    evidence += [
        {"what": "look", "words": one.words} if one.sighting else {"what": "on file", "fact": one.words}
        for one in found.evidence
    ]
    weights = {one.unit.code: str(one.weight) for one in found.candidates}
    evidence.append({"what": "weights", "weights": weights})
    return units.identify(vehicle, actor=actor, unit=found.lead.unit, grade=grade, evidence=evidence)


def _asked(found: Which, code: str) -> Asked:
    asked = next((one for one in found.questions if one.question.code == code), None)
    if asked is None:
        raise Refusal(
            "This question is answered, or is asked no more. Read again what it says now.",
            code="look.question",
            status=409,
        )
    return asked
