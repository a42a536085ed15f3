"""Whose file a role may open, what a search finds there, and what stands at the head of a file."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal
from shopserv.jobs.models import Finding
from shopserv.jobs.selectors import open_file
from shopserv.jobs.services import visits
from shopserv.logbook.services import change_instrument
from tests.jobs import bay_stage, stage


def numbers(actor):
    return set(open_file.files_of(actor).values_list("number", flat=True))


def test_a_writer_opens_every_file_of_the_business(cast):
    assert {"V-01", "V-05", "F-01"} <= numbers(cast.tobin)
    assert numbers(cast.tobin) == numbers(cast.lise)


def test_a_technician_opens_the_files_of_own_work_orders_alone(cast):
    before = numbers(cast.odo)

    bay_stage.cleared(cast)

    assert (before, numbers(cast.odo), numbers(cast.pilar)) == (set(), {"V-01"}, set())


def test_the_parts_keeper_opens_what_the_own_shop_has_seen(cast):
    assert "V-02" in numbers(cast.sam)
    assert "V-05" in numbers(cast.tobin) - numbers(cast.sam)

    stage.take_in(cast, "V-05")

    assert "V-05" in numbers(cast.sam)


@pytest.mark.parametrize(("who", "words"), [("sam", "not seen by this shop"), ("odo", "not one of your jobs")])
def test_a_file_out_of_reach_says_why(cast, who, words):
    with pytest.raises(NotYours, match=words):
        open_file.file_for(getattr(cast, who), "V-05")


def test_a_number_that_nobody_has_is_not_found(cast):
    with pytest.raises(Http404):
        open_file.file_for(cast.tobin, "V-99")


def test_the_head_says_in_one_query_what_is_known(cast, django_assert_num_queries):
    tobin = cast.tobin
    version = stage.offered(cast)

    with django_assert_num_queries(1):
        head = open_file.file_for(tobin, "V-01")

    assert (head.plate, head.keeper, head.keeper_since) == ("SAL 2100", "Ansel Thornby", date(2019, 4, 2))
    assert (head.unit_code, head.unit_name, head.unit_grade, head.unit_state) == (
        "AL640",
        "Alder 640",
        "read from tag",
        "counted",
    )
    assert head.last == (63_180, "mi", cast.today)
    assert head.visit == (version.quote.visit.number, "here")
    assert head.forecast.governs == "months"
    assert head.forecast.working["base"] == ["60000", 60]


def test_a_visit_at_the_other_shop_is_not_at_the_head(cast):
    lise = cast.lise
    stage.take_in(cast, "V-01")

    assert open_file.file_for(lise, "V-01").visit is None


def test_who_may_not_see_people_sees_no_name_at_the_head(cast):
    head = open_file.file_for(cast.sam, "V-02")

    assert open_file.file_for(cast.tobin, "V-02").keeper
    assert (head.keeper, head.keeper_since) == ("", None)


def test_the_last_figure_is_that_of_the_present_instrument(cast):
    vehicle = cast.vehicle("V-01")
    change_instrument(vehicle, actor=cast.tobin, old_last=(63_180, "mi"), new_first=(12, "km"), on=cast.today)

    head = open_file.file_for(cast.tobin, "V-01")

    assert head.odometer_unit == "km"


def test_the_newest_finding_of_each_kind_stands_until_it_is_not_confirmed(cast):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "slips when cold")})
    Finding.objects.create(
        shop=cast.brw, visit=visit, code="K-04", state="suspected", by="Odo", at=clock.now(), words="two codes"
    )
    before = [(f.code, f.state) for f in open_file.standing_of(cast.tobin, visit.vehicle)]

    Finding.objects.create(shop=cast.brw, visit=visit, code="K-02", state="not confirmed", by="Odo", at=clock.now())

    assert before == [("K-02", "suspected"), ("K-04", "suspected")]
    assert [f.code for f in open_file.standing_of(cast.tobin, visit.vehicle)] == ["K-04"]
    assert open_file.standing_of(cast.lise, visit.vehicle) == []


def test_a_search_says_when_a_vehicle_was_seen_and_how_it_stands(cast):
    found = open_file.find(cast.tobin, "SAL 2100")

    assert [(f.match.number, f.last_on, f.grade) for f in found] == [("V-01", cast.today, "needs your decision")]


@pytest.mark.parametrize(("who", "keeper"), [("tobin", "Ansel Thornby"), ("sam", "")])
def test_the_parts_keeper_finds_a_vehicle_without_its_owner(cast, who, keeper):
    assert [f.match.keeper for f in open_file.find(getattr(cast, who), "SAL 2100")] == [keeper]


def test_names_are_searched_only_for_who_may_see_them(cast):
    assert [f.match.number for f in open_file.find(cast.tobin, "Thornby")] == ["V-01"]
    assert open_file.find(cast.sam, "Thornby") == []


def test_a_technician_finds_own_jobs_alone(cast):
    bay_stage.cleared(cast)

    assert [f.match.number for f in open_file.find(cast.odo, "SAL 2100")] == ["V-01"]
    assert open_file.find(cast.pilar, "SAL 2100") == []


def test_b106_a_search_of_more_than_a_hundred_characters_is_refused(cast):
    with pytest.raises(Refusal) as refused:
        open_file.find(cast.tobin, "x" * 101)

    assert refused.value.status == 400


def test_todays_expected_are_those_of_the_shop_and_the_day(cast):
    ansel, today = cast.customer("C-001"), cast.morning.replace(hour=15)
    expected = [
        visits.expect(actor=cast.tobin, vehicle=cast.vehicle(number), customer=ansel, expected_at=at)
        for number, at in (("V-01", today), ("V-02", today + timedelta(days=1)))
    ]

    assert expected[0] in open_file.expected_today(cast.tobin)
    assert expected[1] not in open_file.expected_today(cast.tobin)
    assert expected[0] not in open_file.expected_today(cast.lise)
    assert expected[0] not in open_file.expected_today(cast.odo)
