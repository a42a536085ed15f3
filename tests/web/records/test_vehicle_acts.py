"""What is noted on a logbook: a reading, a plate, an owner. Bad input by its id."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common import clock
from shopserv.logbook.doubts import doubts_of
from shopserv.logbook.models import OdometerReading
from shopserv.logbook.services import WHY_LOWER
from shopserv.registry.models import KeeperRecord, PlateRecord
from shopserv.registry.selectors import keeper_on, plate_on
from shopserv.registry.services import customers
from shopserv.reminders.services import forecasts
from shopserv.web.records.forms import WHY_CHOICES
from tests.web.records.conftest import key_of

pytestmark = pytest.mark.django_db
LOG = "/records/vehicle/V-01/"


def send(client, act, **said):
    return client.post(LOG, {"once": key_of(client.get(LOG)), "act": act, **said})


def reading(client, odometer, **said):
    return send(client, "reading", **{"odometer": odometer, "source": "customer", **said})


def newest(cast):
    return cast.vehicle("V-01").readings.order_by("-pk").first()


def refused(answer, *words, status=422):
    text = " ".join(answer.content.decode().split())
    assert answer.status_code == status
    for one in words:
        assert one in text
    return text


def test_the_reasons_offered_are_those_that_the_deed_knows():
    assert {code for code, _words in WHY_CHOICES} == WHY_LOWER.keys()


def test_a_higher_reading_counts_and_renews_the_forecast(cast, tobin):
    answer = reading(tobin, "63,400")

    assert answer.headers["Location"] == LOG
    assert (newest(cast).figure, newest(cast).state, newest(cast).source) == (63_400, "counted", "customer")
    assert "63,400 mi noted." in tobin.get(LOG).content.decode()
    assert cast.vehicle("V-01").forecasts.get(is_current=True).working["inputs"]["readings"][-1][1] == "63400"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("-12", "below zero"),  # B009
        ("91.240", "91,240"),  # B012
        ("9.1e4", "“9.1e4”"),  # B013
        ("99999999999999999999", "9,999,999"),  # B014
        ("٩١٢٤٠", "0-9"),  # B015
        ("", "Nothing was typed"),
        ("63,400 ft", "ft"),
    ],
)
def test_b009_b012_b013_b014_b015_a_figure_that_cannot_be_is_kept_with_its_fault(tobin, typed, words):
    before = OdometerReading.objects.count()

    text = refused(reading(tobin, typed), "Odometer</a>:", words, 'aria-invalid="true"')

    assert f'value="{typed}"' in text or not typed
    assert OdometerReading.objects.count() == before


def test_b010_a_lower_reading_is_stored_only_with_one_of_the_reasons(cast, tobin):
    before = OdometerReading.objects.count()

    refused(reading(tobin, "61,000"), "63,180 mi on November 24, 2026", 'value="cannot tell"', 'value="61,000"')

    assert OdometerReading.objects.count() == before


def test_b010_nobody_can_tell_keeps_it_and_does_not_count_it(cast, tobin):
    reading(tobin, "61,000", why_lower="cannot tell")

    assert (newest(cast).figure, newest(cast).state) == (61_000, "set aside")
    assert "61,000 mi kept and not counted: cannot tell which is wrong." in tobin.get(LOG).content.decode()


def test_b010_an_earlier_slip_sets_the_higher_one_aside(cast, tobin):
    reading(tobin, "61,000", why_lower="mistyped before")

    assert newest(cast).state == "counted"
    assert cast.vehicle("V-01").readings.get(figure=63_180).state == "set aside"


def test_b010_a_slip_of_this_moment_is_mended_and_not_stored(cast, tobin):
    before = OdometerReading.objects.count()

    refused(reading(tobin, "61,000", why_lower="mistyped now"), "Mend the figure above")

    assert OdometerReading.objects.count() == before


def test_b010_a_new_instrument_says_where_it_began(cast, tobin):
    refused(reading(tobin, "40", why_lower="replaced"), "Where did the new instrument begin?")
    refused(reading(tobin, "40", why_lower="replaced", first_figure="0"), "What did the old instrument stand at?")
    reading(tobin, "40", why_lower="replaced", first_figure="0", old_figure="64,000", replaced_on="")

    change = cast.vehicle("V-01").odometer_changes.get()
    assert (newest(cast).instrument, newest(cast).state) == (2, "counted")
    assert (change.old_last_figure, change.new_first_figure) == (64_000, 0)


def test_b011_a_jump_is_stored_only_when_confirmed(cast, tobin):
    text = refused(reading(tobin, "631,800"), "2,000 mi a day", 'value="odometer.jump"')
    assert 'value="631,800"' in text

    reading(tobin, "631,800", confirm="odometer.jump")

    assert newest(cast).figure == 631_800


def test_b016_another_unit_is_converted_once_and_shown_with_what_was_typed(cast, tobin):
    reading(tobin, "110,000 km", confirm="odometer.jump")

    row = newest(cast)
    assert (row.figure, row.unit, row.as_typed) == (68_351, "mi", "110,000 km")
    shown = " ".join(tobin.get(LOG).content.decode().split())
    assert "68,351 mi noted; 110,000 km was typed." in shown
    assert "Typed: 110,000 km." in shown


def test_an_estimate_is_kept_and_not_counted(cast, tobin):
    reading(tobin, "64,000", source="estimate")

    assert newest(cast).state == "set aside"


def test_a_day_ahead_and_a_source_that_was_not_chosen_are_refused(tobin):
    refused(reading(tobin, "63,400", on="2026-11-25"), 'value="2026-11-25"', "On (empty: today)")
    refused(reading(tobin, "63,400", source=""), "Nothing was chosen")


def test_b114_the_same_reading_sent_twice_is_noted_once(cast, tobin):
    fields = {"once": key_of(tobin.get(LOG)), "act": "reading", "odometer": "63,400", "source": "customer"}

    first, second = (tobin.post(LOG, fields) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert cast.vehicle("V-01").readings.filter(figure=63_400).count() == 1


def test_another_plate_is_noted_from_a_day_on(cast, tobin):
    answer = send(tobin, "plate", plate="brw 77", place="", since="2026-11-20")

    assert answer.status_code == 302
    assert plate_on(cast.vehicle("V-01"), cast.today).plate == "BRW77"
    assert "Plate brw 77." in tobin.get(LOG).content.decode()
    assert tobin.get("/records/?q=BRW77").context["first"].number == "V-01"


def test_no_plate_is_noted_as_none(cast, tobin):
    send(tobin, "plate", plate="")

    assert plate_on(cast.vehicle("V-01"), cast.today) is None
    assert "Noted: no plate." in tobin.get(LOG).content.decode()


@pytest.mark.parametrize(("typed", "words"), [("‮ ​", "no letter A to Z"), ("Ж—Я", "no letter A to Z"), ("X" * 17, "16")])
def test_b088_a_plate_that_could_never_be_found_is_refused(tobin, typed, words):
    before = PlateRecord.objects.count()

    refused(send(tobin, "plate", plate=typed), words)

    assert PlateRecord.objects.count() == before


def test_b088_signs_that_nobody_sees_are_taken_out_of_a_plate(cast, tobin):
    send(tobin, "plate", plate="SAL\u200b 99")

    assert plate_on(cast.vehicle("V-01"), cast.today).as_typed == "SAL 99"


@pytest.mark.parametrize("typed", ["C-002", "by name"])
def test_another_owner_is_one_on_file_by_number_or_name(cast, tobin, typed):
    other = cast.customer("C-002")

    answer = send(tobin, "owner", owner=other.name.upper() if typed == "by name" else typed)

    assert answer.status_code == 302
    assert keeper_on(cast.vehicle("V-01"), cast.today) == other
    assert f"{other.name} since Nov 2026." in " ".join(tobin.get(LOG).content.decode().split())


def test_an_owner_that_is_not_known_is_noted_so(cast, tobin):
    send(tobin, "owner", not_known="on")

    assert keeper_on(cast.vehicle("V-01"), cast.today) is None
    assert "The owner is not known." in tobin.get(LOG).content.decode()


def test_of_two_of_one_name_the_number_decides(cast, tobin):
    two = [customers.add(actor=cast.tobin, name="Ada Wend", phone=f"202 555 019{n}") for n in range(2)]

    text = refused(send(tobin, "owner", owner="ada wend"), "Several customers are called", 'value="ada wend"')

    assert all(one.number in text for one in two)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"owner": "Nobody At All"}, "Nobody on file is called"),
        ({"owner": "C-99999"}, "Nobody on file is called"),
        ({"owner": ""}, "Type whose it is, or tick"),
        ({"owner": "C-002", "not_known": "on"}, "not both"),
        ({"owner": "C-001"}, "already"),
        ({"owner": "C-002", "owner_since": "2019-04-02"}, "Take the next day"),
    ],
)
def test_an_owner_that_cannot_be_changes_nothing(tobin, said, words):
    before = KeeperRecord.objects.count()

    refused(send(tobin, "owner", **said), words)

    assert KeeperRecord.objects.count() == before


def test_an_act_that_there_is_not_does_nothing(tobin):
    assert send(tobin, "scrap").status_code == 422


@pytest.mark.parametrize("who", ["odo", "sam"])
def test_who_may_not_take_in_may_not_note_either(signed_in, who):
    assert signed_in(who).post(LOG, {"act": "reading", "odometer": "63,400"}).status_code == 403


def doubted_reading(cast):
    row = OdometerReading.objects.create(
        vehicle=cast.vehicle("V-01"),
        shop=cast.tobin.shop,
        figure=163_480,
        unit="mi",
        as_typed="163480",
        read_on=cast.today,
        read_at=clock.now() + timedelta(hours=1),
        source="fleet file",
    )
    forecasts.renew(cast.vehicle("V-01"), actor=cast.tobin)
    return row


def test_a_doubted_reading_stands_in_parentheses_with_what_it_likely_is(cast, tobin):
    row = doubted_reading(cast)

    said = " ".join(tobin.get(LOG).content.decode().split())

    assert "(163,480 mi) of Nov 24, 2026 is doubted: likely " in said
    assert '<span class="set-aside">(163,480)</span>' in said
    assert "Reading from the fleet's file" in said.replace("&#x27;", "'")
    assert "<b>doubted, see above</b>" in said
    assert f'<input type="hidden" name="reading" value="{row.pk}">' in said
    assert "it is right: count it" in said


def test_a_figure_that_was_likely_meant_is_offered_and_taken(cast, tobin):
    row = doubted_reading(cast)
    (doubt,) = doubts_of(cast.tobin, cast.vehicle("V-01"))
    assert doubt.meant is not None

    answer = send(tobin, "is meant", reading=row.pk)

    assert answer.headers["Location"] == LOG
    assert newest(cast).figure == doubt.meant
    said = tobin.get(LOG).content.decode()
    assert f"{doubt.meant:,} mi counts." in said
    assert "set aside: " in said


@pytest.mark.parametrize(
    ("act", "state", "words"),
    [("is right", "counted", "163,480 mi counts."), ("is aside", "set aside", "163,480 mi is set aside, with its")],
)
def test_a_doubted_reading_is_settled_by_a_person(cast, tobin, act, state, words):
    row = doubted_reading(cast)

    send(tobin, act, reading=row.pk)

    row.refresh_from_db()
    assert row.state == state
    page = tobin.get(LOG).content.decode()
    assert words in page
    assert "is doubted" not in page


def test_a_reading_that_is_doubted_no_more_is_said(cast, tobin):
    refused(send(tobin, "is right", reading=1), "This reading is doubted no more: look again.", status=422)
    refused(send(tobin, "is right", reading="x"), status=422)
