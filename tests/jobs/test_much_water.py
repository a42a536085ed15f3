"""A laboratory's figure: days that cannot be are refused, much water is asked and suspected as K-13."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import visits as selectors
from shopserv.jobs.services.top_ups import laboratory
from shopserv.logbook.models import LaboratoryResult
from tests.jobs import stage

pytestmark = pytest.mark.django_db


def slip(cast, **changes):
    said = {
        "sampled_on": cast.today, "reference": "L-80", "water_ppm": 6_001, "limit_ppm": 1_200,
        "limit_source": "data sheet", "is_much_confirmed": True,
    }  # fmt: skip
    return laboratory(cast.vehicle("V-01"), actor=cast.tobin, **{**said, **changes})


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"sampled_on": date(2001, 3, 1)}, "water.first_use", "sampled_on"),
        ({"is_much_confirmed": False}, "water.much", "water_ppm"),
    ],
)
def test_a_slip_that_cannot_be_is_refused_or_asked(cast, changes, code, field):
    with pytest.raises(Refusal) as refused:
        slip(cast, **changes)

    assert (refused.value.code, refused.value.field) == (code, field)
    assert not LaboratoryResult.objects.exists()


def test_a_sample_is_refused_before_the_first_day_and_of_tomorrow_alone(cast):
    first = cast.vehicle("V-01").in_service_on
    with pytest.raises(Refusal):
        slip(cast, sampled_on=first - timedelta(1))
    with pytest.raises(Refusal) as ahead:
        slip(cast, sampled_on=cast.today + timedelta(1))

    assert (ahead.value.code, ahead.value.field) == ("date.future", "sampled_on")
    assert slip(cast, sampled_on=first).sampled_on == first


def test_much_water_is_suspected_now_or_at_the_next_visit(cast):
    slip(cast)
    assert [(one.code, one.state) for one in selectors.standing_on(cast.vehicle("V-01"))] == [("K-13", "suspected")]

    visit = stage.take_in(cast, "V-01")
    assert [(one.code, one.signs) for one in selectors.standing(visit)] == [("K-13", ("slip L-80",))]
    slip(cast, reference="L-81")
    assert selectors.standing(visit)[0].signs == ("slip L-80", "slip L-81")


@pytest.mark.parametrize(("water", "codes"), [(1_200, []), (1_201, ["K-13"]), (6_000, ["K-13"])])
def test_over_the_limit_is_suspected_on_a_vehicle_that_is_here_and_up_to_five_times_not_asked(cast, water, codes):
    visit = stage.take_in(cast, "V-01")

    assert slip(cast, water_ppm=water, is_much_confirmed=False).water_ppm == water

    assert [one.code for one in selectors.standing(visit)] == codes
