"""Closed out: every item confirmed, the fluid balanced, the second look opened. And taken back into the bay."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopserv.calc import errors, measures
from shopserv.calc.balance import Balance
from shopserv.catalog import selectors as catalog
from shopserv.common import clock
from shopserv.common.errors import Refusal, Stale, StateRefusal
from shopserv.jobs import bay_bench, bay_events, courses, measured_course
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_events import latest
from shopserv.jobs.models import BayEvent, BayStep, LevelRecord, MassBalance, SecondLook, WorkOrder
from shopserv.jobs.selectors import looks
from shopserv.jobs.selectors.bay import level_limits
from shopserv.jobs.services import bay_room, work_steps
from shopserv.jobs.services.bay_press import LEAST_WORDS, Press, first_time, mark, note, refuse_below, seen
from shopserv.jobs.services.bay_rules import (
    asks_for_look,
    come_up,
    moved,
    own_job,
    ready_visit,
    refuse_coolant,
)
from shopserv.jobs.states import WORK_MOVES
from shopserv.logbook.services import note_reading
from shopserv.reminders.services import forecasts
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.pins import check_pin

# How far a leftover may be from what was bought less what was poured; common practice, no source.
LEAST_APART_ML = 150
APART_SHARE = Fraction(1, 50)


@dataclass(frozen=True, slots=True)
class ClosedOut:
    """What became of a close-out.

    look       the second look that is asked for; none: no rule asks for one
    is_ready   the visit is ready
    """

    order: WorkOrder
    balance: MassBalance
    look: SecondLook | None
    is_ready: bool


@dataclass(frozen=True, slots=True)
class _Said:
    """All that a close-out is told."""

    items: Mapping[str, bool | str | None]
    presses: Sequence[Press]
    balance_words: str
    words: str
    scale: str
    why_lower: str
    is_jump_confirmed: bool
    instruments: Mapping[str, Any]


def close_out(
    order: WorkOrder,
    *,
    actor: Actor,
    pin: str,
    edition: int,
    items: Mapping[str, bool | str | None],
    presses: Sequence[Press] = (),
    balance_words: str = "",
    words: str = "",
    scale: str = "",
    why_lower: str = "",
    is_jump_confirmed: bool = False,
    instruments: Mapping[str, Any] | None = None,
    once_key: str,
) -> ClosedOut:
    """Close a work order out: store balance and odometer, and ask for the second look.

    items           code of the close-out item -> True, or in words why not, where its step was skipped
    presses         leftovers weighed or read: noted, taken off only a package that was counted in as a whole
    balance_words   what may have happened, where in and out do not agree; then a second look is asked for in any case
    words           anything else that was not done
    scale           serial; empty: the first scale of the shop
    why_lower, is_jump_confirmed   answers about the odometer, as logbook.services.note_reading asks
    instruments     of a replaced odometer: is_replaced, old_figure, old_is_estimate, first_figure, replaced_on of it
    raises          Refusal close_out.steps, close_out.item, close_out.level, close_out.odometer, close_out.balance,
                    close_out.leftover, odometer.*, bay.coolant, pin.*; Stale; StateRefusal, NotYours, Http404
    """
    staff = own_job(order, actor)
    check_pin(staff, pin, actor=actor)
    if seen(order, once_key) is not None:
        return _again(order)
    refuse_coolant(order, actor, "close out")
    said = _Said(
        items, presses, balance_words.strip(), words.strip(), scale, why_lower, is_jump_confirmed, instruments or {}
    )
    return _close_out(order, actor, edition, said, once_key)


@transaction.atomic
def _close_out(order: WorkOrder, actor: Actor, edition: int, given: _Said, once_key: str) -> ClosedOut:
    if not first_time(order, once_key, "level set"):
        return _again(order)
    if order.closed_out_at is not None:
        raise StateRefusal(f"{order} was closed out by {order.closed_out_by}.", code="bay.closed_out")
    if order.edition != edition + 1:  # one up by keeping it still
        raise Stale(f"{order} was changed in between. Look at it again.", theirs={"state": order.state})
    steps = list(order.steps.order_by("order"))
    level = _refuse_open(order, steps)
    said = _items(order, steps, given.items)
    for one in given.presses:
        note(order, None, one, actor)
    events = list(order.events.select_related("step").order_by("pk"))
    tools = bay_bench.tools_of(order.shop, clock.today(order.shop.time_zone))
    scale = bay_bench.scale_of(events, tools, given.scale)
    balance = _balanced(steps, events, level, scale)
    if not balance.is_inside and len(given.balance_words) < LEAST_WORDS:
        raise Refusal(
            f"In and out do not agree: {balance.verdict}. Read again what is in doubt, or say what happened; "
            "the second person then looks at it.",
            code="close_out.balance",
            field="balance_words",
        )
    leftover = _leftover(order, events, given)
    figure = _odometer(order, steps, events, actor, given)
    mark(order, None, "closed out", actor, once_key, words=given.words)
    serial = scale.serial if bay_bench.weighed(events) else ""
    kept = _keep_balance(order, balance, level, serial, bay_events.totals(events)[0])
    running = order.close_out.get("seen_while_running", {})
    close_out = {
        **{name: value for name, value in order.close_out.items() if name != "seen_while_running"},
        "items": said,
        "not_done": [[step.order, step.text, step.skip_reason] for step in steps if step.state == "skipped"],
        "words": given.words,
        "leftover": leftover,
        "fluid": _done(order, steps, events),
        "balance_words": given.balance_words,
        "look_reason": "" if balance.is_inside else f"in and out do not agree: {given.balance_words}"[:300],
    }
    WorkOrder.objects.filter(pk=order.pk).update(
        closed_out_at=kept.at, closed_out_by=actor.name, close_out=close_out, odometer_out=figure
    )
    order.refresh_from_db()
    look = ask(order, running) if asks_for_look(order) else None
    is_ready = look is None and ready_visit(order.visit, actor)
    forecasts.renew(order.visit.vehicle, actor=actor)
    trail.write(
        actor,
        "closed out",
        order,
        items=said,
        difference_ml_tenths=kept.difference_ml_tenths,
        band_ml_tenths=kept.band_ml_tenths,
        is_inside=kept.is_inside,
        odometer_out=figure,
        second_look="asked for" if look else "none asked",
        visit_ready=is_ready,
    )
    return ClosedOut(order, kept, look, is_ready)


def _again(order: WorkOrder) -> ClosedOut:
    order.refresh_from_db()
    balance = MassBalance.objects.filter(work_order=order).first()
    if balance is None:
        raise StateRefusal(f"{order} was taken back into the bay since.", code="state.changed")
    look = order.second_looks.order_by("-attempt").first()
    return ClosedOut(order, balance, look, order.visit.state == "ready")


def _refuse_open(order: WorkOrder, steps: Sequence[BayStep]) -> LevelRecord:
    open_ = [step for step in steps if step.state in ("ahead", "now")]
    if open_:
        raise Refusal(
            f"{len(open_)} steps are open, the first is step {open_[0].order}: {open_[0].text}",
            code="close_out.steps",
        )
    level = order.level_records.filter(passes=True).order_by("-attempt").first()
    if level is None:
        raise Refusal("There is no level record that passes.", code="close_out.level")
    return level


def _items(order: WorkOrder, steps: Sequence[BayStep], items: Mapping[str, bool | str | None]) -> dict[str, Any]:
    """Each item as confirmed, or in words why not where its step was skipped for a reason."""
    newest = {step.code: step for step in steps}  # what was skipped before and done since is done
    skipped = {code: step.skip_reason for code, step in newest.items() if step.state == "skipped"}
    said = {}
    for code, words in order.rules.get("close_out_items", ()):
        given = items.get(code)
        if given is True:
            said[code] = {"done": True, "words": ""}
            continue
        why = (given.strip() if isinstance(given, str) else "") or skipped.get(code, "")
        if code not in skipped or len(why) < LEAST_WORDS:
            raise Refusal(
                f"Not confirmed: {words}. Do it and confirm it; nothing leaves the bay without it.",
                code="close_out.item",
                field=code,
            )
        said[code] = {"done": False, "words": why[:200]}
    return said


def _balanced(
    steps: Sequence[BayStep], events: Sequence[BayEvent], level: LevelRecord, scale: bay_bench.Tool
) -> Balance:
    try:
        found = bay_bench.running(events, level_limits(steps), scale, at_mdegc=level.temp_mdegc)
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="close_out.balance", field="balance_words") from cause
    if found is None:
        raise Refusal("Nothing was weighed or read: what came out, and what went in?", code="close_out.balance",
                      field="balance_words")  # fmt: skip
    return found


def _leftover(order: WorkOrder, events: Sequence[BayEvent], given: _Said) -> dict[str, int]:
    """What is left over beside what was bought and poured, in mL; empty where either is not known.

    raises  Refusal close_out.leftover where they do not agree and nobody says why
    """
    left, bought = bay_events.left_over_ml(events), catalog.volume_of_packages(_packages(order))
    if left is None or bought is None:
        return {}
    _refuse_more_than_opened(order, left, bought, given)
    poured = bay_events.totals(events)[0]
    apart = left - (bought - poured)
    if abs(apart) > max(Fraction(LEAST_APART_ML), bought * APART_SHARE) and len(given.balance_words) < LEAST_WORDS:
        units = order.shop.units_first
        said = (readings.volume(ml, units) for ml in (left, bought, poured, bought - poured, abs(apart)))
        read, all_, went, rest, off = said
        raise Refusal(
            f"{read} left over was read; {all_} bought less {went} poured leaves {rest}: {off} apart. "
            "Read again what is in doubt, or say what happened.",
            code="close_out.leftover",
            field="left_ml",
        )
    return {"left_ml": left, "bought_ml": bought, "poured_ml": poured, "apart_ml": apart}


def _done(order: WorkOrder, steps: Sequence[BayStep], events: Sequence[BayEvent]) -> dict[str, Any]:
    """The course as it was measured, with the share that it leaves; empty for a diagnosis or a sheet that was not kept.

    The leftover of this close-out is among the events.
    """
    option = order.facts.get("option"), order.facts.get("version")
    agreed = order.authorizations.select_related("option__version").order_by("-pk")
    own = next((one.option for one in agreed if (one.option.letter, one.option.version.version) == option), None)
    kept = own.version.inputs.get("sheet") if own else None
    course = order.facts.get("course")
    return measured_course.done(course, courses.facts_from(kept), steps, events) if course and kept else {}


def _refuse_more_than_opened(order: WorkOrder, left: int, bought: int, given: _Said) -> None:
    """Refuse more left over than was issued at all; ask what is more than the largest package holds.

    raises  Refusal close_out.leftover
    """
    units = order.shop.units_first
    if left > bought:
        read, issued = (readings.volume(ml, units) for ml in (left, bought))
        raise Refusal(
            f"{read} left over was read, and {issued} was issued in all. Read again what is left, not what went in.",
            code="close_out.leftover",
            field="left_ml",
        )
    largest = catalog.packages_called(_packages(order))[0]
    if left > largest.volume_ml and len(given.balance_words) < LEAST_WORDS:
        read, holds = (readings.volume(ml, units) for ml in (left, largest.volume_ml))
        raise Refusal(
            f"{read} left over was read; the largest package, a {largest.word}, holds {holds}. What was never opened "
            "goes back to the shelf and is not left over. Read it again, or say what happened.",
            code="close_out.leftover",
            field="left_ml",
        )


def _packages(order: WorkOrder) -> Counter[str]:
    """Every package that was agreed, with those of each addition."""
    found: Counter[str] = Counter()
    for facts in (order.facts, *order.facts.get("added", ())):
        found.update(facts.get("packages") or {})
    return found


def _odometer(
    order: WorkOrder, steps: Sequence[BayStep], events: Sequence[BayEvent], actor: Actor, given: _Said
) -> int:
    """The odometer on the way out, noted in the logbook as well."""
    step = next((one for one in reversed(steps) if one.code == "odometer_out"), None)
    read = latest(events, "odometer", step.pk) if step else None
    if read is None or read.value is None:
        raise Refusal("The odometer was not read on the way out.", code="close_out.odometer", field="odometer")
    assert step is not None
    refuse_below(step, read, events)
    noted = note_reading(
        order.visit.vehicle,
        actor=actor,
        figure=read.value,
        unit=read.unit,
        source="service",
        as_typed=read.as_typed,
        why_lower=given.why_lower,
        is_jump_confirmed=given.is_jump_confirmed,
        **given.instruments,
    )
    return noted.figure


def _keep_balance(order: WorkOrder, found: Balance, level: LevelRecord, scale: str, poured_ml: int) -> MassBalance:
    return MassBalance.objects.create(
        shop=order.shop,
        work_order=order,
        scale=scale[:40],
        thermometer=level.temp_instrument,
        out_ml=measures.whole(Fraction(found.out_ml)),
        in_ml=measures.whole(Fraction(found.in_ml)),
        at_mdegc=level.temp_mdegc,
        difference_ml_tenths=measures.whole(Fraction(found.difference_ml) * 10),
        band_ml_tenths=measures.whole(Fraction(found.band_ml) * 10),
        is_inside=found.is_inside,
        verdict=found.verdict[:200],
        working={**found.working, "way": found.way, "cause": found.cause, "poured_ml": poured_ml},
        at=clock.now(),
    )


def ask(order: WorkOrder, running: Mapping[str, Any]) -> SecondLook:
    """Ask for a second look inside a deed; one that was asked for and not answered begins anew.

    running   what was seen while it ran: {by, name, own}
    """
    items = looks.all_items(order)
    waiting = order.second_looks.filter(state="asked for").order_by("-attempt").first()
    if waiting is not None:
        SecondLook.objects.filter(pk=waiting.pk, state="asked for").update(
            items=items, by=None, seen_while_running=dict(running), asked_at=clock.now()
        )
        waiting.refresh_from_db()
        return waiting
    last = order.second_looks.aggregate(last=Max("attempt"))["last"] or 0
    return SecondLook.objects.create(
        shop=order.shop,
        work_order=order,
        attempt=last + 1,
        items=items,
        seen_while_running=dict(running),
        asked_at=clock.now(),
    )


def recheck(order: WorkOrder, *, actor: Actor, words: str, once_key: str) -> WorkOrder:
    """Take a work order whose level is set back into the bay: the steps from the locks on are done once more.

    The close-out and its balance are set aside and stay to be read.

    raises   Refusal bay.words, bay.rolled_out; StateRefusal bay.taken, NotYours, Http404
    """
    own_job(order, actor)
    if seen(order, once_key) is not None:
        order.refresh_from_db()
        return order
    refuse_coolant(order, actor, "take back into the bay")
    return _recheck(order, actor, words.strip(), once_key)


@transaction.atomic
def _recheck(order: WorkOrder, actor: Actor, words: str, once_key: str) -> WorkOrder:
    if not first_time(order, once_key, "level set"):
        order.refresh_from_db()
        return order
    if order.visit.state == "ready":
        raise StateRefusal(
            f"{order.visit} is ready for the customer; nothing goes back into the bay.", code="bay.ready"
        )
    if len(words) < LEAST_WORDS:
        raise Refusal("Why does it go back into the bay? A few words.", code="bay.words", field="words")
    if order.bay is not None:
        bay_room.take(order, order.bay, actor)
    mark(order, None, "recheck", actor, once_key, words=words)
    before = {"level_set_at": order.level_set_at, "closed_out_at": order.closed_out_at}
    version = back_into_the_bay(order, actor)
    come_up(order)
    trail.write(actor, "back into the bay", order, before=before, words=words, procedure_version=version)
    return order


def back_into_the_bay(order: WorkOrder, actor: Actor) -> int:
    """Move from level set into the bay inside another deed: close-out and balance are set aside, the level is ahead.

    returns   version of the procedure sheet that was filed for it
    """
    close_out = dict(order.close_out)
    earlier = [*close_out.pop("earlier", [])]
    if order.closed_out_at is not None:
        at = order.closed_out_at.isoformat()
        earlier.append({**close_out, "closed_out_at": at, "by": order.closed_out_by, "odometer": order.odometer_out})
    MassBalance.objects.filter(work_order=order).update(work_order=None, set_aside_of=order)
    moved(
        order,
        "recheck",
        WORK_MOVES,
        actor,
        level_set_at=None,
        closed_out_at=None,
        closed_out_by="",
        odometer_out=None,
        close_out={"earlier": earlier} if earlier else {},
    )
    order._state.fields_cache.pop("balance", None)
    work_steps.level_anew(order)
    return work_steps.file_procedure(order)
