"""Counted readings that are likely wrong: named, never dropped, settled by a person."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.calc.readings import Verdict
from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal
from shopserv.logbook import services as logbook
from shopserv.logbook.doubts import Doubt, doubts_of
from shopserv.logbook.models import OdometerReading
from shopserv.reminders.services import forecasts, readings
from shopserv.shop.models import TrailEntry


@pytest.fixture
def swapped(cast) -> OdometerReading:
    """63,180 mi of V-01 stood there; an hour later somebody noted 83,610 for 63,810, from a fleet's file."""
    return noted(cast, 83_610, "mi")


def noted(cast, figure: int, unit: str) -> OdometerReading:
    vehicle = cast.vehicle("V-01")
    reading = OdometerReading.objects.create(
        vehicle=vehicle,
        shop=cast.tobin.shop,
        figure=figure,
        unit=unit,
        as_typed=str(figure),
        read_on=cast.today,
        read_at=clock.now() + timedelta(hours=1),
        source="fleet file",
    )
    forecasts.renew(vehicle, actor=cast.tobin)
    return reading


def current(cast):
    return cast.vehicle("V-01").forecasts.get(is_current=True)


def test_the_demonstration_doubts_nothing_that_counts(cast):
    from shopserv.registry.models import Vehicle

    doubted = [(vehicle.number, doubt) for vehicle in Vehicle.objects.all() for doubt in doubts_of(cast.tobin, vehicle)]

    assert doubted == []


def test_a_doubted_reading_is_named_and_left_out_of_the_forecast(cast, swapped):
    (doubt,) = doubts_of(cast.tobin, cast.vehicle("V-01"))
    row = current(cast)

    assert doubt.reading == swapped
    assert doubt.verdict.odds > 0.3
    assert row.working["inputs"]["readings"][-1][1] == "63180"
    assert row.working["inputs"]["doubted"][0][:2] == [str(cast.today), "83610"]
    swapped.refresh_from_db()
    assert swapped.state == "counted"  # nothing is dropped until a person says so


def test_what_is_right_after_all_counts_and_is_not_asked_again(cast, swapped):
    readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="right")

    swapped.refresh_from_db()
    assert (swapped.state, swapped.reason) == ("counted", "looked at again by Tobin Ashgrave")
    assert doubts_of(cast.tobin, cast.vehicle("V-01")) == []
    assert current(cast).working["inputs"]["readings"][-1][1] == "83610"
    assert "doubted" not in current(cast).working["inputs"]
    assert TrailEntry.objects.filter(what="reading settled", subject="V-01").count() == 1


def test_set_aside_stays_readable_with_its_reason(cast, swapped):
    kind = doubts_of(cast.tobin, cast.vehicle("V-01"))[0].verdict.kind

    readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="aside")

    swapped.refresh_from_db()
    assert (swapped.state, swapped.reason) == ("set aside", f"{kind}, says Tobin Ashgrave")
    assert current(cast).working["inputs"]["readings"][-1][1] == "63180"


def test_the_figure_that_was_meant_is_noted_beside_the_wrong_one(cast, swapped, monkeypatch):
    as_swapped(monkeypatch, swapped, 63_810)

    noted = readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="read as")

    swapped.refresh_from_db()
    assert (swapped.figure, swapped.state) == (83_610, "set aside")
    assert swapped.reason == "two digits exchanged, says Tobin Ashgrave: read as 63,810 mi"
    assert (noted.figure, noted.state, noted.reason) == (63_810, "counted", "looked at again by Tobin Ashgrave")
    assert (noted.read_on, noted.source, noted.as_typed, noted.by) == (
        cast.today,
        "fleet file",
        "83610",
        "Tobin Ashgrave",
    )
    assert current(cast).working["inputs"]["readings"][-1][1] == "63810"


def as_swapped(monkeypatch, reading, meant):
    doubt = Doubt(reading, Verdict("two digits exchanged", meant, 0.9, 0.0), meant)
    monkeypatch.setattr(readings, "doubts_of", lambda *_: [doubt])


def test_a_figure_that_does_not_fit_is_refused_and_nothing_is_changed(cast, swapped, monkeypatch):
    as_swapped(monkeypatch, swapped, 13_810)

    with pytest.raises(Refusal) as refused:
        readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="read as")

    assert refused.value.code == "odometer.does_not_fit"
    swapped.refresh_from_db()
    assert (swapped.state, swapped.reason) == ("counted", "")


@pytest.mark.parametrize(("answer", "meant"), [("perhaps", 5), ("read as", None)])
def test_another_answer_is_refused(cast, swapped, answer, meant):
    with pytest.raises(Refusal) as refused:
        logbook.settle_reading(swapped, actor=cast.tobin, answer=answer, kind="unknown", meant=meant)

    assert refused.value.code == "odometer.answer"


def test_what_was_settled_meanwhile_is_said(cast, swapped):
    readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="aside")

    with pytest.raises(Refusal) as by_page:
        readings.settle(cast.vehicle("V-01"), actor=cast.tobin, key=swapped.pk, answer="right")
    with pytest.raises(Refusal) as by_deed:
        logbook.settle_reading(swapped, actor=cast.tobin, answer="right", kind="unknown")

    assert (by_page.value.code, by_deed.value.code) == ("odometer.settled",) * 2


def test_only_who_takes_vehicles_in_settles_a_reading(cast, swapped):
    for actor in (cast.odo, cast.sam):
        with pytest.raises(NotYours):
            readings.settle(cast.vehicle("V-01"), actor=actor, key=swapped.pk, answer="right")


def test_a_jump_that_was_confirmed_is_not_doubted(cast):
    readings.note(
        cast.vehicle("V-01"), actor=cast.tobin, figure=93_810, unit="mi", source="customer", is_jump_confirmed=True
    )

    assert doubts_of(cast.tobin, cast.vehicle("V-01")) == []
    assert current(cast).working["inputs"]["readings"][-1][1] == "93810"


def test_a_meant_figure_of_another_unit_than_the_vehicles_is_not_proposed(cast):
    noted(cast, 163_610, "km")

    (doubt,) = doubts_of(cast.tobin, cast.vehicle("V-01"))

    assert (doubt.reading.figure, doubt.meant) == (163_610, None)


def test_every_shop_of_the_business_reads_of_doubts(cast, swapped):
    assert [one.reading for one in doubts_of(cast.lise, cast.vehicle("V-01"))] == [swapped]
