"""Severity, what if and places as pages: what they say, each way out, for whom."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from shopserv.logbook.models import LaboratoryResult
from shopserv.registry.models import TemperatureLog
from shopserv.shop.models import ClimatePlace
from tests.web.records.conftest import key_of

pytestmark = pytest.mark.django_db
PAGE = "/records/vehicle/V-01/severity/"
WHAT_IF = "/records/vehicle/V-01/what-if/"
PLACES = "/records/places/"
USE = {
    "act": "use", "short_trips": "20", "stored_months": "0",
    "share_city": "70", "share_highway": "20", "share_hill": "", "share_towing": "10",
    "heat_city": "80 C", "heat_highway": "95 C", "heat_hill": "95 C", "heat_towing": "108 C",
}  # fmt: skip
WATER = {
    "act": "water", "sampled_on": "11/24/2026", "reference": "L-77", "water_ppm": "600", "limit_ppm": "1200",
    "limit_source": "data sheet of the fluid", "method": "",
}  # fmt: skip


def words(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def post(client, path, **data):
    return client.post(path, {"once": key_of(client.get(path)), **data})


LATER = "".join(f"{600 * n},{{0}}\n" for n in range(1, 14))  # 2 hours and more


def log_file(text):
    return SimpleUploadedFile("sump.csv", text.encode(), "text/csv")


def test_the_page_says_how_each_input_is_known_and_what_it_adds(tobin):
    said = words(tobin.get(PAGE))

    for part in (
        "Moisture 1.806 (estimated) and heat 1.000 together shorten the distance: 33,000 of 60,000 mi. "
        "Moisture alone shortens the months: 33 of 60.",
        "Past due by age since Dec 12, 2023.",
        "modeled Water in the air 18.3 g/m³",
        "told Short trips 90 %",
        "assumed Temperature of the sump 100 % at 174.2 °F common practice, no source",
        "humid air 0.30 × (18.3 g/m³ − 5) / 15, 0 to 1 + 0.265",
        "short trips 0.40 × 90 % × (water boils at 99.96 °C − 80) / (99.97 − 80) + 0.360",
        "What would move the day most",
    ):
        assert part in said
    assert "shudder" not in said


def test_the_swings_stand_by_days(tobin):
    days = [int(one.days.replace(",", "")) for one in tobin.get(PAGE).context["swings"] if one.days != "–"]

    assert days == sorted(days, reverse=True)
    assert len(days) >= 8


def test_a_laboratory_figure_is_noted_and_counts(tobin):
    answer = post(tobin, PAGE, **WATER)

    assert answer.status_code == 302
    said = words(tobin.get(PAGE))
    assert "Moisture 1.600 (water measured, factor modeled)" in said
    assert "1 + 1.2 × water / limit, at most 2.2" in said
    assert "measured Water in the fluid 600 of 1,200 mg/kg slip L-77" in said
    assert "Counts until the next exchange." in said
    assert "By this figure the months ended on Feb 12, 2024, before the sample of Nov 24, 2026 was taken." in said
    assert LaboratoryResult.objects.get().water_ppm == 600
    logbook = words(tobin.get("/records/vehicle/V-01/"))
    assert "Laboratory : 600 of 1,200 mg/kg water in the fluid, slip L-77, noted by Tobin Ashgrave." in logbook


def test_a_slip_is_withdrawn_with_its_reason_and_stays_readable(tobin):
    assert "Withdraw a laboratory's slip" not in words(tobin.get(PAGE))
    post(tobin, PAGE, **WATER)

    refused = post(tobin, PAGE, act="slip", slip="L-77", why="")
    assert refused.status_code == 422
    assert "Why it counts no more:" in words(refused)
    assert post(tobin, PAGE, act="slip", slip="L-77", why="sample of another car").status_code == 302

    said = words(tobin.get(PAGE))
    assert "Withdrawn by Tobin Ashgrave on Nov 24, 2026: sample of another car" in said
    assert "Counts until" not in said
    assert "Moisture 1.600" not in said
    logbook = words(tobin.get("/records/vehicle/V-01/"))
    assert "slip L-77, noted by Tobin Ashgrave. Withdrawn: sample of another car" in logbook


def test_a_slip_noted_twice_is_refused_with_everything_typed_kept(tobin):
    post(tobin, PAGE, **WATER)

    answer = post(tobin, PAGE, **{**WATER, "water_ppm": "700"})

    assert answer.status_code == 409
    assert "Slip L-77 is on file already." in words(answer)
    assert 'value="700"' in answer.content.decode()


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({**WATER, "limit_ppm": "0"}, "0 is not between 1 and 1,000,000"),
        ({**WATER, "sampled_on": "11/25/2026"}, "Sample of:"),
        ({**USE, "share_city": "60"}, "The shares of use sum to 90 %; they must sum to 100 %."),
        ({**USE, "heat_city": "200 C"}, "The temperature of the sump in °C"),
        ({**USE, "stored_months": "13"}, "13 is not between 0 and 12"),
        ({"act": "home", "place": "NOWHERE", "edition": "1"}, "NOWHERE"),
        ({"act": "log"}, "Log as CSV: time and temperature: No file was chosen. Choose a file"),
        ({"act": "nothing"}, "how hard its life is"),
    ],
)
def test_what_cannot_be_is_answered_with_its_mend(tobin, changes, said):
    answer = post(tobin, PAGE, **changes)

    assert answer.status_code == 422
    assert said in words(answer)


def test_a_use_by_kinds_is_noted_and_what_was_left_is_assumed(tobin, cast):
    assert post(tobin, PAGE, **USE).status_code == 302
    said = words(tobin.get(PAGE))

    assert "told Sump in city driving 70 % at 176.0 °F" in said
    assert f"{cast.vehicle('V-01').forecasts.get(is_current=True).working['heat']:.3f}" == "1.853"
    form = tobin.get(PAGE).context["forms"]["use"]
    left = {name: form[name].value() for name in form.fields if name.startswith(("heat", "share", "short", "stored"))}
    assert post(tobin, PAGE, act="use", **left).status_code == 302
    assert cast.vehicle("V-01").uses.latest("from_on").heat_from == "assumed"


def test_a_log_is_taken_and_its_lines_that_cannot_be_are_named(tobin):
    answer = post(tobin, PAGE, act="log", file=log_file("Time (s),Sump °C\n0,81\n60,81\n70,300\n" + LATER.format(81)))

    assert answer.status_code == 422
    assert "Line 4: 300 °C cannot be" in words(answer)
    assert 'name="confirm" value="log.faults"' in answer.content.decode()
    answer = post(
        tobin,
        PAGE,
        act="log",
        confirm="log.faults",
        file=log_file("Time (s),Sump °C\n0,81\n60,81\n70,300\n" + LATER.format(81)),
    )
    assert answer.status_code == 302
    assert TemperatureLog.objects.get().fault_count == 1
    logbook = words(tobin.get("/records/vehicle/V-01/"))
    assert "Temperature log sump.csv taken by Tobin Ashgrave: 15 lines, 1 set aside." in logbook
    said = words(tobin.get(PAGE))
    assert "measured Temperature of the sump 100 % at 177.8 °F log sump.csv, 15 lines" in said
    assert "Line 4: 300 °C cannot be" in said


def test_a_column_that_the_head_does_not_name_is_asked(tobin):
    answer = post(tobin, PAGE, act="log", file=log_file("a,b\n0,176\n" + LATER.format(176)), heat="2", unit="degF")

    assert answer.status_code == 422
    assert "Which column is the time? The file has: 1 a, 2 b." in words(answer)
    answer = post(
        tobin,
        PAGE,
        act="log",
        file=log_file("a,b\n0,176\n" + LATER.format(176)),
        time="1",
        heat="2",
        unit="degF",
        ticks="s",
    )
    assert answer.status_code == 302


def test_a_home_of_the_reference_data_is_taken_with_its_source(tobin, cast):
    edition = cast.vehicle("V-01").edition
    answer = post(tobin, PAGE, act="home", place="US-FL-MIAMI", edition=str(edition))

    assert answer.status_code == 302
    assert "Miami, FL, TMY2, station 12839, typical months of 1961 to 1990" in words(tobin.get(PAGE))
    stale = post(tobin, PAGE, act="home", place="SALTREACH", edition=str(edition))
    assert stale.status_code == 409
    assert f'name="edition" value="{edition + 1}"' in stale.content.decode()


def test_a_vehicle_of_which_too_little_is_known_says_so(tobin, cast):
    cast.vehicle("V-01").uses.all().delete()

    assert "No factor can be said yet: how and where it is used is not known" in words(tobin.get(PAGE))
    assert "No clock can be reckoned yet: how and where it is used is not known" in words(tobin.get(WHAT_IF))


def test_what_if_stands_as_the_logbook_until_something_is_moved(tobin):
    answer = tobin.get(WHAT_IF)

    assert [(one.name, one.value) for one in answer.context["sliders"]] == [
        ("rate", 30), ("short", 90), ("towing", 0), ("new", 0),
    ]  # fmt: skip
    assert answer.context["now"] == answer.context["then"]
    assert not answer.context["is_moved"]


def test_a_slider_shows_the_figure_that_is_reckoned_with(tobin):
    stands, moved = tobin.get(WHAT_IF), tobin.get(WHAT_IF + "?rate=29")

    rate = stands.context["found"].state.rate
    assert rate.denominator > 1  # else the test says nothing
    shown = stands.context["sliders"][0]
    assert (shown.value, shown.shown, shown.now) == (30, f"{float(rate):.2f}", f"{float(rate):.2f} mi")
    assert (moved.context["sliders"][0].shown, moved.context["sliders"][0].now) == ("29", f"{float(rate):.2f} mi")
    assert f"<span data-shown>{float(rate):.2f}</span> mi" in stands.content.decode()


def test_all_new_fluid_today_shows_the_worked_days_and_the_crossing_rate(tobin):
    answer = tobin.get(WHAT_IF + "?new=100")
    said = words(answer)

    assert [(one.ends, one.governs) for one in answer.context["then"]] == [
        ("ends Aug 24, 2029", True), ("ends Dec 1, 2029", False),
    ]  # fmt: skip
    assert "Driven less than 32.9 mi a day, the months govern." in said
    assert "age of the fluid 50,679 mi × 0 % that stays 0 mi" in said
    assert "left of 33 33 whole ones count 33.0 months" in said


def test_a_distance_run_through_before_the_months_ended_governs(tobin):
    page = WHAT_IF.replace("V-01", "V-03")
    stands, towed, dry = (words(tobin.get(page + query)) for query in ("", "?towing=30", "?short=0"))

    # its readings ran through the distance before the months ended (Mar 1; without short trips Jun 1)
    for said, on in ((stands, "Jan 1, 2026"), (towed, "Apr 13, 2024")):
        assert f"Past due by distance since {on}." in said
    assert "Past due by distance since Apr 4, 2026." in dry
    assert "where the months govern, short trips and new fluid move the day" in stands


def test_each_slider_moves_its_own_clock(tobin):
    def then(query):
        answer = tobin.get(WHAT_IF + query)
        return [(one.ends, one.governs) for one in answer.context["then"]]

    base = then("?new=100")
    fast, towing, mild = then("?new=100&rate=90"), then("?new=100&towing=50"), then("?new=100&short=0")
    assert fast[0][0] == base[0][0]  # the months do not ask how far it is driven
    assert fast[1][1]
    assert towing[0][0] == base[0][0]  # heat shortens the distance alone
    assert towing[1] != base[1]
    assert mild[0] != base[0]
    assert mild[1] != base[1]


@pytest.mark.parametrize("query", ["?new=101", "?rate=-1", "?short=x", "?other=1"])
def test_a_slider_that_cannot_stand_so_is_refused(tobin, query):
    assert tobin.get(WHAT_IF + query).status_code == 400


def test_a_technician_reads_own_jobs_and_notes_nothing(signed_in, tobin):
    sam = signed_in("sam")

    assert "take the log" not in sam.get(PLACES).content.decode()
    assert signed_in("odo").get(PAGE).status_code == 403  # V-01 is none of Odo's jobs
    assert signed_in("odo").post(PAGE, {**WATER, "once": "k" * 20}).status_code == 403


OWN = {"act": "add", "name": "Yard", "altitude": "66", "source": "own logger", "period": "", "kind": "humidity"}


def test_the_owner_puts_a_place_on_file_by_a_year_or_by_months_with_dew_points(signed_in):
    maren = signed_in("maren")

    assert post(maren, PLACES, **OWN, heat_1="59", air_1="70").status_code == 302
    months = {f"heat_{n}": "20 C" for n in range(1, 13)} | {f"air_{n}": "9.3 C" for n in range(1, 13)}
    assert post(maren, PLACES, **{**OWN, "name": "Yard 2", "kind": "dew"}, **months).status_code == 302
    said = words(maren.get(PLACES))
    assert "own Yard 66 ft 59.0 °F 59.0 °F 59.0 °F 70 %" in said
    assert "humidity worked out of dew points" in said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"heat_1": "59", "air_1": "70", "heat_2": "60"}, "Empty. Type all twelve months, or January alone"),
        ({"heat_1": "59"}, "Jan, humidity or dew point: Nothing was typed."),
        ({"heat_1": "59", "air_1": "101"}, "Jan, humidity or dew point:"),
        (
            {"kind": "dew", "heat_1": "20 C", "air_1": "21 C"},
            "a dew point of 69.8 °F (21.0 °C) lies above the mean of 68.0 °F (20.0 °C)",
        ),
        ({"name": "Kell Top (hill)", "heat_1": "59", "air_1": "70"}, "is on file. Give this one another name."),
    ],
)
def test_a_place_that_cannot_be_is_refused_with_everything_typed_kept(signed_in, changes, said):
    maren = signed_in("maren")
    answer = post(maren, PLACES, **{**OWN, **changes})

    assert answer.status_code == 422
    assert said in words(answer)
    assert f'value="{changes["heat_1"]}"' in answer.content.decode()
    assert not ClimatePlace.objects.filter(code__startswith="OWN").exists()


def test_the_owner_chooses_the_shops_place_and_a_writer_may_not(signed_in, tobin, cast):
    maren = signed_in("maren")
    edition = str(cast.brw.edition)

    assert post(maren, PLACES, act="choose", place="US-PA-PITTSBURGH", edition=edition).status_code == 302
    assert "at home in Pittsburgh, Allegheny County, PA." in words(maren.get(PLACES))
    assert post(maren, PLACES, act="choose", place="SALTREACH", edition=edition).status_code == 409
    assert tobin.get(PLACES).status_code == 200
    assert tobin.post(PLACES, {"once": "k" * 20, "act": "choose"}).status_code == 403


def test_the_logbook_leads_here_and_says_the_crossing_rate(tobin):
    said = words(tobin.get("/records/vehicle/F-01/"))

    assert "What makes it hard on the fluid" in said
    assert "Driven under 7.2 mi a day, the months govern." in said
    assert "the months govern" not in words(tobin.get("/records/vehicle/V-01/"))  # both clocks have ended


def test_the_logbook_says_that_moisture_was_measured(tobin):
    post(tobin, PAGE, **WATER)

    assert "Moisture, factor 1.600 as measured, shortens both clocks" in words(tobin.get("/records/vehicle/V-01/"))


TOPPED = {"act": "topped", "topped_on": "11/24/2026", "odometer": "63,180", "added": "0.37 L", "fluid": "FEN2"}


def test_a_top_up_is_noted_and_the_book_tells_job_by_job_what_is_inside(tobin):
    said = words(tobin.get(PAGE))
    assert "Dec 12, 2023 FEN2 39 % 31,890 mi, 56 months 19,389 mi, 34.0 months" in said
    assert "Inside now, well mixed: first fluid 60.8 % , FEN2 39.2 % ." in said

    assert post(tobin, PAGE, **TOPPED).status_code == 302
    said = words(tobin.get(PAGE))
    assert "Nov 24, 2026 FEN2 5 % 50,679 mi, 69.0 months 48,145 mi, 65.6 months" in said
    assert "first fluid 57.8 % , FEN2 42.2 %" in said
    assert "Top-up at Brindlewick, Fenmark 2 Multi, 0.4 qt (0.4 L): 5 % new." in words(
        tobin.get("/records/vehicle/V-01/")
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"added": "8 L"}, "is more than the 7.8 qt (7.4 L) that the unit holds."),
        ({"odometer": "31,000"}, "The last job was on Dec 12, 2023 at 31,890 mi; a top-up stands after it."),
        ({"fluid": ""}, "Nothing was chosen."),
    ],
)
def test_a_top_up_that_cannot_be_keeps_what_was_typed(tobin, changes, said):
    answer = post(tobin, PAGE, **{**TOPPED, **changes})

    assert answer.status_code == 422
    assert said in words(answer)
    assert 'value="11/24/2026"' in answer.content.decode()


def test_a_log_in_the_wrong_unit_is_asked_about_and_one_that_counts_can_be_withdrawn(tobin, cast):
    asked = post(tobin, PAGE, act="log", file=log_file("Time (s),Temp\n0,90\n" + LATER.format(90)), unit="degF")

    assert asked.status_code == 422
    assert "The mean is 32.2 °C (90.0 °F); while running it is usually 50 to 130 °C." in words(asked)
    assert 'name="confirm" value="log.heat"' in asked.content.decode()
    right = post(tobin, PAGE, act="log", file=log_file("Time (s),Temp\n0,90\n" + LATER.format(90)), unit="degC")
    assert right.status_code == 302
    assert "withdraw the log" in words(tobin.get(PAGE))
    assert post(tobin, PAGE, act="withdraw").status_code == 302
    assert cast.vehicle("V-01").uses.latest("from_on").log is None
    assert "withdraw the log" not in words(tobin.get(PAGE))
    assert post(tobin, PAGE, act="withdraw").status_code == 422
