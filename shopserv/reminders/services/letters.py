"""Reminders planned, sent, answered, booked and stopped; each with its letter in the same transaction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.http import Http404
from django.utils import translation
from django.utils.dateformat import format as in_words

from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.common.moves import move
from shopserv.outbox import post
from shopserv.outbox.models import Letter
from shopserv.registry import selectors as registry
from shopserv.registry.models import ContactPoint, Customer, KeeperRecord, MessageConsent, Vehicle
from shopserv.registry.services import customers, vehicles
from shopserv.reminders import selectors, texts
from shopserv.reminders.models import Forecast, Reminder
from shopserv.reminders.services import forecasts, stops
from shopserv.reminders.states import REMINDER_MOVES
from shopserv.shop import terms, trail
from shopserv.shop.actors import Actor

MORNING = time(9, 0)
REST = timedelta(days=30)  # common practice, no source: nobody is reminded of the same thing twice in a month
MOST = 500
WITHDRAWN, IS_HERE = "permission withdrawn", "the vehicle was taken in"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A vehicle for which nothing was planned, and why."""

    number: str
    why: str


@dataclass(frozen=True, slots=True)
class Planned:
    """What planning came to: reminders with their letters, and what was left out."""

    reminders: tuple[Reminder, ...]
    left_out: tuple[LeftOut, ...]


@transaction.atomic
def plan(numbers: Sequence[str], *, actor: Actor) -> Planned:
    """Plan one reminder for each of the vehicles, to an address at which its keeper permits reminders.

    One that was stopped stays as it is: planning again makes another.

    numbers   of vehicles on the shop's due list; those that cannot be written to come back with the reason
    raises    Refusal letters.none, letters.many
    """
    actor.must("plan reminders")
    if not numbers:
        raise Refusal("Mark the vehicles whose keepers are to be written to.", code="letters.none", field="vehicle")
    if len(numbers) > MOST:
        raise Refusal(f"At most {MOST} at a time; {len(numbers)} are marked.", code="letters.many", field="vehicle")
    rows = selectors.forecasts_of(actor).filter(vehicle__number__in=numbers).select_related("vehicle", "keeper")
    by_number = {row.vehicle.number: row for row in rows}
    planned, left_out = [], []
    for number in dict.fromkeys(numbers):
        found = _plan_one(by_number.get(number), actor)
        if isinstance(found, Reminder):
            planned.append(found)
        else:
            left_out.append(LeftOut(number, found))
    trail.write(
        actor,
        "reminders planned",
        actor.house,
        planned={one.vehicle.number: str(one.send_on) for one in planned},
        left_out={one.number: one.why for one in left_out},
    )
    return Planned(tuple(planned), tuple(left_out))


def _plan_one(forecast: Forecast | None, actor: Actor) -> Reminder | str:
    """The reminder of one vehicle, or why there is none."""
    if forecast is None:
        return "not on the list of this shop"
    if reason := _why_not(forecast):
        return reason
    assert forecast.keeper is not None
    points = registry.permitted_points(forecast.keeper, "reminder", kind="e-mail")
    if not points:
        return f"no permission for reminders at an e-mail address of {forecast.keeper}"
    today = clock.today(actor.house.time_zone)
    lead = _lead_days(actor, forecast, today)
    reminder, is_new = Reminder.objects.exclude(state="stopped").get_or_create(
        vehicle=forecast.vehicle,
        forecast=forecast,
        channel="e-mail",
        defaults={
            "shop": actor.house,
            "customer": forecast.keeper,
            "contact_point_key": points[0].pk,
            "lead_days": lead,
            "send_on": max(today, _due(forecast) - timedelta(days=lead)),
            "text_version": texts.VERSION,
        },
    )
    if not is_new:
        return f"a reminder for this forecast is {reminder.state} already"
    _post(reminder, points[0], actor)
    return reminder


def _why_not(forecast: Forecast) -> str:
    if forecast.due_on is None:
        return "no day can be said"
    if forecast.keeper is None:
        return "nobody is known to keep it"
    if forecast.grade == "stop":
        return f"stop: {forecast.reason}"
    written = forecast.vehicle.reminders.filter(sent_at__gte=clock.now() - REST).order_by("-sent_at").first()
    if written and written.sent_at:
        return f"written to on {written.sent_at:%B %-d, %Y} already"
    waiting = forecast.vehicle.reminders.filter(state="planned").exclude(forecast=forecast).exists()
    return "a reminder is planned already" if waiting else ""


