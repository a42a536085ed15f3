"""The logbook of a vehicle: what its head and lines say, and for whom."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common import clock
from shopserv.jobs.models import Finding
from shopserv.jobs.selectors.entries import RANKS
from shopserv.jobs.services import visits
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.services import change_instrument, note_reading
from shopserv.registry.models import Identification, Vehicle
from shopserv.reminders.models import Forecast
from shopserv.web.records.lines import SAY, SOURCES
from tests.jobs import bay_stage, stage

pytestmark = pytest.mark.django_db
LOG = "/records/vehicle/V-01/"


def text(client, number="V-01", query=""):
    answer = client.get(f"/records/vehicle/{number}/{query}")
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def noted(cast, count, number="V-01"):
    """So many readings on days before those on file."""
    vehicle = cast.vehicle(number)
    OdometerReading.objects.bulk_create(
        OdometerReading(
            vehicle=vehicle, shop=cast.slt, figure=100 + n, unit="mi", source="fleet file",
            read_on=cast.today - timedelta(days=2700 - n), read_at=cast.morning - timedelta(days=2700 - n),
        )
        for n in range(count)
    )  # fmt: skip


def test_every_kind_of_entry_and_every_source_has_its_sentence():
    assert set(SAY) == set(RANKS)
    assert {code for code, _words in OdometerReading.SOURCES} == set(SOURCES)


def test_the_head_says_what_the_worked_example_says(tobin):
    said = text(tobin)

    for words in (
        "SAL 2100", "0SMAA1B27KA000101", "Alder 640</a>, read from tag", "Home Saltreach (coast).",
        "Ansel Thornby since Apr 2019.", "today 63,180", "Apr 2019, first fluid",
        "Dec 2023, drain and fill, 39 % new", "due by distance 45,501", "33 here", "60 on the sheet", "33,000 here",
        "Past due by age since Dec 12, 2023.", "Moisture, factor 1.806, shortens both clocks",
        "heat, factor 1.000, shortens neither", "past by 17,679 mi", "Likely 29.9 mi a day.",
    ):  # fmt: skip
        assert words in said
    assert '<span class="computed">69.0</span>' in said
    assert '<span class="computed">50,679</span>' in said
    assert said.count("This clock governs.") == 1


def test_the_age_book_goes_from_what_was_left_to_what_is_allowed(tobin):
    answer = tobin.get(LOG)

    assert [row[:3] for row in answer.context["age_book"]] == [
        ("left after Dec 2023", "19,389", "34.0"),
        ("use since, in whole months", "31,290", "35"),
        ("now", "50,679", "69.0"),
        ("allowed here", "33,000", "33"),
        ("on the sheet", "60,000", "60"),
    ]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        ("V-07", "of the 28.9 left on Aug 6, 2024, 28 count, until Dec 6, 2026; 27 have passed."),
        ("V-12", "of the 26.1 left on May 2, 2024, 26 count, until Jul 2, 2026; 30 have passed."),
        ("V-01", "none was left on Dec 12, 2023."),
    ],
)
def test_the_months_are_told_as_they_are_counted(tobin, number, words):
    assert f"Only whole months count: {words}" in text(tobin, number)


def test_the_last_weeks_of_the_month_clock_are_told_in_days(cast, tobin):
    assert "of 36, ends Dec 6, 2026, in 12 days." in text(tobin, "V-07")
    assert "ends Jul 28, 2027." in text(tobin, "V-10")
    Forecast.objects.filter(vehicle__number="V-10", is_current=True).update(months_due_on=cast.today)
    assert "of 38, ends today." in text(tobin, "V-10")


def test_what_the_due_work_is_worth_is_for_who_plans_reminders(signed_in):
    assert "Due work, by the price list: $427.48 (cooler-line fluid exchange)." in text(signed_in("tobin"))
    assert "Due work" not in text(signed_in("sam"))


def test_the_sum_behind_the_day_stands_beside_it(tobin):
    said = text(tobin)

    assert 'href="/records/vehicle/V-01/due/#due"' in said
    assert 'href="/records/vehicle/V-01/due/#interval"' in said
    assert "Due when the mean age of the fluid reaches the interval" in said


def test_the_road_has_its_unit_and_every_service_its_words(tobin):
    assert ">60,000 mi</text>" in text(tobin, "V-10")
    assert ">Nov 16, 2026: 57,148</text>" in text(tobin, "V-10")
    assert ">Aug 2024, cooler-line fluid exchange, thermostat held open, 88 % new</text>" in text(tobin, "V-07")


def test_drawings_wider_than_a_phone_are_reached_by_keyboard(tobin):
    said = text(tobin)

    assert '<div class="beside-margin road-strip" tabindex="0" role="group" aria-label="its road">' in said
    assert said.count('<div tabindex="0" role="group" aria-label="') == 2


def test_the_sum_of_a_band_says_its_cap_and_tells_decades_as_such(tobin):
    band = next(one for one in tobin.get("/records/vehicle/V-12/due/").context["sums"] if one.anchor == "band")

    assert (band.figure, band.band, band.is_inside) == ("2,006 days", "not before 381 days", True)
    assert band.steps[-1].figure == "more than ten years after the last reading"
    assert [one.startswith("no width counts above 3;") for one in band.assumptions].count(True) == 1


def test_a_vehicle_not_yet_due_says_its_day_as_a_band(tobin):
    said = text(tobin, "V-10")

    assert "Due by distance about Dec 25, 2026. Between: Dec 19, 2026 to Jan 6, 2027." in said


def test_past_by_distance_is_told_by_the_day_on_which_it_was_crossed(tobin):
    said = text(tobin, "F-07")

    assert "Past due by distance since about Aug 29, 2026, when the readings ran through" in said
    assert "past by 7,887 mi, crossed about Aug 29, 2026; read Nov 20, 2026." in said
    assert "distance since Nov 20" not in said


def test_past_by_both_clocks_is_told_by_the_one_that_ended_first(tobin):
    assert "Past due by distance since about Jan 1, 2026, when the readings ran through" in text(tobin, "V-03")
    assert "Past due by age since Dec 12, 2023." in text(tobin)
    due = tobin.get("/records/vehicle/V-03/due/").context["sums"][0]
    shown = [row.figure for row in due.given]

    assert (due.figure, shown, due.steps[0].figure) == ("Jan 1, 2026", ["Jan 1, 2026", "Mar 1, 2026"], "distance")


def test_a_distance_is_told_with_the_day_it_was_read(tobin):
    assert "; read Oct 13, 2026." in text(tobin, "V-07")


def test_a_vehicle_of_which_too_little_is_known_says_so(tobin):
    said = text(tobin, "V-03x")

    assert "No day can be said: a second record of a vehicle on file." in said
    assert "two clocks" not in said
    assert "A second record of a vehicle on file, not merged yet." in said


def test_the_lines_tell_the_day_from_the_plate_to_the_offer(cast, tobin):
    version = stage.offered(cast)

    said = text(tobin)

    assert "<b>C $442.95</b>" in said
    assert "version 1, offered: $183.64, $395.69" in said
    assert f'href="/counter/quote/{version.quote.number}/"' in said
    assert f'href="/counter/visit/{version.quote.visit.number}/"' in said
    assert "<b>Drain and fill</b> at Saltreach, Fenmark 2 Multi, 3.4 qt (3.2 L): 39 % new." in said
    assert said.index("version 1, offered") < said.index("Drain and fill</b>") < said.index("In service with its")
    assert 'href="/records/unit/AL640/"' in said


def test_the_main_act_goes_on_with_the_visit_or_takes_it_in(cast, tobin):
    before = text(tobin)
    visit = stage.take_in(cast, "V-01")

    assert 'href="/counter/intake/?vehicle=V-01"' in before
    assert f'class="main-act" href="/counter/visit/{visit.number}/"' in text(tobin)


def test_a_reading_set_aside_stays_in_parentheses_with_its_reason(cast, tobin):
    note_reading(
        cast.vehicle("V-01"), actor=cast.tobin, figure=61_000, unit="mi", source="customer", why_lower="cannot tell"
    )

    said = text(tobin)

    assert '<span class="set-aside">(61,000)</span>' in said
    assert "set aside: cannot tell which is wrong" in said
    assert "One reading on this page is set aside" in said


def test_another_instrument_is_told_and_its_unit_heads_the_column(cast, tobin):
    change_instrument(
        cast.vehicle("V-01"), actor=cast.tobin, old_last=(63_180, "mi"), new_first=(12, "km"), on=cast.today,
        evidence="paper of the other shop",
    )  # fmt: skip

    said = text(tobin)

    assert "the old one stood at 63,180 mi, the new one began at 12 km. Seen by: paper of the other shop." in said
    assert "the new one began at 12 km.</" in text(tobin, "V-10")  # nothing more is known of it
    assert ">kilometers</th>" in said
    assert '63,180 <span class="unit">mi</span>' in said


def test_standing_findings_head_the_page_with_their_grade(cast, tobin):
    visit = stage.take_in(cast, "V-01", answers={"slips": visits.Answer(True, "when cold")})
    said = text(tobin)

    Finding.objects.create(shop=cast.brw, visit=visit, code="K-02", state="not confirmed", by="Odo", at=clock.now())

    assert 'class="beside-margin findings standing"' in said
    assert "slips, flares or engages late, <b>suspected</b>" in said
    assert 'class="beside-margin findings standing"' not in text(tobin)


def test_a_unit_in_doubt_and_one_not_known_are_said(cast, tobin):
    Identification.objects.filter(vehicle__number="V-01").update(state="disputed")
    doubted = text(tobin)
    Identification.objects.filter(vehicle__number="V-01").update(state="replaced")

    assert "<b>in doubt</b>" in doubted
    assert "Which transmission it has is not known yet." in text(tobin)


def test_a_merged_record_leads_to_the_one_that_is_kept(cast, tobin):
    Vehicle.objects.filter(number="V-03x").update(state="merged", merged_into=cast.vehicle("V-03"))

    assert tobin.get("/records/vehicle/V-03x/").headers["Location"] == "/records/vehicle/V-03/"


@pytest.mark.parametrize(("rows", "lines"), [(1, 14), (300, 50)])
def test_a_logbook_takes_six_queries_however_long_the_life(cast, tobin, rows, lines, django_assert_num_queries):
    noted(cast, rows)

    with django_assert_num_queries(6):
        said = text(tobin)

    assert said.count("data-line=") == lines


@pytest.mark.parametrize("rows", [1, 300])
def test_the_parts_keeper_s_logbook_takes_one_less(cast, signed_in, rows, django_assert_num_queries):
    sam = signed_in("sam")
    noted(cast, rows)

    with django_assert_num_queries(5):
        text(sam)


def test_pages_follow_by_key_to_the_first_line(cast, tobin):
    noted(cast, 60)
    first = tobin.get(LOG)

    second = text(tobin, query=first.context["earlier"])

    assert first.context["earlier"].startswith("?before=")
    assert "In service with its first fluid." not in first.content.decode()
    assert "In service with its first fluid." in second
    assert "Back to the newest" in second


@pytest.mark.parametrize(
    "query",
    ["?before=1", "?before=2026-11-24", "?before=2026-13-01.1.1", "?before=2026-11-24.99.1", "?before=2026-11-24.1.-1",
     "?before=2026-11-24.1.9223372036854775808", "?before=٢٠٢٦-11-24.1.1", "?page=2"],
)  # fmt: skip
def test_a_key_that_cannot_be_meant_is_refused(tobin, query):
    assert tobin.get(LOG + query).status_code == 400


@pytest.mark.parametrize(
    "number", ["0", "-1", "9223372036854775808", "1e3", "1%00", "1;", "../1", "%ff", "V-99", "v" * 61]
)
def test_b103_a_number_that_names_no_vehicle_is_not_found(tobin, number):
    assert tobin.get(f"/records/vehicle/{number}/").status_code == 404


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_who_sees_neither_people_nor_prices_finds_neither(cast, signed_in, who):
    bay_stage.cleared(cast)
    shown_to_tobin = text(signed_in("tobin"))
    said = text(signed_in(who))

    for secret in ("Thornby", "$", "Note a reading", "/counter/"):
        assert secret in shown_to_tobin
        assert secret not in said
    assert "Work order" in said


@pytest.mark.parametrize(("who", "number"), [("odo", "V-01"), ("pilar", "V-01"), ("sam", "V-05")])
def test_a_file_out_of_a_role_s_reach_is_forbidden(signed_in, who, number):
    assert signed_in(who).get(f"/records/vehicle/{number}/").status_code == 403


def test_b101_what_the_other_shop_did_with_it_stays_there(cast, signed_in):
    order = bay_stage.cleared(cast)

    said = text(signed_in("lise"))

    for secret in (order.number, order.visit.number, "442.95", "BRW-Q"):
        assert secret not in said
    assert "Ansel Thornby is the owner." in said


def test_b080_what_was_typed_is_shown_as_text(cast, tobin):
    stage.take_in(cast, "V-01", complaint="<script>alert(1)</script>")

    said = text(tobin)

    assert "&lt;script&gt;alert(1)" in said
    assert "<script>alert" not in said
