"""The level set, with its error budget: what does not pass is kept beside what does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.db import transaction
from django.db.models import Max

from shopserv.calc import bench, errors, measures
from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.common.moves import move
from shopserv.jobs import bay_bench
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_events import latest
from shopserv.jobs.findings import WATCH
from shopserv.jobs.models import BayEvent, BayStep, LevelRecord, WorkOrder
from shopserv.jobs.services.bay_press import NOTHING_SAID, Answers, Press, answered, first_time, mark, note, seen
from shopserv.jobs.services.bay_rules import come_up, moved, own_job, person, refuse_coolant
from shopserv.jobs.services.work import hold_now
from shopserv.jobs.states import STEP_MOVES, WORK_MOVES
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.pins import check_pin

SOURCES = {"thermometer": "thermometer", "scan tool": "scan tool", "dipstick probe": "thermometer"}
TILTS = (("tilt_fore_aft", "tilt fore-aft"), ("tilt_side", "tilt to the side"))
NEAR_MK = 5_000  # a figure this near the window is believed to be meant for it; common practice, no source


@dataclass(frozen=True, slots=True)
class Setting:
    """What the technician says of the level, beside what was read.

    sign_seen         the drip, the film, the mark
    temp_source       thermometer, scan tool, dipstick probe
    thermometer, tilt_instrument   serials; empty: the first of its kind
    plug_closed_with  running, off; empty: there is no level plug
    """

    sign_seen: bool
    engine: str = "running"
    temp_source: str = "thermometer"
    thermometer: str = ""
    tilt_instrument: str = ""
    plug_closed_with: str = ""


@dataclass(frozen=True, slots=True)
class LevelSet:
    """What became of a level.

    is_held   it did not pass: the work order is on hold, the record is kept
    told      verdict of the budget, or why it did not pass
    """

    record: LevelRecord
    order: WorkOrder
    is_held: bool
    told: str


@dataclass(frozen=True, slots=True)
class _Read:
    """The readings of one try."""

    step: BayStep
    temp: BayEvent
    tilt: tuple[int, int]
    dwell_s: int
    is_swept: bool
    is_cooler_full: bool
    thermometer: bay_bench.Tool
    level_tool: bay_bench.Tool


def set_level(
    order: WorkOrder,
    *,
    actor: Actor,
    pin: str,
    setting: Setting,
    presses: Sequence[Press] = (),
    once_key: str,
    is_confirmed: bool = False,
    answers: Answers = NOTHING_SAID,
) -> LevelSet:
    """Set the level: keep its record with the error budget, and go on to the plugs.

    What speaks against it is asked once with both values (`is_confirmed` answers); confirmed, the record is kept as
    one that does not pass, and the work order is on hold.

    presses    temperature, poured and run out at the level, as the step asks
    raises     Refusal bay.needs, level.unit, level.sign, level.source (these cannot be confirmed away),
               level.temperature, level.tilt, level.sweep, level.cooler, level.engine, level.plug, level.poured,
               level.budget (these may be confirmed), bay.jump (answered), bay.coolant, pin.*; StateRefusal,
               NotYours, Http404
    """
    staff = own_job(order, actor)
    check_pin(staff, pin, actor=actor)
    if seen(order, once_key) is not None:
        return _again(order)
    refuse_coolant(order, actor, "set the level")
    if setting.temp_source not in SOURCES:
        raise Refusal("Where was the temperature read?", code="level.source", field="temp_source")
    return _set_level(order, actor, setting, presses, once_key, is_confirmed, answers)


@transaction.atomic
def _set_level(
    order: WorkOrder,
    actor: Actor,
    setting: Setting,
    presses: Sequence[Press],
    once_key: str,
    is_confirmed: bool,
    answers: Answers,
) -> LevelSet:
    if not first_time(order, once_key, "in the bay"):
        return _again(order)
    step = order.steps.filter(state="now", code="level").first()
    if step is None:
        up = order.steps.filter(state="now").first()
        raise StateRefusal(f"The level is not up yet: {up.text if up else 'no step is up'}", code="bay.use_level")
    for one in presses:
        note(order, step, one, actor)
    read = _read(order, step, setting)
    found = _budget(read)
    code, wrong, field = _against(order, read, setting, found)
    if code and not is_confirmed:
        raise Refusal(f"{wrong} It cannot pass like this.", code=code, field=field, confirmable=True)
    is_named = setting.thermometer or read.temp.instrument or setting.temp_source != "thermometer"
    events = list(order.events.select_related("step").order_by("pk"))
    more = {} if code else answered(step, events, answers, read.thermometer if is_named else None)
    if not mark(order, step, "level not passed" if code else "level set", actor, once_key, words=wrong):
        return _again(order)
    record = _keep(order, actor, setting, read, found, wrong)
    if code:
        hold_now(order, actor, wrong, WATCH)
    else:
        move(step, "finish", STEP_MOVES, actor, done_at=clock.now())
        moved(order, "set the level", WORK_MOVES, actor, level_set_at=record.at)
        come_up(order)
    trail.write(
        actor,
        "level not passed" if code else "level set",
        order,
        attempt=record.attempt,
        temp_mdegc=record.temp_mdegc,
        budget_ml_tenths=record.budget_ml_tenths,
        passes=record.passes,
        wrong=wrong,
        **more,
    )
    return LevelSet(record, order, bool(code), wrong or found.verdict)


def _again(order: WorkOrder) -> LevelSet:
    record = order.level_records.order_by("-attempt").first()
    if record is None:
        raise StateRefusal("This press was taken for something else.", code="idempotency.mismatch")
    order.refresh_from_db()
    return LevelSet(record, order, order.state == "on hold", record.budget.get("wrong") or record.budget["verdict"])


def _read(order: WorkOrder, step: BayStep, setting: Setting) -> _Read:
    """The readings of this try; what is missing is asked for by name, a figure in the wrong unit too."""
    events = list(order.events.select_related("step").order_by("pk"))
    for row in step.needs:
        if latest(events, row["what"], step.pk) is None:
            raise Refusal(f"Still missing: {row['words']}.", code="bay.needs", field=row["what"])
    if not setting.sign_seen:
        sign = step.limits.get("sign") or "level sign"
        raise Refusal(f"Wait for the sign: {sign}. Then set the level.", code="level.sign", field="sign_seen")
    temp = latest(events, "temp_mdegc", step.pk)
    assert temp is not None
    _ask_unit(temp, step.limits)
    tilts = [_tilt(events, what, words) for what, words in TILTS]
    dwell = latest(events, "dwell_s")
    tools = bay_bench.tools_of(order.shop, clock.today(order.shop.time_zone))
    done = set(order.steps.filter(state__in=("done", "redone")).values_list("code", flat=True))
    return _Read(
        step=step,
        temp=temp,
        tilt=(tilts[0].value or 0, tilts[1].value or 0),
        dwell_s=(dwell.value or 0) if dwell else 0,
        is_swept="sweep" in done,
        is_cooler_full=not step.limits.get("is_pumped") or "cooler_full" in done,
        thermometer=bay_bench.tool(tools, SOURCES[setting.temp_source], setting.thermometer or temp.instrument),
        level_tool=bay_bench.tool(tools, "level", setting.tilt_instrument or tilts[0].instrument),
    )


def _tilt(events: Sequence[BayEvent], what: str, words: str) -> BayEvent:
    """How level it stands by one axis; what nobody measured is not level."""
    found = latest(events, what)
    if found is None or found.value is None:
        raise Refusal(f"Still missing: {words}.", code="bay.needs", field=what)
    return found


def _ask_unit(temp: BayEvent, limits: dict[str, Any]) -> None:
    """A figure that fits the window only in the other unit is a unit left standing; both readings are shown."""
    low, high, value = limits.get("low_mdegc"), limits.get("high_mdegc"), temp.value
    if low is None or high is None or value is None or low <= value <= high:
        return
    is_f = temp.unit.endswith("°F")
    figure = measures.mdegc_to_f(value) if is_f else Fraction(value, 1000)
    other = measures.whole(figure * 1000) if is_f else measures.f_to_mdegc(figure)
    if not low - NEAR_MK <= other <= high + NEAR_MK:
        return
    tenths = measures.whole(figure * 10)
    shown = f"{tenths / 10:g}"
    as_c, as_f = (other, value) if is_f else (value, other)
    raise Refusal(
        f"{shown}: in which unit? {shown} °C = {float(measures.mdegc_to_f(as_c)):.1f} °F; "
        f"{shown} °F = {as_f / 1000:.1f} °C. Nothing passes until it is answered: read it once more in its unit.",
        code="level.unit",
        field="temp_mdegc",
    )


def _budget(read: _Read) -> bench.LevelBudget:
    assert read.temp.value is not None
    try:
        return bay_bench.budget(
            read.step.limits,
            temp_mdegc=read.temp.value,
            thermometer=read.thermometer,
            tilt=read.tilt,
            level_tool=read.level_tool,
        )
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="bay.needs", field="temp_mdegc") from cause


def _against(order: WorkOrder, read: _Read, setting: Setting, found: bench.LevelBudget) -> tuple[str, str, str]:
    """(code, what speaks against it with both values, field); empty: nothing does."""
    limits = read.step.limits
    for row in read.step.needs:
        event = latest(list(order.events.all()), row["what"], read.step.pk)
        wrong = readings.outside(row, event.value, order.shop.units_first) if event and event.value is not None else ""
        if wrong:
            return ("level.temperature" if row["what"] == "temp_mdegc" else "level.poured"), wrong, row["what"]
    most = limits.get("tilt_limit_tenths")
    if most is not None and max(abs(one) for one in read.tilt) > most:
        at = max(read.tilt, key=abs)
        axis = TILTS[read.tilt.index(at)]
        return (
            "level.tilt",
            f"{axis[1].capitalize()}: {abs(at) / 10:g}° off level, the sheet allows {most / 10:g}°.",
            axis[0],
        )
    if not limits.get("is_engine_off"):
        dwell = limits.get("dwell_s") or 0
        if not read.is_swept:
            return "level.sweep", "The selector sweep is not done.", "sweep"
        if read.dwell_s < dwell:
            said = f"Each selector position was held {read.dwell_s} s, the sheet says {dwell} s."
            return "level.sweep", said, "dwell_s"
    if not read.is_cooler_full:
        return "level.cooler", "The cooler circuit is not full: the level would drop later.", "cooler"
    engine = "off" if limits.get("is_engine_off") else "running"
    if setting.engine != engine:
        return "level.engine", f"The level was set with the engine {setting.engine}, the sheet says {engine}.", "engine"
    closed = limits.get("plug_closed_with")
    if closed and setting.plug_closed_with != closed:
        said = f"The level plug was closed with the engine {setting.plug_closed_with or 'not said'}, the sheet says "
        return "level.plug", f"{said}{closed}.", "plug_closed_with"
    if found.passes is False:
        return "level.budget", f"Too unsure: {found.verdict}.", "budget"
    return "", "", ""


def _keep(
    order: WorkOrder, actor: Actor, setting: Setting, read: _Read, found: bench.LevelBudget, wrong: str
) -> LevelRecord:
    assert read.temp.value is not None
    last = order.level_records.aggregate(last=Max("attempt"))["last"] or 0
    return LevelRecord.objects.create(
        shop=order.shop,
        work_order=order,
        attempt=last + 1,
        temp_mdegc=read.temp.value,
        temp_as_typed=read.temp.as_typed[:40],
        temp_source=setting.temp_source,
        temp_instrument=read.thermometer.serial,
        tilt_fore_aft_tenths_deg=read.tilt[0],
        tilt_side_tenths_deg=read.tilt[1],
        tilt_instrument=read.level_tool.serial,
        engine=setting.engine,
        sweep_done=read.is_swept,
        dwell_s=read.dwell_s,
        sign=read.step.limits.get("sign") or "as the vehicle maker says",
        plug_closed_with_engine=setting.plug_closed_with,
        cooler_full=read.is_cooler_full,
        budget_ml_tenths=measures.whole(Fraction(found.root_sum_square_ml) * 10),
        budget=budget_kept(found, read.thermometer, read.level_tool, wrong),
        passes=not wrong,
        by=person(actor),
        at=clock.now(),
    )


def budget_kept(
    found: bench.LevelBudget, thermometer: bay_bench.Tool, level_tool: bay_bench.Tool, wrong: str
) -> dict[str, Any]:
    """A level budget as it is kept with its record."""
    return {
        "items": [
            {
                "what": one.what,
                "words": one.words,
                "ml_tenths": measures.whole(Fraction(one.ml) * 10),
                "share_ppm": measures.whole(Fraction(one.share) * 1_000_000),
            }
            for one in found.items
        ],
        "limit_ml": None if found.limit_ml is None else measures.whole(Fraction(found.limit_ml)),
        "passes": found.passes,
        "missing": list(found.missing),
        "verdict": found.verdict,
        "riskiest": list(found.riskiest()),
        "advice": found.advice,
        "instruments": [thermometer.words, level_tool.words],
        "wrong": wrong,
        "working": found.working,
    }
