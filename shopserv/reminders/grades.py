"""The grade of a due line, and the sentence behind it.

Not yet due, or due inside the lead days: as it should be. Past due, a wide band, or no reading for 60 days: watch. Past
due by more than a tenth of its interval, or a disputed unit or reading: needs your decision. A stop stands as long as
its finding does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

GOOD, WATCH, DECIDE, STOP = "as it should be", "watch", "needs your decision", "stop"
OLD_READING = timedelta(days=60)
WIDE = timedelta(days=60)
DAYS_A_MONTH = Fraction(146_097, 4800)  # Gregorian calendar: 400 years have 146,097 days


@dataclass(frozen=True, slots=True)
class Due:
    """What a grade is made from.

    due_on            of the clock that governs; past by distance: the day on which the readings ran through it
    left, interval    on the distance clock, in one unit, past it below zero; None where it does not run. Far past by
                      distance is grave even where the months ended before
    stop              words of a finding that stops all work; empty: none
    doubt             what is doubtful about unit or record, in words
    unexplained       readings set aside that nobody can explain
    doubted           counted readings that are likely wrong, as they were typed
    unknown_fluid     a service on record names no product that we know
    """

    today: date
    due_on: date | None
    early_on: date | None
    late_on: date | None
    governs: str
    left: Fraction | None
    interval: Fraction | None
    interval_months: int | None
    last_reading_on: date | None
    stop: str = ""
    doubt: str = ""
    unexplained: int = 0
    doubted: tuple[str, ...] = ()
    unknown_fluid: bool = False
    missing: str = ""


def grade_of(due: Due) -> tuple[str, str]:
    """The grade and its reason; the gravest counts, and its reasons are all said."""
    if due.stop:
        return STOP, due.stop
    if grave := [words for words in (due.doubt, _far_past(due)) if words]:
        return DECIDE, "; ".join(grave)
    mild = [
        words
        for words in (due.missing, _past(due), _wide(due), _old(due), _set_aside(due), _doubted(due), _fluid(due))
        if words
    ]
    return (WATCH, "; ".join(mild)) if mild else (GOOD, "")


def _far_past(due: Due) -> str:
    if due.due_on is None or due.due_on >= due.today:
        return ""
    far = due.left is not None and bool(due.interval) and -due.left > (due.interval or 0) / 10
    if due.governs == "months" and due.interval_months is not None:
        far = far or (due.today - due.due_on).days > due.interval_months * DAYS_A_MONTH / 10
    return "past due by more than a tenth of its interval" if far else ""


def _past(due: Due) -> str:
    return "past due" if due.due_on is not None and due.due_on < due.today else ""


def _wide(due: Due) -> str:
    """A band that begins soon and is wide; one that begins later than `WIDE` from now is as wide as it is far."""
    if due.due_on is None or due.early_on is None or due.early_on - due.today > WIDE:
        return ""
    if due.late_on is None or due.late_on - due.early_on > WIDE:
        return "wide band: needs a reading"
    return ""


def _old(due: Due) -> str:
    if due.last_reading_on is None or due.today - due.last_reading_on <= OLD_READING:
        return ""
    return "no reading for 60 days"


def _set_aside(due: Due) -> str:
    return "a reading was set aside and nobody can tell which is wrong" if due.unexplained else ""


def _doubted(due: Due) -> str:
    return f"a reading is doubted: {', '.join(due.doubted)}" if due.doubted else ""


def _fluid(due: Due) -> str:
    return "an earlier fluid is not known by product" if due.unknown_fluid else ""
