"""A top-up with another fluid than the unit asks for: asked, without a share, and suspected as K-06 until a change."""

from __future__ import annotations

from datetime import date

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services.findings import note_finding
from shopserv.jobs.services.top_ups import top_up
from shopserv.jobs.services.visits import leave
from shopserv.logbook.models import ServiceRecord
from shopserv.logbook.services import record_service
from shopserv.reminders.models import Forecast
from tests.jobs import stage

pytestmark = pytest.mark.django_db


def poured(cast, number="V-01", **changes):
    said = {
        "on": cast.today, "figure": 63_180, "unit": "mi", "added_ml": 900, "fluid_code": "FENV",
        "is_other_fluid_confirmed": True,
    }  # fmt: skip
    return top_up(cast.vehicle(number), actor=cast.tobin, **{**said, **changes})


def codes(found):
    return [(one.code, one.state) for one in found]


def test_another_fluid_is_asked_and_nothing_kept_before(cast):
    with pytest.raises(Refusal) as refused:
        poured(cast, is_other_fluid_confirmed=False)

    assert (refused.value.code, refused.value.field, refused.value.confirmable) == ("top_up.fluid", "fluid", True)
    assert not ServiceRecord.objects.filter(method="top-up").exists()


def test_confirmed_it_earns_no_share_and_leaves_the_due_day(cast):
    vehicle = cast.vehicle("V-01")
    before = Forecast.objects.get(vehicle=vehicle, is_current=True)
    row = poured(cast)
    now = Forecast.objects.get(vehicle=vehicle, is_current=True)

    assert (row.fraction_low_ppm, row.fraction_high_ppm, row.liters_in_ml) == (0, 0, 900)
    assert (now.months_due_on, now.distance_due_on) == (before.months_due_on, before.distance_due_on)
    assert codes(selectors.standing_on(vehicle)) == [("K-06", "suspected")]


@pytest.mark.control
def test_the_fluid_asked_for_has_its_share_and_no_finding(cast):
    row = poured(cast, fluid_code="FEN2", is_other_fluid_confirmed=False)

    assert row.fraction_low_ppm > 100_000
    assert selectors.standing_on(cast.vehicle("V-01")) == ()


def test_it_stands_at_the_next_visit_and_once_lifted_does_not_come_back(cast):
    poured(cast)
    visit = stage.take_in(cast, "V-01")
    assert codes(selectors.standing(visit)) == [("K-06", "suspected")]

    note_finding(visit, actor=cast.odo, code="K-06", state="not confirmed", words="strip and smell as they should be")
    leave(visit, actor=cast.tobin, words="comes tomorrow")
    assert selectors.standing_on(cast.vehicle("V-01")) == ()
    assert selectors.standing(stage.take_in(cast, "V-01")) == ()


def test_on_an_open_visit_it_stands_at_once(cast):
    visit = stage.take_in(cast, "V-01")
    assert selectors.standing(visit) == ()
    poured(cast)

    assert codes(selectors.standing(visit)) == [("K-06", "suspected")]


def test_an_exchange_ends_the_suspicion(cast):
    vehicle = cast.vehicle("V-01")
    poured(cast)
    record_service(
        vehicle, actor=cast.tobin, done_on=cast.today, figure=63_180, method="line exchange", fluid_code="FEN2",
        fraction_low_ppm=900_000, fraction_high_ppm=950_000,
    )  # fmt: skip

    assert selectors.standing_on(vehicle) == ()


def test_a_top_up_before_the_vehicle_ran_is_refused_by_its_first_day(cast):
    with pytest.raises(Refusal) as refused:
        poured(cast, on=date(2001, 3, 1))

    assert (refused.value.code, refused.value.field) == ("top_up.first_use", "topped_on")
