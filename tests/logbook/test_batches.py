"""Which vehicles got a batch, and how much of it is still inside: figures by hand from the demonstration's jobs."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.common.errors import NotYours
from shopserv.logbook.batches import batch_inside, batch_working, known_batches
from shopserv.logbook.models import ServiceRecord

F = Fraction


def poured(cast, number, day, low, high, batch="X-1", corrects=None):
    return ServiceRecord.objects.create(
        vehicle=cast.vehicle(number),
        shop=cast.brw,
        done_on=day,
        method="repeated drain",
        fluid_code="FEN2",
        batch_mark=batch,
        fraction_low_ppm=low,
        fraction_high_ppm=high,
        work_order_number=f"{number} {day} {batch} {low}",
        corrects=corrects,
    )


def told(found):
    return [(one.vehicle.number, one.low, one.high, one.after) for one in found]


def test_the_largest_share_comes_first_and_later_jobs_take_out(cast):
    poured(cast, "V-01", "2026-10-01", 400_000, 500_000)
    poured(cast, "V-02", "2026-10-01", 900_000, 900_000)
    poured(cast, "V-02", "2026-10-20", 479_000, 479_000, batch="")

    found = batch_inside(cast.sam, "x-1")

    assert told(found) == [("V-01", F("0.4"), F("0.5"), 0), ("V-02", F("0.4689"), F("0.4689"), 1)]
    assert [one.product for one in found] == ["FEN2", "FEN2"]


def test_the_ends_of_the_band_go_against_each_other_and_two_pourings_add_up(cast):
    poured(cast, "V-01", "2026-10-01", 400_000, 500_000)
    poured(cast, "V-01", "2026-10-10", 200_000, 300_000, batch="Y-1")
    poured(cast, "V-01", "2026-10-20", 500_000, 500_000)

    (one,) = batch_inside(cast.maren, "X-1")

    assert (one.low, one.high) == (F("0.4") * F("0.7") / 2 + F("0.5"), F("0.5") * F("0.8") / 2 + F("0.5"))
    assert [day.day for day in one.got] == [1, 20]
    assert told(batch_inside(cast.maren, "Y-1")) == [("V-01", F("0.1"), F("0.15"), 1)]


def test_what_was_corrected_counts_no_more(cast):
    wrong = poured(cast, "V-01", "2026-10-01", 400_000, 400_000)
    poured(cast, "V-01", "2026-10-01", 300_000, 300_000, batch="Z-1", corrects=wrong)

    assert batch_inside(cast.sam, "X-1") == []
    assert told(batch_inside(cast.sam, "Z-1")) == [("V-01", F("0.3"), F("0.3"), 0)]


def test_the_sum_names_every_job_and_both_ends(cast):
    poured(cast, "V-01", "2026-10-01", 400_000, 500_000)

    working = batch_working("X-1", batch_inside(cast.sam, "X-1"))

    assert (working.value, [step.value for step in working.steps]) == (1, [F("0.5"), F("0.4")])
    assert [(row.value, row.low) for row in working.given] == [(F("0.5"), F("0.4"))]


def test_the_batches_poured_last_are_known_and_the_question_is_for_owner_and_parts_keeper(cast):
    poured(cast, "V-01", "2026-11-20", 400_000, 400_000)

    assert known_batches(cast.sam)[0] == "X-1"
    assert len(known_batches(cast.maren)) == 6
    for actor in (cast.tobin, cast.odo, cast.ansel):
        with pytest.raises(NotYours):
            batch_inside(actor, "X-1")


def test_it_takes_two_queries(cast, django_assert_num_queries):
    actor = cast.sam
    for day in range(1, 10):
        poured(cast, "V-01", f"2026-10-0{day}", 400_000, 400_000)
        poured(cast, "V-02", f"2026-10-0{day}", 400_000, 400_000)

    with django_assert_num_queries(2):
        assert len(batch_inside(actor, "X-1")) == 2
