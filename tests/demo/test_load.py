"""The demonstration loads whole, traps included; loading again doubles nothing. Source of all figures: demo.json."""

from __future__ import annotations

from datetime import date
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from shopserv.catalog.models import Package, Part, SheetValue
from shopserv.catalog.selectors import sheet_in_force, values_of
from shopserv.demo.load import load_all
from shopserv.demo.rows import scenario
from shopserv.jobs.models import Visit
from shopserv.logbook.models import OdometerReading, ServiceRecord
from shopserv.registry.models import Customer, Identification, KeeperRecord, MessageConsent, Vehicle
from shopserv.reminders.models import Forecast, Reminder
from shopserv.shop.models import RateCard, RoleGrant, Staff, TrailEntry


def test_loading_twice_doubles_nothing_and_leaves_one_trail_entry(cast):
    before = {m: m.objects.count() for m in (Vehicle, OdometerReading, ServiceRecord, Forecast, Visit, Reminder, Staff)}

    tally = load_all()

    assert tally.total == 0
    assert {m: m.objects.count() for m in before} == before
    assert TrailEntry.objects.filter(what="scenario loaded").count() == 1


def test_every_row_of_the_scenario_that_has_a_table_is_there(cast):
    data = scenario()
    vans = data["fleet"]["vans"]
    everyone = [*data["vehicles"], *data["stray_records"], *vans]
    readings = sum(len(one["readings"]) + len(one.get("readings_second", [])) for one in everyone)

    assert Vehicle.objects.count() == len(everyone) == 53
    assert OdometerReading.objects.count() == readings - 1  # the one dated 2062 is refused
    assert ServiceRecord.objects.count() == sum(len(one["services"]) for one in everyone)
    assert (Part.objects.count(), Package.objects.count(), Customer.objects.count()) == (20, 8, 14)
    assert RateCard.objects.count() == 4


def test_the_command_says_what_was_refused_and_what_waits(cast):
    said = StringIO()

    call_command("load_demo", stdout=said)

    lines = said.getvalue().strip().splitlines()
    assert "refused: F-23: a reading of 114,916 dated 2062-11-09 lies ahead; not taken" in lines
    assert lines[-1] == "Waiting for tables of later issues: batches (7), stock (17), waste containers (3)."


def test_the_command_refuses_outside_the_demonstration(cast, settings):
    settings.IN_PRODUCTION = True

    with pytest.raises(CommandError):
        call_command("load_demo")
    with pytest.raises(CommandError):
        call_command("demo_signins")


def test_signins_are_printed_for_every_role(cast):
    said = StringIO()

    call_command("demo_signins", stdout=said)

    text = said.getvalue()
    assert all(f"  {role} " in text for role in ("owner", "writer", "technician", "parts"))
    assert "rufus" not in text


def test_a_null_torque_is_a_row_without_a_figure_and_any_other_null_is_no_row(cast):
    sheet = sheet_in_force(cast.unit("DO440"), cast.today)
    values = values_of(sheet)

    assert not values["torque_drain_mnm"].is_fitted
    assert values["torque_pan_mnm"].low == 13_000
    assert "drain_ml" not in values  # 0 is refused
    assert "thermostat_opens_mdegc" not in values
    assert not SheetValue.objects.filter(low=0).exists()


def test_an_unknown_fill_is_a_band(cast):
    fill = values_of(sheet_in_force(cast.unit("GO510"), cast.today))["total_fill_ml"]

    assert (fill.low, fill.high, fill.is_band) == (7200, 8600, True)
    assert fill.grade == "invented"


@pytest.mark.parametrize(
    ("number", "figure", "state"),
    [("V-07", 84_120, "set aside"), ("F-17", 412, "set aside"), ("V-07", 88_410, "counted")],
)
def test_readings_that_cannot_be_are_set_aside_with_a_reason(cast, number, figure, state):
    reading = OdometerReading.objects.get(vehicle__number=number, figure=figure)

    assert reading.state == state
    assert bool(reading.reason) == (state == "set aside")


def test_a_reading_ahead_of_its_time_is_not_stored(cast):
    assert not OdometerReading.objects.filter(read_on__gt=cast.today).exists()


def test_the_sold_vehicle_has_two_keepers_and_a_stopped_reminder_to_the_seller(cast):
    keepers = KeeperRecord.objects.filter(vehicle__number="V-06").order_by("from_on")
    reminder = Reminder.objects.get(vehicle__number="V-06")

    assert list(keepers.values_list("customer__number", "from_on")) == [
        ("C-006", date(2020, 4, 1)),
        ("C-013", date(2026, 2, 14)),
    ]
    assert (reminder.customer.number, reminder.state) == ("C-006", "stopped")
    assert not reminder.forecast.is_current


def test_the_stray_record_is_a_disputed_vehicle_of_its_own(cast):
    stray = cast.vehicle("V-03x")

    assert stray.is_disputed
    assert stray.vin_check == "check_digit_differs"


def test_who_has_withdrawn_every_permission_has_them_in_the_order_of_time(cast):
    rows = MessageConsent.objects.filter(contact_point__customer__number="C-011", contact_point__kind="phone")

    assert list(rows.order_by("at", "purpose").values_list("purpose", "given")) == [
        ("reminder", True),
        ("status", True),
        ("reminder", False),
        ("status", False),
    ]


def test_who_has_left_keeps_the_name_and_no_role(cast):
    assert cast.rufus.roles == frozenset()
    assert cast.person("Rufus").state == "left"
    assert RoleGrant.objects.filter(staff=cast.person("Rufus"), given=False).exists()


def test_the_day_expects_its_vehicles_at_their_shops(cast):
    rows = Visit.objects.order_by("expected_at").values_list("shop__code", "vehicle__number", "state")

    assert list(rows) == [
        ("BRW", "F-09", "expected"),
        ("BRW", "V-02", "expected"),
        ("BRW", "V-01", "expected"),
        ("BRW", "F-11", "expected"),
        ("SLT", "V-07", "expected"),
        ("BRW", "V-09", "expected"),
        ("SLT", "V-05", "expected"),
        ("BRW", "V-04", "expected"),
    ]


def test_one_identification_counts_for_each_vehicle(cast):
    assert Identification.objects.filter(state="counted").count() == Vehicle.objects.count()
    assert Identification.objects.get(vehicle__number="V-02").grade == "by evidence"
