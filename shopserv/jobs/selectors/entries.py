"""What happened to a vehicle, from every table, as lines by day, newest first: one query, paged by key."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from django.db.models import (
    BigIntegerField,
    Case,
    CharField,
    DateField,
    DateTimeField,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Cast, Coalesce, TruncDate

from shopserv.catalog.models import FluidProduct
from shopserv.jobs.models import Authorization, Complaint, Finding, Option, QuoteVersion, Visit, WorkOrder
from shopserv.logbook.models import LaboratoryResult, OdometerChange, OdometerReading, ServiceRecord
from shopserv.registry.models import Identification, KeeperRecord, PlateRecord, TemperatureLog, Vehicle
from shopserv.reminders.models import Reminder
from shopserv.shop.actors import Actor

PAGE = 50
RANKS = (  # how the entries of one day follow each other
    "keeper", "plate", "change", "reading", "visit", "finding", "identification", "quote", "authorization", "work",
    "service", "reminder", "laboratory", "temperature log",
)  # fmt: skip
TEXT, WHOLE = CharField(), BigIntegerField()
Key = tuple[date, int, int]


class Entry(NamedTuple):
    """One line, as read. What the texts and numbers mean depends on its kind, see the branches below."""

    day: date
    rank: int
    pk: int
    at: datetime | None
    figure: int | None
    unit: str | None
    a: str | None
    b: str | None
    c: str | None
    d: str | None
    e: str | None
    n1: int | None
    n2: int | None
    n3: int | None

    @property
    def kind(self) -> str:
        """One of RANKS."""
        return RANKS[self.rank]

    @property
    def key(self) -> Key:
        """The key of the page after this line."""
        return self.day, self.rank, self.pk


@dataclass(frozen=True, slots=True)
class Log:
    """A page of entries, newest first.

    before    key for the page of earlier ones; none: this page ends with the first
    totals    version key -> (letter, total in cents) of its options, for who sees prices
    """

    entries: tuple[Entry, ...]
    before: Key | None
    totals: dict[int, list[tuple[str, int]]]


def log_of(actor: Actor, vehicle: Vehicle, *, before: Key | None = None, size: int = PAGE) -> Log:
    """The newest entries of a vehicle's file before a key, as the actor's role may see them; two queries.

    vehicle   one that the actor has come by through `open_file.file_for`
    """
    actor.must("open file")
    branches = [_limited(branch(actor, vehicle), RANKS.index(kind), before) for kind, branch in _branches(actor)]
    rows = branches[0].union(*branches[1:], all=True).order_by("-e_day", "-e_rank", "-e_pk")[: size + 1]
    found = [Entry._make(row) for row in rows]
    page = tuple(found[:size])
    quoted = [entry.pk for entry in page if entry.kind == "quote"]
    return Log(page, page[-1].key if len(found) > size else None, _totals(quoted) if actor.may("see prices") else {})


def _totals(versions: list[int]) -> dict[int, list[tuple[str, int]]]:
    found: dict[int, list[tuple[str, int]]] = {}
    rows = Option.objects.filter(version__in=versions or [0]).order_by("letter")  # asked even of none: equal counts
    for version, letter, total in rows.values_list("version_id", "letter", "total_cents"):
        found.setdefault(version, []).append((letter, total))
    return found


Branch = Callable[[Actor, Vehicle], QuerySet[Any]]


def _branches(actor: Actor) -> list[tuple[str, Branch]]:
    """What the actor's role may see of a file: quotes and money only for who sees prices."""
    found: list[tuple[str, Branch]] = [
        ("reading", _readings),
        ("service", _services),
        ("laboratory", _laboratory),
        ("temperature log", _logs),
        ("change", _changes),
        ("visit", _visits),
        ("finding", _findings),
        ("identification", _identifications),
        ("work", _work),
        ("keeper", _keepers),
        ("plate", _plates),
    ]
    if actor.may("see prices"):
        found += [("quote", _quotes), ("authorization", _authorizations)]
    if actor.may("due soon"):
        found += [("reminder", _reminders)]
    return found


