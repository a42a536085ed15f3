"""From the level to the second look, through the pages alone, without script."""

from __future__ import annotations

import pytest

from shopserv.jobs.models import BayEvent, Finding, LevelRecord, MassBalance, SecondLook
from tests.jobs import bay_stage as bays
from tests.web.bay.conftest import Browser, key_of

pytestmark = pytest.mark.django_db
HOW = {"sign_seen": "on", "engine": "running", "plug_closed_with": "running", "temp_source": "thermometer"}
HOW["why_jump"] = "late"  # everything is read in the same moment


def text_of(answer):
    return answer.content.decode()


def level_page(browser, order, cast, **changes):
    """The figures of the level sent, and what the page behind them asks; what was filled over the mark runs out."""
    step = bays.up_to(cast, order, "level")
    said = {"out_ml": "0.3", **changes}
    browser.post(f"/bay/{order.number}/{step.order}/press/", **browser.fields(order.number, **said))
    return browser.get(f"/bay/{order.number}/level/")


def set_level(browser, order, cast, *, page=None, **changes):
    page = page or level_page(browser, order, cast)
    fields = {"once": page.context["form"].key, **HOW, "pin": bays.pin(cast.odo), **changes}
    return browser.post(f"/bay/{order.number}/level/", **fields)


def to_the_end(browser, order):
    """Every step behind the level done from its page."""
    while order.steps.filter(state="now").exists():
        read = {"odometer": "63,182"} if bays.now(order).code == "odometer_out" else {}
        assert browser.done(order, **read).status_code == 302
    order.refresh_from_db()


def close_fields(browser, order, cast, **changes):
    form = browser.get(f"/bay/{order.number}/close-out/").context["form"]
    ticks = {item.code: "on" for item in form.items}
    return {"once": form.key, "edition": form["edition"].value(), **ticks, "pin": bays.pin(cast.odo), **changes}


@pytest.fixture
def levelled(odo, order, cast):
    set_level(odo, order, cast)
    to_the_end(odo, order)
    return order


@pytest.fixture
def closed(odo, levelled, cast):
    odo.post(f"/bay/{levelled.number}/close-out/", **close_fields(odo, levelled, cast))
    levelled.refresh_from_db()
    return levelled


def figures_of(browser, order, cast, who, **changes):
    """Own figures as somebody who reads the same as the first would type them."""
    page = browser.get(f"/bay/{order.number}/look/")
    items = {row["what"]: row for row in order.second_looks.latest("attempt").items}
    said = {}
    for what, row in items.items():
        if row["kind"] == "seen":
            said[what] = "1" if not row["runs"] else "none"
        elif not row["runs"]:
            said[what] = {"tilt_fore_aft": f"{row['first'] / 10}", "tilt_side": f"{row['first'] / 10}"}.get(
                what, str(row["first"])
            )
    who = cast.pilar if who is None else who
    return {
        "once": key_of(page),
        "act": "figures",
        "by": str(who.staff.pk),
        "pin": bays.pin(who),
        **said,
        **changes,
    }


def give(browser, order, cast, who=None, **changes):
    return browser.post(f"/bay/{order.number}/look/", **figures_of(browser, order, cast, who, **changes))


def answer(browser, order, cast, act="yes", **changes):
    page = browser.get(f"/bay/{order.number}/look/")
    fields = {"once": key_of(page), "act": act, "by": str(cast.pilar.staff.pk), "pin": bays.pin(cast.pilar), **changes}
    return browser.post(f"/bay/{order.number}/look/", **fields)


def test_v01_goes_from_the_level_to_ready_through_the_pages(odo, order, cast):
    set_to = set_level(odo, order, cast)
    to_the_end(odo, order)
    closed = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast))
    given = give(odo, order, cast)
    said = answer(odo, order, cast)

    order.refresh_from_db()
    order.visit.refresh_from_db()
    look = SecondLook.objects.get(work_order=order)
    assert [one.status_code for one in (set_to, closed, given, said)] == [302, 302, 302, 302]
    assert (look.state, look.by, look.is_own) == ("yes", cast.pilar.staff, False)
    assert (order.state, order.visit.state) == ("second look done", "ready")


def test_the_level_page_shows_the_budget_of_what_was_read(odo, order, cast):
    text = text_of(level_page(odo, order, cast))

    assert "Level budget" in text
    assert "vehicle on the locks" in text
    assert "104" in text


def test_a_level_without_its_sign_is_not_set(odo, order, cast):
    said = set_level(odo, order, cast, sign_seen="")

    assert said.status_code == 422
    assert "Wait for the sign" in text_of(said)
    assert not LevelRecord.objects.filter(work_order=order).exists()


