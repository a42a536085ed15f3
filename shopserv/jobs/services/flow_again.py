"""A flow proof that showed too little: done once more before anything is pumped."""

from __future__ import annotations

from django.db.models import F

from shopserv.jobs.bay_events import REDO, latest
from shopserv.jobs.models import BayEvent, BayStep, WorkOrder
from shopserv.shop.actors import Actor


def bring_up(order: WorkOrder, actor: Actor) -> BayStep | None:
    """Bring the flow proof up again inside another deed, if its last readings showed too little; else nothing.

    What was read stays with the proof before. Lines that are shut again are pumped through no more.
    """
    # The presses put work on hold themselves, so they stand above this.
    from shopserv.jobs.services.bay_press import mark

    steps = list(order.steps.exclude(state="ahead").order_by("order"))
    proof = next((step for step in reversed(steps) if step.code == "flow_proof" and step.state != "skipped"), None)
    if proof is None or any(step.code == "lines_back" and step.order > proof.order for step in steps):
        return None
    events = list(order.events.select_related("step").order_by("pk"))
    if not _is_too_little(proof, events):
        return None
    if proof.state == "now":
        count = sum(event.step_id == proof.pk for event in events)
        mark(order, proof, REDO, actor, f"flow again {proof.pk}-{count}", words="on hold for too little flow")
        return proof
    pending = order.steps.filter(state__in=("ahead", "now")).order_by("order")
    place = pending[0].order if pending else steps[-1].order + 1
    pending.filter(state="now").update(state="ahead")
    for row in order.steps.filter(order__gte=place).order_by("-order"):  # the last one first, no number twice
        BayStep.objects.filter(pk=row.pk).update(order=F("order") + 1)
    return BayStep.objects.create(
        shop=order.shop,
        work_order=order,
        order=place,
        code=proof.code,
        text=proof.text,
        cautions=proof.cautions,
        needs=proof.needs,
        limits=proof.limits,
        is_fluid=proof.is_fluid,
        may_skip=False,
        state="now",
    )


def _is_too_little(proof: BayStep, events: list[BayEvent]) -> bool:
    from shopserv.jobs.services.bay_press import flow_of

    weight, warmth = (latest(events, what, proof.pk) for what in ("flow_g", "temp_mdegc"))
    if weight is None or weight.value is None:
        return False
    if weight.value <= 0:
        return True
    return warmth is not None and warmth.value is not None and flow_of(proof, events).flows is False
