"""One box finds by plate, VIN end, name, telephone and number; near ones are shown, never merged."""

from __future__ import annotations

import pytest
from django.http import Http404

from shopserv.common.errors import NotYours, Refusal
from shopserv.registry import search, selectors
from shopserv.registry.models import Customer, KeeperRecord, SearchKey, Vehicle


def numbers(matches):
    return [match.number for match in matches]


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("SAL 2100", ["V-01"]),
        ("sal2100", ["V-01"]),
        ("SAL 21", ["V-01"]),
        ("000101", ["V-01"]),
        ("0SMAA1B27KA000101", ["V-01"]),
        ("  0sma a1b27-ka000101 ", ["V-01"]),
        ("Thornby", ["V-01"]),
        ("ansel th", ["V-01"]),
        ("202 555 0111", ["V-01"]),
        ("+1 202 555 0111", ["V-01"]),
        ("555 0111", ["V-01"]),
        ("V-01", ["V-01"]),
        ("F-07", ["F-07"]),
        ("BRW 4471", ["V-03", "V-03x"]),
        ("Stanbrook", ["V-06"]),
        ("zzzz", []),
        ("%", []),
        ("_", []),
        ("'", []),
        ("", []),
        ("\\", []),
        ("Thor\x00nby\u202e", ["V-01"]),  # B088, B090
    ],
)
def test_a_vehicle_is_found_by_what_is_typed(cast, typed, found):
    assert numbers(selectors.find(cast.tobin, typed)) == found


def test_a_name_is_found_without_its_accents_and_in_either_composition(cast):
    row = Customer.objects.create(number="C-500", name="José Peñalver")
    search.index_customer(row)
    KeeperRecord.objects.create(vehicle=cast.vehicle("V-08"), customer=row, from_on=cast.today)

    assert numbers(selectors.find(cast.tobin, "penal")) == ["V-08"]
    assert numbers(selectors.find(cast.tobin, "jose\u0301")) == ["V-08"]


def test_the_seller_no_longer_leads_to_the_vehicle(cast):
    assert selectors.find(cast.tobin, "Freya Lindqvale") == []


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("0SMAA1B27KA000107", "V-01"),  # last sign
        ("1SMAA1B27KA000101", "V-01"),  # first sign
        ("0SMAA1B27KA001001", "V-01"),  # two turned round
        ("0SMAA1B27KA00101", "V-01"),  # one left out
        ("0SMAA1B27KA0000101", "V-01"),  # one too many
        ("SLA 2100", "V-01"),  # plate, turned round
        ("SAL 2l0O", None),
    ],
)
def test_one_sign_away_is_shown_as_near(cast, typed, found):
    matches = selectors.find(cast.tobin, typed)

    assert [match.number for match in matches if match.is_near] == ([found] if found else [])


def test_a_whole_vin_shows_its_stray_neighbor_too(cast):
    matches = selectors.find(cast.tobin, "0SMBD2A66LC000103")

    assert [(match.number, match.is_near, match.is_disputed) for match in matches] == [
        ("V-03", False, False),
        ("V-03x", True, True),
    ]


def test_near_matches_leave_the_vehicle_itself_out(cast):
    v3 = cast.vehicle("V-03")

    assert numbers(selectors.near_matches(cast.tobin, v3.vin, besides=v3.pk)) == ["V-03x"]


def test_a_printed_number_is_found_in_its_own_shop_alone(cast):
    search.index_number("BRW-Q-118", cast.vehicle("V-04"), cast.brw.pk)

    assert numbers(selectors.find(cast.tobin, "brw-q-118")) == ["V-04"]
    assert selectors.find(cast.lise, "brw-q-118") == []


def test_a_technician_finds_no_names_or_telephones_and_reads_the_first_name_alone(cast):
    assert selectors.find(cast.odo, "Thornby") == []
    assert selectors.find(cast.odo, "202 555 0111") == []
    assert [match.keeper for match in selectors.find(cast.odo, "SAL 2100")] == ["Ansel"]
    assert [match.keeper for match in selectors.find(cast.tobin, "SAL 2100")] == ["Ansel Thornby"]


def test_a_technician_may_be_limited_to_own_jobs(cast):
    assert selectors.find(cast.odo, "SAL 2100", only=[]) == []


@pytest.mark.parametrize("typed", ["SAL 2100", "Thornby", "0SMBD2A66LC000103", "0SMAA1B27KA000107"])
def test_a_search_takes_three_queries_at_most(cast, typed, django_assert_max_num_queries):
    tobin = cast.tobin

    with django_assert_max_num_queries(3):
        selectors.find(tobin, typed)


def test_too_long_a_search_is_refused(cast):
    with pytest.raises(Refusal) as refused:
        selectors.find(cast.tobin, "x" * 101)

    assert refused.value.code == "search.too_long"


def test_a_range_gives_at_most_ten(cast):
    cars = Vehicle.objects.bulk_create(Vehicle(number=f"Q-{n}") for n in range(30))
    SearchKey.objects.bulk_create(
        SearchKey(kind="plate", key=f"QQQ{n:02d}", shown=f"QQQ {n:02d}", vehicle=car) for n, car in enumerate(cars)
    )

    assert len(selectors.find(cast.tobin, "QQQ")) == search.EACH


def test_indexing_twice_doubles_no_key(cast):
    before = SearchKey.objects.count()

    search.index_all()
    search.index_vehicle(cast.vehicle("V-01"))
    search.index_customer(cast.customer("C-001"))

    assert SearchKey.objects.count() == before


def test_neighbors_are_every_text_one_sign_away():
    assert search.neighbors("AB", "AB") == {"BB", "AA", "AAB", "BAB", "ABB", "ABA", "A", "B", "BA"}


def test_a_customer_with_a_link_reads_the_one_vehicle_and_may_not_search(cast):
    assert selectors.vehicle_for(cast.ansel, "V-01").number == "V-01"
    with pytest.raises(Http404):
        selectors.vehicle_for(cast.ansel, "V-02")
    with pytest.raises(NotYours):
        selectors.find(cast.ansel, "V-01")


def test_vehicles_belong_to_the_business(cast):
    assert selectors.vehicle_for(cast.lise, "V-02").number == "V-02"


def test_who_has_left_reads_nothing(cast):
    with pytest.raises(Http404):
        selectors.vehicle_for(cast.rufus, "V-01")


def test_customers_are_for_writer_and_owner(cast):
    assert selectors.customer_for(cast.tobin, "C-001").name == "Ansel Thornby"
    with pytest.raises(Http404):
        selectors.customer_for(cast.odo, "C-001")
    assert [row.number for row in selectors.customers_of(cast.ansel)] == ["C-001"]
