"""The air of real places, as it lies in the repository: against printed statistics, tables and a second reckoning.

Sources: monthly statistics of the same typical year as printed beside it (USA_CO_Denver-Aurora-Buckley.AFB.724695_TMY3
.stat of the EnergyPlus repository); psychrometric table over water (WMO-No. 8 annex 4.B); our own hourly reckoning.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from shopserv.calc import moisture

PLACES = json.loads(Path("fixtures/climate/places.json").read_text("utf-8"))["places"]
AURORA = next(place for place in PLACES if place["code"] == "US-CO-AURORA")
KEYS = {
    "code", "name", "altitude_m", "mean_c", "rh_pct", "dew_point_c", "water_g_m3", "daily_swing_k", "hours", "source",
    "license", "period", "file", "sha256",
}  # fmt: skip
PRINTED = {
    "mean_c": [0.8, -0.2, 4.8, 6.1, 13.7, 22.2, 22.7, 21.7, 18.5, 7.1, 3.0, -1.0],
    "dew_point_c": [-4.5, -6.1, -5.5, -2.0, 1.8, 5.1, 6.4, 6.2, 1.3, -2.7, -2.9, -9.5],
    "rh_pct": [74, 69, 57, 62, 50, 40, 42, 44, 37, 59, 72, 57],
}


@pytest.mark.parametrize(("what", "step"), [("mean_c", 0.1), ("dew_point_c", 0.1), ("rh_pct", 1)])
def test_our_means_are_the_printed_ones(what, step):
    for ours, printed in zip(AURORA[what], PRINTED[what], strict=True):
        assert abs(ours - printed) <= step / 2 + 0.006  # ours have two places, theirs are rounded


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place["code"])
def test_each_place_says_where_it_comes_from_and_has_twelve_whole_months(place):
    assert set(place) == KEYS
    assert all(len(place[what]) == 12 for what in KEYS if isinstance(place[what], list))
    assert min(place["hours"]) >= 0.95 * 28 * 24
    assert "public domain" in place["license"] or "CC0" in place["license"]
    assert len(place["sha256"]) == 64
    assert -100 < place["altitude_m"] < 4000


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place["code"])
def test_humidity_from_the_mean_dew_point_is_near_the_mean_humidity(place):
    """Means of a curved thing differ by a few points; a swapped column or a wrong unit would differ by far more."""
    for t, dew, percent in zip(place["mean_c"], place["dew_point_c"], place["rh_pct"], strict=True):
        assert 100 * moisture.relative_humidity(t, dew) == pytest.approx(percent, abs=13)


@pytest.mark.parametrize("place", PLACES, ids=lambda place: place["code"])
def test_the_factor_from_monthly_means_is_near_that_of_the_hours(place):
    """What monthly means lose against the hours of the same months: at most 0.011 of the factor (dry uplands)."""
    months = [(t, rh / 100) for t, rh in zip(place["mean_c"], place["rh_pct"], strict=True)]
    water = math.fsum(place["water_g_m3"]) / 12
    humid = math.fsum(place["rh_pct"]) / 1200
    by_hours = 1 + 0.3 * min(1, max(0, (water - 5) / 15)) + 0.2 * min(1, max(0, (humid - 0.5) / 0.4))

    assert moisture.moisture_factor(months, 0) == pytest.approx(by_hours, abs=0.011)


def test_the_factor_of_these_airs_runs_from_desert_to_coast():
    found = {
        place["code"]: moisture.moisture_factor(
            [(t, rh / 100) for t, rh in zip(place["mean_c"], place["rh_pct"], strict=True)], 0
        )
        for place in PLACES
    }

    assert min(found, key=found.__getitem__) in ("US-AZ-DAVIS-MONTHAN", "US-CO-AURORA")
    assert max(found, key=found.__getitem__) == "US-FL-MIAMI"
    assert 1 <= min(found.values()) < 1.05 < 1.3 < max(found.values())
