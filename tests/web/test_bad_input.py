"""Rows of the catalog of bad input at the pages that read them: the answer, the sentence, all that was typed kept."""

from __future__ import annotations

import html
import json
from datetime import date
from pathlib import Path

import pytest
from django.test import Client

from shopserv.calc.mileage import due_date_months
from shopserv.jobs.models import QuoteVersion, Visit
from shopserv.jobs.services import work
from shopserv.logbook.models import OdometerReading
from shopserv.registry.models import Vehicle
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage
from tests.web.counter.test_flow import intake_of, key_of, quoted, sheet_fields, taken_in, tobin  # noqa: F401

pytestmark = pytest.mark.django_db

CATALOG = {row["id"]: row for row in json.loads(Path("tests/bad_input.json").read_text())["cases"]}
OURS = "0BRND4E0500000017"
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
NEW = {"owner": "Ada Wend", "make": "Osmerel", "model": "Tilde", "odometer": "1,000"}


def said(answer) -> str:
    """The page's text with character references undone."""
    return html.unescape(answer.content.decode())


def slip(client, **fields):
    """The slip of a vehicle that is not on file, sent."""
    return client.post("/counter/intake/", intake_of(client.get("/counter/intake/"), **{**NEW, **fields}))


def is_marked(answer, field: str) -> bool:
    """Whether the field is marked as wrong and the summary leads to it."""
    text = answer.content.decode()
    return f'href="#id_{field}"' in text and 'aria-invalid="true"' in text


def expected(number: str) -> int:
    """The status that the catalog wants of the page."""
    return CATALOG[number]["must"]["page"]


VINS = [
    ("B001", "0BRND4E05O0000017", ["O", "10", OURS]),
    ("B002", "0BRND4E050000001", ["16", "17"]),
    ("B004", "0BRND4E0600000017", ["6", "works out to 5"]),
    ("B005", "\u0410BRND4E0500000017", ["1", "Latin"]),
]


@pytest.mark.parametrize(("number", "typed", "words"), VINS, ids=[row[0] for row in VINS])
def test_a_vin_that_cannot_be_is_refused_with_cause_and_mend(tobin, number, typed, words):  # noqa: F811
    before = Vehicle.objects.count(), Visit.objects.count()

    answer = slip(tobin, vin=typed)

    assert answer.status_code == expected(number)
    assert [one for one in words if one not in said(answer)] == []
    assert is_marked(answer, "vin")
    assert f'value="{typed}"' in said(answer)
    assert "Ada Wend" in said(answer)
    assert (Vehicle.objects.count(), Visit.objects.count()) == before


def test_b003_spaces_hyphens_and_small_letters_are_no_fault(tobin):  # noqa: F811
    answer = slip(tobin, vin=CATALOG["B003"]["input"])

    assert answer.status_code == 302
    assert Vehicle.objects.get(vin=OURS).visits.count() == 1
    assert OURS in said(tobin.get(answer.headers["Location"]))


def test_b006_a_vin_on_file_leads_to_its_vehicle_and_makes_no_second(tobin):  # noqa: F811
    slip(tobin, vin=OURS)
    known = Vehicle.objects.get(vin=OURS)

    answer = slip(tobin, vin=OURS, owner="Somebody Wend")

    assert answer.status_code == expected("B006")
    assert f"?vehicle={known.number}" in said(answer)
    assert "Somebody Wend" in said(answer)
    assert Vehicle.objects.filter(vin=OURS).count() == 1


def test_b008_two_without_a_vin_do_not_collide(tobin):  # noqa: F811
    number = CATALOG["B008"]["input"].split()[0]
    answers = [slip(tobin, vin_none="on", vin=typed) for typed in (number, number[:-1] + "2")]

    assert [answer.status_code for answer in answers] == [302, 302]
    assert Vehicle.objects.filter(vin=None, make="Osmerel", keepers__customer__name="Ada Wend").count() == 2


READINGS = [
    ("B009", "-12", "below zero"),
    ("B010", "61,000", "lower"),
    ("B011", "912400", "digit"),
    ("B012", "63.200", "63,200"),
    ("B013", "9.1e4", "9.1e4"),
    ("B014", "9" * 20, "9,999,999"),
]


