"""The trail as the owner reads it: who did what when, on which thing, and whether it is as it was written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q, QuerySet

from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import RoleGrant, TrailEntry
from shopserv.shop.pins import WRONG

PAGE = 50
REFUSED = Q(what__contains="refused") | Q(what=WRONG)


@dataclass(frozen=True, slots=True)
class TrailPage:
    """A page of the trail, the newest first.

    before    key of the last entry, for the next page; none: there is no more
    broken    entries of this page that do not say any more what they were sealed with
    """

    rows: Sequence[TrailEntry]
    before: int | None
    broken: frozenset[int]


@dataclass(frozen=True, slots=True)
class Chain:
    """What the whole chain came to.

    entries    in all; `unsealed` of them wait for their seal
    breaks     sequence numbers at which it does not hold
    head       seal of the newest sealed entry
    """

    entries: int
    unsealed: int
    breaks: Sequence[int]
    head: str


def trail_of(actor: Actor, *, whole_house: bool = False) -> QuerySet[TrailEntry]:
    """The entries of the actor's shop, or those of the house that belong to no shop, newest first."""
    actor.must("trail")
    return TrailEntry.objects.filter(shop=None if whole_house else actor.house).order_by("-pk")


def trail_page(
    actor: Actor,
    *,
    whole_house: bool = False,
    on: date | None = None,
    who: str = "",
    thing: str = "",
    refused: bool = False,
    before: int | None = None,
    size: int = PAGE,
) -> TrailPage:
    """Entries that fit, newest first; one query however many there are.

    on        a day in the shop's time
    who       name as it stands on the entry
    thing     a part of the words of the thing: "BRW-W-204" finds its steps, too
    refused   refused tries alone
    before    key of the last entry of the page before (TrailPage.before)
    """
    rows = trail_of(actor, whole_house=whole_house)
    if on is not None:
        begin = datetime.combine(on, time.min, ZoneInfo(actor.house.time_zone))
        end = datetime.combine(on + timedelta(days=1), time.min, ZoneInfo(actor.house.time_zone))
        rows = rows.filter(at__gte=begin, at__lt=end)
    if who:
        rows = rows.filter(who=who)
    if thing:
        rows = rows.filter(subject__icontains=thing)
    if refused:
        rows = rows.filter(REFUSED)
    if before is not None:
        rows = rows.filter(pk__lt=before)
    found = list(rows[: size + 1])
    more, found = len(found) > size, found[:size]
    broken = frozenset(
        row.pk for row in found if row.own_hash and trail.row_hash(row, row.previous_hash) != row.own_hash
    )
    return TrailPage(found, found[-1].pk if more else None, broken)


def is_refused(entry: TrailEntry) -> bool:
    """Whether an entry tells of a try that was refused."""
    return "refused" in entry.what or entry.what == WRONG


def trail_people(actor: Actor) -> list[str]:
    """Names of all who have or had a role at the actor's shop; one query."""
    actor.must("trail")
    rows = RoleGrant.objects.filter(shop=actor.house).order_by("staff__name")
    return list(rows.values_list("staff__name", flat=True).distinct())


def chain(actor: Actor) -> Chain:
    """Whether the whole chain holds, from the first entry to the last; reads all of it."""
    actor.must("trail")
    head = TrailEntry.objects.exclude(own_hash="").order_by("-pk").values_list("own_hash", flat=True).first()
    return Chain(
        entries=TrailEntry.objects.count(),
        unsealed=TrailEntry.objects.filter(own_hash="").count(),
        breaks=trail.breaks(),
        head=head or trail.GENESIS,
    )