def _due(forecast: Forecast) -> date:
    assert forecast.told_on is not None
    return forecast.told_on


def _lead_days(actor: Actor, forecast: Forecast, today: date) -> int:
    """The longest lead of the house rules whose day has not passed; where all have, the shortest: it is sent today."""
    leads = sorted(terms.house_rules(actor.house, today).reminder_lead_days or [0], reverse=True)
    return next((lead for lead in leads if _due(forecast) - timedelta(days=lead) >= today), leads[-1])


def _post(reminder: Reminder, point: ContactPoint, actor: Actor) -> Letter:
    shop, customer, vehicle = actor.house, reminder.customer, reminder.vehicle
    zone = ZoneInfo(shop.time_zone)
    plate = registry.plate_on(vehicle, clock.today(shop.time_zone))
    language = texts.known(customer.language)
    with translation.override(language):
        month = in_words(_due(reminder.forecast), "F Y")
    subject, text = texts.written(
        reminder.text_version,
        language,
        {
            "name": customer.contact_name or customer.name,
            "vehicle": vehicle.words,
            "plate": plate.as_typed if plate else vehicle.number,
            "month": month,
            "clock": texts.clock_words(reminder.forecast.governs, language),
            "shop": shop.name,
            "phone": shop.phone,
            "address": "\n".join(shop.address),
        },
    )
    return post.post_letter(
        shop=shop,
        once_key=f"reminder/{reminder.pk}",
        purpose="reminder",
        contact_point_key=point.pk,
        address=point.value,
        subject=subject,
        text=text,
        about=stops.about(reminder),
        language=language,
        not_before=datetime.combine(reminder.send_on, MORNING, zone),
    )


@transaction.atomic
def stop(reminder: Reminder, *, actor: Actor, why: str) -> Reminder:
    """Stop a reminder, whatever became of it, and the letter that waits for it.

    raises  StateRefusal if it is stopped already
    """
    actor.must("plan reminders")
    _own(reminder, actor)
    before = reminder.state
    move(reminder, "stop", REMINDER_MOVES, actor, why=why[:200])
    canceled = post.cancel_about(stops.about(reminder), why=why)
    trail.write(actor, "reminder stopped", reminder, before={"state": before}, why=why, canceled=canceled)
    return reminder


@transaction.atomic
def stop_marked(numbers: Sequence[str], *, actor: Actor, why: str = "stopped by the office") -> list[Reminder]:
    """Stop what is planned by the shop for these vehicles, the waiting letters with it; which they were.

    raises  Refusal letters.none, letters.not_planned
    """
    actor.must("plan reminders")
    if not numbers:
        raise Refusal("Mark the vehicles whose reminders are to be stopped.", code="letters.none", field="vehicle")
    rows = Reminder.objects.filter(vehicle__number__in=list(numbers)[:MOST], shop=actor.house)
    stopped = stops.stop_planned(rows, why=why)
    if not stopped:
        message = "No reminder is planned for what is marked. The list may have changed: look again."
        raise Refusal(message, code="letters.not_planned", field="vehicle")
    trail.write(actor, "reminders stopped", actor.house, vehicles=_numbers(stopped), why=why)
    return stopped


@transaction.atomic
def answered(reminder: Reminder, *, actor: Actor, words: str = "") -> Reminder:
    """Note that the customer has answered a reminder that was sent.

    raises  StateRefusal unless it is sent
    """
    actor.must("answer reminder")
    _own(reminder, actor)
    move(reminder, "answer", REMINDER_MOVES, actor, why=words[:200])
    trail.write(actor, "reminder answered", reminder, words=words)
    return reminder


def _own(reminder: Reminder, actor: Actor) -> None:
    """The shop's own, and for the holder of a link the vehicle that it opens."""
    other = actor.link is not None and actor.link.customer_key != reminder.customer_id
    if reminder.shop_id != actor.house.pk or other:
        raise Http404("no such reminder")