@pytest.mark.parametrize(("number", "typed", "words"), READINGS, ids=[row[0] for row in READINGS])
def test_a_reading_that_cannot_be_is_asked_about_in_place(tobin, number, typed, words):  # noqa: F811
    before = OdometerReading.objects.count()

    answer = taken_in(tobin, odometer=typed, complaint="It hums at 40.")

    assert answer.status_code == expected(number)
    assert words in said(answer)
    assert is_marked(answer, "odometer")
    assert f'value="{typed}"' in said(answer)
    assert "It hums at 40." in said(answer)
    assert OdometerReading.objects.count() == before


def test_b015_other_digits_are_refused_with_the_ones_to_use(tobin):  # noqa: F811
    answer = taken_in(tobin, odometer="\u0669\u0661\u0662\u0664\u0660")

    assert answer.status_code == 422
    assert "Use 0-9." in said(answer)


def test_b016_another_unit_is_converted_once_and_both_are_kept(tobin):  # noqa: F811
    answer = taken_in(tobin, odometer="102,000 km")

    assert answer.status_code == 302
    reading = Visit.objects.get(vehicle__number="V-01", state="here").reading
    assert (reading.figure, reading.unit, reading.as_typed) == (63_380, "mi", "102,000 km")
    assert "102,000 km" in said(tobin.get(answer.headers["Location"]))


AMOUNTS = [
    ("B028", "1.234,56", "1,234.56"),
    ("B029", "10.005", "two places"),
    ("B030", "-50.00", "discount"),
    ("B031", "99999999999.99", "9,999,999.99"),
    ("B032", "10 EUR", "USD"),
]


@pytest.mark.parametrize(("number", "typed", "words"), AMOUNTS, ids=[row[0] for row in AMOUNTS])
def test_an_amount_that_cannot_be_is_refused_on_the_quote_sheet(tobin, number, typed, words):  # noqa: F811
    quote = quoted(tobin)
    before = QuoteVersion.objects.values_list("edition", "inputs").get(quote=quote)
    line = {"extra_column": "A", "extra_kind": "labor", "extra_text": "lift twice", "extra_price": typed}

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="compute", **line))

    assert answer.status_code == expected(number)
    assert words in said(answer)
    assert is_marked(answer, "extra_price")
    assert f'value="{typed}"' in said(answer)
    assert "lift twice" in said(answer)
    assert QuoteVersion.objects.values_list("edition", "inputs").get(quote=quote) == before


TOTALS = [("fee", "9,999,999.99", "The largest amount is $9,999,999.99"), ("discount", "183.65", "cannot be larger")]


@pytest.mark.parametrize(("kind", "price", "words"), TOTALS, ids=[row[0] for row in TOTALS])
def test_b031_the_total_of_a_quote_is_checked_too(tobin, kind, price, words):  # noqa: F811
    """Option A comes to 183.64 before."""
    quote = quoted(tobin)
    before = QuoteVersion.objects.values_list("edition", "inputs").get(quote=quote)
    line = {"extra_column": "A", "extra_kind": kind, "extra_text": "lift twice", "extra_price": price}

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="save", **line))

    assert answer.status_code == expected("B031")
    assert words in said(answer)
    assert is_marked(answer, "extra_price")
    assert f'value="{price}"' in said(answer)
    assert QuoteVersion.objects.values_list("edition", "inputs").get(quote=quote) == before


def test_a_discount_of_all_leaves_a_quote_of_nothing(tobin):  # noqa: F811
    quote = quoted(tobin)
    line = {"extra_column": "A", "extra_kind": "discount", "extra_text": "our gift", "extra_price": "183.64"}

    answer = tobin.post(f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="save", **line))

    assert answer.status_code == 302
    assert quote.versions.get().options.get(letter="A").total_cents == 0


def test_b113_an_edit_of_an_older_draft_shows_both_texts(tobin):  # noqa: F811
    quote = quoted(tobin)
    mine = sheet_fields(tobin, quote, act="compute", why="mine: keeps it calm")
    tobin.post(
        f"/counter/quote/{quote.number}/", sheet_fields(tobin, quote, act="compute", why="theirs: lasts longest")
    )

    answer = tobin.post(f"/counter/quote/{quote.number}/", mine)

    assert answer.status_code == expected("B113")
    assert "mine: keeps it calm" in said(answer)
    assert "theirs: lasts longest" in said(answer)
    assert quote.versions.get().why == "theirs: lasts longest"


