"""Taking another course for one option of a draft."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.db import transaction

from shopserv.common.errors import Refusal
from shopserv.jobs.models import QuoteVersion
from shopserv.jobs.services.drafts import write
from shopserv.jobs.services.plan_data import edits_of
from shopserv.jobs.services.plans import LETTERS, plan_for
from shopserv.shop.actors import Actor


@transaction.atomic
def take_course(
    version: QuoteVersion,
    letter: str,
    stages: Sequence[Mapping[str, Any]] | None,
    *,
    actor: Actor,
    edition: int | None,
) -> QuoteVersion:
    """Give an option of a draft these stages, priced anew; the draft rewritten is on the trail.

    stages   none: the default course of the method
    raises   Refusal course.no_draft, course.no_option, course.cannot with the stage named; Stale as `write`
    """
    actor.must("write quote")
    if version.state != "draft":
        words = f"{version} is {version.state}: begin a new version first, then take another course in it."
        raise Refusal(words, code="course.no_draft", status=409)
    edits = edits_of(version)
    index = LETTERS.find(letter) if letter else -1
    if not 0 <= index < len(edits.options) or edits.options[index].kind != "work":
        raise Refusal(f"Option {letter} of {version} has no fluid course.", code="course.no_option")
    kept = None if stages is None else tuple(dict(stage) for stage in stages)
    options = list(edits.options)
    options[index] = replace(options[index], stages=kept)
    quote = version.quote
    plan = plan_for(
        actor,
        quote.vehicle,
        visit=quote.visit,
        customer=quote.customer,
        edits=replace(edits, options=tuple(options)),
        adds_to=version.adds_to,
    )
    for row, words in plan.options[index].faults:
        if row == "course":
            raise Refusal(f"This course cannot be taken: {words}.", code="course.cannot")
    return write(plan, actor=actor, quote=quote, edition=edition)
