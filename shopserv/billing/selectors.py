"""Invoices of a shop, and what a work order still lacks before it can be invoiced."""

from __future__ import annotations

from django.db.models import QuerySet, Sum
from django.http import Http404
from django.shortcuts import get_object_or_404

from shopserv.billing import bills
from shopserv.billing.models import Invoice
from shopserv.common import clock
from shopserv.jobs.models import Authorization, Visit, WorkOrder
from shopserv.jobs.services import bay_rules
from shopserv.shop.actors import Actor

NOT_YET = {
    "written up": "it is not cleared yet",
    "cleared": "work has not begun",
    "in the bay": "the level is not set",
    "on hold": "it is on hold",
    "cut short": "it was cut short; only what a diagnosis or teardown covers may be billed",
    "closed": "it is closed already",
}


def invoices_of(actor: Actor) -> QuerySet[Invoice]:
    """The invoices of the actor's shop, newest first."""
    actor.must("see prices")
    return Invoice.objects.filter(shop=actor.house).select_related("customer", "vehicle", "work_order").order_by("-pk")


def invoice_for(actor: Actor, number: str) -> Invoice:
    """One invoice of the actor's shop with its lines; Http404 for any other."""
    return get_object_or_404(invoices_of(actor).prefetch_related("lines"), number=number)


def invoices_for(actor: Actor, order: WorkOrder) -> list[Invoice]:
    """The invoices of one work order, oldest first."""
    return list(invoices_of(actor).filter(work_order=order).order_by("pk"))


def not_invoiced(actor: Actor, visit: Visit) -> list[str]:
    """Numbers of the work orders of a visit whose work was done and is not invoiced."""
    actor.must("issue invoice")
    done = visit.work_orders.filter(shop=actor.house).exclude(state__in=("written up", "cut short"))
    return list(done.exclude(invoices__kind="invoice").order_by("number").values_list("number", flat=True))


def work_order_for(actor: Actor, number: str) -> WorkOrder:
    """One work order of the actor's shop with all that a bill reads; Http404 for any other."""
    actor.must("issue invoice")
    rows = WorkOrder.objects.filter(shop=actor.house).select_related(
        "shop__business", "visit__customer", "visit__vehicle", "visit__reading", "balance", "technician"
    )
    return get_object_or_404(rows, number=number)


def counted_of(order: WorkOrder) -> Authorization | None:
    """The authorization that counts for a work order; none where it was taken back."""
    rows = order.authorizations.filter(state="counted").select_related("option__version__adds_to", "quote__customer")
    return rows.order_by("-pk").first()


def bill_for(actor: Actor, order: WorkOrder, *, more: tuple[bills.More, ...] = ()) -> bills.Bill | None:
    """What the invoice of a work order would come to today; none where no authorization counts."""
    actor.must("issue invoice")
    _own(actor, order)
    counted = counted_of(order)
    if counted is None:
        return None
    day = clock.today(order.shop.time_zone)
    before = invoiced_cents(order, is_before_tax=counted.rule["base"] == "before_tax")
    return bills.bill_of(order, counted, day=day, before_cents=before, more=more)


def invoiced_cents(order: WorkOrder, *, is_before_tax: bool) -> int:
    """Issued invoices of a work order less its credit notes, on the basis of a rule."""
    column = "net_cents" if is_before_tax else "total_cents"
    sums = {row["kind"]: row["cents"] for row in order.invoices.order_by().values("kind").annotate(cents=Sum(column))}
    return int(sums.get("invoice", 0) - sums.get("credit note", 0))


def blockers(actor: Actor, order: WorkOrder) -> list[str]:
    """What keeps a work order from being invoiced, one sentence each; empty: it may be."""
    actor.must("issue invoice")
    _own(actor, order)
    not_yet = NOT_YET.get(order.state)
    found = [f"Work order {order}: {not_yet}."] if not_yet else _of_the_bay(order)
    bill = bill_for(actor, order)
    if bill is None:
        return [*found, "No authorization counts for it: the yes was taken back. It needs a new one."]
    if bill.authorization.quote.customer.purchase_order_needed and not bill.authorization.purchase_order_number:
        found.append(f"{bill.authorization.quote.customer} needs a purchase order number on the invoice.")
    if bill.beyond_cents:
        found.append(bills.beyond_words(bill, order.shop.business.currency))
    return found


def _of_the_bay(order: WorkOrder) -> list[str]:
    """What the bay still owes at level set or second look done (I-11)."""
    found = []
    if order.closed_out_at is None:
        found.append("It is not closed out: leftovers, lines, plugs and leaks are not confirmed.")
    elif order.facts.get("course") and getattr(order, "balance", None) is None:
        found.append("The balance of fluid in and out is missing.")
    if order.facts.get("course") and not order.level_records.filter(passes=True).exists():
        found.append("There is no level record that passes.")
    open_steps = list(order.steps.filter(state__in=["ahead", "now"]).order_by("order").values_list("text", flat=True))
    if open_steps:
        found.append(f"{len(open_steps)} steps of the bay sheet are open, first: {open_steps[0]}")
    if order.state == "level set" and bay_rules.asks_for_look(order):
        found.append("The second look has not said yes.")
    return found


def _own(actor: Actor, order: WorkOrder) -> None:
    if order.shop_id != actor.house.pk:
        raise Http404("no such work order")