ODD = ["0", "-1", "9223372036854775808", "1e3", "1%00", "1;", "%ff", "%E2%82%AC", "a" * 400]


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize(
    "path",
    [
        "/counter/visit/{}/",
        "/counter/quote/{}/",
        "/counter/quote/BRW-Q-1/{}/",
        "/counter/work/{}/",
        "/records/vehicle/{}/",
        "/records/paper/quote/BRW-Q-1/{}/",
        "/c/{}/",
    ],
)
def test_b103_an_address_of_nothing_is_not_found(tobin, path, odd):  # noqa: F811
    trail = TrailEntry.objects.count()

    assert tobin.get(path.format(odd)).status_code in (404, 400)
    assert TrailEntry.objects.count() == trail


@pytest.mark.parametrize("path", ["/counter/intake/?vehicle=V-01%00", "/counter/intake/?q=%00", "/sign-in/?next=%00"])
def test_b103_a_nul_sign_after_the_question_mark_is_no_fault_of_ours(tobin, path):  # noqa: F811
    assert tobin.get(path).status_code in (400, 404)


def test_a_nul_sign_in_what_the_page_fills_in_is_refused(tobin):  # noqa: F811
    assert slip(tobin, vehicle="V-01\x00").status_code == 400


@pytest.mark.parametrize("typed", ["%", "_", "'", "\\\\", ""])
def test_b106_a_sign_is_looked_for_as_it_is(tobin, typed):  # noqa: F811
    answer = tobin.get("/counter/intake/", {"q": typed})

    assert answer.status_code == 200
    assert "V-01" not in said(answer)


def test_b106_a_text_of_ten_thousand_letters_is_refused(tobin):  # noqa: F811
    assert tobin.get("/counter/intake/", {"q": "x" * 10_000}).status_code in (200, 400)


def test_a_page_without_a_way_in_leads_to_the_way_in():
    assert Client().get("/counter/").status_code == 302


def test_b037_months_are_counted_from_the_day_itself_and_do_not_drift():
    last = date(2028, 2, 29)

    assert due_date_months(last, 12) == date(2029, 2, 28)
    assert due_date_months(last, 48) == date(2032, 2, 29)


def test_b102_a_choice_of_the_other_shop_is_as_unknown_as_one_that_does_not_exist(tobin, cast):  # noqa: F811
    order = bay_stage.written_up(cast)
    path = f"/counter/work/{order.number}/"
    theirs = cast.slt.bays.first()

    def sent(bay: str) -> str:
        page = tobin.get(path)
        fields = {"once": key_of(page), "act": "clear", "edition": order.edition, "bay": bay}
        answer = tobin.post(path, {**fields, "technician": str(cast.odo.staff.pk)})
        assert answer.status_code == 422
        return said(answer).replace(bay, "?").split("error-summary")[1].split("</section>")[0]

    assert sent(str(theirs.pk)) == sent("999999")
    order.refresh_from_db()
    assert order.state == "written up"


def test_b118_of_two_who_change_one_job_the_later_is_told_what_it_is_now(tobin, cast):  # noqa: F811
    order = bay_stage.written_up(cast)
    path = f"/counter/work/{order.number}/"
    page = tobin.get(path)
    mine = {"once": key_of(page), "act": "clear", "edition": order.edition, "bay": str(bay_stage.north(cast).pk)}
    work.clear(order, actor=cast.maren, bay=bay_stage.north(cast), technician=cast.pilar.staff)

    answer = tobin.post(path, {**mine, "technician": str(cast.odo.staff.pk)})

    order.refresh_from_db()
    assert answer.status_code == expected("B118")
    assert f"{order.number} is cleared" in said(answer)
    assert (order.state, order.technician) == ("cleared", cast.pilar.staff)


def test_b088_signs_that_turn_the_text_around_are_taken_out_wherever_they_are_typed(tobin):  # noqa: F811
    kept = slip(tobin, vin=OURS, owner="Ada \u202eWend\u202c", complaint="\u2066whines\u2069 when cold")
    shown = slip(tobin, owner="Ada \u202eWend", odometer="\u202e-12")
    found = tobin.get("/records/", {"q": "\u202dNobody here\u202c"})

    assert kept.status_code == 302
    visit = Visit.objects.get(vehicle__vin=OURS)
    assert (visit.customer.name, visit.complaints.get().words) == ("Ada Wend", "whines when cold")
    assert shown.status_code == 422
    assert [answer for answer in (shown, found) if set(said(answer)) & set(TURNING)] == []
