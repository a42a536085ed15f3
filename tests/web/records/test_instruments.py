"""The page of the instruments, and the page on which a package is weighed."""

from __future__ import annotations

import pytest
from django.test import Client

from shopserv.jobs.services import bay
from shopserv.shop.models import Instrument
from tests.jobs import bay_stage as bays
from tests.jobs.test_weigh_package import full_g
from tests.jobs.test_weigh_package import jug as jug
from tests.jobs.test_weigh_package import order as order

PAGE = "/records/instruments/"


@pytest.fixture
def sam(cast):
    client = Client()
    client.force_login(cast.sam.staff)
    return client


@pytest.fixture
def odo(cast):
    client = Client()
    client.force_login(cast.odo.staff)
    return client


def text(answer):
    return answer.content.decode()


def test_every_instrument_stands_with_its_check(sam):
    page = text(sam.get(PAGE))

    assert [serial in page for serial in ("SC-101", "TH-201", "LV-301", "ST-401", "SC-102")] == [True] * 4 + [False]
    assert "Checked Mar 10, 2026" in page
    assert "a true scale gives" not in page  # nothing was weighed yet
    assert "each one checks the scale" in page


def test_a_drift_is_drawn_and_its_mend_is_said(sam, cast, order, jug):
    for n in range(3):
        gross = bay.Press("package_g", full_g(jug, 0.02), "g", f"w{n}", instrument="SC-101")
        bay.weigh_package(order, actor=cast.odo, package=jug.stock_number, gross=gross)

    page = text(sam.get(PAGE))

    assert "The scale seems to weigh about 2.0 % too much, by 3 packages since BRW-W-1." in page
    assert "Put a known weight on it" in page
    assert 'class="drift-strip"' in page
    assert "a true scale gives a false alarm once in 465" in page


def test_a_check_is_noted_and_shown(sam):
    said = {"serial": "SC-101", "was_on": "2026-03-10", "checked_on": "2026-11-24", "next_check_on": "2027-11-24"}

    answer = sam.post(PAGE, {**said, "once": "k"})

    assert answer.status_code == 302
    assert "Checked Nov 24, 2026, next Nov 24, 2027" in text(sam.get(PAGE))


@pytest.mark.parametrize(
    ("said", "words", "status"),
    [
        ({"checked_on": "2026-11-25"}, "lies ahead", 422),
        ({"next_check_on": "2026-11-01"}, "The next check comes after this one", 422),
        ({"checked_on": ""}, "Nothing was typed", 422),
        ({"was_on": "2026-01-01"}, "in between", 409),
        ({"was_on": "never"}, "in between", 409),
        ({"serial": "SC-102"}, "", 422),
    ],
)
def test_a_wrong_check_is_told_and_keeps_what_was_typed(sam, said, words, status):
    given = {"serial": "SC-101", "was_on": "2026-03-10", "checked_on": "2026-11-24", "next_check_on": "2027-11-24"}

    answer = sam.post(PAGE, {**given, **said, "once": "k"})

    assert answer.status_code == status
    assert words in text(answer)
    assert Instrument.objects.get(serial="SC-101").checked_on.isoformat() == "2026-03-10"


def test_a_package_is_weighed_on_its_page(odo, cast, order, jug):
    at = f"/bay/{order.number}/weigh/"
    page = text(odo.get(at))
    said = {"package": jug.stock_number, "scale": "SC-101", "once": "k"}

    asked = odo.post(at, {**said, "package_g": "7.45"})
    wrong = odo.post(at, {**said, "package_g": "2,000"})
    done = odo.post(at, {**said, "package_g": f"{full_g(jug):,}"})

    assert jug.stock_number in page
    assert (asked.status_code, "7.45 lb (3,379 g)" in text(asked)) == (422, True)
    assert (wrong.status_code, "Was it full and unopened" in text(wrong)) == (422, True)
    assert 'value="weigh.share"' in text(wrong)
    assert done.status_code == 302
    assert list(order.events.filter(what="package_g").values_list("value", "words")) == [
        (full_g(jug), jug.stock_number)
    ]  # fmt: skip


def test_a_scale_that_drifts_is_told_at_the_bench(odo, cast, order, jug):
    for n in range(3):
        gross = bay.Press("package_g", full_g(jug, 0.02), "g", f"w{n}", instrument="SC-101")
        bay.weigh_package(order, actor=cast.odo, package=jug.stock_number, gross=gross)
    step = bays.up_to(cast, order, "add")

    page = text(odo.get(f"/bay/{order.number}/?step={step.order}"))

    assert "SC-101: the scale seems to weigh about 2.0 % too much" in page


def test_the_step_of_a_display_has_its_sign(sam):
    said = sam.get(PAGE).content.decode()

    assert "shown in steps of 0.1°" in said
    assert "shown in steps of 0.18 °F (0.1 °C)" in said
    assert "Good to 0.9 °F (0.5 °C)" in said
    assert "Good to 3.6 °F (2 °C)" in said
    assert "shown in steps of 5 g" in said
