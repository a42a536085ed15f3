"""The page of the fluid ahead: what it says of a counted shelf, to whom, and of what cannot be."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from urllib.parse import urlencode

import pytest

from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors import ahead
from tests.jobs import bay_stage as bays
from tests.jobs.test_shelf import job

PAGE = "/records/fluid-ahead/"
FULL = {"FEN2-n_FEN2-P": "0", "FEN2-n_FEN2-J": "5", "FEN2-n_FEN2-B": "8", "FEN2-lead": "2"}


@pytest.fixture
def order(cast) -> WorkOrder:
    return bays.written_up(cast)


def text(answer):
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_without_agreed_jobs_it_says_so(signed_in):
    answer = signed_in("sam").get(PAGE)

    assert (answer.status_code, "No agreed job waits for fluid." in text(answer)) == (200, True)
    assert "Does it reach?" not in text(answer)


def test_uncounted_it_promises_nothing_and_says_what_to_count(signed_in, order):
    page = text(signed_in("sam").get(PAGE))

    assert "is not counted, so nothing is promised. Count pails, jugs and bottles." in page
    assert f"{order.number} V-01" in page
    assert "10.6 qt (10.0 L)" in page
    assert "Agreed by the whole package: what is left over is its customer's" in page.replace("&#x27;", "'")
    assert "reaches for" not in page


def test_counted_it_reaches_or_names_the_vehicle_and_the_last_day_to_order(signed_in, order):
    sam = signed_in("sam")
    days = {f"day-{order.number}": "Nov 30"}

    scarce = {**FULL, "FEN2-n_FEN2-J": "1", "FEN2-n_FEN2-B": "3"}

    reaches = text(sam.get(PAGE, FULL))
    fails = text(sam.get(PAGE, {**scarce, **days}))
    today = text(sam.get(PAGE, {**scarce, "FEN2-lead": "0"}))
    late = text(sam.get(PAGE, scarce))

    assert "reaches for the job ahead." in reaches
    assert "2 jugs and 3 bottles = 3 jugs and 5 bottles" in reaches
    assert f"does not reach for Nov 30, {order.number} (V-01). Order by Nov 28." in fails
    assert "The cheapest order that serves it: 1 jug." in fails
    assert "Order today." in today
    assert "would have had to go out by Nov 22, 2 days ago" in late


def test_other_packages_than_the_quotes_are_told_and_the_days_of_an_order_not_asked(signed_in, order):
    pail = {"FEN2-n_FEN2-P": "1", "FEN2-n_FEN2-J": "0", "FEN2-n_FEN2-B": "0"}  # no days of an order: it reaches

    owner, keeper = signed_in("maren").get(PAGE, pail), signed_in("sam").get(PAGE, pail)
    fine = text(signed_in("sam").get(PAGE, {**FULL, "FEN2-lead": ""}))

    said = "(V-01) would get 1 pail where its quote has 2 jugs and 3 bottles"
    rest = "; the price stands, and the rest becomes the customer's."
    assert (owner.status_code, owner.context["told"][0].grade) == (200, "watch")
    cost = re.search(
        re.escape(said) + r", \$([\d.]+) (more|less) of our cost" + re.escape(rest), owner.context["told"][0].more[0]
    )
    assert cost
    assert said + rest in keeper.context["told"][0].more[0]
    assert "would get" not in fine
    assert "as it should be" in fine
    assert "nothing to share" not in fine


def test_costs_are_for_who_may_see_them(signed_in, order):
    owner, keeper, writer = (text(signed_in(who).get(PAGE, FULL)) for who in ("maren", "sam", "tobin"))

    assert "2 jugs and 3 bottles for $63.10" in owner
    assert ["$" in one for one in (keeper, writer)] == [False, False]
    sums = [json.loads(signed_in(who).get(f"{PAGE}sums/", {**FULL, "as": "json"}).content) for who in ("maren", "sam")]
    assert ["USD" in json.dumps(one) for one in sums] == [True, False]
    assert [one["figures"]["FEN2-promise"]["value"] for one in sums] == [1, 1]


def test_the_sums_stand_behind_the_same_address(signed_in, order):
    page = signed_in("maren").get(PAGE, FULL).content.decode()
    sums = signed_in("maren").get(f"{PAGE}sums/", FULL)

    assert f'href="/records/fluid-ahead/sums/?{urlencode(FULL).replace("&", "&amp;")}#FEN2-promise"' in page
    assert 'id="FEN2-promise"' in sums.content.decode()
    assert f'href="?{urlencode({**FULL, "as": "json"}).replace("&", "&amp;")}"' in sums.content.decode()
    assert f"{PAGE}?{urlencode(FULL).replace('&', '&amp;')}" in sums.content.decode()


def test_numbers_lead_to_what_the_reader_may_open(signed_in, order):
    writer, keeper = (signed_in(who).get(PAGE).content.decode() for who in ("tobin", "sam"))

    assert f'href="/counter/work/{order.number}/"' in writer
    assert 'href="/records/vehicle/V-01/"' in keeper
    assert "/counter/" not in keeper


def test_by_the_liter_opened_packages_go_first_and_the_others_say_why_not(signed_in, order, monkeypatch):
    liter = [("rule", "by-liter")]
    real = ahead._jobs
    monkeypatch.setattr(ahead, "_jobs", lambda *given: [_with(one, liter) for one in real(*given)])
    said = FULL | {"FEN2-kind0": "FEN2-B", "FEN2-left0": "0.4", "FEN2-use_by0": "12/1/2026", "FEN2-batch0": "FM2-1"}
    said |= {"FEN2-kind1": "FEN2-J", "FEN2-left1": "1", "FEN2-use_by1": "11/23/2026"}

    page = text(signed_in("sam").get(PAGE, said))

    assert "Agreed by the liter: what is left over of a package serves the next job." in page
    assert "takes 0.40 qt (0.38 L) from bottle 1 (FM2-1)" in page
    assert "Not jug 2: It was to be used by Nov 23, 2026." in page


def _with(one, changed):
    return replace(one, **dict(changed))


WRONG = [
    ({"FEN2-n_FEN2-J": ""}, "Count it, and type 0 where there is none."),
    ({"FEN2-n_FEN2-J": "-3"}, "Jugs, 4.0 qt (3.8 L) each:"),
    ({"FEN2-n_FEN2-J": "1000000000"}, "1000000000 is not between 0 and 9,999."),
    ({"FEN2-n_FEN2-J": "five"}, "Jugs, 4.0 qt (3.8 L) each:"),
    (
        {"FEN2-lead": "", "FEN2-n_FEN2-B": "0", "FEN2-n_FEN2-J": "1"},
        "does not reach for BRW-W-1: say by when to order. Type 0 where",
    ),
    ({"FEN2-kind0": "FEN2-B", "FEN2-left0": "1.2"}, "A bottle holds 1.0 qt (0.9 L); more cannot be left in it."),
    ({"FEN2-kind0": "FEN2-B"}, "still in it: Nothing was typed. Fill it in, or empty the row."),
    ({"FEN2-left0": "0.5"}, "kind: Nothing was typed. Fill it in, or empty the row."),
    ({"FEN2-kind0": "FENV-L1", "FEN2-left0": "0.5"}, "kind:"),
    ({"FEN2-from0": "FEN2-J", "FEN2-count0": "2"}, "usable from: Nothing was typed."),
    ({"FEN2-from0": "FEN2-J", "FEN2-count0": "2", "FEN2-usable0": "11/20/2026"}, "Nov 20, 2026 is past."),
    ({"FEN2-from0": "FEN2-J", "FEN2-count0": "2", "FEN2-usable0": "Nov 20"}, "Nov 20, 2027 is not ahead"),
    ({"day-BRW-W-1": "11/23/2026"}, "Nov 23, 2026 is not ahead, or too far."),
    ({"day-BRW-W-1": "someday"}, "BRW-W-1, V-01:"),
]


def test_what_cannot_be_is_named_and_stays_typed(signed_in, order):
    sam = signed_in("sam")
    for said, words in WRONG:
        answer = sam.get(PAGE, {**FULL, **said})

        page = answer.content.decode()
        assert (answer.status_code, words in text(answer)) == (422, True), said
        assert "is not told until what is marked below is mended." in text(answer)
        assert [typed for typed in said.values() if typed and f'value="{typed}"' not in page] in ([], ["FENV-L1"]), said
        assert sam.get(f"{PAGE}sums/", {**FULL, **said}).status_code == 200


def test_a_use_by_that_is_past_is_no_fault_and_what_is_unknown_is_left_aside(signed_in, order):
    said = {
        "FEN2-kind0": "FEN2-B",
        "FEN2-left0": "0.5",
        "FEN2-use_by0": "11/23/2026",
        "day-BRW-W-99": "x",
        "other": "1",
    }

    answer = signed_in("sam").get(PAGE, {**FULL, **said})

    assert (answer.status_code, "Not bottle 1:" in text(answer)) == (200, True)


def test_sixty_jobs_get_an_answer_or_are_told_to_be_too_many(signed_in, order, monkeypatch):
    real = ahead._jobs
    many = [job(n, n % 7, 9_000 + 131 * (n % 5)) for n in range(60)]
    monkeypatch.setattr(
        ahead, "_jobs", lambda *given: [*real(*given), *(_with(one, [("product", "FEN2")]) for one in many)]
    )
    plenty = {**FULL, "FEN2-n_FEN2-P": "9999", "FEN2-n_FEN2-J": "9999", "FEN2-n_FEN2-B": "9999"}

    full = text(signed_in("sam").get(PAGE, plenty))
    monkeypatch.setattr("shopserv.jobs.shelf.MOST_WAYS", 3)
    tight = text(signed_in("sam").get(PAGE, {**plenty, "FEN2-n_FEN2-J": "30"}))

    assert "reaches for the 61 jobs ahead." in full
    assert "too many to look through" in tight
    assert "Count fewer kinds" in tight


def test_another_shop_sees_none_of_its_jobs(signed_in, order):
    assert order.number in text(signed_in("sam").get(PAGE))
    assert order.number not in text(signed_in("lise").get(PAGE))


def test_a_batch_is_found_by_who_keeps_parts_and_by_the_owner(signed_in):
    sam = signed_in("sam")

    found, unknown, long = (sam.get(PAGE, {"batch": mark}) for mark in ("l6-2602", "nowhere", "x" * 41))
    sums = json.loads(sam.get(f"{PAGE}sums/", {"batch": "L6-2602", "as": "json"}).content)["figures"]["batch"]

    assert found.status_code == 200
    assert re.search(r"Aug 13 F-36 .*? FEN6L 90 % = 0", text(found))
    assert sums["value"] == text(found).count("FEN6L")
    assert "No job in the logbook names batch “nowhere”. Look at the label again; poured last were" in text(unknown)
    assert (long.status_code, "x" * 41 in long.content.decode()) == (422, True)
    assert re.search(
        r"FEN6L Kell Top Parcel Carriers, \S+ .*? 90 % = 0", text(signed_in("maren").get(PAGE, {"batch": "l6-2602"}))
    )
    assert "Kell Top" not in text(found)  # who keeps parts sees no people
    assert "still inside" not in text(signed_in("tobin").get(PAGE, {"batch": "L6-2602"}))
