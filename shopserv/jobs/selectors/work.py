"""Work orders as the counter reads them, and who and what a shop has to do them with."""

from __future__ import annotations

from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.jobs.models import Authorization, Line, WorkOrder
from shopserv.shop.actors import Actor, roles_of
from shopserv.shop.models import Bay, Staff


def orders_of(actor: Actor) -> QuerySet[WorkOrder]:
    """The work orders of the actor's shop."""
    actor.must("counter desk")
    rows = WorkOrder.objects.filter(shop=actor.house)
    return rows.select_related("visit__vehicle", "visit__customer", "bay", "technician", "shop")


def order_for(actor: Actor, number: str) -> WorkOrder:
    """One work order of the actor's shop by its number; Http404 for any other."""
    return get_object_or_404(orders_of(actor), number=number)


def agreed_for(actor: Actor, order: WorkOrder) -> list[Authorization]:
    """What the customer said yes to for this work, in the order of saying, with its option and lines."""
    actor.must("counter desk")
    lines = Prefetch("option__lines", Line.objects.order_by("order"))
    return list(order.authorizations.select_related("option").prefetch_related(lines).order_by("pk"))


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
