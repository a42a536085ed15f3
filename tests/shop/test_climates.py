"""Climate places: own figures typed, places of the reference data taken, the shop's own chosen."""

from __future__ import annotations

import pytest

from shopserv.common.errors import NotYours, Refusal, Stale
from shopserv.shop import climates
from shopserv.shop.climates import Month
from shopserv.shop.models import ClimatePlace, TrailEntry

pytestmark = pytest.mark.django_db
YEAR = [Month(15_000, humidity_ppm=700_000)]


def add(cast, **changes):
    said = {"name": "Yard", "altitude_m": 20, "months": YEAR, "source": "own logger, 2025"}
    return climates.add_place(actor=cast.maren, **{**said, **changes})


def test_one_figure_stands_for_the_whole_year(cast):
    place = add(cast)

    assert (place.mean_mdegc, place.humidity_ppm) == ([15_000] * 12, [700_000] * 12)
    assert (place.kind, place.code, place.period) == ("own", "OWN-1", "one figure for the whole year")
    assert not place.is_from_dew_point
    assert TrailEntry.objects.filter(what="climate place added", subject="Yard").count() == 1
    assert place in climates.places_of(cast.odo)


def test_a_dew_point_above_the_mean_is_refused_in_both_units(cast):
    months = [Month(20_000, dew_point_mdegc=dew) for dew in (20_000, 20_001, 21_111)]

    assert climates._humidity(months[0], 1) == 1_000_000
    for month in months[1:]:
        with pytest.raises(Refusal) as refused:
            climates._humidity(month, 3)
    assert (refused.value.code, refused.value.field) == ("place.dew_point", "air_3")
    assert "a dew point of 70.0 °F (21.1 °C) lies above the mean of 68.0 °F (20.0 °C)" in refused.value.message


def test_a_dew_point_gives_the_humidity(cast):
    """20 °C with a dew point of 9.27 °C is 50 %: psychrometric table, memory; and 12 months are kept as typed."""
    months = [Month(20_000, dew_point_mdegc=9_270)] * 12
    place = add(cast, months=months)

    assert place.is_from_dew_point
    assert place.humidity_ppm == [place.humidity_ppm[0]] * 12
    assert abs(place.humidity_ppm[0] - 500_000) < 1_000
    assert place.period == ""


@pytest.mark.parametrize(
    ("changes", "code", "field"),
    [
        ({"months": YEAR * 11}, "place.months", ""),
        ({"months": [*YEAR * 11, Month(10_000, dew_point_mdegc=10_001)]}, "place.dew_point", "air_12"),
        ({"months": [*YEAR * 11, Month(10_000)]}, "place.dew_point", "air_12"),
        ({"name": "kell top (HILL)"}, "place.name", "name"),
    ],
)
def test_figures_that_cannot_be_are_refused_with_their_month(cast, changes, code, field):
    with pytest.raises(Refusal) as refused:
        add(cast, **changes)

    assert (refused.value.code, refused.value.field) == (code, field)
    assert not ClimatePlace.objects.filter(kind="own", code__startswith="OWN").exists()


def test_only_the_owner_adds_and_chooses(cast):
    with pytest.raises(NotYours):
        climates.add_place(actor=cast.tobin, name="Yard", altitude_m=0, months=YEAR, source="x")
    with pytest.raises(NotYours):
        climates.choose_for_shop("SALTREACH", actor=cast.tobin, edition=cast.brw.edition)


def test_a_place_of_the_reference_data_is_taken_once_with_its_source(cast):
    place = climates.take_reference("US-FL-MIAMI", actor=cast.tobin)

    assert climates.take_reference("US-FL-MIAMI", actor=cast.maren) == place
    assert (place.kind, place.altitude_m, place.mean_mdegc[6], place.humidity_ppm[6]) == (
        "reference", 2, 27_960, 758_000,
    )  # fmt: skip
    assert "public domain" in place.license
    assert place.period == "typical months of 1961 to 1990"
    with pytest.raises(Refusal) as refused:
        climates.take_reference("NOWHERE", actor=cast.tobin)
    assert refused.value.code == "place.unknown"


def test_the_shop_takes_another_place_for_vehicles_to_come(cast):
    edition = cast.brw.edition
    code = "US-PA-PITTSBURGH"

    assert climates.choose_for_shop(code, actor=cast.maren, edition=edition).climate.code == code
    with pytest.raises(Stale):
        climates.choose_for_shop(code, actor=cast.maren, edition=edition)
    assert cast.vehicle("V-01").home_climate.code == "SALTREACH"


def test_a_place_in_a_few_figures(cast):
    year = climates.year_of(ClimatePlace.objects.get(code="SALTREACH"))

    assert (year.coldest_c, year.warmest_c, year.humidity_ppm) == (17.3, 28.7, 862_500)
    assert round(year.mean_c, 3) == 23.058
    assert round(year.moisture, 4) == round(1 + 0.30 * 0.8841 + 0.20 * 0.90625, 4)  # the worked example's a and b
