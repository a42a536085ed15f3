"""The due-soon strip reads stored forecasts by key, in a fixed number of queries."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.registry.models import Vehicle
from shopserv.reminders.models import Forecast
from shopserv.reminders.selectors import due_by_day, due_page, forecast_of, forecasts_of


def many(cast, count):
    """`count` vehicles of Brindlewick due today, after every other forecast was put away."""
    Forecast.objects.filter(is_current=True).update(is_current=False)
    cars = Vehicle.objects.bulk_create(Vehicle(number=f"Q-{n:04d}", first_shop=cast.brw) for n in range(count))
    Forecast.objects.bulk_create(
        Forecast(
            vehicle=car,
            shop=cast.brw,
            keeper=cast.customer("C-001"),
            made_at=clock.now(),
            due_on=cast.today + timedelta(days=number // 100),
            inputs_hash="",
            calc_version="1",
        )
        for number, car in enumerate(cars)
    )


@pytest.mark.parametrize("rows", [1, 300])
def test_a_page_takes_three_queries(cast, rows, django_assert_num_queries):
    many(cast, rows)
    tobin = cast.tobin

    with django_assert_num_queries(3):
        page = due_page(tobin, today=cast.today, size=300)

    assert len(page.rows) == page.counted == rows


def test_pages_by_key_show_every_line_once_in_the_order_of_the_due_date(cast):
    many(cast, 120)
    seen, after = [], None
    while True:
        page = due_page(cast.tobin, today=cast.today, after=after, size=50)
        seen += [(row.due_on, row.vehicle_pk) for row in page.rows]
        after = page.after
        if after is None:
            break

    assert seen == sorted(seen)
    assert len(seen) == len(set(seen)) == 120


def test_six_weeks_of_brindlewick_begin_with_what_is_past_due(cast):
    page = due_page(cast.tobin, today=cast.today)

    assert [row.number for row in page.rows][:4] == ["V-09", "V-04", "V-03", "V-12"]
    assert [row.stands_on for row in page.rows] == sorted(row.stands_on for row in page.rows)
    assert all(row.due_on <= cast.today + timedelta(weeks=6) for row in page.rows)
    assert {row.shop for row in page.rows} == {"BRW"}


def test_what_is_past_by_distance_stands_where_the_readings_ran_through_it(cast):
    rows = {row.number: row for row in due_page(cast.maren, today=cast.today, all_shops=True, fleet=True).rows}
    past = [number for number, row in rows.items() if row.left_m < 0]

    # worked_due.json names Nov 20 for all seven, the day of the last reading, and how far each is past
    assert (past[0], past[-1], len(past)) == ("F-07", "F-09", 7)
    assert {str(rows[number].due_on) for number in past} == {"2026-11-20"}
    assert str(rows["F-07"].stands_on) == str(rows["F-07"].crossed_on) == "2026-08-29"
    assert (rows["F-16"].crossed_on, rows["F-16"].stands_on) == (None, rows["F-16"].due_on)


def test_vehicles_by_day_are_counted_where_they_stand(cast):
    last_reading = cast.today - timedelta(days=4)

    assert due_by_day(cast.maren, first=last_reading, last=last_reading, all_shops=True, fleet=True) == {}


def test_a_writer_sees_the_own_shop_and_the_owner_may_ask_for_all(cast):
    assert {row.shop for row in due_page(cast.lise, today=cast.today, all_shops=True).rows} == {"SLT"}
    assert {row.shop for row in due_page(cast.maren, today=cast.today, all_shops=True).rows} == {"BRW", "SLT"}


def test_fleet_and_people_are_filtered(cast):
    fleet = due_page(cast.maren, today=cast.today, all_shops=True, fleet=True).rows
    people = due_page(cast.maren, today=cast.today, all_shops=True, fleet=False).rows

    assert {row.keeper for row in fleet} == {"Kell Top Parcel Carriers"}
    assert len(fleet) == 16  # 8 past due and 8 within 42 days (worked.json)
    assert "Kell Top Parcel Carriers" not in {row.keeper for row in people}


def test_permission_to_remind_is_the_newest_word(cast):
    rows = {row.number: row.permission for row in due_page(cast.maren, today=cast.today, all_shops=True).rows}

    assert rows["V-01"] is True
    assert rows["V-03"] is False  # takes only status messages
    assert rows["V-11"] is False  # has withdrawn all


def test_the_stray_second_record_is_not_on_the_list(cast):
    assert not forecasts_of(cast.tobin).filter(vehicle__number="V-03x").exists()


@pytest.mark.parametrize("who", ["odo", "sam", "ansel"])
def test_a_technician_the_parts_keeper_and_a_customer_may_not(cast, who):
    with pytest.raises(NotYours):
        due_page(getattr(cast, who), today=cast.today)


def test_the_forecast_that_counts_is_read_for_a_vehicle(cast):
    assert forecast_of(cast.odo, cast.vehicle("F-30")).is_current


def test_a_range_of_days_is_looked_between(cast):
    since, until = cast.today, cast.today + timedelta(days=7)

    rows = due_page(cast.maren, today=cast.today, since=since, until=until, all_shops=True).rows

    assert rows
    assert all(since <= row.due_on <= until for row in rows)


def test_days_are_counted_in_one_query(cast, django_assert_num_queries):
    many(cast, 250)
    tobin = cast.tobin

    with django_assert_num_queries(1):
        counts = due_by_day(tobin, first=cast.today, last=cast.today + timedelta(days=1))

    assert counts == {cast.today: 100, cast.today + timedelta(days=1): 100}