def book(key: int | None, vehicle: Vehicle, *, actor: Actor) -> Reminder | None:
    """Note inside the deed that takes a vehicle in which reminder the visit answers; none: the last one sent.

    What is still planned for it is stopped: nobody is reminded of a vehicle that stands in the shop.

    key   row of reminders that the slip named
    """
    stopped = stops.stop_planned(Reminder.objects.filter(vehicle=vehicle), why=IS_HERE)
    if stopped:
        trail.write(actor, "reminders stopped", vehicle, count=len(stopped), why=IS_HERE)
    rows = Reminder.objects.filter(vehicle=vehicle, state__in=["sent", "answered"]).order_by("-sent_at", "-pk")
    reminder = (rows.filter(pk=key) if key else rows).first()
    if reminder is not None:
        move(reminder, "book", REMINDER_MOVES, actor)
    return reminder


@transaction.atomic
def permit(
    point: ContactPoint, *, actor: Actor, purpose: str, given: bool, how: str, words: str = ""
) -> MessageConsent:
    """Note a permission or its end; one withdrawn stops what is planned to that address, its letter with it."""
    actor.must("consent to messages")
    consent = customers.permit(point, actor=actor, purpose=purpose, given=given, how=how, words=words)
    if not given and purpose == "reminder":
        rows = Reminder.objects.filter(contact_point_key=point.pk)
        stopped = stops.stop_planned(rows, why=WITHDRAWN)
        if stopped:
            trail.write(actor, "reminders stopped", point.customer, vehicles=_numbers(stopped), why=WITHDRAWN)
    return consent


@transaction.atomic
def change_keeper(vehicle: Vehicle, *, actor: Actor, customer: Customer | None, on: date | None = None) -> KeeperRecord:
    """Note whose vehicle it is from a day on; what was planned for the one before is stopped, its letter with it."""
    actor.must("take in")
    row = vehicles.change_keeper(vehicle, actor=actor, customer=customer, on=on)
    gone = Reminder.objects.filter(vehicle=vehicle).exclude(customer=customer)
    stopped = stops.stop_planned(gone, why="the vehicle was sold")
    if stopped:
        trail.write(actor, "reminders stopped", vehicle, count=len(stopped), why="the vehicle was sold")
    forecasts.renew(vehicle, actor=actor)
    return row


def send_due(*, actor: Actor) -> post.Sent:
    """Send every letter whose time has come, permission asked again for each; its reminder is sent with it."""
    actor.must("tick")
    sent = post.send_waiting(actor=actor, permitted=_is_permitted, on_sent=lambda letter: _mark_sent(letter, actor))
    _stop_orphans(actor)
    return sent


def _is_permitted(letter: Letter) -> bool:
    """The newest word about the purpose at the contact point is yes, and the letter goes to that very address."""
    point = ContactPoint.objects.filter(pk=letter.contact_point_key).first()
    return point is not None and point.value == letter.address and registry.permission_at(point, letter.purpose)


def _mark_sent(letter: Letter, actor: Actor) -> None:
    kind, _, key = letter.about.partition(" ")
    if kind == "reminder":
        move(Reminder.objects.get(pk=int(key)), "send", REMINDER_MOVES, actor, sent_at=letter.sent_at)


def _stop_orphans(actor: Actor) -> None:
    """Stop reminders that should have left by now and whose letter was canceled instead, each in its transaction."""
    late = Reminder.objects.filter(state="planned", send_on__lte=clock.now().date()).select_related("shop")
    by_about = {stops.about(reminder): reminder for reminder in late}
    for letter in Letter.objects.filter(state="canceled", about__in=list(by_about)).select_related("shop"):
        _stop_orphan(by_about[letter.about], letter.why, replace(actor, shop=letter.shop))


@transaction.atomic
def _stop_orphan(reminder: Reminder, why: str, actor: Actor) -> None:
    if stops.stop_planned(Reminder.objects.filter(pk=reminder.pk), why=why):
        trail.write(actor, "reminder stopped", reminder, before={"state": "planned"}, why=why)


def _numbers(reminders: Sequence[Reminder]) -> list[str]:
    return [one.vehicle.number for one in reminders]
