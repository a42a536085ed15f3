"""The lines of a vehicle's file: what each says, who sees it, and how they are paged."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopserv.common import clock
from shopserv.jobs.selectors import entries
from shopserv.jobs.services import visits
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.services import note_reading, record_service
from shopserv.registry.services import vehicles
from tests.jobs import bay_stage, stage


def log(actor, cast, number="V-01", **more):
    return entries.log_of(actor, cast.vehicle(number), **more)


def lines(actor, cast, kind, number="V-01"):
    return [entry for entry in log(actor, cast, number).entries if entry.kind == kind]


def noted(cast, count, number="V-01"):
    """So many readings of the days before the first one on file."""
    vehicle, first = cast.vehicle(number), date(2019, 5, 1)
    OdometerReading.objects.bulk_create(
        OdometerReading(
            vehicle=vehicle,
            shop=cast.slt,
            figure=100 + n,
            unit="mi",
            read_on=first + timedelta(days=n),
            read_at=cast.morning - timedelta(days=2700 - n),
            source="fleet file",
        )
        for n in range(count)
    )


def test_the_newest_line_stands_first(cast):
    stage.offered(cast)

    found = log(cast.tobin, cast).entries

    assert [entry.kind for entry in found[:2]] == ["quote", "visit"]
    assert found[-1].kind == "keeper"
    assert [entry.key for entry in found] == sorted((entry.key for entry in found), reverse=True)


def test_a_service_names_product_share_and_shop(cast):
    (done,) = lines(cast.tobin, cast, "service")

    assert (done.day, done.figure, done.a, done.b, done.c) == (
        date(2023, 12, 12),
        31_890,
        "single drain",
        "Saltreach",
        "Fenmark 2 Multi",
    )
    assert (done.n1, done.n2, done.n3) == (3_200, 392_000, 392_000)


def test_a_fluid_that_is_no_product_keeps_its_name(cast):
    record_service(
        cast.vehicle("V-01"),
        actor=cast.tobin,
        elsewhere=True,
        done_on=date(2024, 1, 5),
        method="single drain",
        fluid_code="as the paper says",
        fraction_low_ppm=300_000,
        fraction_high_ppm=400_000,
    )

    assert lines(cast.tobin, cast, "service")[0].c == "as the paper says"


def test_a_corrected_service_and_its_correction_say_so(cast):
    first = cast.vehicle("V-01").services.get()
    record_service(
        cast.vehicle("V-01"),
        actor=cast.tobin,
        done_on=first.done_on,
        method="double drain",
        fluid_code="FEN2",
        fraction_low_ppm=500_000,
        fraction_high_ppm=600_000,
        corrects=first,
    )

    assert [entry.e for entry in lines(cast.tobin, cast, "service")] == ["corrects", "corrected"]


def test_a_reading_set_aside_stays_in_sight_with_its_reason(cast):
    note_reading(
        cast.vehicle("V-01"), actor=cast.tobin, figure=61_000, unit="mi", source="customer", why_lower="cannot tell"
    )

    newest = lines(cast.tobin, cast, "reading")[0]
    assert (newest.figure, newest.b, newest.c) == (61_000, "set aside", "cannot tell which is wrong")


def test_a_reading_set_aside_at_intake_stands_beside_its_visit(cast):
    stage.take_in(cast, "V-01", odometer=61_000, odometer_unit="mi", why_lower="cannot tell")

    (visit,), (reading, *_rest) = lines(cast.tobin, cast, "visit"), lines(cast.tobin, cast, "reading")
    assert (visit.figure, reading.figure, reading.b) == (None, 61_000, "set aside")


def test_a_reading_that_counts_stands_in_the_line_of_its_visit(cast):
    stage.take_in(cast, "V-01", odometer=63_200, odometer_unit="mi")

    assert lines(cast.tobin, cast, "visit")[0].figure == 63_200
    assert 63_200 not in [entry.figure for entry in lines(cast.tobin, cast, "reading")]


def test_a_finding_says_kind_state_and_words(cast):
    stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "when cold")})

    (found,) = lines(cast.tobin, cast, "finding")
    assert (found.a, found.b, found.c) == ("K-02", "suspected", "when cold")


def test_a_new_plate_has_a_line(cast):
    vehicles.change_plate(cast.vehicle("V-01"), actor=cast.tobin, plate="BRW 77")

    assert lines(cast.tobin, cast, "plate")[0].a == "BRW 77"


def test_quotes_come_with_the_totals_of_their_options(cast):
    version = stage.offered(cast)

    assert log(cast.tobin, cast).totals == {
        version.pk: [("A", 18_364), ("B", 39_569), ("C", 44_295), ("D", 64_189)],
    }


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_who_may_not_see_prices_sees_no_quote_no_consent_and_no_name(cast, who):
    bay_stage.cleared(cast)
    assert {"quote", "authorization"} <= {entry.kind for entry in log(cast.tobin, cast).entries}

    found = log(getattr(cast, who), cast)

    assert found.totals == {}
    assert not {"quote", "authorization", "reminder"} & {entry.kind for entry in found.entries}
    assert "Thornby" not in repr(found)


def test_what_belongs_to_the_other_shop_stays_there(cast):
    bay_stage.cleared(cast)

    kinds = {entry.kind for entry in log(cast.lise, cast).entries}

    assert not kinds & {"visit", "quote", "authorization", "work", "finding"}
    assert {"reading", "service", "identification", "keeper"} <= kinds


def test_a_technician_sees_the_own_work_orders_alone(cast):
    bay_stage.cleared(cast)

    assert [entry.a for entry in lines(cast.odo, cast, "work")] != []
    assert lines(cast.pilar, cast, "work") == []


def test_pages_follow_each_other_without_gap_or_repeat(cast):
    stage.offered(cast)
    noted(cast, 60)
    whole = [entry.key for entry in log(cast.tobin, cast, size=500).entries]

    paged, before = [], None
    while True:
        page = log(cast.tobin, cast, before=before, size=7)
        paged += [entry.key for entry in page.entries]
        before = page.before
        if before is None:
            break

    assert paged == whole
    assert len(whole) > 70


@pytest.mark.parametrize("rows", [1, 300])
def test_a_page_takes_two_queries_however_long_the_life(cast, rows, django_assert_num_queries):
    tobin, vehicle = cast.tobin, cast.vehicle("V-01")
    noted(cast, rows)

    with django_assert_num_queries(2):
        entries.log_of(tobin, vehicle)


def test_times_of_lines_are_moments(cast):
    stage.take_in(cast, "V-01")

    at = lines(cast.tobin, cast, "visit")[0].at
    assert abs((clock.now() - at).total_seconds()) < 60
