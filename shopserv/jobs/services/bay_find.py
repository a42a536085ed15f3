"""What is found in the bay: noted at once; a stop puts the work order on hold, and the writer sees it on the desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from shopserv.common.errors import StateRefusal
from shopserv.jobs.findings import DECISION, GRADES, STOP, Standing, kind_of
from shopserv.jobs.models import Visit, WorkOrder
from shopserv.jobs.services.bay_close import back_into_the_bay
from shopserv.jobs.services.bay_press import first_time, mark
from shopserv.jobs.services.bay_rules import COOLANT, found_on, own_job
from shopserv.jobs.services.findings import note_finding
from shopserv.jobs.services.work import hold_now
from shopserv.shop import trail
from shopserv.shop.actors import Actor

IN_THE_BAY = ("in the bay", "on hold", "level set")


@dataclass(frozen=True, slots=True)
class Found:
    """What became of a finding.

    is_held   the work order is on hold because of it
    told      what follows, in words
    """

    standing: Standing
    order: WorkOrder
    is_held: bool
    told: str


def find_coolant(order: WorkOrder, *, actor: Actor, signs: Sequence[str] = (), words: str = "", once_key: str) -> Found:
    """Stop everything because of coolant in the fluid; no fluid step can follow, for anybody.

    signs    of findings.SIGNS_OF_COOLANT; one is a suspicion, two make it certain
    raises   as find
    """
    return find(order, actor=actor, code=COOLANT, signs=signs, words=words, once_key=once_key)


@transaction.atomic
def find(
    order: WorkOrder,
    *,
    actor: Actor,
    code: str,
    state: str = "suspected",
    signs: Sequence[str] = (),
    words: str = "",
    once_key: str,
) -> Found:
    """Note a finding at the vehicle; what stops or asks for a decision puts the work order on hold at once.

    The visit shows on the desk as the counter's move. The same once-key again changes nothing.

    raises   Refusal of services.findings.note_finding; StateRefusal, NotYours, Http404
    """
    own_job(order, actor)
    kind = kind_of(code)
    if not first_time(order, once_key, *IN_THE_BAY):
        order.refresh_from_db()
        return _found(order, code)
    up = order.steps.filter(state="now").first()
    if not mark(order, up, f"finding {code}", actor, once_key, words=words or kind.bay_words):
        order.refresh_from_db()
        return _found(order, code)
    note_finding(
        order.visit, actor=actor, code=code, state=state, signs=signs, words=words, work_order_number=order.number
    )
    found = _standing(order, code)
    if found.grade in (DECISION, STOP):
        _hold(order, actor, found)
    return _found(order, code)


def _hold(order: WorkOrder, actor: Actor, found: Standing) -> None:
    reason = f"{found.kind.words}, {found.state}: {found.kind.effect}"
    if order.state == "on hold":
        # A graver reason takes the place of the one before, which stays on the trail.
        if GRADES.index(found.grade) < GRADES.index(order.hold_grade or GRADES[0]):
            return
        before = {"reason": order.hold_reason, "grade": order.hold_grade}
        WorkOrder.objects.filter(pk=order.pk).update(hold_reason=reason[:300], hold_grade=found.grade)
    else:
        before = {"state": order.state}
        if order.state == "level set":
            back_into_the_bay(order, actor)
        hold_now(order, actor, reason, found.grade)
    Visit.objects.filter(pk=order.visit_id).update(whose_move="ours")
    order.refresh_from_db()
    trail.write(actor, "put on hold", order, before=before, reason=reason, grade=found.grade, finding=found.code)


def _standing(order: WorkOrder, code: str) -> Standing:
    found = next((one for one in found_on(order) if one.code == code), None)
    if found is None:
        raise StateRefusal("This press was taken for something else.", code="idempotency.mismatch")
    return found


def _found(order: WorkOrder, code: str) -> Found:
    found = _standing(order, code)
    held = order.state == "on hold"
    told = f"{found.kind.words}: {found.kind.effect}."
    if held:
        told = f"{told} {order} is on hold; the writer sees it on the desk."
    if held and found.grade == STOP:
        told = f"{told} Nothing goes in, nothing is drained."
    return Found(found, order, held, told)
