"""Vehicles written down and changed. VIN rules: 49 CFR 565.15; cases of bad input by their id."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common.errors import NotYours, Refusal, Stale
from shopserv.registry import selectors
from shopserv.registry.models import Vehicle
from shopserv.registry.services import vehicles
from shopserv.registry.services.vehicles import NewVehicle
from shopserv.shop.models import TrailEntry

GOOD = "0BRND4E0500000017"


def refusal(cast, **new):
    before = Vehicle.objects.count()
    with pytest.raises(Refusal) as refused:
        vehicles.add(NewVehicle(**new), actor=cast.tobin, keeper=cast.customer("C-001"))
    assert Vehicle.objects.count() == before
    return refused.value


def test_b003_a_vin_with_blanks_and_hyphens_is_taken_in_its_normal_form(cast):
    row = vehicles.add(
        NewVehicle(vin="  0brnd4e05 0000-0017 ", plate="brw 99"), actor=cast.tobin, keeper=cast.customer("C-001")
    )

    assert (row.vin, row.vin_check, row.number) == (GOOD, "ok", "V-13")
    assert selectors.keeper_on(row, cast.today).number == "C-001"
    assert [m.number for m in selectors.find(cast.tobin, "BRW99")] == ["V-13"]
    assert TrailEntry.objects.filter(what="vehicle added", subject="V-13").count() == 1


@pytest.mark.parametrize(
    ("vin", "code", "words"),
    [
        ("0BRND4E05O0000017", "vin.letter_not_allowed", "the letter O (position 10)"),  # B001
        ("0BRND4E050000001", "vin.length", "16 characters were given, 17 are needed"),  # B002
        ("0BRND4E0600000017", "vin.check_digit", "is 6 and works out to 5"),  # B004
        ("\u0410BRND4E0500000017"[:17], "vin.letter_not_allowed", "position 1 looks like A"),  # B005
    ],
)
def test_a_vin_that_cannot_be_is_refused_with_its_rule(cast, vin, code, words):
    refused = refusal(cast, vin=vin)

    assert (refused.code, refused.field) == (code, "vin")
    assert words in refused.message


def test_b001_the_refusal_offers_the_number_with_a_zero(cast):
    assert "0BRND4E0500000017" in refusal(cast, vin="0BRND4E05O0000017").message


def test_b004_a_vin_whose_check_digit_differs_is_kept_with_reason_name_and_time(cast):
    row = vehicles.add(
        NewVehicle(vin="0BRND4E0600000017", vin_kept_because="stamped so"), actor=cast.tobin, keeper=None
    )

    assert (row.vin_check, row.vin_kept_because) == ("check_digit_differs", "stamped so")
    assert row.vin_kept_by == cast.person("Tobin")
    assert row.vin_kept_at is not None


def test_b006_b007_a_vin_on_file_is_refused_in_either_shop_and_makes_no_second_row(cast):
    known = cast.vehicle("V-01").vin
    with pytest.raises(Refusal) as refused:
        vehicles.add(NewVehicle(vin=known), actor=cast.lise, keeper=None)

    assert (refused.value.code, refused.value.status) == ("vin.duplicate", 409)
    assert refusal(cast, vin=known).code == "vin.duplicate"


def test_b008_two_vehicles_without_a_vin_do_not_collide(cast):
    first = vehicles.add(NewVehicle(vin="DIY-TRAILER-1", vin_none=True), actor=cast.tobin, keeper=None)
    second = vehicles.add(NewVehicle(vin="DIY-TRAILER-2", vin_none=True), actor=cast.tobin, keeper=None)

    assert (first.number, first.vin, second.vin) == ("DIY-TRAILER-1", None, None)


def test_n15_a_vin_one_sign_away_is_asked_about_and_taken_when_it_is_another_vehicle(cast):
    near = "0SMAA1B27KA000107"
    asked = refusal(cast, vin=near, vin_kept_because="stamped so")

    row = vehicles.add(
        NewVehicle(vin=near, vin_kept_because="stamped so", other_record=True), actor=cast.tobin, keeper=None
    )

    assert (asked.code, asked.confirmable) == ("vin.near", True)
    assert "V-01" in asked.message
    assert row.number == "V-13"


def test_a_short_vin_is_right_before_1981(cast):
    row = vehicles.add(NewVehicle(vin="A12345", facts={"year": 1974}), actor=cast.tobin, keeper=None)

    assert row.vin_check == "pre_1981_short"


def test_a_stale_change_is_refused_with_both_sides(cast):
    vehicles.change(cast.vehicle("V-01"), actor=cast.tobin, edition=1, engine="2.0")

    with pytest.raises(Stale) as stale:
        vehicles.change(cast.vehicle("V-01"), actor=cast.maren, edition=1, engine="1.8")

    assert stale.value.theirs == {"engine": "2.0"}


def test_a_new_plate_is_found_and_the_old_one_still_leads_there(cast):
    vehicles.change_plate(cast.vehicle("V-01"), actor=cast.tobin, plate="new 77")

    assert [m.plate for m in selectors.find(cast.tobin, "NEW77")] == ["new 77"]
    assert [m.number for m in selectors.find(cast.tobin, "SAL 2100")] == ["V-01"]


def test_n03_a_sold_vehicle_has_its_new_owner_from_the_day_on(cast):
    car = cast.vehicle("V-01")
    vehicles.change_keeper(car, actor=cast.tobin, customer=cast.customer("C-008"))

    assert selectors.keeper_on(car, cast.today).number == "C-008"
    assert selectors.keeper_on(car, cast.today - timedelta(days=1)).number == "C-001"
    assert TrailEntry.objects.get(what="owner changed").before == {"keeper": "Ansel Thornby"}


def test_the_same_owner_again_and_two_changes_on_one_day_are_refused(cast):
    car = cast.vehicle("V-01")
    with pytest.raises(Refusal, match="already"):
        vehicles.change_keeper(car, actor=cast.tobin, customer=cast.customer("C-001"))
    vehicles.change_keeper(car, actor=cast.tobin, customer=cast.customer("C-008"))

    with pytest.raises(Refusal) as refused:
        vehicles.change_keeper(car, actor=cast.tobin, customer=cast.customer("C-002"))

    assert refused.value.code == "keeper.twice"


def test_a_share_of_use_lies_between_0_and_100_percent(cast):
    vehicles.note_use(cast.vehicle("V-01"), actor=cast.tobin, short_trip_ppm=500_000)
    with pytest.raises(Refusal) as refused:
        vehicles.note_use(cast.vehicle("V-01"), actor=cast.tobin, short_trip_ppm=1_000_001)

    assert refused.value.code == "use.share"
    assert selectors.use_on(cast.vehicle("V-01"), cast.today).short_trip_ppm == 500_000


@pytest.mark.parametrize("who", ["odo", "sam", "ansel", "rufus"])
def test_only_writer_and_owner_write_vehicles_down(cast, who):
    with pytest.raises(NotYours):
        vehicles.add(NewVehicle(vin=GOOD), actor=getattr(cast, who), keeper=None)
