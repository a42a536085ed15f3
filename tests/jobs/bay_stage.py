"""What the tests of the bay set up: work agreed, cleared, in the bay, up to a step, at the level."""

from __future__ import annotations

from typing import Any

from shopserv.demo.house import demo_pin
from shopserv.jobs.models import BayStep, WorkOrder
from shopserv.jobs.selectors.bay_room import standing_in
from shopserv.jobs.services import bay, work
from shopserv.jobs.services.authorize import authorize
from shopserv.logbook.selectors import last_counted
from tests.jobs import stage


def pin(actor: Any) -> str:
    return demo_pin(actor.staff.initials)


def written_up(cast: Any, letter: str = "C", number: str = "V-01") -> WorkOrder:
    """Agreed by telephone; the example unit's cooler-line fluid exchange unless said otherwise."""
    option = stage.option(stage.offered(cast, number), letter)
    return authorize(option, actor=cast.tobin, consent=stage.by_telephone(option))


def north(cast: Any) -> Any:
    return cast.brw.bays.get(name="North")


def free_bay(cast: Any) -> Any:
    """Bay North, or the next lift where a job stands in it already."""
    lifts = cast.brw.bays.filter(in_use=True, kind__endswith="lift").exclude(name="North").order_by("name")
    return next(bay for bay in (north(cast), *lifts) if standing_in(bay) is None)


def cleared(cast: Any, letter: str = "C", number: str = "V-01") -> WorkOrder:
    order = written_up(cast, letter, number)
    return work.clear(order, actor=cast.tobin, bay=free_bay(cast), technician=cast.odo.staff)


def in_the_bay(cast: Any, letter: str = "C", number: str = "V-01") -> WorkOrder:
    return work.start(cleared(cast, letter, number), actor=cast.odo)


def now(order: WorkOrder) -> BayStep:
    return order.steps.get(state="now")


def as_asked(step: BayStep, **other: int) -> list[bay.Press]:
    """A press for every reading that the step needs: what the keys start with, unless said otherwise."""
    return [
        bay.Press(
            what=row["what"],
            value=other.get(row["what"], row["start"]),
            unit=row["unit"],
            once_key=f"{step.work_order_id}-{step.order}-{row['what']}",
        )
        for row in step.needs
    ]


AT_ONCE = bay.Answers(why_jump="late", is_gear_on=True)  # the tests read everything in the same moment


def finish(cast: Any, order: WorkOrder, **other: int) -> Any:
    step = now(order)
    return bay.finish_step(
        step,
        actor=cast.odo,
        presses=as_asked(step, **other),
        once_key=f"{order.pk}-{step.order}-done",
        is_confirmed=step.code == "start_engine",  # hot as it was read a moment before
        answers=AT_ONCE,
    )


def up_to(cast: Any, order: WorkOrder, code: str) -> BayStep:
    """Every step before the first of `code` done as the keys propose it."""
    for _ in range(60):
        if now(order).code == code:
            return now(order)
        finish(cast, order)
    raise AssertionError(f"no step {code}")


DRIP = bay.Setting(sign_seen=True, plug_closed_with="running")


def level(
    cast: Any, order: WorkOrder, *, key: str = "level", setting: Any = DRIP, confirmed: bool = False, **other: int
):
    """The level set at the low edge of the window; what was poured cold and drained hot runs out at the overflow."""
    step = up_to(cast, order, "level")
    other = {"out_ml": 4 if step.limits["is_pumped"] else 3, **other}
    order.refresh_from_db()
    return bay.set_level(
        order,
        actor=cast.odo,
        pin=pin(cast.odo),
        setting=setting,
        presses=[bay.Press(one.what, one.value, one.unit, f"{key}-{one.once_key}") for one in as_asked(step, **other)],
        once_key=key,
        is_confirmed=confirmed,
        answers=AT_ONCE,
    )


def at_the_level(cast: Any, letter: str = "C", number: str = "V-01") -> WorkOrder:
    """Everything done up to the level, which is set."""
    order = in_the_bay(cast, letter, number)
    level(cast, order)
    order.refresh_from_db()
    return order


def through_the_steps(cast: Any, order: WorkOrder) -> WorkOrder:
    """Every step behind the level done as the keys propose it."""
    came = last_counted(order.visit.vehicle).figure
    while order.steps.filter(state="now").exists():
        at_the_way_out = now(order).code == "odometer_out"
        finish(cast, order, **({"odometer": came + 2} if at_the_way_out else {}))
    order.refresh_from_db()
    return order


def all_items(order: WorkOrder) -> dict[str, bool]:
    return {code: True for code, _ in order.rules["close_out_items"]}


def close_out(cast: Any, order: WorkOrder, *, key: str = "close", **more: Any) -> Any:
    order.refresh_from_db()
    given = {"items": all_items(order), "edition": order.edition, "pin": pin(cast.odo), "actor": cast.odo, **more}
    return bay.close_out(order, once_key=key, **given)


def closed_out(cast: Any, letter: str = "C", number: str = "V-01") -> WorkOrder:
    """Everything done, closed out; the second look is asked for."""
    order = through_the_steps(cast, at_the_level(cast, letter, number))
    return close_out(cast, order).order


def same_figures(order: WorkOrder, **other: int | None) -> dict[str, int | None]:
    """Own figures equal to the first, everything seen as it should be; what runs could not be seen any more."""
    items = order.second_looks.latest("attempt").items
    same = {row["what"]: 1 if row["kind"] == "seen" else row["first"] for row in items if not row["runs"]}
    return {**same, **other}


def look(cast: Any, order: WorkOrder, answer: str = "yes", **more: Any) -> Any:
    """Pilar's look: own figures first, then the answer."""
    who = more.pop("who", cast.pilar)
    given = {"actor": cast.odo, "by": who.staff, "pin": pin(who), **more}
    if "own" not in given:
        given["own"] = same_figures(order)
    return bay.take_second_look(order, answer=answer, **given)
