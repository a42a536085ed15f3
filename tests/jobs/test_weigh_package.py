"""A full package on the scale of the bay, and what the watch makes of several."""

from __future__ import annotations

from datetime import date

import pytest
from django.http import Http404

from shopserv.calc import oil
from shopserv.catalog.models import Package
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs import bay_bench, bay_events
from shopserv.jobs.models import BayEvent
from shopserv.jobs.selectors.instruments import alarms_of, instrument_rows
from shopserv.jobs.services import bay
from shopserv.shop.instruments import instrument_for, note_check
from shopserv.shop.models import Instrument, TrailEntry
from tests.jobs import bay_stage as bays

TODAY = date(2026, 11, 24)


@pytest.fixture
def order(cast):
    return bays.in_the_bay(cast)


@pytest.fixture
def jug(order):
    """A package of this job, and what it weighs full by its label."""
    return Package.objects.select_related("product").get(stock_number=max(order.facts["packages"]))


def full_g(package, share=0.0):
    net = package.volume_ml * package.product.density_15_g_m3 / 1e6
    net *= oil.oil_volume_correction(20, package.product.density_15_g_m3 / 1000)
    return round(net * (1 + share)) + package.tare_g


def weigh(cast, order, package, grams, key="w", **more):
    gross = bay.Press("package_g", grams, "g", key, instrument="SC-101")
    return bay.weigh_package(order, actor=cast.odo, package=package.stock_number, gross=gross, **more)


def test_a_full_package_is_kept_and_counts_nothing_in(cast, order, jug):
    before = bay_events.totals(list(order.events.all()))

    event = weigh(cast, order, jug, full_g(jug))

    assert (event.what, event.value, event.words, event.instrument) == (
        "package_g", full_g(jug), jug.stock_number, "SC-101",
    )  # fmt: skip
    assert bay_events.totals(list(order.events.all())) == before
    assert TrailEntry.objects.filter(what="package weighed").count() == 1


def test_the_same_press_again_is_one_weighing(cast, order, jug):
    first, second = (weigh(cast, order, jug, full_g(jug)) for _ in range(2))

    assert first.pk == second.pk
    assert BayEvent.objects.filter(what="package_g").count() == 1


@pytest.mark.parametrize(("number", "code"), [("nothing", "weigh.package"), ("", "weigh.package")])
def test_a_package_that_is_not_of_this_job_is_refused(cast, order, number, code):
    gross = bay.Press("package_g", 3_000, "g", "w", instrument="SC-101")

    with pytest.raises(Refusal, match="is no package of") as told:
        bay.weigh_package(order, actor=cast.odo, package=number, gross=gross)

    assert (told.value.code, told.value.field) == (code, "package")
    assert not BayEvent.objects.filter(what="package_g").exists()


def test_a_package_whose_empty_weight_is_not_known_is_refused(cast, order, jug):
    Package.objects.filter(pk=jug.pk).update(tare_g=None)

    with pytest.raises(Refusal, match="What an empty"):
        weigh(cast, order, jug, 3_000)


def test_less_than_the_empty_package_is_refused_with_what_a_full_one_weighs(cast, order, jug):
    with pytest.raises(Refusal) as told:
        weigh(cast, order, jug, jug.tare_g)

    assert told.value.code == "weigh.tare"
    assert f"A full one weighs about {full_g(jug):,} g" in told.value.message
    assert not told.value.confirmable


def test_a_package_that_cannot_be_full_is_asked_and_then_kept_uncounted(cast, order, jug):
    grams = full_g(jug, -0.3)

    with pytest.raises(Refusal) as told:
        weigh(cast, order, jug, grams)
    weigh(cast, order, jug, grams, is_confirmed=True)

    assert (told.value.code, told.value.confirmable) == ("weigh.share", True)
    drift = watched(cast).drift
    assert [point.is_counted for point in drift.points] == [False]
    assert drift.alarm_at is None


def watched(cast):
    return next(row for row in instrument_rows(cast.sam) if row.instrument.serial == "SC-101")


def test_two_per_cent_too_much_gives_the_alarm_in_the_office_and_in_the_bay(cast, order, jug):
    for n in range(4):
        weigh(cast, order, jug, full_g(jug, 0.02), key=f"w{n}")

    row = watched(cast)

    assert row.drift.alarm_at is not None
    assert row.drift.off == pytest.approx(0.02, abs=0.002)
    assert sum(event.what == "package_g" for event in bay_events.counted(order.events.all())) == 4
    assert [one.net_g for one in row.weighed] == [full_g(jug, 0.02) - jug.tare_g] * 4
    tools = bay_bench.tools_of(cast.brw, TODAY)
    assert alarms_of(cast.brw, tools) == (f"SC-101: {row.drift.words}",)
    assert alarms_of(cast.slt, bay_bench.tools_of(cast.slt, TODAY)) == ()


def test_a_small_package_tells_later_than_a_large_one(cast, order):
    bottle = Package.objects.select_related("product").get(stock_number="FEN2-B")
    for n in range(4):
        weigh(cast, order, bottle, full_g(bottle, 0.02), key=f"w{n}")

    assert watched(cast).drift.alarm_at is None
    assert round(watched(cast).drift.points[0].deviation, 4) == 0.0132


def test_a_true_scale_gives_no_alarm(cast, order, jug):
    for n in range(4):
        weigh(cast, order, jug, full_g(jug, 0.002), key=f"w{n}")

    assert watched(cast).drift.alarm_at is None
    assert alarms_of(cast.brw, bay_bench.tools_of(cast.brw, TODAY)) == ()


def test_a_check_begins_the_watch_anew(cast, order, jug):
    for n in range(4):
        weigh(cast, order, jug, full_g(jug, 0.02), key=f"w{n}")
    scale = instrument_for(cast.sam, "SC-101")

    note_check(scale, actor=cast.sam, checked_on=TODAY, next_check_on=date(2027, 11, 24), was_on=scale.checked_on)

    assert watched(cast).drift.points == ()
    assert TrailEntry.objects.filter(what="instrument checked", who__startswith="Sam").count() == 1


@pytest.mark.parametrize(
    ("checked", "following", "code"),
    [
        (date(2026, 11, 25), date(2027, 11, 24), "instrument.ahead"),
        (date(2026, 3, 9), date(2027, 11, 24), "instrument.before"),
        (TODAY, TODAY, "instrument.next"),
    ],
)
def test_a_check_that_cannot_be_is_refused(cast, checked, following, code):
    scale = instrument_for(cast.maren, "SC-101")

    with pytest.raises(Refusal) as told:
        note_check(scale, actor=cast.maren, checked_on=checked, next_check_on=following, was_on=scale.checked_on)

    assert told.value.code == code
    assert Instrument.objects.get(serial="SC-101").checked_on == date(2026, 3, 10)


def test_who_was_faster_is_not_written_over(cast):
    scale = instrument_for(cast.maren, "SC-101")
    given = {"checked_on": TODAY, "next_check_on": date(2027, 11, 24), "was_on": scale.checked_on}
    note_check(scale, actor=cast.sam, **given)

    with pytest.raises(StateRefusal):
        note_check(scale, actor=cast.maren, **given)


def test_who_may_not(cast, order, jug):
    gross = bay.Press("package_g", full_g(jug), "g", "w", instrument="SC-101")
    with pytest.raises(NotYours):
        bay.weigh_package(order, actor=cast.pilar, package=jug.stock_number, gross=gross)
    with pytest.raises(NotYours):
        instrument_rows(cast.tobin)
    with pytest.raises(Http404):
        instrument_for(cast.sam, "SC-102")
