"""Which job stands in which bay: a bay holds one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from shopserv.common import clock
from shopserv.jobs.models import WorkOrder
from shopserv.shop.actors import Actor
from shopserv.shop.models import Bay

ROLLED_OUT = "rolled_out"  # of WorkOrder.rules: where a vehicle on hold stands since it left its bay
STANDS = Q(state__in=("in the bay", "on hold")) | Q(state="level set", closed_out_at=None)


@dataclass(frozen=True, slots=True)
class BayNow:
    """A bay and the job that stands in it."""

    bay: str
    number: str
    state: str
    promised_at: datetime | None


def standing_in(bay: Bay, besides: WorkOrder | None = None) -> WorkOrder | None:
    """The job whose vehicle stands in a bay; none: it is free. On hold it stands there until it is rolled out."""
    rows = WorkOrder.objects.filter(STANDS, bay=bay).select_related("visit__vehicle").order_by("in_bay_at", "pk")
    return next((one for one in rows if _is_there(one) and (besides is None or one.pk != besides.pk)), None)


def bays_now(actor: Actor) -> tuple[BayNow, ...]:
    """The bays of the actor's shop that are taken, with the job in each, in promised order. One query."""
    rows = WorkOrder.objects.filter(STANDS, shop=actor.house, bay__isnull=False).select_related("bay", "visit")
    far = datetime.max.replace(tzinfo=clock.now().tzinfo)
    orders = sorted(filter(_is_there, rows), key=lambda one: (one.visit.promised_at or far, one.pk))
    return tuple(BayNow(str(one.bay), one.number, one.state, one.visit.promised_at) for one in orders)


def _is_there(order: WorkOrder) -> bool:
    return not (order.state == "on hold" and order.rules.get(ROLLED_OUT))