def test_a_level_under_a_wrong_pin_is_not_set_and_the_rest_stays_chosen(odo, order, cast):
    said = set_level(odo, order, cast, pin="0000")

    text = text_of(said)
    assert said.status_code == 422
    assert "Odo" in text
    assert "0000" not in text
    assert text.count("checked") >= 4
    assert not LevelRecord.objects.filter(work_order=order).exists()


def test_b136_a_figure_in_the_other_unit_is_asked_and_nothing_passes(odo, order, cast):
    page = level_page(odo, order, cast, temp_mdegc="40", temp_mdegc_unit="°F")

    said = set_level(odo, order, cast, page=page, confirm="level.unit")

    assert said.status_code == 422
    assert "40 °C = 104.0 °F; 40 °F = 4.4 °C" in text_of(said)
    assert not LevelRecord.objects.filter(work_order=order).exists()


def test_a_plug_closed_the_other_way_is_asked_once_then_holds(odo, order, cast):
    page = level_page(odo, order, cast)

    asked = set_level(odo, order, cast, page=page, plug_closed_with="off")
    held = set_level(odo, order, cast, page=page, plug_closed_with="off", confirm="level.plug")

    order.refresh_from_db()
    assert (asked.status_code, held.status_code, order.state) == (422, 302, "on hold")
    assert not LevelRecord.objects.get(work_order=order).passes


def test_the_level_sent_twice_is_one_record(odo, order, cast):
    page = level_page(odo, order, cast)

    first, second = (set_level(odo, order, cast, page=page) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert LevelRecord.objects.filter(work_order=order).count() == 1


def test_close_out_shows_level_and_balance_with_their_sums_and_what_was_not_done(odo, levelled):
    text = text_of(odo.get(f"/bay/{levelled.number}/close-out/"))

    for words in ("root of the sum of squares", "in less out", "band", "How the balance comes about", "passes"):
        assert words in text
    assert "$" not in text


def test_an_item_that_is_not_confirmed_keeps_the_job_in_the_bay(odo, levelled, cast):
    fields = close_fields(odo, levelled, cast)
    del fields["plugs"]

    said = odo.post(f"/bay/{levelled.number}/close-out/", **fields)

    assert said.status_code == 422
    assert "Not confirmed: plugs torqued" in text_of(said)
    assert not MassBalance.objects.filter(work_order=levelled).exists()


def test_a_close_out_that_is_stale_keeps_what_was_typed(odo, levelled, cast):
    fields = close_fields(odo, levelled, cast, words="the undertray clip is missing")
    redone = levelled.steps.get(code="road_test")
    odo.post(
        f"/bay/{levelled.number}/{redone.order}/again/",
        once=key_of(odo.get(f"/bay/{levelled.number}/?step={redone.order}&again=1")),
        words="once more around the block",
    )

    said = odo.post(f"/bay/{levelled.number}/close-out/", **fields)

    assert said.status_code == 409
    assert "the undertray clip is missing" in text_of(said)
    assert not MassBalance.objects.filter(work_order=levelled).exists()


def test_a_balance_that_does_not_close_asks_what_happened_and_goes_on_with_it(odo, order, cast):
    set_level(odo, order, cast, page=level_page(odo, order, cast, out_ml="0"))
    to_the_end(odo, order)

    asked = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast))
    said = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast, balance_words="spilt a little"))

    order.refresh_from_db()
    assert (asked.status_code, said.status_code) == (422, 302)
    assert "In and out do not agree" in text_of(asked)
    assert "spilt a little" in order.close_out["look_reason"]


def test_b010_a_lower_odometer_on_the_way_out_is_asked_why(odo, order, cast):
    set_level(odo, order, cast)
    while order.steps.filter(state="now").exists():
        odo.done(order, **({"odometer": "61,000"} if bays.now(order).code == "odometer_out" else {}))

    asked = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast))
    said = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast, why_lower="cannot tell"))

    order.refresh_from_db()
    assert (asked.status_code, said.status_code) == (422, 302)
    assert "61,000" in text_of(asked)
    assert 'value="cannot tell"' in text_of(asked)
    assert order.closed_out_at is not None


def test_closed_out_twice_is_one_balance(odo, levelled, cast):
    fields = close_fields(odo, levelled, cast)

    for _ in range(3):
        odo.post(f"/bay/{levelled.number}/close-out/", **fields)

    assert MassBalance.objects.filter(work_order=levelled).count() == 1


def test_with_steps_open_nothing_is_closed_out(odo, order, cast):
    set_level(odo, order, cast)

    said = odo.post(f"/bay/{order.number}/close-out/", **close_fields(odo, order, cast))

    assert said.status_code == 422
    assert "steps are open" in text_of(said)


