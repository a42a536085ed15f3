"""What the bay knows of what may have been forgotten, where in and out do not agree."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.jobs import bay_bench, bay_events
from shopserv.jobs.bay_bench import Tool, known_causes, package_causes, running
from shopserv.jobs.models import BayEvent
from shopserv.jobs.selectors.bay import bay_sheet
from shopserv.web.bay import sums
from tests.jobs import bay_stage as bays

SCALE = Tool("scale", "SC-101", Fraction(10))


@pytest.fixture
def order(cast):
    return bays.in_the_bay(cast)


def weighed(order, *rows):
    """Vessels at the step that is up, as if pressed one after the other."""
    step = order.steps.get(state="now")
    for n, (what, words, grams) in enumerate(rows):
        BayEvent.objects.create(
            shop=order.shop, work_order=order, step=step, what=what, words=words, value=grams, unit="g",
            as_typed=f"{grams} g", person=order.technician, received_at=order.in_bay_at, once_key=f"x{n}",
        )  # fmt: skip
    return list(order.events.select_related("step").order_by("pk"))


def test_cooler_and_marks_of_the_sheet_are_causes_with_their_own_amounts():
    assert known_causes({"cooler_ml": 450, "band_ml": 600}) == (
        ("the cooler stood empty before and was filled", 450),
        ("the cooler is not full", -450),
        ("the level before stood in the lower half of its marks", 0, 300),
        ("the level before stood in the upper half of its marks", -300, 0),
    )
    assert known_causes({}) == ()
    assert known_causes({"cooler_ml": 0, "band_ml": 0}) == ()


def test_the_packages_of_the_job_are_causes_of_their_size(order):
    events = weighed(order, ("in_g", "jug 1", 3_210))

    assert package_causes(events) == (
        ("a jug that was entered and not poured", 3_785),
        ("a jug that was poured and not entered", -3_785),
        ("a bottle that was entered and not poured", 946),
        ("a bottle that was poured and not entered", -946),
        ("what was left in the last package was not taken off", 0, 946),
    )
    assert package_causes([]) == ()


def test_a_leftover_that_was_weighed_is_no_cause(order):
    events = weighed(order, ("in_g", "jug 1", 3_210), ("left_g", "jug 1", 300))

    assert len(package_causes(events)) == 4


def test_a_bottle_that_was_entered_and_not_poured_is_found(order):
    events = weighed(order, ("in_g", "jug 1", 3_210), ("in_g", "bottle 1", 803), ("out_g", "bucket", 3_260))

    found = running(events, {"density_15_g_m3": 850_000, "band_ml": 600}, SCALE, at_mdegc=42_000)

    assert found.is_inside is False
    assert found.cause == "a bottle that was entered and not poured"
    assert found.causes[0].weight > 0.7
    assert found.causes[0].left_ml < 20


def test_what_closes_asks_for_no_package(order, django_assert_num_queries):
    events = weighed(order, ("in_g", "jug 1", 3_210), ("out_g", "bucket", 3_260))

    with django_assert_num_queries(0):
        found = running(events, {"density_15_g_m3": 850_000}, SCALE, at_mdegc=42_000)

    assert (found.is_inside, found.causes) == (True, ())


def test_the_page_shows_the_causes_with_amount_and_share(cast, order):
    weighed(order, ("in_g", "jug 1", 3_210), ("in_g", "bottle 1", 803), ("out_g", "bucket", 3_260))

    rows = sums.balance_now(bay_sheet(cast.odo, order.number), "us")["causes"]

    assert rows[0]["words"] == "a bottle that was entered and not poured"
    assert (rows[0]["amount"], rows[0]["says"]) == ("946 mL", "explains it")
    assert rows[-1]["says"].startswith("leaves ")
    assert {row["amount"] for row in rows} >= {"0 to 946 mL", "0 to 2,000 mL"}


def test_the_level_record_keeps_the_share_of_each_item_and_the_largest(cast):
    order = bays.at_the_level(cast)
    kept = order.level_records.get().budget

    assert sum(row["share_ppm"] for row in kept["items"]) == pytest.approx(1_000_000, abs=5)
    assert kept["advice"].startswith("largest: ")
    level = sums.level_sum(order.level_records.get(), "us")
    assert level["advice"] == kept["advice"]
    assert level["rows"][0]["how"].endswith(" %")
    assert bay_events.totals(list(order.events.all()))[0] > 0
    assert bay_bench.new_density({}) == 850
