"""What has to hold before work may begin, and again before it goes on."""

from __future__ import annotations

from datetime import date

from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import UnitSheet
from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.findings import DECISION, barred_because
from shopserv.jobs.models import Authorization, WorkOrder
from shopserv.jobs.selectors.house_terms import chain_of
from shopserv.jobs.services.bay_rules import found_on, refuse_coolant
from shopserv.jobs.services.methods import sheet_now
from shopserv.registry import selectors as registry
from shopserv.registry import which
from shopserv.shop.actors import Actor
from shopserv.shop.models import Bay, Staff

HYBRID = "hybrid"


def covered(order: WorkOrder) -> Authorization:
    """The counted authorization that covers the work order, its method and its parts.

    raises  StateRefusal work.not_authorized, work.not_covered
    """
    counted = order.authorizations.filter(state="counted").select_related("option__version__adds_to").first()
    if counted is None:
        raise StateRefusal(
            f"No authorization counts for {order}: nothing may begin. Ask the customer for a yes.",
            code="work.not_authorized",
        )
    chain = chain_of(counted)
    method = chain[0].option.method
    agreed = {line.number for one in chain for line in one.option.lines.all() if line.kind == "part"}
    wanted = {row["number"] for facts in (order.facts, *order.facts.get("added", ())) for row in facts.get("parts", ())}
    if order.facts.get("method", "") != method or not wanted <= agreed:
        raise StateRefusal(
            f"The authorization covers “{method or chain[0].option.title}” with its parts, and nothing else; "
            "another method or part needs a new yes even if it costs less.",
            code="work.not_covered",
        )
    return counted


def refuse_findings(order: WorkOrder, actor: Actor, tried: str, *, names_pump: bool) -> None:
    """Refuse fluid work that a finding stops, or that waits for a decision. Call it before the transaction.

    raises  Refusal bay.coolant, work.stop, work.decision
    """
    if order.facts.get("kind") != "work":
        return  # a diagnosis looks for the cause of the very stop
    refuse_coolant(order, actor, tried)
    found = found_on(order)
    course = order.facts.get("course") or {}
    why = barred_because(
        order.facts.get("method", ""),
        found,
        fraction_low_ppm=course.get("fraction_low_ppm"),
        is_named_for_hybrid=names_pump,
    )
    if why:
        raise Refusal(f"{why}.", code="work.stop", status=409)
    # What bars only some methods was decided when this one was chosen.
    open_ = next((one for one in found if one.stands and one.grade == DECISION and not one.kind.bars), None)
    if open_:
        raise Refusal(
            f"{open_.kind.words} needs a decision: {open_.kind.effect}. The shop owner decides, with words.",
            code="work.decision",
            status=409,
        )


def refuse_assumed(order: WorkOrder, actor: Actor) -> None:
    """Refuse fluid work on a unit that is assumed, disputed, in doubt or another than the agreed one; nobody may
    override it.

    raises  Refusal work.assumed, work.other_unit, work.unlikely_unit
    """
    if order.facts.get("kind") != "work":
        return
    identified = registry.identification_of(order.visit.vehicle)
    if identified is None or identified.grade == "assumed" or identified.state != "counted":
        how = (
            "is not known"
            if identified is None
            else f"is {identified.grade}"
            if identified.state == "counted"
            else ("is disputed")
        )
        raise Refusal(
            f"Which transmission it has {how}: no fluid leaves the shelf. Read the tag, and enter what it says.",
            code="work.assumed",
            status=409,
        )
    if identified.unit.code != order.facts.get("unit"):
        raise Refusal(
            f"The vehicle has {identified.unit}; agreed was work on {order.facts.get('unit')}. Write a new version.",
            code="work.other_unit",
            status=409,
        )
    doubt = which.doubted(actor, order.visit.vehicle)
    if doubt and not doubt.may_be_asked:
        raise Refusal(
            f"{doubt.words}. No fluid leaves the shelf before somebody looks, and notes it: "
            f"{doubt.look or 'read the tag.'}",
            code="work.unlikely_unit",
            status=409,
        )