def _limited(rows: QuerySet[Any], rank: int, before: Key | None) -> QuerySet[Any]:
    rows = rows.annotate(e_rank=Value(rank, IntegerField()), e_pk=F("pk"))
    if before is not None:
        day, its_rank, pk = before
        earlier = Q(e_day__lt=day)
        if rank < its_rank:
            earlier = Q(e_day__lte=day)
        elif rank == its_rank:
            earlier |= Q(e_day=day, pk__lt=pk)
        rows = rows.filter(earlier)
    missing = {name: Cast(Value(None), _type(name)) for name in _COLUMNS if name not in rows.query.annotations}
    return rows.annotate(**missing).order_by().values_list(*_COLUMNS)


_COLUMNS = tuple(f"e_{name}" for name in Entry._fields)


def _named(rows: QuerySet[Any], **columns: Any) -> QuerySet[Any]:
    """`rows` with the columns of an entry, under names that no table has."""
    return rows.annotate(**{f"e_{name}": column for name, column in columns.items()})


def _type(name: str) -> Any:
    if name == "e_at":
        return DateTimeField()
    return WHOLE if name in ("e_n1", "e_n2", "e_n3", "e_figure") else TEXT


def _text(source: Any) -> Any:
    return Cast(source, TEXT)


def _whole(source: Any) -> Any:
    return Cast(source, WHOLE)


def _local(actor: Actor, column: str) -> TruncDate:
    return TruncDate(column, tzinfo=ZoneInfo(actor.house.time_zone))


def _day(column: str) -> Any:
    return Cast(F(column), DateField())


