"""The work value of a due vehicle is the price before tax of what the plan recommends (worked.json, option C)."""

from __future__ import annotations

from decimal import Decimal

from shopserv.jobs.services.worth import value_of
from shopserv.registry.models import Identification
from shopserv.reminders.models import Forecast
from shopserv.reminders.services import forecasts
from shopserv.reminders.workings import due_workings
from shopserv.reminders.worth import Worth


def test_the_example_vehicle_is_worth_its_recommended_option_before_tax(cast):
    found = value_of(cast.tobin, cast.vehicle("V-01"))

    assert (found.cents, found.method) == (43_463, "line exchange")
    assert found.lines[0] == ("cooler-line fluid exchange", 27_000)
    assert sum(cents for _, cents in found.lines) == 43_463


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


def test_the_value_shows_the_lines_it_is_the_sum_of_to_who_may_see_prices(cast):
    car = cast.vehicle("V-01")
    lines = (("cooler-line fluid exchange", 27_000), ("fluid", 12_208))
    forecasts.renew(car, actor=cast.tobin, value=Worth(39_208, "line exchange", lines))
    forecasts.renew(car, actor=cast.tobin, stop="the owner asked")  # another row, with the value that stands

    _row, found = due_workings(cast.tobin, "V-01", cast.today)
    _row, by_technician = due_workings(cast.odo, "V-01", cast.today)

    working = found["work-value"]
    assert (working.value, working.unit) == (Decimal("392.08"), "USD")
    assert [(step.words, step.value) for step in working.steps] == [
        ("cooler-line fluid exchange", Decimal("270.00")),
        ("fluid", Decimal("122.08")),
    ]
    assert working.assumptions == ()
    assert "work-value" not in by_technician
    forecasts.renew(car, actor=cast.tobin, value=Worth(39_209, "line exchange"))
    _row, older = due_workings(cast.tobin, "V-01", cast.today)
    assert older["work-value"].assumptions == ("its lines were not kept by the version of that time",)


def test_every_vehicle_of_the_scenario_that_can_be_priced_has_a_value(cast):
    rows = Forecast.objects.filter(is_current=True)

    assert rows.filter(worth_cents__gt=0).count() == rows.count()
