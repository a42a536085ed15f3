"""A bay holds one job: asked about at clearing, refused at starting, rolled out with where it stands."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal, StateRefusal
from shopserv.jobs.selectors.bay_room import BayNow, bays_now, standing_in
from shopserv.jobs.services import bay, work
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage as bays


def second_for_north(cast):
    """Another vehicle cleared for bay North, where the example vehicle stands."""
    order = bays.written_up(cast, "A", "V-08")
    return work.clear(
        order, actor=cast.tobin, bay=bays.north(cast), technician=cast.odo.staff, confirmed=("bay.taken",)
    )


def test_clearing_for_a_bay_that_is_taken_is_asked_with_the_job_that_stands_in_it(cast):
    first = bays.in_the_bay(cast)
    order = bays.written_up(cast, "A", "V-08")
    given = {"actor": cast.tobin, "bay": bays.north(cast), "technician": cast.odo.staff}

    with pytest.raises(Refusal) as told:
        work.clear(order, **given)
    cleared = work.clear(order, **given, confirmed=("bay.taken",))

    assert (told.value.code, told.value.field, told.value.confirmable) == ("bay.taken", "bay", True)
    assert told.value.message.startswith(f"Bay North is taken: {first.number} (V-01) stands in it, in the bay.")
    assert cleared.state == "cleared"


def test_a_second_job_does_not_start_in_a_bay_where_another_is_worked_on(cast):
    first = bays.in_the_bay(cast)
    second = second_for_north(cast)

    with pytest.raises(StateRefusal) as told:
        work.start(second, actor=cast.odo, rolled_out="it stands in the yard")

    second.refresh_from_db()
    assert told.value.code == "bay.taken"
    assert first.number in told.value.message
    assert second.state == "cleared"


def test_one_on_hold_makes_room_only_with_where_it_stands_and_comes_back_when_the_bay_is_free(cast):
    first = bays.in_the_bay(cast)
    work.hold(first, actor=cast.odo, reason="waits for a filter")
    second = second_for_north(cast)

    with pytest.raises(Refusal) as told:
        work.start(second, actor=cast.odo)
    work.start(second, actor=cast.odo, rolled_out="in the yard, row 2")

    first.refresh_from_db()
    assert told.value.code == "bay.rolled_out"
    assert "on hold (waits for a filter)" in told.value.message
    assert standing_in(bays.north(cast)) == second
    entry = TrailEntry.objects.get(what="rolled out")
    assert (entry.who, entry.after["words"]) == (cast.odo.name, "in the yard, row 2")

    with pytest.raises(StateRefusal) as back:
        work.resume(first, actor=cast.odo)
    assert (back.value.code, second.number in back.value.message) == ("bay.taken", True)

    work.cut_short(second, actor=cast.maren, words="nothing was opened")
    first.refresh_from_db()
    work.resume(first, actor=cast.odo)
    assert (first.state, standing_in(bays.north(cast))) == ("in the bay", first)


def test_a_job_that_is_closed_out_leaves_its_bay(cast):
    bays.closed_out(cast)

    assert standing_in(bays.north(cast)) is None


def test_a_bay_that_stands_further_off_level_than_the_unit_allows_is_asked_about_at_clearing(cast):
    order = bays.written_up(cast, "B", "V-12")
    pit = cast.brw.bays.get(name="Pit")

    with pytest.raises(Refusal) as told:
        work.clear(order, actor=cast.tobin, bay=pit)
    cleared = work.clear(order, actor=cast.tobin, bay=pit, confirmed=("bay.tilt",))

    assert (told.value.code, told.value.field, told.value.confirmable) == ("bay.tilt", "bay", True)
    assert told.value.message.startswith("Bay Pit stands 0.6° off level by its stored figure; BI870 allows 0.5°")
    assert cleared.bay == pit


def test_the_bays_are_told_with_the_job_in_each_in_promised_order(cast, django_assert_num_queries):
    first, second = bays.in_the_bay(cast), bays.in_the_bay(cast, "A", "V-08")
    work.hold(first, actor=cast.odo, reason="waits for a filter")

    with django_assert_num_queries(1):
        found = bays_now(cast.odo)

    assert {(one.bay, one.number, one.state) for one in found} == {
        ("North", first.number, "on hold"),
        (second.bay.name, second.number, "in the bay"),
    }
    assert [isinstance(one, BayNow) for one in found] == [True, True]
    assert bays_now(cast.jory) == ()


def test_a_job_that_left_its_bay_is_not_taken_back_into_it_while_another_stands_there(cast):
    first = bays.closed_out(cast)
    second = bays.in_the_bay(cast, "A", "V-08")

    with pytest.raises(StateRefusal) as told:
        bay.recheck(first, actor=cast.odo, words="level looks low", once_key="r")

    first.refresh_from_db()
    assert (told.value.code, second.number in told.value.message) == ("bay.taken", True)
    assert first.state == "level set"
