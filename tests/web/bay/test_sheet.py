"""The bay sheet: steps, keys without script, what is outside, what was sent twice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.common import formats
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.models import BayEvent
from shopserv.jobs.services import work
from shopserv.web.bay.figures import beside, plain
from tests.jobs import bay_stage as bays
from tests.web.bay.conftest import Browser, key_of

pytestmark = pytest.mark.django_db


def text_of(answer):
    return answer.content.decode()


def test_the_line_shows_own_jobs_in_promised_order_and_no_price(odo, order):
    answer = odo.get("/bay/")

    assert answer.status_code == 200
    assert order.number in text_of(answer)
    assert "step 1 of 36" in text_of(answer)
    assert "$" not in text_of(answer)


def test_an_empty_line_says_so(odo, cast):
    assert "Nothing cleared for this bay." in text_of(odo.get("/bay/"))


def test_a_cleared_job_is_taken_into_the_bay_from_the_line(odo, cast):
    order = bays.cleared(cast)
    page = odo.get("/bay/")

    answer = odo.post(f"/bay/{order.number}/", once=key_of(page), act="start")

    order.refresh_from_db()
    assert answer.headers["Location"] == f"/bay/{order.number}/"
    assert order.state == "in the bay"


def test_a_step_shows_its_sentence_its_cautions_and_where_one_stands(odo, order):
    text = text_of(odo.get(f"/bay/{order.number}/"))

    assert "Set the vehicle on the lift" in text
    assert "Nobody under the vehicle while it moves" in text
    assert "Step 1 of 36" in text
    assert "$" not in text


def test_done_brings_up_the_next_step(odo, order):
    answer = odo.done(order)

    assert answer.headers["Location"] == f"/bay/{order.number}/"
    assert bays.now(order).code == "run"


def test_b114_done_sent_twice_finishes_one_step(odo, order):
    fields = odo.fields(order.number)

    first, second = (odo.post(f"/bay/{order.number}/1/done/", **fields) for _ in range(2))

    assert first.headers["Location"] == second.headers["Location"]
    assert bays.now(order).order == 2
    assert BayEvent.objects.filter(work_order=order, what="done").count() == 1


def test_a_page_that_is_old_is_told_which_step_is_up_and_keeps_what_was_typed(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    old = odo.fields(order.number, flow_g="533")
    odo.done(order)

    answer = odo.post(f"/bay/{order.number}/{step.order}/done/", **old)

    assert answer.status_code == 409
    assert f"step {step.order + 1} is up" in text_of(answer)
    assert 'value="533"' in text_of(answer)


def test_a_key_without_script_steps_the_figure_and_keeps_one_event(odo, order, cast):
    bays.up_to(cast, order, "pump")
    step = bays.now(order)
    before = order.events.count()

    answer = odo.post(f"/bay/{order.number}/{step.order}/press/", **odo.fields(order.number, key="out_ml:1"))
    page = odo.get(answer.headers["Location"])

    event = order.events.order_by("-pk").first()
    assert order.events.count() == before + 1
    one_more = plain(step.needs[0]["start"] + 1, "0.1 qt")
    assert (event.what, event.as_typed) == ("out_ml", f"{one_more} qt")
    assert f'value="{one_more}"' in text_of(page)
    assert beside("out_ml", event.value, "0.1 qt") in text_of(page)


def test_the_same_key_press_sent_twice_is_one_event(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    fields = odo.fields(order.number, key="out_ml:-1")
    before = order.events.count()

    for _ in range(3):
        odo.post(f"/bay/{order.number}/{step.order}/press/", **fields)

    assert order.events.count() == before + 1


def test_three_keys_on_one_reading_are_one_vessel_in_the_balance(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    for _ in range(3):
        odo.post(f"/bay/{order.number}/{step.order}/press/", **odo.fields(order.number, key="out_ml:1"))

    bay = odo.get(f"/bay/{order.number}/").context["bay"]

    assert step.events.filter(what="out_ml").count() == 3
    assert bay.out_ml == bay.figures[step.pk]["out_ml"]


def test_a_figure_that_was_typed_counts_as_typed(odo, order, cast):
    bays.up_to(cast, order, "pump")
    pumped = bays.now(order)

    odo.done(order, out_ml="1.3")

    assert pumped.events.get(what="out_ml").as_typed == "1.3 qt"
    assert bays.now(order).order == pumped.order + 1


@pytest.mark.parametrize("typed", ["abc", "1,4", "1e3", "", "-1", "1.44"])
def test_what_is_no_figure_is_named_and_stays_in_its_field(odo, order, cast, typed):
    step = bays.up_to(cast, order, "pump")

    answer = odo.done(order, out_ml=typed)

    assert answer.status_code == 422
    assert f'value="{typed}"' in text_of(answer)
    assert bays.now(order) == step
    assert not step.events.filter(what="out_ml").exists()


def test_outside_is_asked_once_with_both_values_then_holds(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    fields = odo.fields(order.number, out_ml="2.5")

    asked = odo.post(f"/bay/{order.number}/{step.order}/done/", **fields)
    held = odo.post(f"/bay/{order.number}/{step.order}/done/", **fields, confirm="bay.outside")

    order.refresh_from_db()
    assert asked.status_code == 422
    assert "2.5 qt was read, never beyond 1.37 qt (1.30 L). Air may have been drawn" in text_of(asked)
    assert 'value="bay.outside"' in text_of(asked)
    assert (held.status_code, order.state) == (302, "on hold")
    assert "2.5 qt was read" in text_of(odo.get(f"/bay/{order.number}/"))


def test_a_hold_that_is_mended_goes_on(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    fields = odo.fields(order.number, out_ml="2.5")
    odo.post(f"/bay/{order.number}/{step.order}/done/", **fields, confirm="bay.outside")
    page = odo.get(f"/bay/{order.number}/")

    odo.post(f"/bay/{order.number}/", once=key_of(page), act="resume")

    order.refresh_from_db()
    assert order.state == "in the bay"


def test_another_step_can_be_looked_at_without_moving(odo, order):
    text = text_of(odo.get(f"/bay/{order.number}/?step=4"))

    assert "Step 4 of 36" in text
    assert "Step 1 is up" in text
    assert bays.now(order).order == 1


@pytest.mark.parametrize("query", ["step=abc", "step=0", "step=99999", "what=1"])
def test_an_address_that_cannot_be_meant_is_refused_by_name(odo, order, query):
    assert odo.get(f"/bay/{order.number}/?{query}").status_code == 400


def test_a_step_that_is_not_there_is_not_found(odo, order):
    assert odo.get(f"/bay/{order.number}/?step=88").status_code == 404
    assert odo.get("/bay/BRW-W-99999/").status_code == 404


def test_a_step_is_skipped_with_its_reason(odo, order, cast):
    step = bays.up_to(cast, order, "scan")
    path = f"/bay/{order.number}/{step.order}/skip/"
    page = odo.get(path)

    refused = odo.post(path, once=key_of(page), words="")
    done = odo.post(path, once=key_of(page), words="no scan tool at hand")

    step.refresh_from_db()
    assert refused.status_code == 422
    assert (done.status_code, step.state, step.skip_reason) == (302, "skipped", "no scan tool at hand")


def test_a_step_that_may_not_be_skipped_says_so(odo, order):
    path = f"/bay/{order.number}/1/skip/"

    answer = odo.post(path, once=key_of(odo.get(path)), words="no time for it")

    assert answer.status_code == 422
    assert "may not be skipped" in text_of(answer)


def test_the_least_flow_stands_at_the_flow_proof_and_the_fill_is_no_amount_to_pour(odo, order, cast):
    bays.up_to(cast, order, "flow_proof")
    flow = dict(odo.get(f"/bay/{order.number}/").context["limits"])
    level = order.steps.get(code="level").order
    filled = dict(odo.get(f"/bay/{order.number}/?step={level}").context["limits"])

    assert flow["flow at least, a minute"] == "1.6 qt (1.5 L)"
    assert filled["the whole unit holds, not to pour"].startswith("7.8 qt")


def test_a_step_is_done_again_and_the_old_reading_stays_to_be_read(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    odo.done(order, flow_g="516")
    form = odo.get(f"/bay/{order.number}/?step={step.order}&again=1").context["form"]
    fields = {"once": form.key, "flow_g": "533", "temp_mdegc": "140", "why_jump": "late"}

    unsaid = odo.post(f"/bay/{order.number}/{step.order}/again/", **fields, words="")
    again = odo.post(f"/bay/{order.number}/{step.order}/again/", **fields, words="misread the first time")

    rows = order.events.filter(what="flow_g").order_by("pk")
    assert (unsaid.status_code, again.status_code) == (422, 302)
    assert [row.value for row in rows] == [516, 533]
    assert f"<s>step {step.order} weighed 516\N{NO-BREAK SPACE}g</s>" in text_of(odo.get(f"/bay/{order.number}/"))


def test_each_reading_of_a_step_is_confirmed_before_done_is_offered(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    path = f"/bay/{order.number}/{step.order}/press/"
    first = odo.get(f"/bay/{order.number}/")

    answer = odo.post(path, **odo.fields(order.number, flow_g="516", temp_mdegc="", big="flow_g", next="temp_mdegc"))
    second = odo.get(answer.headers["Location"])
    odo.post(path, **odo.fields(order.number, temp_mdegc="141", up="flow_g"))
    last = odo.get(f"/bay/{order.number}/")

    assert "Next: temperature in the bucket" in text_of(first)
    assert second.context["big"].what == "temp_mdegc"
    assert "Weighed</button>" in text_of(second)
    assert "Weighed</button>" in text_of(last)
    assert list(step.events.values_list("what", "as_typed")) == [("flow_g", "516 g"), ("temp_mdegc", "141.0 °F")]


def test_a_key_on_a_step_that_was_done_keeps_nothing(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    fields = odo.fields(order.number, key="flow_g:5")
    odo.done(order)
    before = order.events.count()

    answer = odo.post(f"/bay/{order.number}/{step.order}/press/", **fields)

    assert answer.status_code == 409
    assert order.events.count() == before


def test_keys_of_a_step_done_again_step_the_page_and_keep_nothing_before_the_reason(odo, order, cast):
    step = bays.up_to(cast, order, "flow_proof")
    odo.done(order)
    form = odo.get(f"/bay/{order.number}/?step={step.order}&again=1").context["form"]
    before = order.events.count()

    page = odo.post(
        f"/bay/{order.number}/{step.order}/again/",
        once=form.key,
        flow_g="533",
        temp_mdegc="140",
        words="misread",
        key="flow_g:-5",
    )

    assert page.status_code == 200
    assert 'value="528"' in text_of(page)
    assert 'value="misread"' in text_of(page)
    assert order.events.count() == before


def test_the_writer_looks_in_and_presses_nothing(tobin, order):
    page = tobin.get(f"/bay/{order.number}/")

    assert page.status_code == 200
    assert 'form="done"' not in text_of(page)
    assert tobin.post(f"/bay/{order.number}/1/done/", once="k").status_code == 403
    assert tobin.post(f"/bay/{order.number}/1/press/", once="k", key="odometer:1").status_code == 403
    assert tobin.post(f"/bay/{order.number}/", once="k", act="start").status_code == 403
    assert tobin.get("/bay/").status_code == 403


def test_another_technician_of_the_shop_does_not_open_the_job(pilar, order):
    assert pilar.get(f"/bay/{order.number}/").status_code == 403
    assert pilar.post(f"/bay/{order.number}/1/done/", once="k").status_code == 403


def test_another_shop_finds_nothing(cast, order):
    jory, lise = Browser(cast.jory), Browser(cast.lise)

    assert jory.get(f"/bay/{order.number}/").status_code == 404
    assert jory.post(f"/bay/{order.number}/1/done/", once="k").status_code == 404
    assert lise.get(f"/bay/{order.number}/").status_code == 404
    assert order.number not in text_of(jory.get("/bay/"))


def test_the_line_says_which_job_stands_in_which_bay(odo, order, cast):
    work.hold(order, actor=cast.odo, reason="waits for a filter")

    assert f"bay North: {order.number}, on hold" in text_of(odo.get("/bay/"))


def test_a_bay_is_taken_over_by_saying_where_the_one_on_hold_stands_now(odo, order, cast):
    work.hold(order, actor=cast.odo, reason="waits for a filter")
    second = bays.written_up(cast, "A", "V-08")
    given = {"bay": bays.north(cast), "technician": cast.odo.staff, "confirmed": ("bay.taken",)}
    work.clear(second, actor=cast.tobin, **given)
    path = f"/bay/{second.number}/"

    asked = odo.post(path, once=key_of(odo.get(path)), act="start")
    done = odo.post(path, once=key_of(asked), act="start", words="in the yard, row 2")

    second.refresh_from_db()
    assert asked.status_code == 409
    assert "Rolled out: where does it stand now?" in text_of(asked)
    assert (done.status_code, second.state) == (302, "in the bay")


def test_a_stage_that_pours_and_pumps_says_no_level_before_both_are_read(odo, order, cast):
    step = bays.up_to(cast, order, "pump")
    pours = readings.need("in_ml", "poured in", units_first="us", start=1_000)
    order.steps.filter(pk=step.pk).update(needs=[*step.needs, pours])
    at = f"/bay/{order.number}/{step.order}/press/"

    odo.post(at, **(odo.fields(order.number, key="out_ml:1") | {"in_ml": ""}))
    page = odo.get(f"/bay/{order.number}/")

    assert "this stage is not finished" in text_of(page)
    assert "tube" not in page.context
    odo.post(at, **odo.fields(order.number, key="in_ml:1"))
    page = odo.get(f"/bay/{order.number}/")
    assert "this stage is not finished" not in text_of(page)
    assert "tube" in page.context
    now = page.context["bay"].balance_now
    assert page.context["balance"]["band"] == formats.volume(2 * Fraction(now.band_ml), "us", 2)
    assert "give or take" in text_of(page)


def test_a_hot_drain_is_stopped_once_and_with_gear_the_next_reading_comes_up(odo, cast):
    order = bays.in_the_bay(cast, "A")
    step = bays.up_to(cast, order, "drain")
    path = f"/bay/{order.number}/{step.order}/press/"
    key = key_of(odo.get(f"/bay/{order.number}/"))

    stopped = odo.post(path, once=key, temp_mdegc="176", next="out_ml", big="temp_mdegc")
    geared = odo.post(path, once=key, temp_mdegc="176", next="out_ml", big="temp_mdegc", confirm="bay.hot_drain")
    page = odo.get(f"/bay/{order.number}/?up=out_ml")
    unread = odo.post(
        f"/bay/{order.number}/{step.order}/done/", once=f"{key}2", temp_mdegc="180", confirm="bay.hot_drain"
    )

    assert (stopped.status_code, geared.status_code, unread.status_code) == (422, 302, 422)
    assert text_of(stopped).count("Stop before the drain is opened") == 1
    assert 'name="confirm" value="bay.hot_drain"' in text_of(stopped)
    assert 'name="next" value="out_ml">Next: out<' in text_of(stopped)
    assert page.context["bay"].figures[step.pk] == {"temp_mdegc": 80_000}
    assert 'type="hidden" name="confirm" value="bay.hot_drain"' in text_of(unread)


def test_a_tick_for_gear_is_for_the_figure_it_was_asked_at(odo, cast):
    order = bays.in_the_bay(cast, "A")
    step = bays.up_to(cast, order, "drain")
    path = f"/bay/{order.number}/{step.order}/press/"
    given = {"once": key_of(odo.get(f"/bay/{order.number}/")), "next": "out_ml", "big": "temp_mdegc"}

    stopped = odo.post(path, **given, temp_mdegc="170")
    assert 'type="hidden" name="gear_at" value="76667"' in text_of(stopped)
    hotter = odo.post(path, **given, temp_mdegc="290", gear_at="76667", confirm="bay.hot_drain")
    assert 'type="hidden" name="gear_at" value="143333"' in text_of(hotter)
    assert "the fluid reads 290 °F" in text_of(hotter)
    assert not step.events.exists()
    taken = odo.post(path, **given, temp_mdegc="290", gear_at="143333", confirm="bay.hot_drain")

    assert (stopped.status_code, hotter.status_code, taken.status_code) == (422, 422, 302)


def test_a_jump_at_the_level_is_asked_with_its_reasons_and_what_was_said_stays(odo, order, cast):
    bays.up_to(cast, order, "cool_down_2")
    asked = odo.done(order, temp_mdegc="110", why_jump="")
    odo.done(order, temp_mdegc="110", why_jump="instrument")

    assert asked.status_code == 422
    assert 'value="110"' in text_of(asked)
    assert 'name="why_jump" value="late"' in text_of(asked)
    assert bays.now(order).code == "start_engine"


def test_an_engine_that_starts_too_early_is_asked_about_once(odo, order, cast):
    bays.up_to(cast, order, "start_engine")

    asked = odo.done(order)
    went_on = odo.done(order, confirm="bay.early_start")

    assert (asked.status_code, went_on.status_code) == (422, 302)
    assert "running, it warms" in text_of(asked)
    assert 'value="bay.early_start"' in text_of(asked)


def test_the_level_after_a_stage_follows_what_was_measured(odo, order, cast):
    bays.up_to(cast, order, "pump")
    bays.finish(cast, order, out_ml=11)

    page = odo.get(f"/bay/{order.number}/")

    now = page.context["bay"].balance_now.difference_ml + page.context["step"].limits["in_ml"]
    said = dict(page.context["limits"])["level after it"]
    assert said == f"{formats.volume(round(now), 'us')} above full by what was measured"
    assert said.startswith("0.7 qt")
    assert "in, at " in text_of(page)


def test_no_budget_passes_with_a_reading_outside_the_window(odo, order, cast):
    step = bays.up_to(cast, order, "level")
    says = []
    for n, figure in enumerate(("300", "104")):
        odo.post(f"/bay/{order.number}/{step.order}/press/", **odo.fields(order.number, temp_mdegc=figure))
        says.append(odo.get(f"/bay/{order.number}/?up={n}").context["budget"]["says"])

    assert says == ["the reading is not in the window: no level is set with it", "passes"]
