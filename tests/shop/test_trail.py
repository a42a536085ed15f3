"""The trail is a chain of hashes that one changed byte breaks; sealed at once or by a task."""

from __future__ import annotations

import pytest
from django.db import connection

from shopserv.common import frozen
from shopserv.shop import trail
from shopserv.shop.models import TrailEntry


@pytest.fixture
def written(cast):
    for number in range(5):
        trail.write(cast.tobin, "something done", cast.vehicle("V-01"), before={"n": number}, n=number + 1)
    trail.seal()
    return TrailEntry.objects.filter(what="something done").order_by("pk")


def test_all_rows_are_sealed_and_the_chain_holds(written):
    assert not TrailEntry.objects.filter(own_hash="").exists()
    assert trail.breaks() == []
    assert written[0].previous_hash == TrailEntry.objects.filter(pk__lt=written[0].pk).order_by("-pk")[0].own_hash


def test_sealing_again_changes_nothing(written):
    before = list(TrailEntry.objects.order_by("pk").values_list("own_hash", flat=True))

    assert trail.seal() == 0
    assert list(TrailEntry.objects.order_by("pk").values_list("own_hash", flat=True)) == before


@pytest.mark.parametrize("column", ["who", "what", "subject", "request_id", "from_where"])
def test_one_changed_byte_is_found(written, column):
    row = written[2]
    frozen.lift_guards()  # somebody with the key to the database
    TrailEntry.objects.filter(pk=row.pk).update(**{column: getattr(row, column) + "x"})
    frozen.set_guards()

    assert trail.breaks() == [row.pk]


def test_a_changed_figure_in_what_was_before_is_found(written):
    frozen.lift_guards()
    TrailEntry.objects.filter(pk=written[3].pk).update(before={"n": 99})
    frozen.set_guards()

    assert trail.breaks() == [written[3].pk]


def test_a_row_taken_out_of_the_middle_is_found(written):
    gone, after = written[2].pk, written[3].pk
    frozen.lift_guards()
    TrailEntry.objects.filter(pk=gone).delete()
    frozen.set_guards()

    assert trail.breaks() == [after]


def test_where_writers_cannot_overtake_each_other_a_row_is_sealed_at_once(cast):
    trail.write(cast.tobin, "something done", cast.vehicle("V-01"))

    sealed = TrailEntry.objects.get(what="something done").own_hash != ""

    assert sealed == (not connection.features.has_select_for_update)
