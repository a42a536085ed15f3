"""Eight people press yes at once: one is counted, seven are told. On the engine that the test database stands on.

The control takes both protections away (the conditional move and the unique row) and must see more than one counted;
were it to pass with one, the race itself would prove nothing.
"""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import IntegrityError, OperationalError, connection, connections

from shopserv.common import frozen
from shopserv.common.errors import StateRefusal
from shopserv.jobs.models import Authorization, Option, QuoteVersion, WorkOrder
from shopserv.jobs.services import authorize as deed
from shopserv.jobs.services import quotes
from tests.jobs import stage

AT_ONCE = 8


def race(act) -> list[str]:
    """What came of doing `act` eight times at once, each thread with its own connection."""
    barrier = threading.Barrier(AT_ONCE)

    def attempt(number: int) -> str:
        try:
            barrier.wait(timeout=30)
            return act(number)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return sorted(pool.map(attempt, range(AT_ONCE)))


def press(cast, option: Option):
    """The act: the same yes from the same page, each with its own copies of the rows."""
    actor, pk = cast.tobin, option.pk
    consent = stage.by_telephone(option)

    def act(number: int) -> str:
        mine = Option.objects.select_related("version__quote__shop__business").get(pk=pk)
        try:
            deed.authorize(mine, actor=actor, consent=consent)
        except StateRefusal as told:
            return told.code
        except (OperationalError, IntegrityError) as busy:  # in the control alone writers may collide
            return f"collided: {busy}"
        return "counted"

    return act


def test_one_of_eight_yeses_counts_and_seven_are_told(cast_for_races):
    option = stage.option(stage.offered(cast_for_races), "C")

    outcomes = race(press(cast_for_races, option))

    assert outcomes == ["counted"] + ["quote.agreed"] * (AT_ONCE - 1)
    assert (Authorization.objects.count(), WorkOrder.objects.count()) == (1, 1)
    assert QuoteVersion.objects.get().state == "agreed"


def test_two_options_of_one_version_cannot_both_be_agreed(cast_for_races):
    version = stage.offered(cast_for_races)
    acts = [press(cast_for_races, stage.option(version, letter)) for letter in "BC"]

    outcomes = race(lambda number: acts[number % 2](number))

    assert outcomes == ["counted"] + ["quote.agreed"] * (AT_ONCE - 1)
    assert Authorization.objects.filter(state="counted").count() == 1


def test_of_two_offers_of_one_draft_one_goes_out(cast_for_races):
    version = stage.draft(cast_for_races)
    actor, edition = cast_for_races.tobin, version.edition

    def act(number: int) -> str:
        mine = QuoteVersion.objects.select_related("quote__shop__business").get(pk=version.pk)
        try:
            quotes.offer(mine, actor=actor, edition=edition)
        except StateRefusal as told:
            return told.code
        return "offered"

    outcomes = race(act)

    assert outcomes == ["offered"] + ["state.changed"] * (AT_ONCE - 1)


@pytest.fixture
def without_protection(monkeypatch):
    """The same deed, trusting what was read before the race and without the unique row."""
    unique = next(c for c in Authorization._meta.constraints if c.name == "authorization_one_counted_per_quote")

    def trusting(row, act, moves, actor, **changes):
        target = next(move.target for move in moves if move.act == act)
        type(row).objects.filter(pk=row.pk).update(state=target, **changes)
        row.state = target

    monkeypatch.setattr(deed, "move", trusting)
    monkeypatch.setattr(deed, "_refuse_over", lambda version: None)
    with connection.schema_editor() as editor:
        editor.remove_constraint(Authorization, unique)
    yield
    connection.close()
    _give_back(unique)


def _give_back(unique) -> None:
    frozen.lift_guards()
    WorkOrder.authorizations.through.objects.all().delete()
    Authorization.objects.all().delete()
    with connection.schema_editor() as editor:
        editor.add_constraint(Authorization, unique)
    frozen.set_guards()


@pytest.mark.control
def test_the_race_is_lost_without_the_protection(cast_for_races, without_protection):
    option = stage.option(stage.offered(cast_for_races), "C")

    outcomes = race(press(cast_for_races, option))

    assert outcomes.count("counted") > 1