def _readings(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a source, b state, c reason, d shop, e as typed. One that counts, taken on an own visit, stands in its line."""
    on_visit = Exists(Visit.objects.filter(reading=OuterRef("pk"), shop=actor.house, came_at__isnull=False))
    return _named(
        OdometerReading.objects.filter(~Q(on_visit) | Q(state="set aside"), vehicle=vehicle),
        day=_day("read_on"),
        at=F("read_at"),
        figure=_whole("figure"),
        unit=_text("unit"),
        a=_text("source"),
        b=_text("state"),
        c=_text("reason"),
        d=_text("shop__short_name"),
        e=_text("as_typed"),
    )


def _services(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a method, b shop, c fluid, d own work order, e "corrected" or "corrects", n1 mL in, n2 and n3 share in ppm."""
    later = ServiceRecord.objects.filter(corrects=OuterRef("pk"))
    product = FluidProduct.objects.filter(code=OuterRef("fluid_code")).values("name")[:1]
    return _named(
        ServiceRecord.objects.filter(vehicle=vehicle),
        day=_day("done_on"),
        figure=_whole("figure"),
        unit=_text("unit"),
        a=_text("method"),
        b=_text("shop__short_name"),
        c=Coalesce(Subquery(product), F("fluid_code"), output_field=TEXT),
        d=Case(When(shop=actor.house, then=_text("work_order_number")), output_field=TEXT),
        e=Case(
            When(Exists(later), then=Value("corrected")),
            When(corrects__isnull=False, then=Value("corrects")),
            output_field=TEXT,
        ),
        n1=_whole("liters_in_ml"),
        n2=_whole("fraction_low_ppm"),
        n3=_whole("fraction_high_ppm"),
    )


def _laboratory(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a slip, b by, c why it was withdrawn, if it was; n1 water and n2 its limit in mg/kg."""
    return _named(
        LaboratoryResult.objects.filter(vehicle=vehicle),
        day=_day("sampled_on"),
        a=_text("reference"),
        b=_text("by"),
        c=_text("withdrawn_why"),
        n1=_whole("water_ppm"),
        n2=_whole("limit_ppm"),
    )


def _logs(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a file, b by, n1 lines that count, n2 lines that do not."""
    return _named(
        TemperatureLog.objects.filter(vehicle=vehicle),
        day=_day("noted_on"),
        a=_text("file_name"),
        b=_text("by"),
        n1=_whole("rows"),
        n2=_whole("fault_count"),
    )


def _changes(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a evidence, b unit of the old instrument, n1 its last figure; figure: the first of the new one."""
    return _named(
        OdometerChange.objects.filter(vehicle=vehicle),
        day=_day("on"),
        figure=_whole("new_first_figure"),
        unit=_text("new_unit"),
        a=_text("evidence"),
        b=_text("old_unit"),
        n1=_whole("old_last_figure"),
    )


def _visits(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a number, b state, c how it came, d customer (none for who may not see names), e complaint. Own shop."""
    complaint = Complaint.objects.filter(visit=OuterRef("pk")).order_by("order").values("words")[:1]
    rows = Visit.objects.filter(vehicle=vehicle, shop=actor.house, came_at__isnull=False)
    names = {"d": _text("customer__name")} if actor.may("see people") else {}
    return _named(
        rows,
        day=_local(actor, "came_at"),
        at=F("came_at"),
        figure=Case(When(reading__state="counted", then=_whole("reading__figure")), output_field=WHOLE),
        unit=_text("reading__unit"),
        a=_text("number"),
        b=_text("state"),
        c=_text("arrival"),
        e=_text(Subquery(complaint)),
        **names,
    )


def _findings(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a code, b state, c words, d visit. Own shop."""
    return _named(
        Finding.objects.filter(visit__vehicle=vehicle, shop=actor.house),
        day=_local(actor, "at"),
        a=_text("code"),
        b=_text("state"),
        c=_text("words"),
        d=_text("visit__number"),
    )


def _identifications(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a unit, b grade, c by, d state, e code."""
    return _named(
        Identification.objects.filter(vehicle=vehicle),
        day=_local(actor, "at"),
        a=_text("unit__name"),
        b=_text("grade"),
        c=_text("by"),
        d=_text("state"),
        e=_text("unit__code"),
    )


def _quotes(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a number, b state, c letter that is recommended, n1 version. Own shop; the day it was offered, or drafted."""
    return _named(
        QuoteVersion.objects.filter(quote__vehicle=vehicle, shop=actor.house),
        day=_local(actor, "made_at"),
        a=_text("quote__number"),
        b=_text("state"),
        c=_text("recommended"),
        n1=_whole("version"),
    )


def _authorizations(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a quote, b letter, c person, d way, e state, n1 cents. Own shop."""
    return _named(
        Authorization.objects.filter(quote__vehicle=vehicle, shop=actor.house),
        day=_local(actor, "at"),
        a=_text("quote__number"),
        b=_text("option__letter"),
        c=_text("person"),
        d=_text("way"),
        e=_text("state"),
        n1=_whole("amount_cents"),
    )


def _work(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a number, b state, c why it is held. Own shop; a technician's own."""
    rows = WorkOrder.objects.filter(visit__vehicle=vehicle, shop=actor.house)
    if not actor.may("see people") and actor.may("bay work"):
        rows = rows.filter(technician=actor.staff)
    return _named(rows, day=_local(actor, "state_since"), a=_text("number"), b=_text("state"), c=_text("hold_reason"))


def _keepers(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a customer, for who may see names."""
    names = {"a": _text("customer__name")} if actor.may("see people") else {}
    return _named(KeeperRecord.objects.filter(vehicle=vehicle), day=_day("from_on"), **names)


def _plates(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a plate as it was typed, b place."""
    return _named(
        PlateRecord.objects.filter(vehicle=vehicle), day=_day("from_on"), a=_text("as_typed"), b=_text("place")
    )


def _reminders(actor: Actor, vehicle: Vehicle) -> QuerySet[Any]:
    """a state, b why. Own shop; the day it is to be sent."""
    return _named(
        Reminder.objects.filter(vehicle=vehicle, shop=actor.house),
        day=_day("send_on"),
        a=_text("state"),
        b=_text("why"),
    )
