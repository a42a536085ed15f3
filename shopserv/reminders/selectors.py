"""Who is due when, read from stored forecasts; what was written to whom."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.http import Http404

from shopserv.registry.models import MessageConsent, PlateRecord, Vehicle
from shopserv.registry.selectors import vehicles_of
from shopserv.reminders.models import STANDS_ON, Forecast, Reminder
from shopserv.shop.actors import Actor

PAGE = 50
STOPPED_SHOWN = timedelta(days=30)  # as long as nobody would be written to twice
MOST = 1000  # a count beyond this says "more than 1,000"


class DueRow(NamedTuple):
    """One line of the due-soon strip, as read.

    vehicle_pk    with stands_on the key of the page after this line
    stands_on     the likely day; where the distance is run through already, the day the readings say that it was
    crossed_on    that day; none: the readings have not run through it, or age governs
    permission    whether the owner permits reminders at any address that works
    written_at    when a reminder was last sent
    planned_on    when the one that is planned is to be sent
    stopped_why   why the newest was stopped, where it was to be sent within the last weeks or later; None: it was not
    """

    forecast_pk: int
    vehicle_pk: int
    number: str
    year: int | None
    make: str
    model: str
    plate: str | None
    keeper: str | None
    is_fleet: bool | None
    shop: str
    early_on: date | None
    due_on: date
    stands_on: date
    crossed_on: date | None
    late_on: date | None
    governs: str
    left_m: int | None
    months_left_thousandths: int | None
    distance_unit: str
    last_reading_on: date | None
    worth_cents: int | None
    worth_method: str
    grade: str
    reason: str
    permission: bool
    written_at: datetime | None
    planned_on: date | None
    stopped_why: str | None


@dataclass(frozen=True, slots=True)
class DuePage:
    """A page of the due-soon strip.

    after     key of the last line, for the next page; none: there is no more
    counted   lines in all, at most MOST + 1: then there are more than MOST
    unknown   vehicles of the same shops for which no day can be said, counted likewise
    """

    rows: list[DueRow]
    after: tuple[date, int] | None
    counted: int
    unknown: int


def forecasts_of(actor: Actor, *, all_shops: bool = False) -> QuerySet[Forecast]:
    """The forecasts that count, of the actor's shop; the owner may ask for those of every shop."""
    actor.must("due soon")
    rows = Forecast.objects.filter(is_current=True, vehicle__state="on the road", vehicle__is_disputed=False)
    if all_shops and actor.may("see cost"):
        return rows
    return rows.filter(shop=actor.house)


def due_page(
    actor: Actor,
    *,
    today: date,
    weeks: int = 6,
    since: date | None = None,
    until: date | None = None,
    all_shops: bool = False,
    fleet: bool | None = None,
    after: tuple[date, int] | None = None,
    size: int = PAGE,
) -> DuePage:
    """Vehicles past due or due within `weeks`, by the day on which they stand; three queries however many there are.

    since, until   days to look between, instead of all that is past due and of `weeks`
    fleet     True: fleets alone, False: people alone
    after     key of the last line of the page before (DuePage.after)
    """
    rows = _asked(actor, all_shops, fleet).annotate(stands_on=STANDS_ON)
    asked = Q(stands_on__lte=until or today + timedelta(weeks=weeks))
    if since is not None:
        asked &= Q(stands_on__gte=since)
    behind = Q()
    if after is not None:
        behind = Q(stands_on__gt=after[0]) | Q(stands_on=after[0], vehicle__gt=after[1])
    due, page = rows.filter(asked), rows.filter(asked, behind)
    lines = [DueRow._make(line) for line in _columns(page, today).order_by(STANDS_ON, "vehicle_id")[: size + 1]]
    more = len(lines) > size
    lines = lines[:size]
    return DuePage(
        rows=lines,
        after=(lines[-1].stands_on, lines[-1].vehicle_pk) if more else None,
        counted=_count(due),
        unknown=_count(rows.filter(due_on=None)),
    )


