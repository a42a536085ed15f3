"""An invoice issued: once, from what was agreed, with its gapless number drawn last."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.http import Http404

from shopserv.billing import bills, selectors
from shopserv.billing.models import Invoice, InvoiceLine
from shopserv.billing.snapshots import invoice_paper
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, Stale, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import measured_course
from shopserv.jobs.models import Authorization, Visit, WorkOrder
from shopserv.jobs.services import bay_rules
from shopserv.jobs.states import VISIT_MOVES, WORK_MOVES
from shopserv.logbook.selectors import unit_of_instrument
from shopserv.logbook.services import note_reading, record_service
from shopserv.papers.filing import file_paper
from shopserv.registry import search
from shopserv.reminders.services import forecasts
from shopserv.shop import numbers, trail
from shopserv.shop.actors import Actor


@transaction.atomic
def issue(
    work_order: WorkOrder,
    *,
    actor: Actor,
    edition: int,
    odometer_out: int | None = None,
    more: Sequence[bills.More] = (),
) -> Invoice:
    """Issue the invoice of a work order, close it, write the service into the logbook and renew the forecast.

    edition        of the work order as it was looked at
    odometer_out   as the instrument shows; none: what the bay noted
    more           billed beyond the agreed lines, inside the tolerance
    raises   Stale; StateRefusal if it is issued already; Refusal invoice.missing, invoice.beyond, invoice.more,
             invoice.odometer, and those of logbook.services.note_reading; NotYours, Http404
    """
    actor.must("issue invoice")
    order = _fresh(work_order, actor, edition)
    _refuse_missing(order, actor)
    authorization = _hold(order)
    day = clock.today(order.shop.time_zone)
    bill = _bill(order, authorization, actor, tuple(more))
    out = _read_out(order, actor, odometer_out)
    _close(order, actor, out)
    _into_logbook(order, actor, day, out)
    invoice = _draft(order, bill, actor, day)
    # From here on the counter is locked: nothing but what needs the number comes after it.
    invoice.number = numbers.draw(order.shop, "invoice", day.year)
    _save(invoice, bill, order, out)
    trail.write(
        actor,
        "invoice issued",
        invoice,
        work_order=order.number,
        total_cents=invoice.total_cents,
        limit_cents=bill.limit_cents,
        hash=invoice.snapshot_hash,
    )
    return invoice


def _fresh(work_order: WorkOrder, actor: Actor, edition: int) -> WorkOrder:
    order = selectors.work_order_for(actor, work_order.number)
    if order.pk != work_order.pk:
        raise Http404("no such work order")
    _refuse_issued(order)
    if order.edition != edition:
        raise Stale(
            f"Work order {order} was changed by somebody else in the meantime. Look at it again.",
            theirs={"state": order.state, "odometer_out": order.odometer_out},
        )
    return order


def _refuse_issued(order: WorkOrder) -> None:
    issued = order.invoices.filter(kind="invoice").order_by("-pk").first()
    if issued is not None:
        raise StateRefusal(
            f"{issued.issued_by.split(' ')[0]} issued invoice {issued.number} for {order} already.",
            code="invoice.issued",
        )


def _refuse_missing(order: WorkOrder, actor: Actor) -> None:
    found = selectors.blockers(actor, order)
    if found and found != [sentence for sentence in found if "needs a new yes" in sentence]:
        raise Refusal(" ".join(found), code="invoice.missing")


def _hold(order: WorkOrder) -> Authorization:
    """The authorization that counts, its row held to the end of the deed: nobody takes it back or adds to it now."""
    counted = selectors.counted_of(order)
    if counted is None or not Authorization.objects.filter(pk=counted.pk, state="counted").update(state="counted"):
        raise Refusal("No authorization counts for it: the yes was taken back.", code="invoice.missing")
    _refuse_issued(order)  # whoever held the row before may have issued it
    return counted


def _bill(order: WorkOrder, authorization: Authorization, actor: Actor, more: tuple[bills.More, ...]) -> bills.Bill:
    for one in more:
        below = one.price_cents < 0
        if one.kind not in bills.MORE_KINDS or below != (one.kind == "discount") or not one.text.strip():
            raise Refusal(f"“{one.text}” cannot be added to an invoice.", code="invoice.more", field="more")
    bill = selectors.bill_for(actor, order, more=more)
    assert bill is not None
    assert bill.authorization.pk == authorization.pk
    if bill.beyond_cents:
        raise Refusal(bills.beyond_words(bill, order.shop.business.currency), code="invoice.beyond", field="total")
    return bill


def _read_out(order: WorkOrder, actor: Actor, typed: int | None) -> int:
    """The odometer at the way out; what the counter types is a reading of its own."""
    figure = order.odometer_out if typed is None else typed
    if figure is None:
        raise Refusal("The odometer was not read on the way out.", code="invoice.odometer", field="odometer_out")
    came = order.visit.odometer
    if came is not None and came.state == "counted" and figure < came.figure:
        unit = came.unit
        raise Refusal(
            f"The odometer came in at {formats.odometer(came.figure, unit)}; {formats.odometer(figure, unit)} is less.",
            code="invoice.odometer",
            field="odometer_out",
        )
    if typed is not None and typed != order.odometer_out:
        unit = unit_of_instrument(order.visit.vehicle)
        note_reading(order.visit.vehicle, actor=actor, figure=typed, unit=unit, source="service")
    return figure


def _close(order: WorkOrder, actor: Actor, out: int) -> None:
    now = clock.now()
    move(order, "close", WORK_MOVES, actor, closed_at=now, state_since=now, odometer_out=out)
    bay_rules.ready_visit(Visit.objects.get(pk=order.visit_id), actor)


def _into_logbook(order: WorkOrder, actor: Actor, day: date, out: int) -> None:
    """Write what was done to the fluid into the logbook; a diagnosis moves none and leaves no service."""
    vehicle, facts = order.visit.vehicle, order.facts
    course = facts.get("course") or {}
    if facts.get("kind", "work") == "work" and course:
        fluid = order.close_out.get("fluid", {})
        low, high = fluid.get("share_ppm", (course.get("fraction_low_ppm"), course.get("fraction_high_ppm")))
        record_service(
            vehicle,
            actor=actor,
            work_order_number=order.number,
            done_on=day,
            figure=out,
            unit=unit_of_instrument(vehicle),
            unit_code=facts.get("unit", ""),
            sheet_version=facts.get("sheet_version"),
            method=facts["method"],
            fluid_code="+".join(dict.fromkeys(row["code"] for row in facts.get("fluids", [])))[:40],
            liters_in_ml=order.balance.poured_ml if hasattr(order, "balance") else course.get("new_ml"),
            fraction_low_ppm=0 if low is None else low,
            fraction_high_ppm=1_000_000 if high is None else high,
            technician=order.technician.name if order.technician else "",
            note=_level_words(order, low is None),
        )
    forecasts.renew(vehicle, actor=actor)


def _level_words(order: WorkOrder, is_share_unknown: bool) -> str:
    """The level record in a line, and what cannot be said."""
    level = order.level_records.filter(passes=True).order_by("-attempt").first()
    share = measured_course.words(order.close_out.get("fluid", {}))
    words = ["the share of new fluid is not known"] if is_share_unknown else [share] if share else []
    if level is not None:
        words.insert(
            0,
            f"level at {formats.temperature(level.temp_mdegc, order.shop.units_first)} by {level.temp_source}, "
            f"tilt {level.tilt_fore_aft_tenths_deg / 10:g}° and {level.tilt_side_tenths_deg / 10:g}°, "
            f"engine {level.engine}, budget {formats.number(level.budget_ml_tenths // 10)} mL",
        )
    return "; ".join(words)[:300]


def _draft(order: WorkOrder, bill: bills.Bill, actor: Actor, day: date) -> Invoice:
    """The invoice with everything but its number."""
    customer = bill.authorization.quote.customer
    return Invoice(
        shop=order.shop,
        year=day.year,
        work_order=order,
        customer=customer,
        vehicle=order.visit.vehicle,
        issued_on=day,
        issued_at=clock.now(),
        delivered_on=day,
        due_on=day + timedelta(days=customer.terms_days),
        purchase_order_number=bill.authorization.purchase_order_number,
        net_cents=bill.net_cents,
        tax_cents=bill.tax_cents,
        total_cents=bill.total_cents,
        tax_by_rate=list(bill.tax_by_rate),
        exemption_text=_exemption(bill),
        guarantee_text=_guarantee(bill.authorization.option.version.rules["guarantee"], day),
        issued_by=actor.name,
    )


def _exemption(bill: bills.Bill) -> str:
    one = bill.exempt
    if one is None:
        return ""
    return ", ".join(filter(None, [f"exempt by certificate {one.number}", one.reason, one.place]))[:200]


def _guarantee(guarantee: dict[str, Any], day: date) -> str:
    if not guarantee:
        return ""
    on = ", ".join(guarantee.get("on", []))
    return (
        f"{guarantee['months']} months or {formats.odometer(guarantee['miles'])} from {formats.day(day)}, "
        f"whichever comes first, on {on}."
    )[:300]


def _save(invoice: Invoice, bill: bills.Bill, order: WorkOrder, out: int) -> None:
    """Freeze the invoice, its lines and its paper under the number that was drawn."""
    came = order.visit.odometer
    paper_data = invoice_paper(
        invoice,
        lines=bill.lines,
        authorization=bill.authorization,
        order=order,
        odometer={"in": came.figure if came else None, "out": out, "unit": unit_of_instrument(invoice.vehicle)},
        guarantee=bill.authorization.option.version.rules["guarantee"],
        workers=_workers(order),
    )
    paper = file_paper(
        "invoice",
        order.shop,
        invoice.number,
        1,
        paper_data,
        visit_number=order.visit.number,
        language=invoice.customer.language,
    )
    invoice.snapshot_hash = paper.snapshot_hash
    invoice.save()
    InvoiceLine.objects.bulk_create(
        InvoiceLine(
            shop=order.shop,
            invoice=invoice,
            order=number,
            kind=line.kind,
            number=line.number,
            text=line.text,
            quantity_thousandths=line.quantity_thousandths,
            unit=line.unit,
            unit_price_cents=line.unit_price_cents,
            price_cents=line.price_cents,
            is_taxed=line.is_taxed,
            tax_rate_ppm=line.tax_rate_ppm,
            condition=line.condition,
            detail=line.detail,
            billed_line=line.billed,
        )
        for number, line in enumerate(bill.lines, start=1)
    )
    search.index_number(invoice.number, invoice.vehicle, order.shop_id)


def _workers(order: WorkOrder) -> list[dict[str, str]]:
    found = []
    if order.technician:
        found.append({"initials": order.technician.initials, "name": order.technician.name, "did": "the work"})
    look = order.second_looks.filter(state="yes").select_related("by").order_by("-attempt").first()
    if look is not None and look.by is not None:
        did = "own second look, so marked" if look.is_own else "second look"
        found.append({"initials": look.by.initials, "name": look.by.name, "did": did})
    return found


@transaction.atomic
def hand_over(visit: Visit, *, actor: Actor, words: str = "") -> Visit:
    """Give a vehicle back after its work; it is gone from here on.

    words   why it goes while finished work is not invoiced
    raises  StateRefusal where the work is not done (the second look is part of it), Refusal visit.not_invoiced,
            Http404
    """
    actor.must("issue invoice")
    if visit.shop_id != actor.house.pk:
        raise Http404("no such visit")
    visit.refresh_from_db()
    owed = selectors.not_invoiced(actor, visit)
    if visit.state in ("ready", "held for payment") and owed and not words.strip():
        raise Refusal(
            f"{', '.join(owed)} is not invoiced. Issue the invoice first, or say why the vehicle goes without one.",
            code="visit.not_invoiced",
            field="words",
        )
    before = visit.state
    now = clock.now()
    move(visit, "hand over", VISIT_MOVES, actor, state_since=now, left_at=now)
    trail.write(
        actor, "vehicle handed over", visit, before={"state": before}, state=visit.state, owed=owed, words=words.strip()
    )
    return visit
