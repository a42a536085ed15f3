"""What the bay reads: the line of jobs, one bay sheet, and who waits for a second look. No price and no telephone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404

from shopserv.calc import bench, errors
from shopserv.calc.balance import Balance
from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.jobs import bay_bench, bay_events
from shopserv.jobs.bay_cooling import Cooling, cooling_of
from shopserv.jobs.bay_readings import WHATS
from shopserv.jobs.findings import Standing
from shopserv.jobs.models import BayEvent, BayStep, LevelRecord, MassBalance, SecondLook, WorkOrder
from shopserv.jobs.selectors import looks
from shopserv.jobs.selectors import visits as visit_selectors
from shopserv.jobs.selectors.instruments import alarms_of
from shopserv.jobs.selectors.room_left import room_of
from shopserv.registry import selectors as registry
from shopserv.shop.actors import Actor

second_look_for, looks_waiting = looks.second_look_for, looks.looks_waiting  # read in the bay as well
OPEN = ("cleared", "in the bay", "on hold", "level set", "second look done")
LEVEL_STEPS = ("level", "level_sump")
TO_THE_LEVEL = ("levelness", "warm_up", "cool_down_1", "cool_down_2", "start_engine", "sweep", *LEVEL_STEPS)


@dataclass(frozen=True, slots=True)
class LineRow:
    """One line of the bay line.

    technician   first name; empty: nobody yet
    step, steps  which one is up, of how many; 0: none is up
    whose_move   ours, the shop owner's, the second person's, the counter's
    look         state of the second look; empty: none asked for
    """

    number: str
    visit: str
    vehicle_number: str
    vehicle: str
    unit: str
    method: str
    title: str
    fluids: str
    packages: tuple[tuple[str, int], ...]
    bay: str
    technician: str
    is_mine: bool
    may_start: bool
    state: str
    state_since: datetime
    promised_at: datetime | None
    step: int
    steps: int
    step_code: str
    step_text: str
    hold_reason: str
    hold_grade: str
    whose_move: str
    look: str


@dataclass(frozen=True, slots=True)
class Item:
    """One item of the close-out.

    is_done   what the close-out said; none: not closed out yet
    said      why it was not done
    """

    code: str
    words: str
    is_done: bool | None = None
    said: str = ""


@dataclass(frozen=True, slots=True)
class BaySheet:
    """One bay sheet.

    up            the step that is up; none: all are done, or it is not in the bay
    events        every press, oldest first; `counting` has the keys of those that count
    figures       step key -> {what: newest base value}
    level_ml      against full as the course reckons it: in less out so far
    balance_now   running balance with band, verdict and working; none: nothing moved yet
    budget_now    level budget from what is read at the level step so far; none: too little read
    level         limits of the level step: sign, window, tilt limit, band, pickup and more; empty: no level
    flow          what the flow proof said; none: not done, or it makes no sense
    alarms        what is said of the shop's scales that seem to drift
    not_done      what was skipped, with the reason: (step text, reason)
    room_fits     whether another tenth of an hour still fits the authorization; no amount
    may_press     whether the actor's own job
    """

    order: WorkOrder
    unit: str
    unit_known_by: str
    up: BayStep | None
    steps: tuple[BayStep, ...]
    events: tuple[BayEvent, ...]
    counting: frozenset[int]
    figures: dict[int, dict[str, int]]
    level: dict[str, Any]
    level_ml: int
    put_in_ml: int
    out_ml: int
    pickup_ml: int | None
    dips_ml: int | None
    balance_now: Balance | None
    balance: MassBalance | None
    budget_now: bench.LevelBudget | None
    levels: tuple[LevelRecord, ...]
    cooling: Cooling | None
    flow: bench.FlowProof | None
    alarms: tuple[str, ...]
    findings: tuple[Standing, ...]
    coolant: Standing | None
    items: tuple[Item, ...]
    not_done: tuple[tuple[str, str], ...]
    tools: tuple[bay_bench.Tool, ...]
    room_fits: bool
    may_press: bool
    look_asked: bool
    looks: tuple[SecondLook, ...]
    lookers: tuple[str, ...]

    @property
    def place(self) -> int:
        """Which step is up, counted from 1; 0: none."""
        return self.up.order if self.up else 0

    @property
    def cautions(self) -> tuple[str, ...]:
        """Those of the step that is up."""
        return tuple(self.up.cautions) if self.up else ()

    @property
    def last_level(self) -> LevelRecord | None:
        """The newest try."""
        return self.levels[-1] if self.levels else None

    def step(self, order: int) -> BayStep:
        """One step by its place; Http404 where there is none."""
        found = next((one for one in self.steps if one.order == order), None)
        if found is None:
            raise Http404("no such step")
        return found


def bay_orders_of(actor: Actor) -> QuerySet[WorkOrder]:
    """The work orders of the actor's shop that a person of the bay, or the counter looking in, may see."""
    if not (actor.may("bay line") or actor.may("counter desk")):
        raise NotYours(f"bay sheet: not for {actor.role_words or actor.name}")
    rows = WorkOrder.objects.filter(shop=actor.house)
    return rows.select_related(
        "shop__business", "visit__vehicle", "visit__reading", "bay", "technician", "balance"
    ).exclude(state="written up")


