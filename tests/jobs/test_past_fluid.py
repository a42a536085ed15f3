"""Trap T-7: an earlier job names a withdrawn specification and no product."""

from __future__ import annotations

from shopserv.jobs.services import past_fluid, quotes
from shopserv.logbook.models import ServiceRecord
from tests.jobs import stage


def test_v05_is_told_of_its_slip_and_of_the_successor_that_fits(cast):
    visit = stage.take_in(cast, "V-05")

    told = dict(quotes.plan_for(cast.tobin, visit.vehicle, visit=visit).warnings)

    assert told["quote.past_fluid"] == (
        "The job of May 3, 2022 names only “FM-1 (paper slip)”: which product went in is not known. "
        "Fenmark 1 was withdrawn on Dec 31, 2019; its successor Fenmark 2 fits backward. Watch the fluid."
    )


def test_where_every_product_is_known_nothing_is_told(cast):
    assert past_fluid.warning(cast.vehicle("V-01"), cast.today) == ""


def test_a_name_that_is_no_specification_is_told_as_it_stands(cast):
    ServiceRecord.objects.create(
        vehicle=cast.vehicle("V-01"), done_on="2024-05-01", method="single drain", fluid_code="red oil",
        fraction_low_ppm=0, fraction_high_ppm=1,
    )  # fmt: skip

    assert "“red oil”" in past_fluid.warning(cast.vehicle("V-01"), cast.today)
