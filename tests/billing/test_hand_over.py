"""A vehicle given back: after its work, with its invoice, or with words why not."""

from __future__ import annotations

import pytest

from shopserv.billing import services as billing
from shopserv.common.errors import NotYours, Refusal, StateRefusal
from shopserv.jobs.models import Visit
from shopserv.shop.models import TrailEntry
from tests.jobs import bay_stage


@pytest.fixture
def ready(cast):
    """V-01, its work done and looked at."""
    order = bay_stage.closed_out(cast)
    bay_stage.look(cast, order)
    order.refresh_from_db()
    return order


def invoiced(cast, order):
    return billing.issue(order, actor=cast.tobin, edition=order.edition)


def test_an_invoiced_vehicle_is_handed_over_and_leaves_the_desk(cast, ready):
    invoiced(cast, ready)

    visit = billing.hand_over(ready.visit, actor=cast.tobin)

    assert (visit.state, visit.left_at is not None) == ("gone", True)
    assert TrailEntry.objects.filter(what="vehicle handed over", subject_key=str(visit.pk)).count() == 1


def test_without_an_invoice_it_goes_only_with_words(cast, ready):
    with pytest.raises(Refusal) as refused:
        billing.hand_over(ready.visit, actor=cast.tobin)
    billing.hand_over(ready.visit, actor=cast.tobin, words="goodwill, the owner agreed on the telephone")

    assert refused.value.code == "visit.not_invoiced"
    assert ready.number in refused.value.message
    assert TrailEntry.objects.get(what="vehicle handed over").after["owed"] == [ready.number]


def test_nothing_goes_before_its_work_is_looked_at(cast):
    order = bay_stage.closed_out(cast)

    with pytest.raises(StateRefusal):
        billing.hand_over(order.visit, actor=cast.tobin, words="in a hurry")

    assert Visit.objects.get(pk=order.visit.pk).state == "in work"


def test_a_technician_hands_nothing_over(cast, ready):
    with pytest.raises(NotYours):
        billing.hand_over(ready.visit, actor=cast.odo, words="x")
