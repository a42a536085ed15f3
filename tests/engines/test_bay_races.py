"""In the bay at once: one press sent eight times, two people who look, coolant found while a step is pressed.

Each race has its control, which takes the protections away and must see the race lost.
"""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import DatabaseError, connection, connections

from shopserv.common import frozen
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.models import BayEvent, BayStep, SecondLook, WorkOrder
from shopserv.jobs.services import bay, bay_look, bay_press
from shopserv.shop.models import TrailEntry
from tests.engines.test_consent_races import AT_ONCE, race
from tests.jobs import bay_stage as bays


def trusting(row, act, moves, actor, **changes):
    """A move that trusts what was read before."""
    target = next(move.target for move in moves if move.act == act)
    type(row).objects.filter(pk=row.pk).update(state=target, **changes)
    row.state = target


def together(acts) -> list[str]:
    """What came of several acts at once, each thread with its own connection."""
    barrier = threading.Barrier(len(acts))

    def attempt(act) -> str:
        try:
            barrier.wait(timeout=30)
            return act()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(acts)) as pool:
        return sorted(pool.map(attempt, acts))


def done(cast, step):
    """The act: “done” pressed, always with the same once-key."""
    actor, pk = cast.odo, step.pk

    def act(number: int) -> str:
        mine = BayStep.objects.select_related("work_order__visit", "shop").get(pk=pk)
        try:
            found = bay.finish_step(mine, actor=actor, once_key="done-once")
        except (DatabaseError, Refusal) as told:
            return repr(told)
        return found.step.state

    return act


def test_one_press_sent_eight_times_finishes_one_step_once(cast_for_races):
    order = bays.in_the_bay(cast_for_races)

    outcomes = race(done(cast_for_races, bays.now(order)))

    assert outcomes == ["done"] * AT_ONCE
    assert BayEvent.objects.filter(once_key="done-once").count() == 1
    assert TrailEntry.objects.filter(what="step done").count() == 1
    assert list(order.steps.filter(state__in=["done", "now"]).values_list("order", "state").order_by("order")) == [
        (1, "done"),
        (2, "now"),
    ]


@pytest.fixture
def without_the_key(monkeypatch):
    """Once-keys neither looked for nor unique, a step finished wherever it stands."""
    unique = next(c for c in BayEvent._meta.constraints if c.name == "bay_event_once_key")
    monkeypatch.setattr(bay_press, "seen", lambda order, once_key: None)
    monkeypatch.setattr(bay_press, "_must_be_up", lambda step: None)
    monkeypatch.setattr(bay_press, "keep_still", lambda order, *states: None)
    monkeypatch.setattr(bay_press, "come_up", lambda order: None)
    monkeypatch.setattr(bay_press, "move", trusting)
    every = BayEvent._meta.constraints
    BayEvent._meta.constraints = [c for c in every if c is not unique]  # SQLite makes the table anew from them
    with connection.schema_editor() as editor:
        editor.remove_constraint(BayEvent, unique)
    yield
    connection.close()
    BayEvent._meta.constraints = every
    frozen.lift_guards()
    BayEvent.objects.all().delete()
    with connection.schema_editor() as editor:
        editor.add_constraint(BayEvent, unique)
    frozen.set_guards()


@pytest.mark.control
def test_the_press_counts_more_than_once_without_its_key(cast_for_races, without_the_key):
    order = bays.in_the_bay(cast_for_races)

    outcomes = race(done(cast_for_races, bays.now(order)))

    assert outcomes.count("done") > 1, outcomes
    assert BayEvent.objects.filter(once_key="done-once").count() > 1


def looking(cast, order, who):
    """The act: own figures and a yes under one's own name."""
    actor, staff, pin, pk, own = cast.odo, who.staff, bays.pin(who), order.pk, bays.same_figures(order)

    def act() -> str:
        mine = WorkOrder.objects.select_related("visit__vehicle", "shop").get(pk=pk)
        try:
            look = bay.take_second_look(mine, actor=actor, by=staff, pin=pin, answer="yes", own=own)
        except StateRefusal as told:
            return told.code
        return look.state

    return act


def test_of_two_second_looks_at_once_one_is_the_answer(cast_for_races):
    cast = cast_for_races
    order = bays.closed_out(cast)

    outcomes = together([looking(cast, order, cast.pilar), looking(cast, order, cast.maren)])

    order.refresh_from_db()
    assert outcomes == ["look.none", "yes"]
    assert (SecondLook.objects.count(), order.state) == (1, "second look done")
    entry = TrailEntry.objects.get(what="second look")
    assert SecondLook.objects.get().by.name == entry.who


@pytest.mark.control
def test_two_looks_answer_without_the_conditional_move(cast_for_races, monkeypatch):
    cast = cast_for_races
    order = bays.closed_out(cast)
    pk = order.second_looks.get().pk

    def read_before_the_race(order):
        """Each looks at the row as it stood while it still waited."""
        look = SecondLook.objects.get(pk=pk)
        look.state = "asked for"
        return look

    def own_figures(look, looker, own):
        look.items = [{**row, "own": own.get(row["what"])} for row in look.items]
        look.by = looker.staff
        return dict(own)

    monkeypatch.setattr(bay_look, "_waiting", read_before_the_race)
    monkeypatch.setattr(bay_look, "_take_in", own_figures)
    monkeypatch.setattr(bay_look, "keep_still", lambda order, *states: None)
    monkeypatch.setattr(bay_look, "move", trusting)
    monkeypatch.setattr(bay_look, "moved", lambda order, act, moves, actor: None)

    outcomes = together([looking(cast, order, cast.pilar), looking(cast, order, cast.maren)])

    assert outcomes == ["yes", "yes"]
    assert TrailEntry.objects.filter(what="second look").count() == 2


@pytest.fixture
def coolant_between(monkeypatch, cast_for_races):
    """Coolant is found after the step has asked for it and before the step is done."""
    asked = bay_press.refuse_coolant

    def then_found(order, actor, tried):
        asked(order, actor, tried)
        other = WorkOrder.objects.select_related("visit").get(pk=order.pk)
        bay.find_coolant(other, actor=cast_for_races.odo, signs=("pink milk",), once_key="stop")

    monkeypatch.setattr(bay_press, "refuse_coolant", then_found)


def pour(cast, order):
    """The act: a fluid step finished."""
    step = bays.now(order)
    return bay.finish_step(step, actor=cast.odo, presses=bays.as_asked(step), once_key="pour", answers=bays.AT_ONCE)


def test_coolant_found_in_between_stops_the_step_that_was_on_its_way(cast_for_races, coolant_between):
    order = bays.in_the_bay(cast_for_races)
    bays.up_to(cast_for_races, order, "flow_proof")  # the first that moves fluid

    with pytest.raises(StateRefusal) as told:
        pour(cast_for_races, order)

    order.refresh_from_db()
    assert told.value.code == "state.changed"
    assert (order.state, bays.now(order).code) == ("on hold", "flow_proof")
    assert not BayEvent.objects.filter(once_key="pour").exists()


@pytest.mark.control
def test_the_step_goes_through_where_the_work_order_is_not_kept_still(cast_for_races, coolant_between, monkeypatch):
    order = bays.in_the_bay(cast_for_races)
    bays.up_to(cast_for_races, order, "flow_proof")  # the first that moves fluid
    monkeypatch.setattr(bay_press, "keep_still", lambda order, *states: None)

    pour(cast_for_races, order)

    order.refresh_from_db()
    assert (order.state, order.steps.get(code="flow_proof").state) == ("on hold", "done")