def bay_order_for(actor: Actor, number: str) -> WorkOrder:
    """One work order by its number: a technician's own, or one that nobody has yet; Http404 for another shop's.

    raises   NotYours for another technician's job
    """
    order = bay_orders_of(actor).filter(number=number).first()
    if order is None:
        raise Http404("no such work order")
    if not actor.may("counter desk") and order.technician_id not in (None, _pk(actor)):
        raise NotYours(f"{order} is the job of {order.technician}")
    return order


def bay_line(actor: Actor) -> tuple[LineRow, ...]:
    """The open jobs of the actor's shop in promised order: a technician's own and those nobody has. Four queries."""
    rows = bay_orders_of(actor).filter(state__in=OPEN)
    if not actor.may("counter desk"):
        rows = rows.filter(Q(technician=_pk(actor)) | Q(technician=None))
    orders = list(rows)
    keys = [order.pk for order in orders]
    up = {step.work_order_id: step for step in BayStep.objects.filter(work_order__in=keys, state="now")}
    many = Counter(BayStep.objects.filter(work_order__in=keys).values_list("work_order_id", flat=True))
    asked = SecondLook.objects.filter(work_order__in=keys).order_by("attempt")
    look_of = {look.work_order_id: look.state for look in asked}
    far = datetime.max.replace(tzinfo=clock.now().tzinfo)
    orders.sort(key=lambda one: (one.visit.promised_at or far, one.pk))
    return tuple(_line(actor, order, up.get(order.pk), many[order.pk], look_of.get(order.pk, "")) for order in orders)


def _line(actor: Actor, order: WorkOrder, up: BayStep | None, many: int, look: str) -> LineRow:
    facts = order.facts
    mine = order.technician_id is not None and order.technician_id == _pk(actor)
    return LineRow(
        number=order.number,
        visit=order.visit.number,
        vehicle_number=order.visit.vehicle.number,
        vehicle=order.visit.vehicle.words,
        unit=facts.get("unit", ""),
        method=facts.get("method", ""),
        title=facts.get("title", ""),
        fluids=", ".join(row["name"] for row in facts.get("fluids", ())),
        packages=tuple(sorted((facts.get("packages") or {}).items())),
        bay=order.bay.name if order.bay else "",
        technician=order.technician.first_name if order.technician else "",
        is_mine=mine,
        may_start=order.state == "cleared" and actor.may("bay work") and (mine or order.technician_id is None),
        state=order.state,
        state_since=order.state_since,
        promised_at=order.visit.promised_at,
        step=up.order if up else 0,
        steps=many,
        step_code=up.code if up else "",
        step_text=up.text if up else "",
        hold_reason=order.hold_reason,
        hold_grade=order.hold_grade,
        whose_move=_whose_move(order, look),
        look=look,
    )


def _whose_move(order: WorkOrder, look: str) -> str:
    if order.state == "on hold" and order.hold_grade != "watch":
        return "the shop owner's"
    if order.state == "level set" and look == "asked for":
        return "the second person's"
    closed_out = order.state == "level set" and order.closed_out_at is not None
    if order.state == "second look done" or (closed_out and not look):
        return "the counter's"
    return "ours"


