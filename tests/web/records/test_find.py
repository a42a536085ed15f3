"""Open file: what a typed plate, VIN, name or number leads to, and for whom."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.jobs.services import visits
from shopserv.registry.models import Vehicle
from tests.jobs import bay_stage, stage

pytestmark = pytest.mark.django_db
VIN = "0SMAA1B27KA000101"


def find(client, typed, status=200, **headers):
    answer = client.get("/records/", {"q": typed}, headers=headers)
    assert answer.status_code == status
    return answer


def text(client, typed, status=200):
    return find(client, typed, status).content.decode()


@pytest.mark.parametrize("typed", ["SAL 2100", "sal2100", "000101", "Thornby", "V-01"])
def test_one_match_is_the_main_act(tobin, typed):
    said = text(tobin, typed)

    assert 'href="/records/vehicle/V-01/"' in said
    assert "Open V-01" in said
    assert 'href="/counter/intake/?vehicle=V-01"' in said


def test_a_telephone_number_finds_its_owners_vehicle(cast, tobin):
    phone = cast.customer("C-001").contact_points.filter(kind="phone").first().value

    assert "Open V-01" in text(tobin, phone[-7:])


def test_many_matches_stand_in_a_ledger_with_last_visit_and_grade(tobin):
    said = text(tobin, "SAL")

    assert said.count("data-line=") > 2
    assert "needs your decision" in said
    assert "Nov 24" in said


def test_no_match_starts_with_the_vin(tobin):
    said = text(tobin, "QQZ 99")

    assert "No match. Start with the VIN." in said
    assert "/counter/intake/?plate=QQZ+99" in said


def test_a_new_whole_vin_is_taken_in_from_here(tobin):
    said = text(tobin, "0SMAA1B25KA000999"[:8] + "1" + "KA000999")

    assert "New from this VIN" in said
    assert "/counter/intake/?vin=0SMAA1B21KA000999" in said


def test_near_matches_stand_under_a_rule_and_are_not_the_main_act(tobin):
    said = text(tobin, "0SMAA1B27KA000102")

    assert "One sign away. Compare before you open it." in said
    assert VIN in said
    assert "Open V-01" not in said


def test_b003_b007_a_whole_vin_goes_straight_on_also_when_only_the_other_shop_knew_it(tobin):
    for typed in (VIN, "  0smaa1b27 ka00-0101 "):
        assert find(tobin, typed, 302).headers["Location"] == "/records/vehicle/V-01/"
    assert find(tobin, VIN, **{"HX-Request": "true"}).headers["HX-Redirect"] == "/records/vehicle/V-01/"
    assert Vehicle.objects.filter(vin=VIN).count() == 1


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("0BRND4E05O0000017", "the letter O (position 10) is never used in a VIN"),  # B001
        ("0BRND4E050000001", "16 characters were given, 17 are needed"),  # B002
        ("0BRND4E0600000017", "works out to 5"),  # B004
        ("АBRND4E0500000017", "looks like A but is not from the Latin alphabet"),  # B005
        (VIN[:5] + VIN[6:], f"of {VIN}, place 6 (1) is missing"),
    ],
)
def test_b001_b002_b004_b005_a_vin_that_cannot_be_says_why(tobin, typed, words):
    said = text(tobin, typed)

    assert words in said
    assert f'value="{typed}"' in said


@pytest.mark.parametrize("typed", ["%", "_", "'", "\\", "\x00", "‮SAL", "ÄÖ", "<script>"])
def test_b106_b088_signs_are_searched_as_they_stand(tobin, typed):
    found = tobin.get("/records/", {"q": typed})

    assert found.status_code == (400 if typed == "\x00" else 200)
    assert "<script>alert" not in found.content.decode()


@pytest.mark.parametrize("typed", ["%", "_", "'", "\\"])
def test_b106_no_sign_stands_for_all(tobin, typed):
    assert "data-line=" not in text(tobin, typed)


def test_b106_ten_thousand_letters_are_refused_and_kept(tobin):
    said = text(tobin, "x" * 10_000, 400)

    assert "at most 100 characters" in said
    assert "x" * 10_000 in said


def test_b106_nothing_typed_gives_the_form_and_not_all_vehicles(tobin):
    said = text(tobin, "")

    assert 'name="q"' in said
    assert "V-05" not in said


def test_today_s_expected_stand_below_an_empty_field(cast, signed_in):
    ansel, today = cast.customer("C-001"), cast.morning.replace(hour=15)
    visits.expect(actor=cast.tobin, vehicle=cast.vehicle("V-01"), customer=ansel, expected_at=today)
    visits.expect(actor=cast.tobin, vehicle=cast.vehicle("V-03"), customer=ansel, expected_at=today + timedelta(days=2))

    seen = text(signed_in("tobin"), "")
    by_sam = text(signed_in("sam"), "")

    assert "Expected today" in seen
    assert "Ansel Thornby" in seen
    assert "V-03" not in seen
    assert "V-01" in by_sam
    assert "Thornby" not in by_sam


def test_a_printed_number_is_found_in_its_own_shop_alone(cast, signed_in):
    number = stage.offered(cast).quote.visit.number

    assert "Open V-01" in text(signed_in("tobin"), number)
    assert "Open V-01" not in text(signed_in("lise"), number)


def test_the_parts_keeper_begins_the_day_here_and_sees_no_owner_and_no_intake(signed_in):
    sam = signed_in("sam")

    said = text(sam, "SAL 2100")

    assert sam.get("/").headers["Location"] == "/records/"
    assert "Open V-01" in said
    assert "Ansel" not in said
    assert "/counter/intake/" not in said
    assert "data-line=" not in text(sam, "Thornby")


def test_a_technician_finds_own_jobs_with_the_first_name_alone(cast, signed_in):
    bay_stage.cleared(cast)

    said = text(signed_in("odo"), "SAL 2100")

    assert "Ansel" in said
    assert "Thornby" not in said
    assert "data-line=" not in text(signed_in("pilar"), "SAL 2100")


def test_a_name_that_is_not_known_behind_the_question_mark_is_refused(tobin):
    assert tobin.get("/records/?page=2").status_code == 400


@pytest.mark.parametrize("typed", ["SAL 2100", "SAL"])
def test_one_match_and_many_take_the_same_queries(tobin, typed, django_assert_num_queries):
    with django_assert_num_queries(5):
        find(tobin, typed)