def test_the_first_figures_are_nowhere_on_the_page_before_the_own_ones_are_in(odo, pilar, closed, cast):
    SecondLook.objects.filter(work_order=closed).update(
        items=[
            {**row, "first": 77_777} if row["what"] == "odometer" else row for row in closed.second_looks.get().items
        ]
    )

    blind = text_of(pilar.get(f"/bay/{closed.number}/look/"))
    given = give(pilar, closed, cast)
    both = text_of(pilar.get(f"/bay/{closed.number}/look/"))

    assert given.status_code == 302
    assert "77,777" not in blind
    assert "77777" not in blind
    assert "77,777" in both


def test_a_key_of_the_second_look_steps_one_figure_and_keeps_nothing(pilar, closed, cast):
    fields = figures_of(pilar, closed, cast, None, tilt_side="0.2", key="tilt_side:1")

    page = pilar.post(f"/bay/{closed.number}/look/", **fields)

    assert page.status_code == 200
    assert 'value="0.3"' in text_of(page)
    assert SecondLook.objects.get(work_order=closed).by is None


def test_the_technician_does_not_look_at_the_own_work(odo, closed, cast):
    fields = figures_of(odo, closed, cast, cast.odo)

    said = odo.post(f"/bay/{closed.number}/look/", **fields)

    assert said.status_code == 422
    assert SecondLook.objects.get(work_order=closed).by is None


def test_an_answer_without_own_figures_is_refused(pilar, closed, cast):
    said = answer(pilar, closed, cast)

    assert said.status_code == 422
    assert "Give your own figures first" in text_of(said)


def test_a_figure_far_from_the_first_is_no_yes(pilar, closed, cast):
    give(pilar, closed, cast, odometer="99,999")

    said = answer(pilar, closed, cast)

    text = text_of(said)
    assert said.status_code == 422
    assert "far apart" in text
    assert "Read it once more" in text


def test_a_no_with_its_reason_goes_back_and_another_try_stands_beside(odo, pilar, closed, cast):
    give(pilar, closed, cast)
    unsaid = answer(pilar, closed, cast, "no")
    said = answer(pilar, closed, cast, "no", reason="level is low")
    page = odo.get(f"/bay/{closed.number}/again/")
    odo.post(f"/bay/{closed.number}/again/", once=key_of(page), act="recheck", words="set it once more")

    closed.refresh_from_db()
    assert (unsaid.status_code, said.status_code) == (422, 302)
    assert "level is low" in text_of(page)
    assert (closed.state, bays.now(closed).code) == ("in the bay", "levelness")
    assert SecondLook.objects.get(work_order=closed).state == "no"


def test_while_it_runs_the_second_person_may_look_from_the_level_on(pilar, odo, order, cast):
    set_level(odo, order, cast)
    waiting = text_of(pilar.get("/bay/looks/"))
    page = pilar.get(f"/bay/{order.number}/look/")

    said = pilar.post(
        f"/bay/{order.number}/look/",
        once=key_of(page),
        act="figures",
        by=str(cast.pilar.staff.pk),
        pin=bays.pin(cast.pilar),
        sign="1",
    )

    order.refresh_from_db()
    assert "while it runs" in waiting
    assert said.status_code == 302
    assert order.close_out["seen_while_running"]["name"] == cast.pilar.name


def test_coolant_stops_the_job_at_once_and_no_fluid_step_follows(odo, tobin, order, cast):
    step = bays.up_to(cast, order, "pump")
    fields = odo.fields(order.number)
    page = odo.get(f"/bay/{order.number}/stop/")

    stopped = odo.post(
        f"/bay/{order.number}/stop/", once=page.context["forms"]["coolant"].key, act="coolant", signs="pink milk"
    )
    tried = odo.post(f"/bay/{order.number}/{step.order}/done/", **fields)

    order.refresh_from_db()
    sheet = text_of(odo.get(f"/bay/{order.number}/"))
    assert (stopped.status_code, order.state, order.hold_grade) == (302, "on hold", "stop")
    assert tried.status_code == 409
    assert Finding.objects.get(visit=order.visit, code="K-01").state == "suspected"
    assert "coolant in the fluid" in sheet
    assert "nobody goes on with the fluid; the vehicle is not to be driven" in sheet
    assert "The shop owner decides." in sheet
    assert "Mended: go on" not in sheet
    assert "Coolant in the fluid" in text_of(tobin.get("/counter/"))


def test_a_second_sign_makes_the_coolant_certain_while_the_job_is_on_hold(odo, order):
    for sign in ("pink milk", "glycol strip positive"):
        page = odo.get(f"/bay/{order.number}/stop/")
        key = page.context["forms"]["coolant"].key
        odo.post(f"/bay/{order.number}/stop/", once=key, act="coolant", signs=sign)

    found = Finding.objects.filter(visit=order.visit, code="K-01").order_by("pk")
    assert [one.state for one in found] == ["suspected", "confirmed"]


