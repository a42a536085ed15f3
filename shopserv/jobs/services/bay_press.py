"""Presses and steps of the bay sheet: one event for each once-key, whatever is resent, in whatever order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from typing import Any
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction

from shopserv.calc import bench, errors, measures
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import bay_bench
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_cooling import cooling_of
from shopserv.jobs.bay_course import stop_measured
from shopserv.jobs.bay_drain import drain_measured
from shopserv.jobs.bay_events import REDO, counted, latest, level_now
from shopserv.jobs.bay_jump import COMPARED, WHY, jumped
from shopserv.jobs.bay_stages import Bench
from shopserv.jobs.findings import DECISION, WATCH
from shopserv.jobs.models import BayEvent, BayStep, WorkOrder
from shopserv.jobs.services.bay_pour import pour_what_came
from shopserv.jobs.services.bay_rules import come_up, keep_still, own_job, person, refuse_coolant
from shopserv.jobs.services.work import hold_now
from shopserv.jobs.states import STEP_MOVES
from shopserv.shop import trail
from shopserv.shop.actors import Actor

IN_HAND = ("in the bay", "on hold", "level set")
LEAST_WORDS = 3
GEAR_ON = "gear on"
GEAR_WORDS = "Face shield, long gloves and sleeves are on, and the vehicle maker's procedure opens it this hot."
METERS = {"mi": measures.convert(1, "mi", "m"), "km": Fraction(1000)}


@dataclass(frozen=True, slots=True)
class Press:
    """One press on the tablet.

    what      of bay_readings.WHATS
    value     figure of `unit` (bay_readings.KEYS): 31 of "0.1 qt" are 3.1 qt; none is refused
    tablet_at time on the tablet, which may be wrong by hours; order is by receipt
    """

    what: str
    value: int | None
    unit: str
    once_key: str
    words: str = ""
    instrument: str = ""
    tablet: str = ""
    tablet_at: datetime | None = None
    is_from_paper: bool = False


@dataclass(frozen=True, slots=True)
class Finished:
    """What became of a step.

    is_held   the readings stayed outside: the work order is on hold now, the step stands
    told      what the readings say, in words: flow, cool-down; or why it is on hold
    """

    step: BayStep
    is_held: bool = False
    told: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """What is answered to a question at a step; each goes on the trail.

    why_jump     of bay_jump.WHY: how two temperatures that cannot belong together both are right
    is_gear_on   gear is on and the vehicle maker's procedure read: a drain may be opened hot
    gear_mdegc   the figure at which that was asked, a hotter one is asked anew; none: the one that is read with it
    """

    why_jump: str = ""
    is_gear_on: bool = False
    gear_mdegc: int | None = None


NOTHING_SAID = Answers()


def press(step: BayStep, press: Press, *, actor: Actor, answers: Answers = NOTHING_SAID) -> BayEvent:
    """Keep one press; the same once-key again gives the same event.

    raises  Refusal bay.coolant (fluid that would go in after coolant was found), bay.what, bay.unit, bay.once_key,
            bay.never_read (a temperature that nothing in a bay has), bay.hot, bay.hot_drain (answered by gear);
            StateRefusal, NotYours, Http404
    """
    order = step.work_order
    own_job(order, actor)
    there = seen(order, press.once_key)
    if there is not None:
        return there
    # What came out is noted for its container even then; nothing goes in any more.
    if step.is_fluid and not press.what.startswith("out_"):
        refuse_coolant(order, actor, f"press {press.what} at step {step.order}")
    _refuse_never_read(step, press)
    return _press(step, press, actor, answers)


def _refuse_never_read(step: BayStep, press: Press) -> None:
    """Refuse at the figure itself what no calculation could take: a fluid of 900 °F."""
    row = next((row for row in step.needs if row["what"] == press.what), None)
    if row is None or press.value is None:
        return
    value = readings.to_base(press.what, press.value, press.unit)
    if press.what == "temp_mdegc" and value > readings.HOTTEST_MDEGC:
        _refuse_hot(step, value, ())
    wrong = readings.more_than_holds(row, value, step.shop.units_first)
    wrong = wrong or readings.never_read(row, value, step.shop.units_first)
    if wrong:
        raise Refusal(f"{wrong} Read it once more.", code="bay.never_read", field=press.what)


@transaction.atomic
def _press(step: BayStep, press: Press, actor: Actor, answers: Answers) -> BayEvent:
    order = step.work_order
    keep_still(order, *IN_HAND)
    if order.closed_out_at is not None:
        raise StateRefusal(f"{order} is closed out; its numbers stand.", code="bay.closed_out")
    event, is_new = note(order, step, press, actor)
    if is_new:
        more: dict[str, Any] = {}
        if event.what == "temp_mdegc" and event.value is not None:
            more = _keep_gear(order, step, actor, answers, press.once_key)
            _refuse_hot(step, event.value, list(order.events.filter(step=step)))
        reading = {event.what: event.value}
        trail.write(actor, "bay reading", order, step=step.order, reading=reading, typed=event.as_typed, **more)
    return event


def finish_step(
    step: BayStep,
    *,
    actor: Actor,
    presses: Sequence[Press] = (),
    once_key: str,
    is_confirmed: bool = False,
    answers: Answers = NOTHING_SAID,
) -> Finished:
    """Finish the step that is up, with the readings it needs, and bring up the next.

    A reading outside its limits is asked once, with both values (`is_confirmed` answers); confirmed, it puts the work
    order on hold.

    once_key   of the press on “done”; the same again changes nothing
    raises     Refusal bay.needs, bay.outside, bay.balance, bay.pickup, bay.flow (the last four may be confirmed),
               bay.jump, bay.hot_drain (these are answered), bay.hot,
               odometer.below, bay.coolant, bay.use_level, bay.engine_stop; StateRefusal, NotYours, Http404
    """
    order = step.work_order
    own_job(order, actor)
    if seen(order, once_key) is not None:
        return _again(step)
    if step.is_fluid:
        refuse_coolant(order, actor, f"finish step {step.order} {step.code}")
    if step.code == "level":
        raise StateRefusal("The level has its own page: set the level.", code="bay.use_level")
    return _finish(step, actor, presses, once_key, is_confirmed, answers)


@transaction.atomic
def _finish(
    step: BayStep, actor: Actor, presses: Sequence[Press], once_key: str, is_confirmed: bool, answers: Answers
) -> Finished:
    order = step.work_order
    if not first_time(order, once_key, "in the bay", "level set"):
        return _again(step)
    step.refresh_from_db()
    _must_be_up(step)
    for one in presses:
        note(order, step, one, actor)
    _keep_gear(order, step, actor, answers, once_key)
    events = list(order.events.select_related("step").order_by("pk"))
    ask, reason, grade, field = judge(step, events)
    if ask and not is_confirmed:
        raise Refusal(f"{reason} Is that right?", code=ask, field=field, confirmable=True)
    early = _too_early(step, events)
    if early and not is_confirmed:
        raise Refusal(f"{early} Does the engine run already?", code="bay.early_start", confirmable=True)
    more = {} if ask else answered(step, events, answers)
    if early:
        more["early"] = early
    if not mark(order, step, "outside" if ask else "done", actor, once_key, words=reason):
        return _again(step)
    if ask:
        _hold(order, actor, reason, grade)
        trail.write(actor, "put on hold", order, step=step.order, reason=reason, grade=grade)
        return Finished(step, is_held=True, told=reason)
    move(step, "finish", STEP_MOVES, actor, done_at=clock.now())
    _say_where_to_stop(step, events)
    pour_what_came(step, events)
    following = come_up(order)
    next_ = following.order if following else None
    trail.write(actor, "step done", order, step=step.order, code=step.code, next=next_, **more)
    return Finished(step, told=told_by(step, events))


def _hold(order: WorkOrder, actor: Actor, reason: str, grade: str) -> None:
    if order.state == "level set":
        raise StateRefusal(f"{reason} Take it back into the bay first: the level is set.", code="bay.recheck")
    hold_now(order, actor, reason, grade)


@transaction.atomic
def skip_step(step: BayStep, *, actor: Actor, words: str, once_key: str) -> BayStep:
    """Skip the step that is up, where it may be skipped, with the reason.

    raises  Refusal bay.may_not_skip, bay.words; StateRefusal, NotYours, Http404
    """
    order = step.work_order
    own_job(order, actor)
    if not first_time(order, once_key, "in the bay", "level set"):
        return _again(step).step
    step.refresh_from_db()
    _must_be_up(step)
    if not step.may_skip:
        raise Refusal(f"Step {step.order} may not be skipped.", code="bay.may_not_skip", field="words")
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal("Why is it skipped? A few words.", code="bay.words", field="words")
    if not mark(order, step, "skipped", actor, once_key, words=words):
        return _again(step).step
    move(step, "skip", STEP_MOVES, actor, skip_reason=words.strip()[:200], done_at=clock.now())
    come_up(order)
    trail.write(actor, "step skipped", order, step=step.order, code=step.code, words=words)
    return step


def redo_step(
    step: BayStep,
    *,
    actor: Actor,
    presses: Sequence[Press] = (),
    words: str,
    once_key: str,
    is_confirmed: bool = False,
    answers: Answers = NOTHING_SAID,
) -> Finished:
    """Do a step again that was done: its new readings count, the old ones stay to be read.

    raises  as finish_step, and Refusal bay.words; StateRefusal for a step that was not done
    """
    order = step.work_order
    own_job(order, actor)
    if seen(order, once_key) is not None:
        return _again(step)
    if step.is_fluid:
        refuse_coolant(order, actor, f"redo step {step.order} {step.code}")
    if step.code == "level":
        raise StateRefusal("The level has its own page: take it back into the bay, then set it.", code="bay.use_level")
    return _redo(step, actor, presses, words, once_key, is_confirmed, answers)


@transaction.atomic
def _redo(
    step: BayStep,
    actor: Actor,
    presses: Sequence[Press],
    words: str,
    once_key: str,
    is_confirmed: bool,
    answers: Answers,
) -> Finished:
    order = step.work_order
    if not first_time(order, once_key, "in the bay", "level set"):
        return _again(step)
    step.refresh_from_db()
    if order.closed_out_at is not None:
        raise StateRefusal(f"{order} is closed out; its numbers stand.", code="bay.closed_out")
    if len(words.strip()) < LEAST_WORDS:
        raise Refusal("Why is it done again? A few words.", code="bay.words", field="words")
    if step.state not in ("done", "redone"):
        raise StateRefusal(f"Step {step.order} is {step.state}; only one that was done is done again.", code="bay.step")
    if not mark(order, step, REDO, actor, once_key, words=words):
        return _again(step)
    for one in presses:
        note(order, step, one, actor)
    _keep_gear(order, step, actor, answers, once_key)
    events = list(order.events.select_related("step").order_by("pk"))
    ask, reason, grade, field = judge(step, events)
    if ask and not is_confirmed:
        raise Refusal(f"{reason} Is that right?", code=ask, field=field, confirmable=True)
    more = {} if ask else answered(step, events, answers)
    if ask:
        _hold(order, actor, reason, grade)
    if step.state == "done":  # a second redoing is a further event, no further move
        move(step, "redo", STEP_MOVES, actor, done_at=clock.now())
    if not ask:
        _say_where_to_stop(step, events)
        pour_what_came(step, events)
    trail.write(actor, "step redone", order, step=step.order, code=step.code, words=words, reason=reason, **more)
    return Finished(step, is_held=bool(ask), told=reason or told_by(step, events))


def judge(step: BayStep, events: Sequence[BayEvent]) -> tuple[str, str, str, str]:
    """(code to ask, what is wrong with both values, grade of the hold, which reading); empty: nothing is.

    raises  Refusal bay.needs, bay.hot, bay.engine_stop, odometer.below
    """
    for row in step.needs:
        event = latest(events, row["what"], step.pk)
        if event is None or event.value is None:
            raise Refusal(f"Still missing: {row['words']}.", code="bay.needs", field=row["what"])
        if row["what"] == "engine_stop" and event.value not in (1, 2):
            raise Refusal("Who or what stops the engine? A remote switch, or a second person.", code="bay.engine_stop",
                          field="engine_stop")  # fmt: skip
        if row["what"] == "odometer" and step.code != "odometer_in":  # there the intake may be what is wrong: asked
            refuse_below(step, event, events)
        if row["what"] == "temp_mdegc":
            _refuse_hot(step, event.value, events)
        units = step.shop.units_first
        if never := readings.more_than_holds(row, event.value, units):
            raise Refusal(f"{never} Read it once more.", code="bay.never_read", field=row["what"])
        wrong = readings.outside(row, event.value, "") or readings.never_read(row, event.value, units)
        wrong += readings.more_than_sump(row, event.value, units) if wrong else ""
        if wrong and not (readings.is_beyond_stop(row, event.value) and _was_held(step, events, wrong)):
            return "bay.outside", wrong, WATCH, row["what"]
    if step.code == "flow_proof":
        proof = flow_of(step, events)
        if proof.flows is False:
            return "bay.flow", f"{_flow_words(proof, step)}.", DECISION, "flow_g"
    return _running(step, events)


def _too_early(step: BayStep, events: Sequence[BayEvent]) -> str:
    """Why the engine should not run yet: the fluid is still above its window; empty: it may."""
    if step.code != "start_engine":
        return ""
    shop = step.shop
    tools = bay_bench.tools_of(shop, clock.today(shop.time_zone))
    cooling = cooling_of(list(step.work_order.steps.order_by("order")), events, tools, shop.units_first)
    if cooling is None or cooling.is_engine_off or not cooling.is_above_window(clock.now()):
        return ""
    read, most = (
        readings.temperature(one, shop.units_first) for one in (cooling.readings[-1][1], cooling.window_mdegc[1])
    )
    when = ""
    if cooling.start_engine_at:
        local = cooling.start_engine_at.astimezone(ZoneInfo(shop.time_zone)).replace(tzinfo=None)
        when = f" The clock says about {formats.clock_time(local, shop.units_first)}."
    return f"The fluid read {read} and must cool below {most} before the engine starts; running, it warms.{when}"


def _was_held(step: BayStep, events: Sequence[BayEvent], wrong: str) -> bool:
    """Whether the work was on hold for just this and went on: what came out stays out, and air was looked for."""
    return any(one.what == "outside" and one.step_id == step.pk and one.words == wrong for one in counted(events))


def _refuse_hot(step: BayStep, mdegc: int, events: Sequence[BayEvent]) -> None:
    """Refuse to open hot what burns: a line nobody confirms away, a drain who is protected and reads the procedure.

    raises  Refusal bay.hot, bay.hot_drain
    """
    most = step.limits.get("hot_mdegc")
    if most is None or mdegc <= most:
        return
    read, limit = (readings.temperature(one, step.shop.units_first) for one in (mdegc, most))
    if step.code == "lines_open":
        raise Refusal(
            f"The fluid reads {read}: a line is never broken hot, it burns skin within seconds. "
            f"Engine off, let it cool to {limit} or below, read it once more, then open the line.",
            code="bay.hot",
            field="temp_mdegc",
        )
    if mdegc > readings.HOTTEST_MDEGC:
        hottest = readings.temperature(readings.HOTTEST_MDEGC, step.shop.units_first)
        raise Refusal(
            f"The fluid reads {read}: above {hottest} nothing is drained, gear or no gear. "
            f"Engine off, let it cool to {limit} or below and read it once more.",
            code="bay.hot",
            field="temp_mdegc",
        )
    if mdegc <= _gear_to(step, events):
        return
    what = "the pan comes off" if step.code == "drain_pan" else "the drain is opened"
    raise Refusal(
        f"Stop before {what}: the fluid reads {read} and burns skin within seconds. "
        f"Let it cool to {limit} or below and read it once more.",
        code="bay.hot_drain",
        field="temp_mdegc",
        confirmable=True,
        tick_words=GEAR_WORDS,
    )


def _gear_to(step: BayStep, events: Sequence[BayEvent]) -> float:
    """Up to which temperature gear was said to be on at this step, in thousandths of a °C; a hotter one is asked."""
    said = [event.value for event in counted(events) if event.what == GEAR_ON and event.step_id == step.pk]
    return max((value for value in said if value is not None), default=-math.inf)


def _keep_gear(order: WorkOrder, step: BayStep, actor: Actor, answers: Answers, once_key: str) -> dict[str, Any]:
    """Keep that somebody is protected, where the step may be opened hot; what the trail says of it."""
    if not answers.is_gear_on or "hot_mdegc" not in step.limits or step.code == "lines_open":
        return {}
    read = latest(order.events.filter(step=step), "temp_mdegc")
    if read is None or read.value is None:
        return {}
    asked = read.value if answers.gear_mdegc is None else min(read.value, answers.gear_mdegc)
    figure = {"value": asked, "unit": read.unit, "as_typed": read.as_typed}
    _keep(order, step, actor, f"{once_key[:70]}-gear", what=GEAR_ON, words=GEAR_WORDS, **figure)
    return {"hot": GEAR_WORDS}


def answered(
    step: BayStep, events: Sequence[BayEvent], answers: Answers, now: bay_bench.Tool | None = None
) -> dict[str, Any]:
    """What goes on the trail of the questions that a step's temperature asks; nothing where it asks none.

    now     the instrument of the reading, where its press does not name it
    raises  Refusal bay.jump for a temperature that cannot follow the one before, until it is said how
    """
    found: dict[str, Any] = {}
    if any(event.what == GEAR_ON and event.step_id == step.pk for event in counted(events)):
        found["hot"] = GEAR_WORDS
    if step.code not in COMPARED:
        return found
    tools = bay_bench.tools_of(step.shop, clock.today(step.shop.time_zone))
    said = jumped(step, list(step.work_order.steps.order_by("order")), events, tools, now)
    if not said:
        return found
    if answers.why_jump not in WHY:
        raise Refusal(said, code="bay.jump", field="temp_mdegc")
    return {**found, "jump": said, "why": WHY[answers.why_jump]}


def refuse_below(step: BayStep, read: BayEvent, events: Sequence[BayEvent]) -> None:
    """Refuse an odometer that shows less than the newest reading of this visit before the step.

    raises  Refusal odometer.below
    """
    before = _odometer_before(step, events)
    if before is None or read.value is None or read.value * METERS[read.unit] >= before[0] * METERS[before[1]]:
        return
    figure, unit, where = before
    raise Refusal(
        f"{read.value:,} {read.unit} is below {figure:,} {unit}, read {where} of this visit. "
        "Read the odometer once more; if the earlier figure was misread, do its step again, "
        "or press stop and tell the office.",
        code="odometer.below",
        field="odometer",
    )


def _odometer_before(step: BayStep, events: Sequence[BayEvent]) -> tuple[int, str, str] | None:
    """(figure, unit, where) of the newest reading before a step: in the bay, by other work of the visit, at intake."""
    earlier = [event for event in events if event.what == "odometer" and event.step and event.step.order < step.order]
    newest = latest(earlier, "odometer")
    if newest is not None and newest.step is not None and newest.value is not None:
        return newest.value, newest.unit, f"at step {newest.step.order}"
    visit = step.work_order.visit
    others = visit.work_orders.exclude(pk=step.work_order_id).exclude(odometer_out=None)
    out = others.order_by("closed_out_at").last()
    if out is not None and out.odometer_out is not None:
        return out.odometer_out, visit.vehicle.distance_unit, f"on {out}"
    came = visit.odometer
    return (came.figure, came.unit, "at intake") if came else None


def _running(step: BayStep, events: Sequence[BayEvent]) -> tuple[str, str, str, str]:
    """In and out against the course; after a drain only what was poured back says whether they agree."""
    margin = step.limits.get("margin_ml")
    if step.limits.get("op") not in ("add", "pump") or margin is None or step.limits.get("sump"):
        return "", "", "", ""
    stands, wanted = level_now(events), step.limits["level_after_ml"]
    pickup = step.limits.get("pickup_ml")
    if step.limits["op"] == "pump" and pickup is not None and stands <= -pickup:
        low, line = (readings.volume(ml, step.shop.units_first) for ml in (-stands, pickup))
        said = f"In and out so far leave the level {low} below full: the pickup lies {line} below full, "
        return "bay.pickup", f"{said}and the pump drew air. Engine off.", WATCH, "out_ml"
    if abs(stands - wanted) <= margin:
        return "", "", "", ""
    shop = step.shop
    off = readings.volume(abs(stands - wanted), shop.units_first)
    where = "above" if stands > wanted else "below"
    return "bay.balance", f"In and out so far: {off} {where} what the course says.", WATCH, step.needs[-1]["what"]


def flow_of(step: BayStep, events: Sequence[BayEvent]) -> bench.FlowProof:
    """The flow proof of its step.

    raises  Refusal bay.needs where a reading makes no sense
    """
    shop = step.shop
    try:
        found = bay_bench.flow(step, events, bay_bench.tools_of(shop, clock.today(shop.time_zone)))
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="bay.needs", field="flow_g") from cause
    assert found is not None
    return found


def _say_where_to_stop(proof: BayStep, events: Sequence[BayEvent]) -> None:
    """Name the switch-off of every pumped stage that lies ahead by what the flow proof has measured."""
    if proof.code != "flow_proof":
        return
    most = math.ceil(Fraction(flow_of(proof, events).margin_most_l) * 1000)
    words = Bench({}, {}, proof.shop.units_first, proof.limits["stop_margin_ml"])
    for step in proof.work_order.steps.filter(code="pump", state__in=("ahead", "now")):
        if "switch_off" in step.limits:  # not of a sheet written before it was named
            text, limits = stop_measured(words, step.text, step.limits, most)
            BayStep.objects.filter(pk=step.pk).update(text=text, limits=limits)
    if proof.limits.get("counts_apart"):
        _take_off_the_drain(words, proof, events)


def _take_off_the_drain(words: Bench, proof: BayStep, events: Sequence[BayEvent]) -> None:
    """Expect of the first drain what the flow proof has left of it, as it was weighed."""
    first = proof.work_order.steps.filter(order__gt=proof.order, code__in=("drain", "drain_pan")).first()
    if first is None or first.state not in ("ahead", "now"):
        return
    flow = flow_of(proof, events)
    taken = round(flow.l_per_min * 1000 * proof.limits["seconds"] / 60)
    text, limits, needs = drain_measured(words, first.text, first.limits, first.needs, taken)
    BayStep.objects.filter(pk=first.pk).update(text=text, limits=limits, needs=needs)


def told_by(step: BayStep, events: Sequence[BayEvent]) -> str:
    """What a step's readings say, in words."""
    return _flow_words(flow_of(step, events), step) if step.code == "flow_proof" else ""


