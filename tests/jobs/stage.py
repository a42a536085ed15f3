"""What the tests of jobs set up: intakes, quotes on offer, consents."""

from __future__ import annotations

from typing import Any

from shopserv.jobs.findings import QUESTIONS
from shopserv.jobs.models import Option, QuoteVersion, Visit
from shopserv.jobs.services import quotes, visits
from shopserv.jobs.services.authorize import Consent

ALL_NO = {question.name: visits.Answer(False) for question in QUESTIONS}


def take_in(cast: Any, number: str, **more: Any) -> Visit:
    """The vehicle taken in by Tobin, all six questions answered with no unless said otherwise."""
    answers = {**ALL_NO, **more.pop("answers", {})}
    return visits.take_in(actor=cast.tobin, intake=visits.Intake(vehicle=cast.vehicle(number), answers=answers, **more))


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
