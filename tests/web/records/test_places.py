"""Own places: figures that no air has, what is asked, and a place corrected from today on."""

from __future__ import annotations

from datetime import date

import pytest

from shopserv.reminders.models import Forecast
from shopserv.shop.models import ClimatePlace, TrailEntry
from tests.web.records.conftest import key_of
from tests.web.records.test_severity import OWN, PLACES, post, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def maren(signed_in):
    return signed_in("maren")


def bad_place(**changes):
    """A place as it could be stored before its figures were bounded."""
    facts = {
        "code": "OWN-1", "name": "Kiln", "altitude_m": 20, "mean_mdegc": [204_444] * 12,
        "humidity_ppm": [700_000] * 12, "swing_mk": [], "source": "own logger", "from_on": date(2026, 1, 1),
    }  # fmt: skip
    return ClimatePlace.objects.create(**{**facts, **changes})


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"heat_1": "400", "air_1": "70"}, "400.0 °F (204.4 °C) is no monthly mean of the air"),
        ({"heat_1": "60.1 C", "air_1": "70"}, "is no monthly mean of the air"),
        ({"heat_1": "-45.1 C", "air_1": "70"}, "is no monthly mean of the air"),
        ({"heat_1": "10 C", "air_1": "-50 C", "kind": "dew"}, "is no dew point of a monthly mean"),
        ({"heat_1": "15", "air_1": "70"}, "°F and °C may have been mixed up"),
        ({"heat_1": "59", "air_1": "0.7"}, "0.7 % is drier than a desert"),
    ],
)
def test_figures_that_no_air_has_are_refused_or_asked(maren, changes, said):
    answer = post(maren, PLACES, **{**OWN, **changes})

    assert answer.status_code == 422
    assert said in words(answer)
    assert not ClimatePlace.objects.filter(kind="own", code__startswith="OWN").exists()
    assert maren.get(PLACES).status_code == 200


def test_what_was_asked_is_kept_when_ticked(maren):
    cold_dry = {**OWN, "heat_1": "15", "air_1": "0.7"}

    assert post(maren, PLACES, **cold_dry, confirm="place.year").status_code == 422
    assert post(maren, PLACES, **cold_dry, confirm=["place.year", "place.dry"]).status_code == 302
    assert ClimatePlace.objects.get(code="OWN-1").humidity_ppm == [7_000] * 12


def test_a_place_that_cannot_be_computed_is_listed_with_its_fault_and_is_nobodys_home(maren, tobin):
    bad_place()
    said = words(maren.get(PLACES))

    assert "Kiln" in said
    assert "Cannot be computed:" in said
    page = "/records/vehicle/V-01/severity/"
    edition = tobin.get(page).context["head"].vehicle.edition
    answer = tobin.post(page, {"once": key_of(tobin.get(page)), "act": "home", "place": "OWN-1", "edition": edition})
    assert answer.status_code == 422
    assert "Nothing can be computed from the figures of Kiln" in words(answer)


def test_an_own_place_is_corrected_from_today_with_the_vehicles_at_home_there(maren, cast):
    old = bad_place()
    vehicle = cast.vehicle("V-01")
    type(vehicle).objects.filter(pk=vehicle.pk).update(home_climate=old)
    before = Forecast.objects.get(vehicle=vehicle, is_current=True)
    said = {**OWN, "corrects": "OWN-1", "name": "Kiln", "heat_1": "77", "air_1": "90"}

    assert post(maren, PLACES, **said).status_code == 302
    vehicle.refresh_from_db()
    assert (vehicle.home_climate.mean_mdegc, vehicle.home_climate.from_on) == ([25_000] * 12, date(2026, 11, 24))
    assert ClimatePlace.objects.get(pk=old.pk).mean_mdegc == [204_444] * 12
    assert Forecast.objects.get(vehicle=vehicle, is_current=True).pk != before.pk
    assert TrailEntry.objects.get(what="climate place corrected").before["mean_mdegc"] == [204_444] * 12

    assert post(maren, PLACES, **{**said, "heat_1": "68"}).status_code == 302  # of the same day: amended
    assert ClimatePlace.objects.filter(code="OWN-1").count() == 2
    assert ClimatePlace.objects.get(code="OWN-1", from_on=date(2026, 11, 24)).mean_mdegc == [20_000] * 12
    assert "Cannot be computed" not in words(maren.get(PLACES))


def test_the_sump_typed_in_celsius_is_asked_for_its_unit(tobin):
    page = "/records/vehicle/V-01/severity/"
    use = {
        "act": "use", "short_trips": "20", "stored_months": "0", "share_city": "100", "share_highway": "",
        "share_hill": "", "share_towing": "", "heat_city": "85", "heat_highway": "95 C", "heat_hill": "95 C",
        "heat_towing": "108 C",
    }  # fmt: skip
    answer = post(tobin, page, **use)

    assert answer.status_code == 422
    assert "“85”: in which unit?" in words(answer)
    assert post(tobin, page, **use, heat_city_unit="°C").status_code == 302
