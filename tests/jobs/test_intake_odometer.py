"""A figure that all the others doubt: asked at intake, and once corrected gone from what is written afterwards."""

from __future__ import annotations

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.models import Visit
from shopserv.jobs.services import quotes
from shopserv.jobs.snapshots.common import vehicle_part
from shopserv.logbook.doubts import doubts_of
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.selectors import last_counted, standing
from shopserv.reminders.services import readings
from tests.jobs import stage

pytestmark = pytest.mark.django_db
KM = 183_880  # what V-09's neighbors let expect in miles, as kilometers


def test_kilometers_typed_as_miles_are_asked_at_intake_and_nothing_is_kept(cast):
    before = OdometerReading.objects.count()

    with pytest.raises(Refusal) as asked:
        stage.take_in(cast, "V-09", odometer=KM)

    assert (asked.value.code, asked.value.confirmable, asked.value.field) == ("odometer.jump", True, "odometer")
    assert "183,880 mi would be " in asked.value.message
    assert "It fits as 114,258 mi: read in the other unit" in asked.value.message
    assert (OdometerReading.objects.count(), Visit.objects.filter(vehicle__number="V-09", state="here").count()) == (
        before,
        0,
    )


def test_a_figure_that_was_confirmed_counts_and_is_not_asked_again(cast):
    visit = stage.take_in(cast, "V-09", odometer=KM, is_jump_confirmed=True)

    assert (visit.reading.state, visit.odometer) == ("counted", visit.reading)
    assert doubts_of(cast.tobin, visit.vehicle) == []


@pytest.fixture
def wrong(cast):
    """Taken in with the wrong figure, by a program that did not ask."""
    vehicle = cast.vehicle("V-09")
    visit = stage.take_in(cast, "V-09", odometer=last_counted(vehicle).figure + 100)
    row = OdometerReading.objects.create(
        vehicle=vehicle,
        shop=visit.shop,
        figure=KM,
        unit="mi",
        read_on=visit.reading.read_on,
        read_at=visit.reading.read_at.replace(microsecond=7),
        source="intake",
    )
    Visit.objects.filter(pk=visit.pk).update(reading=row)
    return Visit.objects.get(pk=visit.pk)


@pytest.mark.parametrize("answer", ["read as", "aside"])
def test_what_is_written_after_a_correction_shows_the_corrected_figure(cast, wrong, answer):
    (doubt,) = doubts_of(cast.tobin, wrong.vehicle)
    stood = last_counted(wrong.vehicle, None)
    assert stood.figure == KM

    settled = readings.settle(wrong.vehicle, actor=cast.tobin, key=doubt.reading.pk, answer=answer)

    again = Visit.objects.get(pk=wrong.pk)
    wanted = settled if answer == "read as" else last_counted(again.vehicle)
    assert wanted.figure < 120_000
    assert again.odometer == wanted
    paper = vehicle_part(again.vehicle, again, again.came_at, again.shop)
    assert (paper["odometer"], paper["odometer_unit"]) == (wanted.figure, "mi")
    plan = quotes.plan_for(cast.tobin, again.vehicle, visit=again)
    version = quotes.write(plan, actor=cast.tobin)
    assert version.quote.visit.odometer.figure == wanted.figure


def test_nothing_read_stands_for_nothing_and_an_estimate_for_itself(cast):
    guess = stage.take_in(cast, "V-01", odometer=70_000, is_estimate=True).reading

    assert standing(None) is None
    assert (guess.state, standing(guess)) == ("set aside", guess)
