"""A reading noted outside a visit renews the forecast in the same deed."""

from __future__ import annotations

import pytest

from shopserv.common.errors import NotYours, Refusal
from shopserv.logbook.models import OdometerReading
from shopserv.reminders.services import readings
from shopserv.shop.models import TrailEntry


def note(cast, actor=None, figure=63_400, source="customer", **more):
    return readings.note(
        cast.vehicle("V-01"), actor=actor or cast.tobin, figure=figure, unit="mi", source=source, **more
    )


def test_the_forecast_follows_the_reading(cast):
    before = cast.vehicle("V-01").forecasts.get(is_current=True)

    reading = note(cast)

    after = cast.vehicle("V-01").forecasts.get(is_current=True)
    assert (reading.state, reading.source) == ("counted", "customer")
    assert after.pk != before.pk
    assert after.working["inputs"]["readings"][-1] == ["2026-11-24", "63400"]
    assert TrailEntry.objects.filter(what="odometer read", subject="V-01").count() == 1


def test_an_estimate_is_kept_and_not_counted(cast):
    reading = note(cast, source="estimate")

    assert reading.state == "set aside"
    assert cast.vehicle("V-01").forecasts.get(is_current=True).working["inputs"]["readings"][-1][1] == "63180"


@pytest.mark.parametrize("source", ["intake", "service", "bay photo", "hearsay"])
def test_sources_of_visit_and_work_are_not_taken_by_hand(cast, source):
    with pytest.raises(Refusal) as refused:
        note(cast, source=source)

    assert refused.value.code == "odometer.source"


def test_a_refused_reading_leaves_nothing(cast):
    before = OdometerReading.objects.count()

    with pytest.raises(Refusal):
        note(cast, figure=61_000)

    assert OdometerReading.objects.count() == before


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_readings_are_noted_by_writer_and_owner(cast, who):
    with pytest.raises(NotYours):
        note(cast, actor=getattr(cast, who))
