"""Work orders as the counter reads them, and who and what a shop has to do them with."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.jobs import sums
from shopserv.jobs.models import Authorization, BayStep, Line, SecondLook, Visit, WorkOrder
from shopserv.jobs.selectors.house_terms import chain_of
from shopserv.shop.actors import Actor, roles_of
from shopserv.shop.models import Bay, Staff

GONE = ("gone", "turned away")


@dataclass(frozen=True, slots=True)
class AgreedWork:
    """What counts as agreed for one work order.

    agreed_cents   all that was agreed, tax included
    invoices       (number, total in cents), credit notes among them
    """

    number: str
    state: str
    letter: str
    title: str
    agreed_cents: int
    invoices: tuple[tuple[str, int], ...]


WORK_KINDS = ("labor", "fluid", "part", "sublet")  # lines that say what is done, not what it costs besides


def orders_of(actor: Actor) -> QuerySet[WorkOrder]:
    """The work orders of the actor's shop."""
    actor.must("counter desk")
    rows = WorkOrder.objects.filter(shop=actor.house)
    return rows.select_related("visit__vehicle", "visit__customer", "bay", "technician", "shop")


def order_for(actor: Actor, number: str) -> WorkOrder:
    """One work order of the actor's shop by its number; Http404 for any other."""
    return get_object_or_404(orders_of(actor), number=number)


def orders_on(actor: Actor, visit: Visit) -> list[WorkOrder]:
    """The work orders of one visit, oldest first."""
    return list(orders_of(actor).filter(visit=visit).order_by("pk"))


def steps_of(actor: Actor, order: WorkOrder) -> list[BayStep]:
    """The steps of the bay sheet, in order."""
    actor.must("counter desk")
    return list(order.steps.order_by("order"))


def looks_of(actor: Actor, order: WorkOrder) -> list[SecondLook]:
    """The second looks, in the order of trying, each with who looked."""
    actor.must("counter desk")
    return list(order.second_looks.select_related("by").order_by("attempt"))


def agreed_for(actor: Actor, order: WorkOrder) -> list[Authorization]:
    """What the customer said yes to for this work, in the order of saying, with its option and lines."""
    actor.must("counter desk")
    said = Line.objects.filter(kind__in=WORK_KINDS).exclude(kind="labor", number=sums.DONE_ONCE)
    lines = Prefetch("option__lines", said.order_by("order"))
    return list(order.authorizations.select_related("option").prefetch_related(lines).order_by("pk"))


def agreed_on(actor: Actor, visit: Visit) -> list[AgreedWork]:
    """What counts as agreed on a visit, one row a work order, with what was invoiced for it. Empty: no work yet."""
    actor.must("see prices")
    counted = Prefetch(
        "authorizations", Authorization.objects.filter(state="counted").select_related("option__version__adds_to")
    )
    bills = Prefetch("invoices", to_attr="bills")
    rows = visit.work_orders.filter(shop=actor.house).prefetch_related(counted, bills).order_by("pk")
    return [_agreed(order, one) for order in rows for one in order.authorizations.all()]


def _agreed(order: WorkOrder, counted: Authorization) -> AgreedWork:
    option = chain_of(counted)[0].option  # of more work that was added: what it was added to
    invoices = tuple((row.number, row.total_cents) for row in order.bills)  # type: ignore[attr-defined]
    return AgreedWork(order.number, order.state, option.letter, option.title, counted.amount_cents, invoices)


def bays_of(actor: Actor) -> list[Bay]:
    """The bays in use at the actor's shop."""
    return list(Bay.objects.filter(shop=actor.house, in_use=True).order_by("name"))


def technicians_of(actor: Actor) -> list[Staff]:
    """Who may work in the bays of the actor's shop today."""
    today = clock.today(actor.house.time_zone)
    rows = Staff.objects.filter(
        state="active", grants__shop=actor.house, grants__grant="technician", grants__from_on__lte=today
    )
    return [one for one in rows.distinct().order_by("name") if "technician" in roles_of(one, actor.house)]