def due_by_day(
    actor: Actor, *, first: date, last: date, all_shops: bool = False, fleet: bool | None = None
) -> dict[date, int]:
    """How many vehicles stand on each day from `first` to `last`; days with none are left out. One query."""
    rows = _asked(actor, all_shops, fleet).annotate(stands_on=STANDS_ON)
    rows = rows.filter(stands_on__gte=first, stands_on__lte=last)
    return {day: count for day, count in rows.order_by().values_list("stands_on").annotate(Count("pk")) if day}


def _asked(actor: Actor, all_shops: bool, fleet: bool | None) -> QuerySet[Forecast]:
    rows = forecasts_of(actor, all_shops=all_shops)
    return rows if fleet is None else rows.filter(keeper__is_fleet=fleet)


def _columns(rows: QuerySet[Forecast], today: date) -> QuerySet[Forecast, tuple[object, ...]]:
    plate = PlateRecord.objects.filter(vehicle=OuterRef("vehicle"), from_on__lte=today).order_by("-from_on")
    written = Reminder.objects.filter(vehicle=OuterRef("vehicle"), sent_at__isnull=False).order_by("-sent_at")
    planned = Reminder.objects.filter(vehicle=OuterRef("vehicle"), state="planned").order_by("send_on")
    newer = Reminder.objects.filter(vehicle=OuterRef("vehicle"), pk__gt=OuterRef("pk"))
    stopped = Reminder.objects.filter(
        ~Exists(newer), vehicle=OuterRef("vehicle"), state="stopped", send_on__gte=today - STOPPED_SHOWN
    )
    return rows.annotate(
        plate=Subquery(plate.values("as_typed")[:1]),
        may_write=_permits(),
        written_at=Subquery(written.values("sent_at")[:1]),
        planned_on=Subquery(planned.values("send_on")[:1]),
        stopped_why=Subquery(stopped.values("why")[:1]),
    ).values_list(
        "pk",
        "vehicle_id",
        "vehicle__number",
        "vehicle__year",
        "vehicle__make",
        "vehicle__model",
        "plate",
        "keeper__name",
        "keeper__is_fleet",
        "shop__code",
        "early_on",
        "due_on",
        "stands_on",
        "crossed_on",
        "late_on",
        "governs",
        "left_m",
        "months_left_thousandths",
        "vehicle__distance_unit",
        "last_reading_on",
        "worth_cents",
        "worth_method",
        "grade",
        "reason",
        "may_write",
        "written_at",
        "planned_on",
        "stopped_why",
    )


def _permits() -> Exists:
    """Whether the newest word about reminders is yes at any address of the keeper that works."""
    later = MessageConsent.objects.filter(
        contact_point=OuterRef("contact_point"), purpose="reminder", pk__gt=OuterRef("pk")
    )
    return Exists(
        MessageConsent.objects.filter(
            ~Exists(later),
            contact_point__customer=OuterRef("keeper"),
            contact_point__state="good",
            purpose="reminder",
            given=True,
        )
    )


def _count(rows: QuerySet[Forecast]) -> int:
    return rows.order_by()[: MOST + 1].count()


def forecast_of(actor: Actor, vehicle: Vehicle) -> Forecast | None:
    """The forecast of `vehicle` that counts, or none yet; Http404 for a vehicle that the actor may not read."""
    if not vehicles_of(actor).filter(pk=vehicle.pk).exists():
        raise Http404("no such vehicle")
    return vehicle.forecasts.filter(is_current=True).first()


def reminders_of(actor: Actor, vehicle: Vehicle) -> QuerySet[Reminder]:
    """What was planned and sent for `vehicle` by the actor's shop, newest first."""
    actor.must("due soon")
    return Reminder.objects.filter(vehicle=vehicle, shop=actor.house).select_related("customer").order_by("-pk")
