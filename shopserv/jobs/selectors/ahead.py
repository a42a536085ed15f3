"""The jobs that were agreed and are not poured yet, with the fluid that each needs, and the packages on sale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Prefetch

from shopserv.catalog.models import FluidProduct, Package
from shopserv.common import clock
from shopserv.jobs.models import Authorization, BayEvent, Visit, WorkOrder
from shopserv.shop.actors import Actor

AHEAD = ("written up", "cleared", "in the bay", "on hold")
GONE = ("gone", "turned away")


@dataclass(frozen=True, slots=True)
class AheadJob:
    """What one agreed job needs of one product.

    day        on which its vehicle is expected; of one that is here today
    need_ml    of the agreed course; of a band the high end
    low_ml     the low end; equal where the fill is known
    rule       by which its quote prices fluid
    said       where the need stands: "BRW-Q-118 version 1 option C"
    quoted     stock number -> count of the packages that the quote priced, those of other products too
    """

    order: str
    state: str
    visit: str
    is_here: bool
    vehicle: str
    vehicle_words: str
    title: str
    product: str
    day: date
    need_ml: int
    low_ml: int
    rule: str
    said: str
    quoted: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class AheadProduct:
    """A product with its packages on sale, largest first, and the jobs that need it, the earliest first."""

    code: str
    name: str
    packages: tuple[Package, ...]
    jobs: tuple[AheadJob, ...]


def fluid_ahead(actor: Actor) -> tuple[AheadProduct, ...]:
    """The products that agreed and unpoured jobs of the actor's shop need, by their first job. Four queries.

    A job counts while a yes to it counts and nothing was poured; once pouring begins its packages are at the bench.
    """
    actor.must("fluid ahead")
    shop = actor.house
    counted = Authorization.objects.filter(state="counted")
    yes = counted.select_related("option__version", "quote").order_by("pk")
    poured = BayEvent.objects.filter(work_order=OuterRef("pk"), what__startswith="in_")
    rows = (
        WorkOrder.objects.filter(Exists(counted.filter(work_orders=OuterRef("pk"))), shop=shop, state__in=AHEAD)
        .exclude(Exists(poured))
        .exclude(visit__state__in=GONE)
        .select_related("visit__vehicle")
        .prefetch_related(Prefetch("authorizations", yes, to_attr="yes"))
        .order_by("pk")
    )
    today, zone = clock.today(shop.time_zone), ZoneInfo(shop.time_zone)
    jobs = sorted((job for row in rows for job in _jobs(row, today, zone)), key=lambda job: job.day)
    codes = list(dict.fromkeys(job.product for job in jobs))
    sold = Package.objects.filter(is_current=True).order_by("-volume_ml", "stock_number")
    products = FluidProduct.objects.filter(code__in=codes).prefetch_related(Prefetch("packages", sold, to_attr="sold"))
    known = {product.code: product for product in products}
    return tuple(_product(code, known[code], jobs) for code in codes if code in known)


def _product(code: str, product: Any, jobs: Sequence[AheadJob]) -> AheadProduct:
    return AheadProduct(code, product.name, tuple(product.sold), tuple(job for job in jobs if job.product == code))


def _jobs(order: Any, today: date, zone: ZoneInfo) -> list[AheadJob]:
    """One job for each product of a work order, what was added to it among it."""
    visit, yes = order.visit, order.yes[-1]
    needs: dict[str, tuple[int, int]] = {}
    quoted: dict[str, int] = {}
    for facts in (order.facts, *order.facts.get("added", ())):
        for number, count in facts.get("packages", {}).items():
            quoted[number] = quoted.get(number, 0) + count
        for fluid in facts.get("fluids", ()):
            high, low = needs.get(fluid["code"], (0, 0))
            needs[fluid["code"]] = (high + fluid["need_ml"], low + fluid["low_need_ml"])
    version = yes.option.version
    return [
        AheadJob(
            order=order.number,
            state=order.state,
            visit=visit.number,
            is_here=visit.came_at is not None,
            vehicle=visit.vehicle.number,
            vehicle_words=visit.vehicle.words,
            title=str(order.facts.get("title", "")),
            product=code,
            day=_day(visit, today, zone),
            need_ml=high,
            low_ml=low,
            rule=version.rules["fluid_rule"],
            said=f"{yes.quote.number} version {version.version} option {yes.option.letter}",
            quoted=quoted,
        )
        for code, (high, low) in needs.items()
        if high > 0
    ]


def _day(visit: Visit, today: date, zone: ZoneInfo) -> date:
    """The day on which the vehicle may be on the lift: an expected one on its day, one that is here today."""
    if visit.came_at is not None or visit.expected_at is None:
        return today
    return max(today, visit.expected_at.astimezone(zone).date())
