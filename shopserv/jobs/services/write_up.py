"""The work order that a yes writes up or lengthens. Called inside `authorize`, which leaves the entry on the trail."""

from __future__ import annotations

from typing import Any

from shopserv.common import clock
from shopserv.common.errors import StateRefusal
from shopserv.jobs.models import Authorization, Option, WorkOrder
from shopserv.jobs.snapshots.quote import in_order
from shopserv.registry import search
from shopserv.shop import numbers
from shopserv.shop.actors import Actor

OPEN = ("written up", "cleared", "in the bay", "on hold", "level set", "second look done")


def facts_of(option: Option) -> dict[str, Any]:
    """What the bay needs of an option: unit, sheet version, method, fluids, parts, course; no price among it."""
    inputs = option.version.inputs
    return {
        "option": option.letter,
        "version": option.version.version,
        "kind": option.kind,
        "title": option.title,
        "unit": inputs.get("unit", ""),
        "sheet_version": inputs.get("sheet_version"),
        "method": option.method,
        "fluids": [
            {
                "code": row["code"],
                "name": row["name"],
                "need_ml": row["need_ml"],
                "low_need_ml": row["low_need_ml"],
                "sump": row.get("sump", ""),
            }
            for row in option.snapshot.get("fluids", [])
        ],
        "packages": {
            number: count
            for line in in_order(option)
            if line.kind == "fluid"
            for number, count in line.detail.get("packages", {}).items()
        },
        "parts": [
            {"number": line.number, "name": line.text, "quantity": line.quantity_thousandths // 1000}
            for line in in_order(option)
            if line.kind == "part"
        ],
        "operations": [line.text for line in in_order(option) if line.kind == "labor"],
        "course": option.course,
        "tenths": option.tenths,
        "added": [],
    }


def work_order_for(authorization: Authorization, before: Authorization | None, *, actor: Actor) -> WorkOrder:
    """The work order of a yes that was just counted: a new one, or the open one of the yes before.

    raises  StateRefusal if the vehicle is on no visit
    """
    order = before.work_orders.filter(state__in=OPEN).order_by("-pk").first() if before else None
    if order is None:
        return _new(authorization)
    order.authorizations.add(authorization)
    facts = order.facts
    if authorization.added_cents is not None:
        facts = {**facts, "added": [*facts.get("added", []), facts_of(authorization.option)]}
    else:
        facts = {**facts_of(authorization.option), "earlier": [*facts.get("earlier", []), _short(facts)]}
    WorkOrder.objects.filter(pk=order.pk).update(facts=facts, edition=order.edition + 1)
    order.refresh_from_db()
    return order


def _new(authorization: Authorization) -> WorkOrder:
    visit = authorization.quote.visit
    if visit is None:
        raise StateRefusal(
            f"{authorization.quote.vehicle} is on no visit. Take it in, and write the quote on that visit.",
            code="work.no_visit",
        )
    now = clock.now()
    order = WorkOrder(shop=authorization.shop, visit=visit, state_since=now, facts=facts_of(authorization.option))
    order.number = numbers.draw(authorization.shop, "work order", now.year)
    order.save()
    order.authorizations.add(authorization)
    search.index_number(order.number, visit.vehicle, authorization.shop_id)
    return order


def _short(facts: dict[str, Any]) -> dict[str, Any]:
    return {name: facts.get(name) for name in ("option", "version", "method", "title")}


def hold_for_word(authorization: Authorization, *, actor: Actor) -> list[str]:
    """Put the work of an authorization that was taken back on hold; numbers of the work orders that it reached."""
    now, reason = clock.now(), "authorization taken back"
    held = []
    for order in authorization.work_orders.filter(state__in=OPEN):
        rows = WorkOrder.objects.filter(pk=order.pk)
        # What is not in the bay yet has no hold to go to: clearing it asks for a counted yes.
        if rows.filter(state="in the bay").update(
            state="on hold",
            state_since=now,
            hold_reason=reason,
            hold_grade="needs your decision",
            edition=order.edition + 1,
        ) or rows.update(hold_reason=reason, hold_grade="needs your decision"):
            held.append(order.number)
    return held
