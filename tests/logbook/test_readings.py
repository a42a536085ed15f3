"""Odometer readings: a lower one is never lost and never counted silently (I-08, N-04, N-05). Bad input by its id."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise

import pytest

from shopserv.common.errors import Refusal
from shopserv.logbook import selectors
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.services import change_instrument, note_reading
from shopserv.shop.models import TrailEntry

MILE_M = Fraction(1_609_344, 1000)


def read(cast, number="V-01", figure=63_200, unit="mi", **more):
    return note_reading(cast.vehicle(number), actor=cast.tobin, figure=figure, unit=unit, source="intake", **more)


def refused_code(cast, **more):
    before = OdometerReading.objects.count()
    with pytest.raises(Refusal) as refused:
        read(cast, **more)
    assert OdometerReading.objects.count() == before
    return refused.value


def test_a_higher_figure_counts_and_leaves_one_trail_entry(cast):
    reading = read(cast)

    assert (reading.state, reading.figure, reading.as_typed) == ("counted", 63_200, "63200 mi")
    assert TrailEntry.objects.filter(what="odometer read", subject="V-01").count() == 1


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"figure": -12}, "odometer.range"),  # B009
        ({"figure": 10_000_000}, "odometer.range"),  # B014
        ({"figure": 99_999_999_999_999_999_999}, "odometer.range"),  # B014
        ({"figure": 62_000}, "odometer.went_back"),  # B010
        ({"figure": 912_400}, "odometer.jump"),  # B011
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(cast, more, code):
    assert refused_code(cast, **more).code == code


def test_b010_the_question_names_the_last_figure_and_its_day(cast):
    asked = refused_code(cast, figure=62_000)

    assert "63,180 mi on November 24, 2026; 62,000 mi is less" in asked.message
    assert asked.confirmable


def test_a_day_ahead_is_refused_and_today_is_the_shops_day(cast):
    assert refused_code(cast, on=cast.today + timedelta(days=1)).code == "date.future"
    assert read(cast, on=cast.today).read_on == cast.today


def test_i08_cannot_tell_sets_the_figure_aside_and_adds_one_row(cast):
    before = OdometerReading.objects.count()

    reading = read(cast, figure=62_000, why_lower="cannot tell")

    assert (reading.state, reading.reason) == ("set aside", "cannot tell which is wrong")
    assert OdometerReading.objects.count() == before + 1


def test_this_reading_mistyped_is_kept_and_does_not_count(cast):
    reading = read(cast, figure=62_000, why_lower="mistyped now")

    assert (reading.state, reading.reason) == ("set aside", "this reading was mistyped")


def test_an_earlier_reading_mistyped_is_set_aside_and_this_one_counts(cast):
    reading = read(cast, figure=62_000, why_lower="mistyped before")

    assert reading.state == "counted"
    above = OdometerReading.objects.get(vehicle__number="V-01", figure=63_180)
    assert above.state == "set aside"
    assert "Tobin Ashgrave" in above.reason


def test_a_replaced_instrument_begins_anew_and_distances_add_up(cast):
    reading = read(cast, figure=20, why_lower="replaced", first_figure=5)
    car = cast.vehicle("V-01")

    stands = selectors.stands(list(selectors.readings_of(cast.tobin, car)), selectors.changes_of(car))

    assert (reading.instrument, reading.state) == (2, "counted")
    assert stands[-1].distance_m == (63_180 + 15) * MILE_M


def test_t5_miles_and_kilometers_add_across_instruments_of_v10(cast):
    car = cast.vehicle("V-10")

    stands = selectors.stands(list(selectors.readings_of(cast.tobin, car)), selectors.changes_of(car))

    # 38,440 mi + (30,120 - 12) km = 57,148.2 mi (worked.json, odometer_change_V10)
    assert round(float(stands[-1].distance_m / MILE_M), 1) == 57_148.2
    assert [s.distance_m for s in stands] == sorted(s.distance_m for s in stands)


def test_b016_kilometers_for_an_instrument_in_miles_are_converted_once_half_up(cast):
    reading = read(cast, number="V-03", figure=150_000, unit="km", as_typed="150000 km")

    # 150,000 km / 1.609344 = 93,205.68 mi
    assert (reading.figure, reading.unit, reading.as_typed) == (93_206, "mi", "150000 km")


def test_an_instrument_in_kilometers_takes_kilometers_as_they_are(cast):
    reading = read(cast, number="V-10", figure=30_400, unit="km")

    assert (reading.figure, reading.unit, reading.instrument) == (30_400, "km", 2)


def test_an_estimate_never_counts(cast):
    reading = note_reading(cast.vehicle("V-01"), actor=cast.tobin, figure=65_000, unit="mi", source="estimate")

    assert reading.state == "set aside"


def test_a_jump_may_be_confirmed(cast):
    assert read(cast, figure=912_400, is_jump_confirmed=True).state == "counted"


def test_a_reading_of_the_past_must_fit_between_its_neighbors(cast):
    day = cast.today - timedelta(days=60)

    assert read(cast, figure=60_500, on=day).state == "counted"
    assert read(cast, figure=63_190, on=day - timedelta(days=1)).reason == "higher than a reading after it"


def test_counted_readings_of_one_instrument_never_fall_with_time(cast):
    rows = OdometerReading.objects.filter(state="counted").order_by("vehicle", "instrument", "read_at")
    for before, after in pairwise(rows):
        if (before.vehicle_id, before.instrument) == (after.vehicle_id, after.instrument):
            assert after.figure >= before.figure


def test_a_second_replacement_of_a_day_is_refused_where_it_is_read(cast):
    assert read(cast, figure=40, why_lower="replaced", old_figure=63_190, first_figure=0).state == "counted"

    with pytest.raises(Refusal) as twice:
        read(cast, figure=5, why_lower="replaced", old_figure=45, first_figure=0)

    assert (twice.value.code, twice.value.field) == ("odometer.changed_twice", "replaced_on")


def test_an_instrument_is_replaced_once_a_day_and_not_ahead_of_time(cast):
    car = cast.vehicle("V-01")
    common = {"actor": cast.tobin, "old_last": (63_180, "mi"), "new_first": (0, "mi")}
    change_instrument(car, on=cast.today, evidence="invoice", **common)

    with pytest.raises(Refusal) as twice:
        change_instrument(car, on=cast.today, **common)
    with pytest.raises(Refusal) as ahead:
        change_instrument(car, on=cast.today + timedelta(days=1), **common)

    assert (twice.value.code, ahead.value.code) == ("odometer.changed_twice", "date.future")
    assert selectors.instrument_of(car) == 2


def test_of_two_readings_of_one_day_the_higher_is_the_newest(cast):
    vehicle = cast.vehicle("V-01")  # the scenario reads 63,180 later this morning than the clock stands

    note_reading(vehicle, actor=cast.tobin, figure=63_204, unit="mi", source="intake")

    assert selectors.last_counted(vehicle).figure == 63_204
    with pytest.raises(Refusal) as refused:
        note_reading(vehicle, actor=cast.tobin, figure=63_190, unit="mi", source="intake")
    assert refused.value.code == "odometer.went_back"


def test_a_replaced_instrument_keeps_what_the_old_one_ran_to_its_end(cast):
    since = cast.vehicle("V-01").readings.filter(state="counted").latest("read_on").read_on  # the day of this reading
    ends = {"old_figure": 64_380, "replaced_on": since}

    row = read(cast, figure=20, why_lower="replaced", first_figure=5, old_is_estimate=True, **ends)

    changes = selectors.changes_of(cast.vehicle("V-01"))
    assert selectors.distance_m(row.figure, "mi", row.instrument, changes) / selectors.METERS["mi"] == 64_380 + 15
    assert (changes[-1].on, changes[-1].old_last_figure) == (since, 64_380)


@pytest.mark.parametrize(
    ("ends", "code"),
    [
        ({"old_figure": 63_179}, "odometer.old_last"),
        ({"first_figure": 21}, "odometer.new_first"),
        ({"replaced_on": date(2020, 1, 1)}, "odometer.replaced_on"),
        ({"old_figure": 63_180, "first_figure": 20}, ""),
    ],
)
def test_ends_of_instruments_that_cannot_be_are_refused(cast, ends, code):
    if not code:
        assert read(cast, figure=20, why_lower="replaced", **ends).instrument == 2
        return
    with pytest.raises(Refusal) as refused:
        read(cast, figure=20, why_lower="replaced", **ends)
    assert (refused.value.code, cast.vehicle("V-01").odometer_changes.count()) == (code, 0)
