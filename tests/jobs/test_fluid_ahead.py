"""The agreed jobs that wait for fluid: which count, what each needs, on which day, and who may ask."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shopserv.common.errors import NotYours
from shopserv.jobs.models import WorkOrder
from shopserv.jobs.selectors.ahead import fluid_ahead
from shopserv.jobs.services.authorize import authorize, take_back
from tests.jobs import bay_stage as bays
from tests.jobs import stage


def told(actor):
    return [(one.code, [(job.vehicle, job.need_ml, job.day) for job in one.jobs]) for one in fluid_ahead(actor)]


def test_agreed_jobs_stand_by_product_with_the_liters_of_their_quote(cast):
    order = bays.written_up(cast)
    bays.cleared(cast, "A", "V-12")

    found = fluid_ahead(cast.sam)

    job = found[0].jobs[0]
    assert [one.code for one in found] == ["FEN2", "FEN6L"]
    assert [package.stock_number for package in found[0].packages] == ["FEN2-P", "FEN2-J", "FEN2-B"]
    assert (job.order, job.visit, job.vehicle, job.is_here) == (order.number, order.visit.number, "V-01", True)
    assert (job.need_ml, job.low_ml, job.rule, job.day) == (10_000, 10_000, "whole-packages", cast.today)
    assert job.said == f"{order.visit.quotes.get().number} version 1 option C"
    assert told(cast.tobin) == told(cast.maren) == told(cast.sam)


def test_what_is_only_on_offer_or_taken_back_needs_nothing(cast):
    stage.offered(cast, "V-12")
    order = bays.written_up(cast)
    assert [vehicle for _, jobs in told(cast.sam) for vehicle, *_ in jobs] == ["V-01"]

    take_back(order.authorizations.get(), actor=cast.tobin, words="changed his mind")

    assert told(cast.sam) == []


def test_a_job_whose_pouring_has_begun_has_its_packages_at_the_bench(cast):
    order = bays.in_the_bay(cast)
    bays.up_to(cast, order, "add")
    assert told(cast.sam) == [("FEN2", [("V-01", 10_000, cast.today)])]

    bays.finish(cast, order)

    assert order.events.filter(what__startswith="in_").exists()
    assert told(cast.sam) == []


def test_an_expected_vehicle_counts_on_its_day_and_a_past_one_today(cast):
    order = bays.written_up(cast)
    visits = type(order.visit).objects.filter(pk=order.visit_id)

    visits.update(state="expected", came_at=None, expected_at=cast.morning + timedelta(days=3))
    later = told(cast.sam)
    visits.update(expected_at=cast.morning - timedelta(days=3))
    earlier = told(cast.sam)
    visits.update(state="turned away")

    assert later == [("FEN2", [("V-01", 10_000, cast.today + timedelta(days=3))])]
    assert earlier == [("FEN2", [("V-01", 10_000, cast.today)])]
    assert told(cast.sam) == []


def test_what_was_added_is_needed_too_and_another_yes_counts_alone(cast):
    order = bays.written_up(cast)
    facts = {**order.facts, "added": [{"fluids": [{"code": "FEN2", "need_ml": 500, "low_need_ml": 400}]}]}
    WorkOrder.objects.filter(pk=order.pk).update(facts=facts)

    job = fluid_ahead(cast.sam)[0].jobs[0]

    assert (job.need_ml, job.low_ml) == (10_500, 10_400)


def test_another_shop_and_a_technician_see_nothing_of_it(cast):
    bays.written_up(cast)

    assert told(cast.sam) != []
    assert fluid_ahead(cast.lise) == ()
    with pytest.raises(NotYours):
        fluid_ahead(cast.odo)
    with pytest.raises(NotYours):
        fluid_ahead(cast.ansel)


@pytest.mark.parametrize("more", [[], ["V-12", "V-11", "V-04"]])
def test_it_takes_four_queries(cast, django_assert_num_queries, more):
    bays.written_up(cast)
    for number in more:
        version = stage.offered(cast, number)
        option = version.options.exclude(course={}).first()
        authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, person=version.quote.customer.name))
    actor = cast.sam

    with django_assert_num_queries(4):
        fluid_ahead(actor)
