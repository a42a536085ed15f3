"""The work value of a due vehicle is the price before tax of what the plan recommends (worked.json, option C)."""

from __future__ import annotations

from shopserv.jobs.services.worth import value_of
from shopserv.registry.models import Identification
from shopserv.reminders.models import Forecast
from shopserv.reminders.services import forecasts
from shopserv.reminders.worth import Worth


def test_the_example_vehicle_is_worth_its_recommended_option_before_tax(cast):
    assert value_of(cast.tobin, cast.vehicle("V-01")) == Worth(43_463, "line exchange")


def test_a_vehicle_whose_unit_is_not_known_has_no_value(cast):
    car = cast.vehicle("V-01")
    Identification.objects.filter(vehicle=car).delete()

    assert value_of(cast.tobin, car) is None


def test_the_value_is_stored_with_the_forecast_and_stays_until_another_is_told(cast):
    car = cast.vehicle("V-01")
    forecasts.renew(car, actor=cast.tobin, value=Worth(43_463, "line exchange"))
    forecasts.renew(car, actor=cast.tobin)

    row = Forecast.objects.get(vehicle=car, is_current=True)
    assert (row.worth_cents, row.worth_method) == (43_463, "line exchange")


def test_every_vehicle_of_the_scenario_that_can_be_priced_has_a_value(cast):
    rows = Forecast.objects.filter(is_current=True)

    assert rows.filter(worth_cents__gt=0).count() == rows.count()