def fluid_check(order: WorkOrder, day: date) -> dict[str, str]:
    """Ask again whether every agreed fluid meets the specification in force for unit and build month.

    returns   sump (or "") -> note where the specification or the sheet has changed since the quote
    raises    Refusal work.specification, work.no_sheet
    """
    if order.facts.get("kind") != "work":
        return {}
    sheet = sheet_now(order.facts.get("unit", ""), day)
    if sheet is None:
        raise Refusal(
            f"No unit sheet is in force for {order.facts.get('unit') or 'this unit'}.", code="work.no_sheet", status=409
        )
    notes = {}
    if sheet.version != order.facts.get("sheet_version"):
        notes["sheet"] = f"agreed by version {order.facts.get('sheet_version')}, in force is {sheet.version}"
    for fluid in order.facts.get("fluids", ()):
        sump = fluid.get("sump", "")
        note = _refuse_other_fluid(order, sheet, fluid["code"], fluid["name"], sump, day)
        if note:
            notes[sump or "fluid"] = note
    return notes


def _refuse_other_fluid(order: WorkOrder, sheet: UnitSheet, code: str, name: str, sump: str, day: date) -> str:
    wanted = catalog.specification_for(sheet, order.visit.vehicle.build_month, sump)
    if wanted is None:
        raise Refusal(f"The unit sheet names no fluid{f' for {sump}' if sump else ''}.", code="work.specification")
    fits = {product.code: product for product in catalog.products_meeting(wanted, day)}
    if code not in fits:
        since = f", withdrawn on {wanted.withdrawn_on:%B %-d, %Y}" if wanted.withdrawn_on else ""
        named = f"; in its place {wanted.successor}" if wanted.successor else ""
        raise Refusal(
            f"{name} does not meet {wanted}{since}{named}. Write a new version with a fluid that does: "
            f"{', '.join(product.name for product in fits.values()) or 'none is stocked'}.",
            code="work.specification",
            status=409,
        )
    if wanted.withdrawn_on and wanted.withdrawn_on <= day and wanted.successor:
        return (
            f"{wanted.code} was withdrawn on {wanted.withdrawn_on.isoformat()}, {wanted.successor.code} fits backward"
        )
    return ""


def refuse_bay(bay: Bay, actor: Actor) -> None:
    """Refuse a bay out of use, or a lift whose inspection is overdue.

    raises  Refusal bay.unknown, bay.out_of_use, bay.inspection
    """
    if bay.shop_id != actor.house.pk:
        raise Refusal("There is no such bay here.", code="reference.unknown", field="bay")
    if not bay.in_use:
        raise Refusal(f"Bay {bay} is out of use.", code="bay.out_of_use", field="bay")
    today = clock.today(actor.house.time_zone)
    if bay.inspection_due_on and bay.inspection_due_on < today:
        raise Refusal(
            f"The inspection of bay {bay} was due on {bay.inspection_due_on:%B %-d, %Y}: nothing is lifted there.",
            code="bay.inspection",
            field="bay",
        )


def refuse_technician(order: WorkOrder, staff: Staff, roles: frozenset[str]) -> None:
    """Refuse somebody who may not do this work: no technician here, or not trained for a hybrid.

    raises  Refusal technician.unknown, technician.not_trained
    """
    if "technician" not in roles:
        raise Refusal(f"{staff.name} is no technician of this shop.", code="reference.unknown", field="technician")
    hybrid = any(one.code == "K-15" and one.stands for one in found_on(order))
    if hybrid and not any(HYBRID in str(what).lower() for what in staff.trained_for):
        raise Refusal(
            f"{staff.name} is not entered as trained for hybrid drives.",
            code="technician.not_trained",
            field="technician",
        )