def bay_sheet(actor: Actor, number: str) -> BaySheet:
    """One job with its steps, readings, level and balance as they stand.

    raises   Http404, NotYours
    """
    order = bay_order_for(actor, number)
    steps = tuple(order.steps.order_by("order"))
    events = tuple(order.events.select_related("step", "person").order_by("pk"))
    counting = bay_events.counted(events)
    level = level_limits(steps)
    tools = bay_bench.tools_of(order.shop, clock.today(order.shop.time_zone))
    put_in, out = bay_events.totals(events)
    found = visit_selectors.standing(order.visit)
    identified = registry.identification_of(order.visit.vehicle)
    up = next((step for step in steps if step.state == "now"), None)
    fluid_step = _fluid_limits(up, steps)
    return BaySheet(
        order=order,
        unit=str(identified.unit) if identified else order.facts.get("unit", ""),
        unit_known_by=identified.grade if identified else "not known",
        up=up,
        steps=steps,
        events=events,
        counting=frozenset(event.pk for event in counting),
        figures=_figures(counting),
        level=level,
        level_ml=put_in - out,
        put_in_ml=put_in,
        out_ml=out,
        pickup_ml=fluid_step.get("pickup_ml"),
        dips_ml=fluid_step.get("dips_ml"),
        balance_now=bay_bench.running_or_none(events, level, bay_bench.scale_of(events, tools)),
        balance=getattr(order, "balance", None),
        budget_now=_budget_now(steps, events, level, tools),
        levels=tuple(order.level_records.select_related("by").order_by("attempt")),
        cooling=cooling_of(steps, events, tools, order.shop.units_first),
        flow=_flow_now(steps, events, tools),
        alarms=alarms_of(order.shop, tools),
        findings=found,
        coolant=next((one for one in found if one.code == "K-01" and one.stands), None),
        items=items_of(order),
        not_done=not_done_of(steps),
        tools=tools,
        room_fits=_room_fits(order),
        may_press=actor.may("bay work") and order.technician_id == _pk(actor),
        look_asked=bool(order.rules.get("look_asked")),
        looks=tuple(order.second_looks.select_related("by").order_by("attempt")),
        lookers=tuple(one.first_name for one in looks.entitled(order)),
    )


def level_limits(steps: Sequence[BayStep]) -> dict[str, Any]:
    """The limits of the newest level step; empty where the work sets no level."""
    return next((dict(step.limits) for step in reversed(steps) if step.code == "level"), {})


def items_of(order: WorkOrder) -> tuple[Item, ...]:
    """The close-out items, with what was said of each once it is closed out."""
    said = order.close_out.get("items", {})
    return tuple(
        Item(code, words, said[code]["done"] if code in said else None, said.get(code, {}).get("words", ""))
        for code, words in order.rules.get("close_out_items", ())
    )


def not_done_of(steps: Sequence[BayStep]) -> tuple[tuple[str, str], ...]:
    """What was skipped, with the reason."""
    return tuple((step.text, step.skip_reason) for step in steps if step.state == "skipped")


def _figures(counting: Sequence[BayEvent]) -> dict[int, dict[str, int]]:
    found: dict[int, dict[str, int]] = {}
    for event in counting:
        if event.step_id is not None and event.value is not None and event.what in WHATS:
            found.setdefault(event.step_id, {})[event.what] = event.value
    return found


def _fluid_limits(up: BayStep | None, steps: Sequence[BayStep]) -> dict[str, Any]:
    """Pickup and dipping height, which every fluid step of a course carries."""
    if up is not None and "pickup_ml" in up.limits:
        return dict(up.limits)
    return next((dict(step.limits) for step in steps if "pickup_ml" in step.limits), {})


def _budget_now(
    steps: Sequence[BayStep], events: Sequence[BayEvent], level: dict[str, Any], tools: Sequence[bay_bench.Tool]
) -> bench.LevelBudget | None:
    if not level:
        return None
    at = next(step for step in reversed(steps) if step.code == "level")
    warmth = bay_events.latest(events, "temp_mdegc", at.pk)
    tilt = [bay_events.latest(events, what) for what in ("tilt_fore_aft", "tilt_side")]
    if warmth is None or warmth.value is None or any(one is None or one.value is None for one in tilt):
        return None
    read = tuple((one.value or 0) if one else 0 for one in tilt)
    try:
        return bay_bench.budget(
            level,
            temp_mdegc=warmth.value,
            thermometer=bay_bench.tool(tools, "thermometer", warmth.instrument),
            tilt=(read[0], read[1]),
            level_tool=bay_bench.tool(tools, "level", tilt[0].instrument if tilt[0] else ""),
        )
    except errors.CalcError:
        return None


def _flow_now(
    steps: Sequence[BayStep], events: Sequence[BayEvent], tools: Sequence[bay_bench.Tool]
) -> bench.FlowProof | None:
    at = next((step for step in reversed(steps) if step.code == "flow_proof" and step.state != "skipped"), None)
    try:
        return bay_bench.flow(at, events, tools) if at else None
    except errors.CalcError:
        return None


def _room_fits(order: WorkOrder) -> bool:
    counted = order.authorizations.filter(state="counted").select_related("option__version__adds_to", "quote").first()
    return counted is not None and room_of(counted).extra_tenths > 0


def _pk(actor: Actor) -> int | None:
    return actor.staff.pk if actor.staff else None
