"""The keys of the bay in a browser: with script they step in place, without it they send the form."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.jobs.bay_readings import to_base
from shopserv.web.bay.figures import beside, plain
from tests.jobs import bay_stage as bays
from tests.journeys.conftest import wait_for_server

pytestmark = [pytest.mark.browser, pytest.mark.once]


@pytest.fixture
def tablet(browser, live_server, cast_for_races):
    """Odo's tablet at a pumped stage; `tablet(script=False)` has no script."""
    cast = cast_for_races
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "pump")
    client = Client()
    client.force_login(cast.odo.staff)
    opened, failed = [], []

    def open_(*, script=True):
        size = {"width": 1280, "height": 800}
        context = browser.new_context(base_url=live_server.url, java_script_enabled=script, viewport=size)
        name, morsel = next(iter(client.cookies.items()))
        context.add_cookies([{"name": name, "value": morsel.value, "url": live_server.url}])
        page = context.new_page()
        page.on("pageerror", lambda error: failed.append(str(error)))
        page.on("console", lambda said: said.type == "error" and failed.append(said.text))
        page.goto(f"/bay/{order.number}/", wait_until="networkidle")
        opened.append(context)
        return page, order

    yield open_
    for context in opened:
        context.close()
    wait_for_server()
    assert failed == []


def test_with_script_a_key_steps_in_place_and_done_keeps_one_reading(tablet):
    page, order = tablet()
    step = bays.now(order)

    page.click(".figure-keys button:has-text('−0.1')")  # less than the stop: more is asked
    page.click(".figure-keys button:has-text('−0.1')")
    two_less = plain(step.needs[0]["start"] - 2, "0.1 qt")
    other = beside("out_ml", to_base("out_ml", step.needs[0]["start"] - 2, "0.1 qt"), "0.1 qt")
    assert (page.input_value("input.big-figure"), page.inner_text("[data-beside]")) == (two_less, other)
    page.click("button.touch-main:visible")
    page.wait_for_selector(f"text=Step {step.order + 1} of")

    assert list(step.events.filter(what="out_ml").values_list("as_typed", flat=True)) == [f"{two_less} qt"]


def test_without_script_a_key_sends_the_form_and_the_figure_comes_back(tablet):
    page, order = tablet(script=False)
    step = bays.now(order)

    page.click(".figure-keys button:has-text('−0.1')")
    one_less = plain(step.needs[0]["start"] - 1, "0.1 qt")
    assert page.input_value("input.big-figure") == one_less
    page.press("input.big-figure", "Enter")
    page.wait_for_selector(f"text=Step {step.order + 1} of")

    assert list(step.events.filter(what="out_ml").values_list("as_typed", flat=True)) == [f"{one_less} qt"]


def test_the_expected_figure_is_an_act_of_its_own_until_one_is_read(tablet):
    page, order = tablet()
    step = bays.now(order)

    expected = plain(step.needs[0]["start"], "0.1 qt")
    assert page.input_value("input.big-figure") == ""
    assert page.inner_text("[data-as-shown]") == f"I read the same: {expected} qt"
    assert page.inner_text(".touch-main:visible") == "Done"
    page.fill("input.big-figure", "1.6")
    assert not page.is_visible("[data-as-shown]")
    page.fill("input.big-figure", "")
    page.click("[data-as-shown]")
    page.wait_for_selector(f"text=Step {step.order + 1} of")

    assert list(step.events.filter(what="out_ml").values_list("as_typed", flat=True)) == [f"{expected} qt"]


MEASURES = """() => ({
  wide: document.documentElement.scrollWidth,
  small: [...document.querySelectorAll("main button, main a.touch, .bay-stays > *, .bay-others > *")]
    .filter(e => !e.className.includes("for-readers-only") && !e.hidden)
    .map(e => [e.textContent.trim(), e.getBoundingClientRect()])
    .filter(([, box]) => box.width < 126 || box.height < 126)
    .map(([text]) => text),
  stop: document.querySelector(".touch-stop").getBoundingClientRect().bottom,
})"""


def test_every_target_is_20_mm_stop_is_in_sight_and_nothing_runs_over_the_edge(tablet):
    page, _order = tablet()
    for width, height in ((1280, 800), (1024, 768), (800, 1280), (390, 844)):
        page.set_viewport_size({"width": width, "height": height})

        found = page.evaluate(MEASURES)

        assert found["small"] == []
        assert found["wide"] <= width
        assert found["stop"] <= height


PLACES = """() => {
  const box = one => document.querySelector(one).getBoundingClientRect();
  const [keys, note, figure] = [box(".figure-keys"), box(".figure-note"), box("input.big-figure")];
  return {
    keys: keys.bottom, foot: box(".bay-foot").top, note: note.width, figure: figure.width,
    beside: keys.right, column: box(".bay-columns > div").right,
  };
}"""


@pytest.mark.parametrize(("width", "height"), [(1280, 800), (1024, 768), (800, 1280)])
def test_figure_and_keys_stand_above_the_foot_on_a_tablet_lying_or_standing(tablet, width, height):
    page, order = tablet()
    page.set_viewport_size({"width": width, "height": height})
    pump = bays.now(order).order
    proof = order.steps.get(code="flow_proof").order

    for path in (f"/bay/{order.number}/?step={pump}", f"/bay/{order.number}/?step={proof}&again=1"):
        page.goto(path, wait_until="networkidle")
        found = page.evaluate(PLACES)

        assert found["keys"] <= found["foot"]
        assert found["beside"] <= found["column"] + 1
        assert found["note"] >= 120
        assert found["figure"] >= 90
