"""What the tests of jobs set up: intakes, quotes on offer, consents."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from shopserv.common import clock
from shopserv.jobs.findings import QUESTIONS
from shopserv.jobs.models import Option, QuoteVersion, Visit, WorkOrder
from shopserv.jobs.services import quotes, visits
from shopserv.jobs.services.authorize import Consent

ALL_NO = {question.name: visits.Answer(False) for question in QUESTIONS}


def take_in(cast: Any, number: str, **more: Any) -> Visit:
    """The vehicle taken in by Tobin, all six questions answered with no unless said otherwise."""
    answers = {**ALL_NO, **more.pop("answers", {})}
    return visits.take_in(actor=cast.tobin, intake=visits.Intake(vehicle=cast.vehicle(number), answers=answers, **more))


def diagnosed(visit: Visit) -> None:
    """A diagnosis of the vehicle, done on this visit after what was found so far."""
    order = WorkOrder.objects.create(
        shop=visit.shop, visit=visit, number=f"{visit.number}-D", state_since=clock.now(), facts={"kind": "diagnosis"}
    )
    order.steps.create(
        shop=visit.shop,
        order=1,
        code="diagnosis",
        text="Diagnosis",
        state="done",
        done_at=clock.now() + timedelta(seconds=1),
    )


def draft(cast: Any, number: str = "V-01", **more: Any) -> QuoteVersion:
    """A draft of the options that are proposed for a vehicle that was taken in."""
    visit = take_in(cast, number)
    plan = quotes.plan_for(cast.tobin, visit.vehicle, visit=visit, **more)
    return quotes.write(plan, actor=cast.tobin)


def offered(cast: Any, number: str = "V-01", **more: Any) -> QuoteVersion:
    """A version on offer."""
    version = draft(cast, number)
    return quotes.offer(version, actor=cast.tobin, edition=version.edition, **more).version


def option(version: QuoteVersion, letter: str) -> Option:
    return version.options.get(letter=letter)


def by_telephone(option: Option, **more: Any) -> Consent:
    """Ansel's yes on the telephone, with the check words read back."""
    said = {
        "person": "Ansel Thornby",
        "way": "telephone",
        "amount_cents": option.total_cents,
        "contact_used": "+12025550111",
        "check_words": option.version.check_words,
        "words_read": "Option C for $442.95",
    }
    return Consent(**{**said, **more})
