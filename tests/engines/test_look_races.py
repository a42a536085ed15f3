"""Eight people answer the same question at once: one answer counts, seven are told."""

from __future__ import annotations

from django.db import OperationalError

from shopserv.catalog.models import Sighting
from shopserv.common.errors import Refusal
from shopserv.registry.services import looks
from shopserv.shop.models import TrailEntry
from tests.engines.test_consent_races import race


def test_one_answer_to_a_question_counts_however_many_give_one(cast_for_races):
    cast = cast_for_races
    actors = [cast.tobin, cast.odo, cast.maren, cast.pilar] * 2
    vehicle = cast.vehicle("V-02")

    def act(number: int) -> str:
        answer = ("rectangle", "corner")[number % 2]
        while True:
            try:
                looks.note(vehicle, actor=actors[number], question="pan_shape", answer=answer)
            except Refusal as refusal:
                return refusal.code
            except OperationalError:  # a lock on a file: said to come again, as the page says
                continue
            return "noted"

    outcomes = race(act)

    assert outcomes.count("noted") == 1
    assert set(outcomes) <= {"noted", "look.answered", "look.question"}
    assert Sighting.objects.filter(vehicle="V-02", taken_back_at__isnull=True).count() == 1
    assert TrailEntry.objects.filter(what="look noted").count() == 1