def _flow_words(found: bench.FlowProof, step: BayStep) -> str:
    return bay_bench.flow_words(found, step.limits, step.shop.units_first)


def note(order: WorkOrder, step: BayStep | None, press: Press, actor: Actor) -> tuple[BayEvent, bool]:
    """Keep a press inside a deed, and whether it is new; the same once-key again is the same event."""
    value = readings.to_base(press.what, press.value, press.unit)
    assert press.value is not None
    if press.what in readings.AMOUNTS and value < 0:
        raise Refusal("An amount is not below zero.", code="bay.amount", field=press.what)
    return _keep(
        order,
        step,
        actor,
        press.once_key,
        what=press.what,
        value=value,
        unit=press.unit,
        as_typed=readings.typed(press.value, press.unit),
        words=press.words[:300],
        instrument=press.instrument[:40],
        tablet=press.tablet[:60],
        tablet_at=press.tablet_at,
        is_from_paper=press.is_from_paper,
    )


def mark(order: WorkOrder, step: BayStep | None, what: str, actor: Actor, once_key: str, words: str = "") -> bool:
    """Keep a press that carries no figure (done, skipped, redo, coolant); whether it is new."""
    return _keep(order, step, actor, once_key, what=what, words=words[:300])[1]


def _keep(order: WorkOrder, step: BayStep | None, actor: Actor, once_key: str, **fields: Any) -> tuple[BayEvent, bool]:
    if not 0 < len(once_key) <= 80:
        raise Refusal("The press came without its key. Press once more.", code="bay.once_key", status=400)
    row = BayEvent(
        shop=order.shop,
        work_order=order,
        step=step,
        person=person(actor),
        received_at=clock.now(),
        once_key=once_key,
        **fields,
    )
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        there = seen(order, once_key)
        if there is None:
            raise
        return there, False
    return row, True


