"""A vehicle expected, taken in, waiting for a word, and gone."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.http import Http404

from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, Stale
from shopserv.common.moves import move
from shopserv.jobs.courses import METHODS
from shopserv.jobs.findings import IN_LOGBOOK, QUESTIONS
from shopserv.jobs.models import Complaint, Visit
from shopserv.jobs.models.visits import OPEN_VISIT
from shopserv.jobs.selectors.visits import SAID_CHANGED, TRIED, tries_of
from shopserv.jobs.services.findings import note_finding
from shopserv.jobs.services.top_ups import suspect_from_logbook
from shopserv.jobs.states import VISIT_MOVES
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.selectors import TOP_UP
from shopserv.logbook.services import note_reading
from shopserv.registry import search
from shopserv.registry import selectors as registry
from shopserv.registry.models import Customer, Vehicle
from shopserv.registry.normal import plate_form
from shopserv.registry.services import customers, vehicles
from shopserv.reminders.services import forecasts, letters
from shopserv.shop import numbers, trail
from shopserv.shop.actors import Actor


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer to one of the six questions; none: the customer does not know."""

    yes: bool | None
    words: str = ""


@dataclass(frozen=True, slots=True)
class NewCustomer:
    """What is written down of a customer who was never here."""

    name: str
    kind: str = "person"
    phone: str = ""
    email: str = ""
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Permission:
    """A word about messages.

    kind      of contact point: phone or e-mail
    purpose   status, reminder, offer
    """

    kind: str
    purpose: str
    given: bool
    words: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was read off the vehicle that stands there, to compare with the one expected."""

    vin_end: str = ""
    plate: str = ""
    fleet_number: str = ""


@dataclass(frozen=True, slots=True)
class Intake:
    """The intake slip as it was filled in.

    vehicle, new_vehicle     one of them
    customer, new_customer   one of them; neither: the owner on file
    odometer                 the figure; none: not read. `is_estimate`: could not be read, kept and not counted
    why_lower, first_figure, old_figure, old_is_estimate, replaced_on, is_jump_confirmed
                             as logbook.services.note_reading asks
    answers                  name of a question (findings.QUESTIONS) -> Answer; all six
    fuel_eighths             0 to 8
    promised_from            earliest, where labor is a band
    answers_reminder         row of reminders that the visit answers
    """

    vehicle: Vehicle | None = None
    new_vehicle: vehicles.NewVehicle | None = None
    customer: Customer | None = None
    new_customer: NewCustomer | None = None
    odometer: int | None = None
    odometer_unit: str = "mi"
    odometer_as_typed: str = ""
    why_lower: str = ""
    first_figure: int = 0
    old_figure: int | None = None
    old_is_estimate: bool = False
    replaced_on: date | None = None
    is_jump_confirmed: bool = False
    is_estimate: bool = False
    complaint: str = ""
    lamps: str = ""
    since: str = ""
    answers: Mapping[str, Answer] = field(default_factory=dict)
    arrival: str = "driven"
    brought_by: str = ""
    fuel_eighths: int | None = None
    body_damage: str = ""
    key_tag: str = ""
    parking_place: str = ""
    inspect_ok: bool = False
    inspect_cents: int = 0
    old_parts_wanted: bool = False
    estimate_choice: str = ""
    purchase_order_number: str = ""
    permissions: tuple[Permission, ...] = ()
    promised_from: datetime | None = None
    promised_at: datetime | None = None
    answers_reminder: int | None = None
    seen: Seen | None = None


@transaction.atomic
def expect(*, actor: Actor, vehicle: Vehicle, customer: Customer, expected_at: datetime, brought_by: str = "") -> Visit:
    """Write down that a vehicle is expected; the visit has its number from now on."""
    actor.must("take in")
    visit = Visit(
        shop=actor.house,
        vehicle=vehicle,
        customer=customer,
        state_since=clock.now(),
        expected_at=expected_at,
        brought_by=brought_by or customer.name,
    )
    _number(visit)
    trail.write(actor, "visit expected", visit, vehicle=vehicle.number, at=expected_at)
    return visit


@transaction.atomic
def take_in(*, actor: Actor, intake: Intake, visit: Visit | None = None, confirmed: Collection[str] = ()) -> Visit:
    """Take a vehicle in: reading, complaint, the six answers as suspected findings, permissions, promise.

    visit       the one it was expected for; none: the one expected for this vehicle here, if there is one
    confirmed   codes that were asked and answered: intake.never_changed
    raises      Refusal for the vehicle (see registry.services.vehicles.add), the reading
                (logbook.services.note_reading), required, intake.unanswered, intake.fuel, promise.past, visit.open
                (409), visit.other_vehicle, intake.never_changed (to be confirmed)
    """
    actor.must("take in")
    _check(intake)
    if visit is not None and visit.shop_id != actor.house.pk:
        raise Http404("no such visit")
    customer = _customer(intake, actor, visit)
    vehicle = _vehicle(intake, actor, customer, visit)
    if visit and intake.seen:
        _compare(vehicle, intake.seen, actor)
    customer = customer or _keeper(vehicle, actor)
    _refuse_second(vehicle)
    logged = _logged_job(vehicle) if intake.answers["never_changed"].yes else ""
    if logged and "intake.never_changed" not in confirmed:
        raise Refusal(
            f"The logbook has {logged}. Was the fluid never changed all the same?",
            code="intake.never_changed",
            field="never_changed",
            confirmable=True,
            tick_words="The customer says so, and was told what the logbook has.",
        )
    reading = _read(vehicle, intake, actor)
    visit = _open(visit, vehicle, customer, reading, intake, actor)
    if intake.complaint.strip():
        Complaint.objects.create(
            shop=visit.shop, visit=visit, words=intake.complaint.strip(), lamps=intake.lamps, since=intake.since
        )
    for question in QUESTIONS:
        answer = intake.answers[question.name]
        if answer.yes:
            signs = (f"{IN_LOGBOOK}{logged}",) if logged and question.name == "never_changed" else ()
            words = answer.words or "said so at the counter"
            note_finding(visit, actor=actor, code=question.code, signs=signs, words=words)
    suspect_from_logbook(visit, actor=actor)
    _permit(customer, intake, actor)
    _book(visit, intake, actor)
    forecasts.renew(vehicle, actor=actor)
    said: dict[str, Any] = {SAID_CHANGED: True} if intake.answers["never_changed"].yes is False else {}
    trail.write(
        actor,
        "vehicle taken in",
        visit,
        vehicle=vehicle.number,
        customer=customer.number,
        arrival=visit.arrival,
        odometer=str(reading or "not read"),
        promised=visit.promised_at,
        inspect=visit.inspect_ok,
        inspect_cents=visit.inspect_cents,
        **said,
    )
    return visit


@transaction.atomic
def turn_away(visit: Visit, *, actor: Actor, words: str) -> Visit:
    """Turn an expected vehicle away, with the reason."""
    return _moved(visit, actor, "turn away", "visit turned away", words)


@transaction.atomic
def leave(visit: Visit, *, actor: Actor, words: str = "") -> Visit:
    """Let a vehicle go without work."""
    return _moved(visit, actor, "leave", "vehicle left without work", words, left_at=clock.now())


@transaction.atomic
def wait_for_word(visit: Visit, *, actor: Actor, words: str = "") -> Visit:
    """Note that nothing goes on until the customer says a word."""
    return _moved(visit, actor, "wait for word", "waiting on word", words, whose_move="customer's")


@transaction.atomic
def change_promise(visit: Visit, *, actor: Actor, promised_at: datetime, words: str, edition: int) -> Visit:
    """Promise another time, with the reason; the old one stays on the trail.

    raises  Stale if somebody saved in between, promise.past
    """
    actor.must("take in")
    _own(actor, visit)
    _refuse_past(promised_at)
    before = visit.promised_at
    rows = Visit.objects.filter(pk=visit.pk, edition=edition)
    if not rows.update(promised_at=promised_at, promised_from=None, edition=edition + 1):
        visit.refresh_from_db()
        raise _stale(visit)
    visit.refresh_from_db()
    trail.write(actor, "promise changed", visit, before={"promised": before}, promised=promised_at, words=words)
    return visit


@transaction.atomic
def note_try(visit: Visit, *, actor: Actor, contact_used: str, words: str = "") -> int:
    """Note that the customer was tried and not reached, with number and time; how many tries that makes."""
    actor.must("take in")
    _own(actor, visit)
    if not contact_used.strip():
        raise Refusal("Which number or address was tried?", code="required", field="contact_used")
    trail.write(actor, TRIED, visit, contact=contact_used.strip(), words=words)
    return len(tries_of(visit))


def _stale(visit: Visit) -> Exception:
    return Stale(f"{visit} was changed by somebody else in the meantime.", theirs={"promised_at": visit.promised_at})


def _moved(visit: Visit, actor: Actor, act: str, what: str, words: str, **changes: Any) -> Visit:
    if not (actor.may("take in") or actor.may("bay work")):
        actor.must("take in")
    _own(actor, visit)
    before = visit.state
    move(visit, act, VISIT_MOVES, actor, state_since=clock.now(), **changes)
    trail.write(actor, what, visit, before={"state": before}, state=visit.state, words=words)
    return visit


def _own(actor: Actor, visit: Visit) -> None:
    if visit.shop_id != actor.house.pk:
        raise Http404("no such visit")


def _check(intake: Intake) -> None:
    missing = [question for question in QUESTIONS if question.name not in intake.answers]
    if missing:
        raise Refusal(f"{missing[0].words} Yes, no or not known.", code="intake.unanswered", field=missing[0].name)
    if intake.fuel_eighths is not None and not 0 <= intake.fuel_eighths <= 8:
        raise Refusal(f"Fuel is 0 to 8 eighths, not {intake.fuel_eighths}.", code="intake.fuel", field="fuel_eighths")
    if intake.inspect_cents < 0:
        raise Refusal("The price of an inspection is not below zero.", code="intake.price", field="inspect_cents")
    if intake.arrival not in ("driven", "towed in"):
        raise Refusal(f"Driven or towed in, not “{intake.arrival}”.", code="intake.arrival", field="arrival")
    if intake.promised_at:
        _refuse_past(intake.promised_at)


def _refuse_past(promised_at: datetime) -> None:
    if promised_at < clock.now():
        raise Refusal("The promised time lies behind us.", code="promise.past", field="promised_at")


def _customer(intake: Intake, actor: Actor, visit: Visit | None) -> Customer | None:
    if intake.new_customer:
        new = intake.new_customer
        return customers.add(
            actor=actor, name=new.name, kind=new.kind, phone=new.phone, email=new.email, language=new.language
        )
    return intake.customer or (visit.customer if visit else None)


def _vehicle(intake: Intake, actor: Actor, customer: Customer | None, visit: Visit | None) -> Vehicle:
    if intake.new_vehicle:
        if customer is None:
            raise Refusal("Whose vehicle is it? Give the owner.", code="required", field="customer")
        return vehicles.add(intake.new_vehicle, actor=actor, keeper=customer)
    vehicle = intake.vehicle or (visit.vehicle if visit else None)
    if vehicle is None:
        raise Refusal("Which vehicle is it? Start with the VIN or the plate.", code="required", field="vehicle")
    return vehicle


def _compare(vehicle: Vehicle, seen: Seen, actor: Actor) -> None:
    """Two of VIN end, plate and fleet number must agree with the vehicle that was expected."""
    plate = registry.plate_on(vehicle, clock.today(actor.house.time_zone))
    marks = [
        (seen.vin_end.strip().upper(), (vehicle.vin or "")[-len(seen.vin_end.strip()) or None :]),
        (plate_form(seen.plate), (plate.plate or "") if plate else ""),
        (seen.fleet_number.strip().upper(), vehicle.fleet_number.upper()),
    ]
    given = [(typed, known) for typed, known in marks if typed]
    agreeing = sum(typed == known for typed, known in given)
    if given and agreeing < min(2, len(given)):
        raise Refusal(
            f"{agreeing} of {len(given)} marks agree with {vehicle} ({vehicle.words}). Is it another vehicle? "
            "Look it up by its plate.",
            code="visit.other_vehicle",
            field="vehicle",
        )


def _keeper(vehicle: Vehicle, actor: Actor) -> Customer:
    keeper = registry.keeper_on(vehicle, clock.today(actor.house.time_zone))
    if keeper is None:
        raise Refusal(f"Whose is {vehicle}? Give the owner.", code="required", field="customer")
    return keeper


def _logged_job(vehicle: Vehicle) -> str:
    """The newest change of fluid in the logbook, in words; empty: there is none."""
    jobs = vehicle.services.filter(corrected_by=None).exclude(method=TOP_UP)
    row = jobs.order_by("-done_on", "-pk").first()
    if row is None:
        return ""
    method = METHODS[row.method].words if row.method in METHODS else row.method
    return f"“{method}” of {formats.day(row.done_on)}"


def _refuse_second(vehicle: Vehicle) -> None:
    there = Visit.objects.filter(vehicle=vehicle, state__in=OPEN_VISIT).select_related("shop").first()
    if there:
        raise _second(vehicle, there)


def _second(vehicle: Vehicle, there: Visit | None) -> Refusal:
    where = f" on visit {there} at {there.shop.short_name}" if there else ""
    return Refusal(f"{vehicle} is here already{where}.", code="visit.open", field="vehicle", status=409)


def _read(vehicle: Vehicle, intake: Intake, actor: Actor) -> OdometerReading | None:
    if intake.odometer is None:
        return None
    return note_reading(
        vehicle,
        actor=actor,
        figure=intake.odometer,
        unit=intake.odometer_unit,
        source="estimate" if intake.is_estimate else "intake",
        as_typed=intake.odometer_as_typed,
        why_lower=intake.why_lower,
        first_figure=intake.first_figure,
        old_figure=intake.old_figure,
        old_is_estimate=intake.old_is_estimate,
        replaced_on=intake.replaced_on,
        is_jump_confirmed=intake.is_jump_confirmed,
    )


def _open(
    visit: Visit | None,
    vehicle: Vehicle,
    customer: Customer,
    reading: OdometerReading | None,
    intake: Intake,
    actor: Actor,
) -> Visit:
    now = clock.now()
    known = {
        "customer": customer,
        "vehicle": vehicle,
        "state_since": now,
        "came_at": now,
        "reading": reading,
        "brought_by": intake.brought_by or customer.name,
        "whose_move": "ours",
        **{name: getattr(intake, name) for name in _SAME_NAME},
    }
    visit = visit or Visit.objects.filter(shop=actor.house, vehicle=vehicle, state="expected").order_by("pk").first()
    try:
        with transaction.atomic():
            if visit is not None:
                move(visit, "take in", VISIT_MOVES, actor, **known)
            else:
                visit = Visit(shop=actor.house, state="here", **known)
                _number(visit)
    except IntegrityError as cause:  # somebody took it in at the same moment
        raise _second(vehicle, None) from cause
    return visit


_SAME_NAME = (
    "arrival", "fuel_eighths", "body_damage", "key_tag", "parking_place", "inspect_ok", "inspect_cents",
    "old_parts_wanted", "estimate_choice", "purchase_order_number", "promised_from", "promised_at", "answers_reminder",
)  # fmt: skip


def _number(visit: Visit) -> None:
    visit.number = numbers.draw(visit.shop, "visit", clock.now().year)
    visit.save()
    search.index_number(visit.number, visit.vehicle, visit.shop_id)


def _book(visit: Visit, intake: Intake, actor: Actor) -> None:
    """Name the reminder that the visit answers: the one on the slip, else the last one sent."""
    if (reminder := letters.book(intake.answers_reminder, visit.vehicle, actor=actor)) is not None:
        Visit.objects.filter(pk=visit.pk).update(answers_reminder=reminder.pk)
        visit.answers_reminder = reminder.pk


def _permit(customer: Customer, intake: Intake, actor: Actor) -> None:
    points = {point.kind: point for point in customer.contact_points.filter(state="good").order_by("-pk")}
    for word in intake.permissions:
        if word.kind in points:
            letters.permit(
                points[word.kind],
                actor=actor,
                purpose=word.purpose,
                given=word.given,
                how="asked at the counter",
                words=word.words,
            )
