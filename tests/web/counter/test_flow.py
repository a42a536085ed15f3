"""The counter from the plate to the yes, through the pages alone."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from django.test import Client
from vininfo.dicts import WMI

from shopserv.jobs.findings import QUESTIONS
from shopserv.jobs.models import Authorization, Quote, QuoteVersion, Visit, WorkOrder
from shopserv.jobs.selectors.visits import standing
from shopserv.logbook.selectors import last_counted

pytestmark = pytest.mark.django_db


@pytest.fixture
def tobin(cast):
    client = Client()
    client.force_login(cast.tobin.staff)
    return client


def key_of(answer) -> str:
    """The once-key of the form on a page."""
    return re.search(r'name="once" value="([^"]+)"', answer.content.decode()).group(1)


def intake_of(page, **changes):
    """A filled-in slip for a vehicle on file."""
    said = {question.name: "no" for question in QUESTIONS}
    return {"once": key_of(page), "arrival": "driven", "odometer": "63,200", **said, **changes}


def taken_in(client, **changes):
    """V-01 taken in."""
    page = client.get("/counter/intake/?vehicle=V-01")
    return client.post("/counter/intake/", intake_of(page, vehicle="V-01", **changes))


def quoted(client) -> Quote:
    """V-01 taken in, its plan written down."""
    answer = taken_in(client)
    page = client.get(answer.headers["Location"])
    client.post(f"{answer.headers['Location']}quote/", {"once": key_of(page)})
    return Quote.objects.get(visit__vehicle__number="V-01")


def sheet_fields(client, quote, **changes):
    """The draft form as the page shows it."""
    page = client.get(f"/counter/quote/{quote.number}/")
    form = page.context["form"]
    shown = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
    return {**shown, "once": key_of(page), **changes}


def offered(client) -> QuoteVersion:
    """The draft of V-01 on offer."""
    quote = quoted(client)
    client.post(f"/counter/quote/{quote.number}/", sheet_fields(client, quote, act="offer"))
    return quote.versions.get(state="offered")


def test_the_desk_shows_the_day(tobin, cast):
    answer = tobin.get("/counter/")

    assert answer.status_code == 200
    assert "the day by promised time" in answer.content.decode()
    row = answer.content.decode().split("<tbody>")[1].split("</tr>")[1]
    assert 'class="ledger desk"' in answer.content.decode()  # on a phone one column, by the sheet of the counter
    assert ('data-label="came"' in row, 'data-label="whose move"' in row) == (True, True)


def test_a_vehicle_on_file_is_taken_in(tobin):
    answer = taken_in(tobin, complaint="Shifts fine, just want it looked after.")

    visit = Visit.objects.get(vehicle__number="V-01", state="here")
    assert answer.headers["Location"] == f"/counter/visit/{visit.number}/"
    assert visit.reading.figure == 63_200


def test_a_slip_with_an_open_question_comes_back_with_all_that_was_typed(tobin):
    page = tobin.get("/counter/intake/?vehicle=V-01")
    fields = intake_of(page, vehicle="V-01", complaint="It hums at 40.")
    del fields["slips"]

    answer = tobin.post("/counter/intake/", fields)

    assert answer.status_code == 422
    assert "It hums at 40." in answer.content.decode()
    assert not Visit.objects.filter(vehicle__number="V-01", state="here").exists()


def test_b010_a_lower_reading_asks_why_in_place(tobin):
    page = tobin.get("/counter/intake/?vehicle=V-01")

    answer = tobin.post("/counter/intake/", intake_of(page, vehicle="V-01", odometer="61,000"))

    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="replaced"' in text
    assert "61,000" in text


def test_b004_a_vin_with_another_check_digit_is_kept_only_with_a_reason(tobin):
    page = tobin.get("/counter/intake/?vin=0BRND4E0600000017")
    fields = intake_of(page, vin="0BRND4E0600000017", owner="Ada Wend", make="Osmerel", model="Tilde", odometer="1,000")

    refused = tobin.post("/counter/intake/", fields)
    kept = tobin.post("/counter/intake/", {**fields, "vin_kept_because": "read twice off the plate"})

    assert refused.status_code == 422
    assert "works out to 5" in refused.content.decode()
    assert kept.status_code == 302


def test_b114_the_same_slip_sent_twice_takes_in_once(tobin):
    page = tobin.get("/counter/intake/?vehicle=V-01")
    fields = intake_of(page, vehicle="V-01")

    first, second = (tobin.post("/counter/intake/", fields) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert Visit.objects.filter(vehicle__number="V-01", state="here").count() == 1


def test_the_plan_of_the_example_vehicle_shows_its_four_totals(tobin):
    answer = taken_in(tobin)

    text = tobin.get(answer.headers["Location"]).content.decode()

    for total in ("$183.64", "$395.69", "$442.95", "$641.89"):
        assert total in text


def test_the_quote_sheet_shows_every_line_and_the_sums_behind_it(tobin):
    quote = quoted(tobin)

    text = tobin.get(f"/counter/quote/{quote.number}/").content.decode()
    sums = tobin.get(f"/counter/quote/{quote.number}/1/C/").content.decode()

    for figure in ("$122.08", "$11.05", "$270.00", "$13.50", "$18.00", "$8.32", "$442.95", "86 to 94 %"):
        assert figure in text
    assert "$133.13" in sums
    assert "6.25" in sums.replace("5.5 %", "6.25")


def test_other_tenths_give_another_total(tobin):
    quote = quoted(tobin)

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, tenths_C="20", act="save"))

    assert answer.status_code == 302
    assert quote.versions.get().options.get(letter="C").total_cents == 44_295 + 2 * 1_500 + 150


def test_b113_a_stale_draft_shows_both_sides_and_changes_nothing(tobin):
    quote = quoted(tobin)
    fields = sheet_fields(tobin, quote, why="mine", note="mind the dog", tenths_C="20", act="save")
    tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, why="theirs", recommended="B", act="save"))

    answer = tobin.post(f"/counter/quote/{quote.number}/", fields)

    assert answer.status_code == 409
    assert [(side.label, side.mine, side.theirs) for side in answer.context["sides"]] == [
        ("We recommend", "C", "B"),
        ("because", "mine", "theirs"),
        ("Words to the customer", "mind the dog", ""),
        ("C, labor, tenths", "20", "18"),
    ]
    assert '<th scope="row">Words to the customer</th><td class="from-person">mind the dog</td>' in str(
        answer.content, "utf-8"
    )
    assert quote.versions.get().why == "theirs"


def test_a_stale_draft_is_overwritten_only_after_both_sides_were_shown(tobin):
    quote = quoted(tobin)
    address = f"/counter/quote/{quote.number}/"
    mine = sheet_fields(tobin, quote, why="mine", act="save")
    tobin.post(address, sheet_fields(tobin, quote, why="theirs", act="save"))
    refused = tobin.post(address, mine)
    edition = re.search(r'name="edition" value="(\d+)"', refused.content.decode())

    again = tobin.post(address, mine)
    seen = tobin.post(address, {**mine, "once": key_of(refused), "edition": edition[1]})

    assert (again.status_code, seen.status_code) == (409, 302)
    assert quote.versions.get().why == "mine"


def test_an_offer_freezes_the_version_and_a_new_one_begins_from_it(tobin):
    version = offered(tobin)
    page = tobin.get(f"/counter/quote/{version.quote.number}/")

    tobin.post(f"/counter/quote/{version.quote.number}/revise/", {"once": key_of(page)})

    assert version.check_words
    assert version.quote.versions.filter(state="draft", version=2).exists()
    assert tobin.get(f"/counter/quote/{version.quote.number}/1/").status_code == 200


def test_a_yes_on_the_telephone_needs_number_and_check_words_and_writes_up_the_work(tobin):
    version = offered(tobin)
    address = f"/counter/quote/{version.quote.number}/authorize/"
    fields = {
        "once": key_of(tobin.get(address)),
        "option": "C",
        "person": "Ansel Thornby",
        "capacity": "keeper",
        "way": "telephone",
        "amount": "442.95",
        "contact_used": "+1 202 555 0111",
    }

    refused = tobin.post(address, fields)
    counted = tobin.post(address, {**fields, "check_words": version.check_words})

    order = WorkOrder.objects.get(visit__vehicle__number="V-01")
    assert refused.status_code == 422
    assert counted.headers["Location"] == f"/counter/work/{order.number}/"
    assert Authorization.objects.get(state="counted").amount_cents == 44_295


def test_the_room_left_is_told_with_what_fits(tobin):
    version = offered(tobin)
    assert "nothing may begin" in tobin.get(f"/counter/quote/{version.quote.number}/room/").content.decode()


@pytest.mark.parametrize(("who", "status"), [("odo", 403), ("lise", 404)])
def test_a_quote_is_not_for_the_technician_and_does_not_exist_for_the_other_shop(tobin, cast, who, status):
    quote = quoted(tobin)
    client = Client()
    client.force_login(getattr(cast, who).staff)

    assert client.get(f"/counter/quote/{quote.number}/").status_code == status


@pytest.mark.parametrize("number", ["0", "-1", "9223372036854775808", "1e3", "1;", "BRW-Q-999", "%FF"])
def test_b103_a_number_that_names_nothing_is_not_found(tobin, number):
    assert tobin.get(f"/counter/quote/{number}/").status_code == 404


def test_year_and_maker_are_proposed_from_the_vin_and_what_was_typed_stays(tobin):
    wmi = next(wmi for wmi in sorted(WMI) if len(wmi) == 3)
    asked = {"vin": f"{wmi}AA1B27KA000101"}

    form = tobin.get("/counter/intake/", asked).context["form"]
    typed = tobin.get("/counter/intake/", {**asked, "make": "Osmerel", "year": "2018"}).context["form"]

    assert (form["make"].value(), form["year"].value()) == (WMI[wmi], "2019")
    assert (typed["make"].value(), typed["year"].value()) == ("Osmerel", "2018")


def test_b010_a_replaced_instrument_begins_anew_and_its_reading_counts(tobin, cast):
    page = tobin.get("/counter/intake/?vehicle=V-01")

    asked = tobin.post("/counter/intake/", intake_of(page, vehicle="V-01", odometer="120"))
    proposed = asked.context["form"]
    lost = tobin.post("/counter/intake/", intake_of(asked, vehicle="V-01", odometer="120", why_lower="replaced"))
    assert (asked.status_code, lost.status_code) == (422, 422)
    assert int(proposed["old_figure"].value()) >= 63_180
    assert proposed["old_is_estimate"].value() is True
    assert "What did the old instrument stand at?" in lost.content.decode()
    ends = {"old_figure": "65,000", "old_is_estimate": "on", "first_figure": "20"}
    tobin.post("/counter/intake/", intake_of(asked, vehicle="V-01", odometer="120", why_lower="replaced", **ends))

    reading = Visit.objects.get(vehicle__number="V-01", state="here").reading
    assert (reading.figure, reading.state) == (120, "counted")
    change = cast.vehicle("V-01").odometer_changes.get()
    assert (change.old_last_figure, change.new_first_figure) == (65_000, 20)
    assert "that the old one stood at 65,000 mi is an estimate" in change.evidence


def test_b010_an_earlier_slip_is_set_aside_and_this_reading_counts(tobin, cast):
    page = tobin.get("/counter/intake/?vehicle=V-01")

    tobin.post("/counter/intake/", intake_of(page, vehicle="V-01", odometer="63,100", why_lower="mistyped before"))

    assert Visit.objects.get(vehicle__number="V-01", state="here").reading.state == "counted"
    assert cast.vehicle("V-01").readings.filter(figure=63_180, state="set aside").exists()


def test_the_slip_asks_in_the_unit_of_the_instrument_that_is_fitted_now(tobin, cast):
    page = tobin.get("/counter/intake/?vehicle=V-10")  # its new instrument counts kilometers
    last = last_counted(cast.vehicle("V-10"))

    tobin.post("/counter/intake/", intake_of(page, vehicle="V-10", odometer=f"{last.figure + 40:,}"))

    reading = Visit.objects.get(vehicle__number="V-10", state="here").reading
    assert "Odometer, km" in page.content.decode()
    assert (reading.figure, reading.unit) == (last.figure + 40, "km")


def test_a_figure_that_fits_as_kilometers_is_asked_on_the_slip_and_confirmed(tobin):
    slip = {"vehicle": "V-09", "odometer": "183,880"}
    page = tobin.get("/counter/intake/?vehicle=V-09")

    asked = tobin.post("/counter/intake/", intake_of(page, **slip))
    taken = tobin.post("/counter/intake/", intake_of(asked, **slip, is_jump_confirmed="on"))

    text = asked.content.decode()
    assert asked.status_code == 422
    assert "It fits as 114,258 mi: read in the other unit, miles or kilometers." in text
    assert 'name="is_jump_confirmed"' in text
    assert 'value="183,880"' in text
    assert taken.status_code == 302


def test_the_visit_says_that_its_reading_is_doubted(cast, tobin):
    slip = {"vehicle": "V-09", "odometer": "183,880", "is_jump_confirmed": "on"}
    tobin.post("/counter/intake/", intake_of(tobin.get("/counter/intake/?vehicle=V-09"), **slip))
    visit = Visit.objects.get(vehicle__number="V-09", state="here")
    sure = tobin.get(f"/counter/visit/{visit.number}/").content.decode()
    cast.vehicle("V-09").readings.filter(pk=visit.reading_id).update(reason="")

    text = tobin.get(f"/counter/visit/{visit.number}/").content.decode()

    assert "is doubted: likely 114,258 mi" in text
    assert "is doubted" not in sure


@pytest.mark.parametrize(
    ("number", "answer", "is_said"), [("V-09", "no", True), ("V-09", "unknown", False), ("V-01", "no", False)]
)
def test_a_fluid_that_was_changed_without_the_file_knowing_is_said_on_the_visit(cast, tobin, number, answer, is_said):
    page = tobin.get(f"/counter/intake/?vehicle={number}")
    slip = intake_of(page, vehicle=number, odometer="", never_changed=answer)

    taken = tobin.post("/counter/intake/", slip)

    text = tobin.get(taken.headers["Location"]).content.decode()
    assert ("the file holds no such job and counts the first fluid" in text) == is_said
    choices = dict(page.context["form"].fields["never_changed"].choices)
    assert "Has the fluid ever been changed?" in page.content.decode()
    assert (choices["no"], choices["yes"]) == ("yes", "no, never")  # a yes of the slip is the finding


def test_never_changed_against_the_logbook_is_asked_and_told_with_the_job_of_the_logbook(cast, tobin):
    page = tobin.get("/counter/intake/?vehicle=V-01")
    slip = intake_of(page, vehicle="V-01", odometer="", never_changed="yes")
    asked = tobin.post("/counter/intake/", slip)
    text = asked.content.decode()
    assert asked.status_code == 422
    assert "The logbook has “" in text
    assert text.count('value="intake.never_changed"') == 1

    taken = tobin.post("/counter/intake/", {**slip, "once": key_of(asked), "confirm": "intake.never_changed"})

    visit = Visit.objects.get(number=taken.headers["Location"].strip("/").split("/")[-1])
    (found,) = [one for one in standing(visit) if one.code == "K-11"]
    assert found.customer_words.startswith("You told us that the fluid was never changed; our logbook has “")
    assert replace(found, signs=()).customer_words == found.kind.customer_words
