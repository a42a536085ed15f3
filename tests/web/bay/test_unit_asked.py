"""A reading of the bay without unit that makes sense only in another: asked, with both readings, never assumed."""

from __future__ import annotations

import pytest
from django.http import QueryDict

from shopserv.jobs import bay_readings as readings
from shopserv.web.bay import figures
from shopserv.web.bay.forms import StepForm
from tests.jobs import bay_stage

POUR = readings.need("in_ml", "poured in", units_first="us", start=7_400, low=7_100, high=7_700)
HOT = readings.need("temp_mdegc", "fluid temperature", units_first="us", start=75_000)
AIR = readings.need("ambient_mdegc", "air around the unit", units_first="us", start=20_000)
PROOF = readings.need("flow_g", "net weight of 15 s", units_first="us", start=516, low=1, step=5)


def form(row, typed, read=None, **more):
    data = QueryDict(mutable=True)
    data.update({row["what"]: typed, "once": "k", **more})
    return StepForm(data, needs=[row], read=read or {})


def asked(row, typed, **more):
    found = form(row, typed, **more)
    return found.doubts[row["what"]].units if not found.is_valid() and row["what"] in found.doubts else None


@pytest.mark.parametrize(
    ("row", "typed", "units"),
    [
        (POUR, "7.4", ("qt", "L")),
        (POUR, "7.8", None),
        (POUR, "7.5", None),  # as sharp as its key: 7.5 qt are 7.098 L, the limit 7.1 L
        (POUR, "7.4 L", None),
        (HOT, "43", ("°F", "°C")),
        (HOT, "110", None),
        (HOT | {"expects": [40_000, 150_000]}, "78", ("°F", "°C")),
        (HOT, "78", None),
        (AIR, "20", ("°F", "°C")),
        (AIR, "68", None),
        (PROOF, "516", None),
        (PROOF, "1.14", ("kg", "lb")),
        (PROOF, "2", ("g", "kg", "lb")),
        (PROOF, "1.14 lb", None),
    ],
)
def test_a_reading_that_fits_in_another_unit_alone_is_asked(row, typed, units):
    assert asked(row, typed) == units


def test_what_is_asked_shows_each_reading_and_keeps_what_was_typed():
    found = form(PROOF, "1.14")

    assert not found.is_valid()
    assert found.doubts["flow_g"].readings == (("kg", "1.14 kg (1,140 g)"), ("lb", "1.14 lb (517 g)"))
    assert found.errors["flow_g"].data[0].code == "unit.asked"
    assert found["flow_g"].value() == "1.14"


@pytest.mark.parametrize(
    ("row", "typed", "answer", "value", "unit"),
    [
        (POUR, "7.4", "L", 74, "0.1 L"),
        (POUR, "7.4", "qt", 74, "0.1 qt"),
        (HOT, "43", "°C", 43, "°C"),
        (PROOF, "1.14", "lb", 114, "0.01 lb"),
        (PROOF, "1.14", "kg", 1_140, "0.001 kg"),
    ],
)
def test_the_answer_is_the_unit_of_the_press(row, typed, answer, value, unit):
    found = form(row, typed, **{f"{row['what']}_unit": answer})

    assert found.is_valid(), found.errors
    press = found.presses()[0]
    assert (press.value, figures.parted(press.unit)[1]) == (value, figures.parted(unit)[1])
    assert readings.KEYS[press.unit].exact(press.value) == readings.KEYS[unit].exact(value)


def test_an_answer_that_was_not_offered_answers_nothing():
    assert asked(POUR, "7.4", in_ml_unit="gal") == ("qt", "L")


def test_an_answer_to_another_figure_is_not_taken():
    found = form(POUR, "7.8", in_ml_unit="L")

    assert found.is_valid()
    assert found.presses()[0].unit == "0.1 qt"


def test_what_stands_as_it_was_read_is_not_asked_again():
    found = form(POUR, "7.4", read={"in_ml": 7_003})

    assert found.is_valid()
    assert found.doubts == {}


def test_pounds_are_kept_as_whole_grams():
    assert readings.to_base("flow_g", 114, "0.01 lb") == 517
    assert readings.to_base("flow_g", 1_140, "0.001 kg") == 1_140
    assert (readings.typed(114, "0.01 lb"), readings.typed(1_140, "0.001 kg")) == ("1.14 lb", "1.140 kg")
    assert figures.typed_figure("1.14 pounds", what="flow_g", unit="g") == figures.Typed(114, "0.01 lb")
    assert [figures.plain(5, unit) for unit in ("0.01 lb", "0.001 kg", "0.1 qt", "g")] == ["0.05", "0.005", "0.5", "5"]


def test_the_page_asks_with_a_choice_and_goes_on_with_the_answer(cast, client):
    order = bay_stage.in_the_bay(cast)
    step = bay_stage.up_to(cast, order, "cool_down_1")
    client.force_login(cast.odo.staff)
    at = f"/bay/{order.number}/{step.order}/done/"
    said = {"temp_mdegc": "43", "ambient_mdegc": "18", "once": "asked"}

    first = client.post(at, said)
    again = client.post(at, {**said, "temp_mdegc_unit": "°C", "ambient_mdegc_unit": "°C"})

    page = first.content.decode()
    assert first.status_code == 422
    assert 'name="temp_mdegc_unit" value="°C"' in page
    assert 'name="ambient_mdegc_unit" value="°C" form="done"' in page
    assert "18.0 °C (64.4 °F)" in page
    assert again.status_code == 302, again.content.decode()
    kept = {event.what: (event.value, event.as_typed) for event in order.events.filter(step=step, value__isnull=False)}
    assert kept == {"temp_mdegc": (43_000, "43 °C"), "ambient_mdegc": (18_000, "18 °C")}
