"""The Fluid course page: the strip of an option, its edits, other orders, and taking one."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.jobs.services import quotes
from shopserv.shop.models import TrailEntry
from tests.jobs import stage
from tests.web.counter.test_flow import key_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def version(cast):
    return stage.draft(cast, "V-01")


@pytest.fixture
def tobin(cast):
    client = Client()
    client.force_login(cast.tobin.staff)
    return client


def address(version, letter="C"):
    return f"/counter/quote/{version.quote.number}/course/{letter}/"


def press(client, version, do, page=None, letter="C", **changes):
    """One press on the page: all it shows, with what was typed over it."""
    page = page or client.get(address(version, letter))
    form = page.context["form"]
    shown = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
    said = {**shown, "once": key_of(page), "edition": page.context["version"].edition, "do": do, **changes}
    return client.post(address(version, letter), said)


def ops(page):
    return [stage["op"] for stage in page.context["found"].stages]


def course_of(version, letter="C"):
    return version.options.get(letter=letter).course


def parts_of(version, letter="C"):
    return [line.text for line in version.options.get(letter=letter).lines.filter(kind="part")]


def test_the_page_shows_the_course_the_best_order_and_the_others(tobin, version):
    page = tobin.get(address(version))

    best = page.context["page"].best
    assert ops(page) == ["pump"] + ["add", "pump"] * 5 + ["add"]
    assert (page.context["share"], page.context["best_share"], page.context["gain"]) == (
        "86 to 94 %",
        "88 to 98 %",
        "2.5 points",
    )
    said = " ".join(page.content.decode().split())
    wide = (best.course.fraction_high_ppm - best.course.fraction_low_ppm) / 10_000
    assert f"smaller than the doubt of the share itself: {wide:.1f} points." in said
    assert best.course.stages[0] == {"op": "drain", "to_ml": -2900}
    assert [row.name for row in page.context["others"]] == [
        "drain first, then one pump",
        "one pour while it pumps",
        "overfill first",
    ]
    assert page.content.decode().count('class="drawn-tick"') == 13


def test_a_tenth_more_an_earlier_stage_one_out_and_one_in(tobin, version):
    more = press(tobin, version, "more 2")
    assert (more.status_code, more.context["found"].stages[1]["volume_ml"]) == (200, 1836)  # 1.84 and 0.1 qt
    assert more.context["found"].stages[3]["volume_ml"] == 1740  # as it was shown
    up = press(tobin, version, "up 2", more)
    assert ops(up)[:3] == ["add", "pump", "pump"]
    down = press(tobin, version, "down 1", up)
    assert ops(down)[:3] == ["pump", "add", "pump"]
    out = press(tobin, version, "out 12", down)
    assert ops(out)[-1] == "pump"
    back = press(tobin, version, "in add", out)
    assert back.context["found"].stages[-1] == {"op": "add", "volume_ml": 0}
    less = press(tobin, version, "less 12", back)
    assert less.context["found"].stages[-1] == {"op": "add", "volume_ml": 0}
    assert course_of(version)["stages"][1]["volume_ml"] == 1740  # looking changes nothing


@pytest.mark.parametrize("do", ["", "look", "look nothing", "up 1", "down 12", "out 13", "more x", "in stir", "less 0"])
def test_a_press_that_leads_nowhere_leaves_the_course_as_it_is(tobin, version, do):
    page = press(tobin, version, do)

    assert (page.status_code, list(page.context["found"].stages)) == (200, course_of(version)["stages"])


def test_a_figure_of_the_sheet_in_liters_is_asked_and_answered(tobin, version):
    asked = press(tobin, version, "look", amount_2="2.9")

    assert asked.status_code == 422
    assert "2.9 qt (2.7 L), or 2.9 L (3.1 qt)" in asked.content.decode()
    assert 'value="2.9"' in asked.content.decode()
    answered = press(tobin, version, "look", amount_2="2.9", amount_2_unit="L")
    assert answered.context["found"].stages[1]["volume_ml"] == 2900
    assert press(tobin, version, "look", amount_2="2.9 qt").context["found"].stages[1]["volume_ml"] == 2744


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("a lot", "stage 2"),
        ("-1", "A quantity below zero"),
        ("20", "more than one stage can move. The largest is 15.9 qt (15.0 L)"),
        ("1.8 ell", "not a unit known here"),
    ],
)
def test_what_makes_no_sense_names_its_stage_and_is_kept(tobin, version, typed, said):
    page = press(tobin, version, "take shown", amount_2=typed)

    body = page.content.decode()
    assert page.status_code == 422
    assert "stage 2</a>:" in body
    assert said in body
    assert f'value="{typed}"' in body
    assert course_of(version)["stages"][1]["volume_ml"] == 1740


@pytest.mark.parametrize(
    "wrong", [{"rows": "many"}, {"rows": "99"}, {"op_2": "stir"}, {"ml_2": "-3"}, {"edition": "x"}]
)
def test_a_form_that_was_tampered_with_is_refused(tobin, version, wrong):
    assert press(tobin, version, "take shown", **wrong).status_code == 422


def test_a_course_below_the_pickup_is_refused_with_the_stage_named(tobin, version):
    page = press(tobin, version, "look", amount_1="0", op_1="drain", ml_1="2900", op_2="mix")

    again = press(tobin, version, "take shown", op_1="drain", ml_1="2900", amount_1="2.9 L", op_2="mix")

    assert page.status_code == 200  # a warm run at full
    assert again.status_code == 422
    assert "stage 2 (warm run) runs the engine below the pickup" in again.content.decode()
    assert not course_of(version)["is_edited"]


def test_above_the_line_where_parts_dip_is_warned_of_and_may_be_taken(tobin, version):
    looked = press(tobin, version, "look order overfill first")
    taken = press(tobin, version, "take shown", looked)

    assert looked.context["rows"][1].warnings == (
        "stands 2,200 mL above the line where turning parts dip: the fluid foams",
    )
    assert taken.status_code == 302
    assert course_of(version)["too_high"] == ["pump 5.3"]


def test_another_order_over_the_line_is_not_offered_and_says_by_how_much(tobin, version):
    page = tobin.get(address(version))
    rows = {row.name: row for row in page.context["others"]}

    over = "stage 2 runs 3.6 qt (3.4 L) above full, 2.3 qt (2.2 L) above where turning parts dip: foam."
    assert [name for name, row in rows.items() if row.caution] == ["overfill first"]
    assert rows["overfill first"].caution == f"Not offered: {over}"
    said = page.content.decode()
    assert 'value="take order overfill first"' not in said
    assert 'value="take order one pour while it pumps"' in said
    assert over in said

    taken = press(tobin, version, "take order overfill first")
    assert taken.status_code == 422
    assert over in taken.content.decode()
    assert not course_of(version)["is_edited"]


def test_a_fifth_off_redraws_levels_and_share_and_names_the_cause(tobin, version):
    best = press(tobin, version, "look best")
    doubted = press(tobin, version, "look", best, doubt="on")

    rows = doubted.context["rows"]
    assert rows[1].level == "0.5 qt below to 0.6 qt above full"
    assert rows[2].warnings == (
        "reaches 200 mL under the pickup: the pump would draw air, if the drain lets out 20 % more",
    )
    assert "drawn-uncertain" in doubted.content.decode().split('class="tube-row"')[1]
    assert doubted.context["form"]["doubt"].value() is True


def test_taking_the_best_order_prices_the_draft_anew_and_leaves_a_trail(tobin, version):
    before, parts = TrailEntry.objects.count(), parts_of(version)

    answer = press(tobin, version, "take best")

    course = course_of(version)
    assert (answer.status_code, answer.headers["Location"]) == (302, f"/counter/quote/{version.quote.number}/")
    assert (course["is_edited"], course["new_ml"], course["stages"][0]["op"]) == (True, 10_000, "drain")
    assert TrailEntry.objects.count() == before + 1
    assert "drain plug with captive seal" in parts_of(version)  # the course opens the drain: its plug takes a new one
    assert press(tobin, version, "take habit").status_code == 302
    assert not course_of(version)["is_edited"]
    assert parts_of(version) == parts


def test_whoever_saved_in_between_is_named(tobin, version):
    page = tobin.get(address(version))
    press(tobin, version, "take best")

    answer = press(tobin, version, "take habit", page)

    assert answer.status_code == 409
    assert "Tobin Ashgrave saved" in answer.content.decode()


def test_an_offered_version_is_shown_and_not_changed(cast, tobin, version):
    quotes.offer(version, actor=cast.tobin, edition=version.edition)

    page = tobin.get(address(version))
    answer = press(tobin, version, "take best", page)

    assert page.status_code == 200
    assert "take best" not in page.content.decode()
    assert answer.status_code == 409
    assert "begin a new version first" in answer.content.decode()


def test_an_option_that_there_is_not_is_nothing(tobin, version):
    assert tobin.get(address(version, "E")).status_code == 404
    assert tobin.get(address(version, "CC")).status_code == 404


def test_drains_have_no_better_order_and_say_why(tobin, version):
    single, repeated = tobin.get(address(version, "A")), tobin.get(address(version, "B"))

    assert "one drain; there is no other order" in single.content.decode()
    assert "No order of the same fluid within the limits" in repeated.content.decode()


def test_a_metric_shop_sees_liters(cast, version):
    cast.brw.units_first = "metric"
    cast.brw.save()
    client = Client()
    client.force_login(cast.tobin.staff)

    page = client.get(address(version))
    more = press(client, version, "more 2", page)

    assert page.context["form"]["amount_2"].value() == "1.74"
    assert more.context["found"].stages[1]["volume_ml"] == 1840


def test_where_the_dipping_height_is_not_known_an_overfill_is_refused_with_all_kept(cast):
    draft = stage.draft(cast, "V-09")
    client = Client()
    client.force_login(cast.tobin.staff)
    letter = next(one.letter for one in draft.options.all() if one.method == "line exchange")

    asked = press(client, draft, "look", letter=letter, amount_2="7.4")
    looked = press(client, draft, "look", letter=letter, amount_2="7.4", amount_2_unit="qt")
    taken = press(client, draft, "take shown", looked, letter=letter)

    assert "7.4 qt (7.0 L), or 7.4 L (7.8 qt)" in asked.content.decode()
    assert "height at which turning parts dip is not on the unit sheet" in looked.content.decode()
    assert "Take the course as typed" not in looked.content.decode()
    assert taken.status_code == 422
    assert not course_of(draft, letter)["is_edited"]


def test_a_course_that_ends_below_full_is_not_taken(tobin, version):
    short = press(tobin, version, "out 12")

    taken = press(tobin, version, "take shown", short)

    assert (short.status_code, taken.status_code) == (200, 422)
    assert "below full; a course ends at full" in short.content.decode()
    assert "take the best order" in short.content.decode()