def first_time(order: WorkOrder, once_key: str, *states: str) -> bool:
    """Keep a work order still for a press that is new; no for one that came before, wherever the order stands since.

    Asked once more when the order is held: the same press may have been faster.

    raises  StateRefusal
    """
    if seen(order, once_key) is not None:
        return False
    try:
        keep_still(order, *states)
    except StateRefusal:
        if seen(order, once_key) is None:
            raise
        return False
    return seen(order, once_key) is None


def seen(order: WorkOrder, once_key: str) -> BayEvent | None:
    """The event of this key; a key of another work order is not taken twice."""
    row = BayEvent.objects.filter(shop=order.shop_id, once_key=once_key).select_related("step").first()
    if row is not None and row.work_order_id != order.pk:
        raise Refusal("This press belongs to another work order.", code="idempotency.mismatch", status=409)
    return row


def _again(step: BayStep) -> Finished:
    """What is said to a press that came before: where things stand now."""
    step.refresh_from_db()
    held = (
        WorkOrder.objects.filter(pk=step.work_order_id, state="on hold").values_list("hold_reason", flat=True).first()
    )
    return Finished(step, is_held=held is not None and step.state == "now", told=held or "")


def _must_be_up(step: BayStep) -> None:
    if step.state == "now":
        return
    up = step.work_order.steps.filter(state="now").first()
    where = f"step {up.order} is up: {up.text}" if up else "no step is up"
    raise StateRefusal(f"Step {step.order} is {step.state}; {where}", code="state.changed")
