"""The second look: another person's own figures first, then both, then the answer under that person's name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import bay_looks
from shopserv.jobs.models import SecondLook, WorkOrder
from shopserv.jobs.selectors import looks
from shopserv.jobs.services.bay_close import ask
from shopserv.jobs.services.bay_press import LEAST_WORDS
from shopserv.jobs.services.bay_rules import keep_still, moved, own_job, own_shop, ready_visit
from shopserv.jobs.states import LOOK_MOVES, WORK_MOVES
from shopserv.logbook.selectors import unit_of_instrument
from shopserv.shop import trail
from shopserv.shop.actors import Actor, staff_actor
from shopserv.shop.models import Staff
from shopserv.shop.pins import check_pin

Own = Mapping[str, int | None]


def give_figures(order: WorkOrder, *, actor: Actor, by: Staff, pin: str, own: Own, is_own: bool = False) -> WorkOrder:
    """Keep what the second person has read with own eyes, before the first figures are shown.

    From level set on what runs is taken and kept; all else, and the answer, wait for the close-out.

    own      what -> base units; for what is seen 1 or 0; none: could not be seen
    raises   Refusal look.same_person, look.others, look.item, pin.*; StateRefusal, NotYours, Http404
    """
    looker = _looker(order, actor, by, pin, is_own)
    return _give(order, looker, own)


@transaction.atomic
def _give(order: WorkOrder, looker: Actor, own: Own) -> WorkOrder:
    keep_still(order, "level set")
    look = _waiting(order)
    if look is None and order.closed_out_at is None:
        given = _checked(looks.running_items(order), own)
        kept = {"by": looker.staff.pk if looker.staff else None, "name": looker.name, "at": clock.now().isoformat()}
        close_out = {**order.close_out, "seen_while_running": {**kept, "own": given}}
        WorkOrder.objects.filter(pk=order.pk).update(close_out=close_out)
    elif look is not None:
        given = _take_in(look, looker, own)
    else:
        raise StateRefusal(f"No second look is asked for on {order}.", code="look.none")
    order.refresh_from_db()
    trail.write(looker, "second look: own figures", order, own=given, while_it_ran=look is None)
    return order


def take_second_look(
    order: WorkOrder,
    *,
    actor: Actor,
    by: Staff,
    pin: str,
    answer: str,
    words: str = "",
    is_own: bool = False,
    own: Own | None = None,
) -> SecondLook:
    """Answer a second look under the name of `by`: with a yes the work is through, with a no it goes back to the bay.

    answer   yes, no, could not see (counts as no)
    own      figures that were not given before
    is_own   the technician's own look, so marked; only where nobody else is entitled and active here
    raises   Refusal look.same_person, look.others, look.figures, look.missing, look.far, look.words, look.answer,
             pin.*; StateRefusal look.none, where somebody was faster; NotYours, Http404
    """
    looker = _looker(order, actor, by, pin, is_own)
    if answer not in bay_looks.ANSWERS:
        raise Refusal("Yes, no, or could not see?", code="look.answer", field="answer")
    return _take(order, looker, by, answer, words.strip(), is_own, own)


@transaction.atomic
def _take(
    order: WorkOrder, looker: Actor, by: Staff, answer: str, words: str, is_own: bool, own: Own | None
) -> SecondLook:
    try:
        keep_still(order, "level set")
    except StateRefusal:
        if order.state == "second look done":
            raise _none_waits(order) from None
        raise
    look = _waiting(order)
    if look is None:
        raise _none_waits(order)
    if own is not None:
        _take_in(look, looker, own)
    if look.by_id != by.pk:
        raise Refusal(
            "Give your own figures first; the first ones are shown when yours are in.",
            code="look.figures",
            field="own",
        )
    if answer == "yes":
        _refuse_doubt(order, look.items)
    elif len(words) < LEAST_WORDS:
        raise Refusal("What is not as it should be? Pick it, or a few words.", code="look.words", field="words")
    said = words if answer != "could not see" else f"could not see: {words}"
    move(
        look,
        "say yes" if answer == "yes" else "say no",
        LOOK_MOVES,
        looker,
        items=[{**row, "answer": answer} for row in look.items],
        while_it_ran=any(row["runs"] and row["own"] is not None for row in look.items),
        is_own=is_own,
        words=said[:300],
        answered_at=clock.now(),
    )
    is_ready = False
    if answer == "yes":
        moved(order, "be seen", WORK_MOVES, looker)
        is_ready = ready_visit(order.visit, looker)
    trail.write(
        looker,
        "second look",
        order,
        attempt=look.attempt,
        answer=answer,
        words=words,
        own_second_look_so_marked=is_own,
        while_it_ran=look.while_it_ran,
        visit_ready=is_ready,
    )
    return look


def ask_again(order: WorkOrder, *, actor: Actor, words: str) -> SecondLook:
    """Ask for another second look after a no, when what it named is mended and no fluid has moved.

    raises   Refusal look.words; StateRefusal look.none, NotYours, Http404
    """
    own_job(order, actor)
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal("What was mended? A few words.", code="look.words", field="words")
    return _ask_again(order, actor, words.strip())


@transaction.atomic
def _ask_again(order: WorkOrder, actor: Actor, words: str) -> SecondLook:
    keep_still(order, "level set")
    last = order.second_looks.order_by("-attempt").first()
    if order.closed_out_at is None or last is None or last.state != "no":
        raise StateRefusal(f"{order}: another look is asked for after a no, when it is closed out.", code="look.none")
    look = ask(order, {})
    trail.write(actor, "second look asked for again", order, attempt=look.attempt, words=words)
    return look


def _looker(order: WorkOrder, actor: Actor, by: Staff, pin: str, is_own: bool) -> Actor:
    """The actor of whoever looks; the tablet may be signed in as somebody else.

    The same person never looks, but marked as own where nobody else could.
    """
    if not (actor.may("second look") or actor.may("bay line")):
        raise NotYours(f"second look: not for {actor.role_words or actor.name}")
    own_shop(order, actor)
    check_pin(by, pin, actor=actor)
    looker = staff_actor(by, actor.house, from_where=actor.from_where, request_id=actor.request_id)
    is_technician = by.pk == order.technician_id
    has_pressed = is_technician or order.events.filter(person=by).exists()
    if has_pressed and not (is_own and is_technician):
        trail.refused(actor, "second look refused", order, by=by.name, why="same person")
        raise Refusal(
            f"{by.first_name} has worked on {order}: another person looks.", code="look.same_person", field="by"
        )
    if is_own:
        others = looks.entitled(order)
        if others or not is_technician:
            trail.refused(actor, "second look refused", order, by=by.name, why="own look")
            names = ", ".join(one.first_name for one in others)
            raise Refusal(
                f"An own second look stands only where nobody else may: {names or by.first_name} can look.",
                code="look.others",
                field="is_own",
            )
        looker.must("bay work")
    else:
        looker.must("second look")
    return looker


def _waiting(order: WorkOrder) -> SecondLook | None:
    if order.closed_out_at is None:
        return None
    return order.second_looks.filter(state="asked for").order_by("-attempt").first()


def _none_waits(order: WorkOrder) -> StateRefusal:
    last = order.second_looks.select_related("by").order_by("-attempt").first()
    said = f" {last.by.name} said {last.state}." if last is not None and last.by is not None else ""
    return StateRefusal(f"No second look is asked for on {order}.{said}", code="look.none")


def _take_in(look: SecondLook, looker: Actor, own: Own) -> dict[str, int | None]:
    """Write own figures into a look that waits; what the same person saw while it ran comes with them."""
    given = _checked(look.items, own)
    running = look.seen_while_running
    mine = running.get("own", {}) if looker.staff and running.get("by") == looker.staff.pk else {}
    begun = (
        look.items if looker.staff and look.by_id == looker.staff.pk else [{**row, "own": None} for row in look.items]
    )
    rows = [
        {**row, "own": {**{row["what"]: row["own"]}, **mine, **given}.get(row["what"]), "by": looker.name}
        for row in begun
    ]
    SecondLook.objects.filter(pk=look.pk, state="asked for").update(items=rows, by=looker.staff)
    look.refresh_from_db()
    return given


def _checked(items: list[dict[str, Any]], own: Own) -> dict[str, int | None]:
    kinds = {row["what"]: row["kind"] for row in items}
    for what, value in own.items():
        if what not in kinds:
            raise Refusal(f"“{what}” is not looked at here.", code="look.item", field=what)
        if kinds[what] == "seen" and value not in (None, 0, 1):
            raise Refusal("Seen, not as it should be, or could not see?", code="look.item", field=what)
    return dict(own)


def _refuse_doubt(order: WorkOrder, items: list[dict[str, Any]]) -> None:
    """No yes over something not looked at, not as it should be, or far from the first figure."""
    missing = next((row for row in items if bay_looks.is_open(row)), None)
    if missing is not None:
        raise Refusal(
            f"Still missing: {missing['words']}. What could not be seen counts as no.",
            code="look.missing",
            field=missing["what"],
        )
    far = next((row for row in items if bay_looks.is_far(row)), None)
    if far is None:
        return
    units, odometer = order.shop.units_first, unit_of_instrument(order.visit.vehicle)
    own, first = (bay_looks.shown(far, far[name], units, odometer) for name in ("own", "first"))
    both = f"{own} against {first}" if far["kind"] == "figure" else own
    raise Refusal(
        f"{far['words']}: {both}. Read it once more; if it stays so, the answer is no.",
        code="look.far",
        field=far["what"],
    )