def test_what_could_not_be_seen_counts_as_no(pilar, closed, cast):
    give(pilar, closed, cast)

    said = answer(pilar, closed, cast, "could not see")

    look = SecondLook.objects.get(work_order=closed)
    assert (said.status_code, look.state) == (302, "no")
    assert look.words.startswith("could not see")


def test_coolant_without_a_sign_is_asked_what_was_seen(odo, order):
    page = odo.get(f"/bay/{order.number}/stop/")

    said = odo.post(f"/bay/{order.number}/stop/", once=page.context["forms"]["coolant"].key, act="coolant")

    order.refresh_from_db()
    assert (said.status_code, order.state) == (422, "in the bay")


@pytest.mark.parametrize("act", ["hold", "finding"])
def test_a_stop_without_words_is_asked_why(odo, order, act):
    page = odo.get(f"/bay/{order.number}/stop/")

    said = odo.post(f"/bay/{order.number}/stop/", once=key_of(page), act=act, words="")

    order.refresh_from_db()
    assert (said.status_code, order.state) == (422, "in the bay")


def test_a_hold_says_why_and_a_finding_of_weight_waits_for_the_owner(odo, order):
    page = odo.get(f"/bay/{order.number}/stop/")

    odo.post(f"/bay/{order.number}/stop/", once=key_of(page), act="finding", code="K-14", words="flakes on the magnet")

    order.refresh_from_db()
    assert (order.state, order.hold_grade) == ("on hold", "stop")
    assert BayEvent.objects.filter(work_order=order, what="finding K-14").count() == 1


def test_another_shop_finds_no_close_out_and_no_look(cast, closed):
    jory, lise = Browser(cast.jory), Browser(cast.lise)

    for page in ("close-out", "look", "stop", "level", "again"):
        assert jory.get(f"/bay/{closed.number}/{page}/").status_code == 404
    assert lise.get(f"/bay/{closed.number}/close-out/").status_code == 404
    assert closed.number not in text_of(jory.get("/bay/looks/"))


def test_the_writer_reads_the_close_out_and_does_none(tobin, levelled):
    assert tobin.get(f"/bay/{levelled.number}/close-out/").status_code == 200
    assert tobin.post(f"/bay/{levelled.number}/close-out/", once="k").status_code == 403
    assert tobin.get(f"/bay/{levelled.number}/look/").status_code == 403


def test_a_leftover_stands_beside_what_was_bought_and_poured(odo, levelled, cast):
    path = f"/bay/{levelled.number}/close-out/"

    far = odo.post(path, **close_fields(odo, levelled, cast, left_ml="2.0"))
    odo.post(path, **close_fields(odo, levelled, cast, left_ml="0.5"))

    assert far.status_code == 422
    assert "2.0 qt (1.9 L) left over was read; 11.0 qt (10.4 L) bought less" in text_of(far)
    assert 'value="2.0"' in text_of(far)
    assert "0.5 qt (0.5 L) noted; bought 11.0 qt (10.4 L) less poured" in text_of(odo.get(path))


@pytest.mark.parametrize("left", ["0", "0.3", "0.3 qt", "+"])
def test_a_leftover_is_read_at_the_second_look_like_any_figure(left, odo, pilar, levelled, cast):
    path = f"/bay/{levelled.number}/close-out/"
    said = odo.post(path, **close_fields(odo, levelled, cast, left_ml="0.5"))
    assert said.status_code == 302
    read = {"left_ml": "0.2" if left == "+" else left}
    fields = figures_of(pilar, levelled, cast, None, **read)

    if left == "+":
        page = pilar.post(f"/bay/{levelled.number}/look/", **fields, key="left_ml:1")
        assert (page.status_code, page.context["own"]["left_ml"].value()) == (200, "0.3")
        return
    given = pilar.post(f"/bay/{levelled.number}/look/", **fields)
    own = {row["what"]: row["own"] for row in levelled.second_looks.get().items}
    assert (given.status_code, own["left_ml"]) == (302, 0 if left == "0" else 284)


def test_a_temperature_that_nothing_has_is_refused_at_its_figure(odo, order, cast):
    step = bays.up_to(cast, order, "level")
    fields = odo.fields(order.number, temp_mdegc="900", out_ml="0.3")
    at = f"/bay/{order.number}/{step.order}/press/"

    answer = odo.post(at, **fields, temp_mdegc_unit="°F")

    assert answer.status_code == 422
    assert "900 °F (482.2 °C) was read. It lies between" in text_of(answer)
    assert 'value="900"' in text_of(answer)
    assert not BayEvent.objects.filter(step=step, what="temp_mdegc").exists()
