"""Services written into the logbook: ours and those done elsewhere, mended only by a second record."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common.errors import Refusal
from shopserv.logbook import selectors
from shopserv.logbook.services import record_service

FACTS = {"method": "single drain", "fluid_code": "FEN2", "fraction_low_ppm": 392_000, "fraction_high_ppm": 392_000}


def test_a_service_of_ours_names_its_shop_and_one_elsewhere_none(cast):
    car = cast.vehicle("V-01")
    ours = record_service(car, actor=cast.tobin, done_on=cast.today, work_order_number="BRW-W-1", **FACTS)
    theirs = record_service(car, actor=cast.tobin, elsewhere=True, done_on=cast.today, **FACTS)

    assert (ours.shop, theirs.shop) == (cast.brw, None)
    assert [s.pk for s in selectors.services_of(cast.tobin, car)][-2:] == [ours.pk, theirs.pk]


def test_the_same_service_twice_is_refused(cast):
    car = cast.vehicle("V-01")
    record_service(car, actor=cast.tobin, done_on=cast.today, **FACTS)

    with pytest.raises(Refusal) as refused:
        record_service(car, actor=cast.tobin, done_on=cast.today, **FACTS)

    assert refused.value.code == "service.twice"


def test_b040_a_service_cannot_lie_ahead_of_the_shops_day(cast):
    with pytest.raises(Refusal) as refused:
        record_service(cast.vehicle("V-01"), actor=cast.tobin, done_on=cast.today + timedelta(days=1), **FACTS)

    assert refused.value.code == "date.future"


def test_a_second_record_names_the_one_it_mends(cast):
    car = cast.vehicle("V-01")
    first = selectors.services_of(cast.tobin, car)[0]

    mended = record_service(
        car, actor=cast.tobin, done_on=first.done_on, corrects=first, **{**FACTS, "method": "repeated drain"}
    )

    again = selectors.services_of(cast.tobin, car).get(pk=first.pk)
    assert [row.pk for row in again.corrected_by.all()] == [mended.pk]


def test_a_customer_reads_the_services_of_the_own_vehicle_alone(cast):
    assert selectors.services_of(cast.ansel, cast.vehicle("V-01")).count() == 1
    assert selectors.services_of(cast.ansel, cast.vehicle("V-02")).count() == 0
