"""Constants of the air and of its water, each where it shows.

Sources: IAPWS R7-97(2012) as iapws works it; ISO 2533:1975 (as the U.S. Standard Atmosphere 1976): 101,325 Pa, 288.15 K
and 6.5 K/km at sea level, exponent g M / (R L) = 9.80665 x 0.0289644 / (8.31432 x 0.0065).
"""

from __future__ import annotations

import pytest
from iapws import iapws97

from shopserv.calc import moisture

DRY = [(-20, 0.3)] * 12  # under 5 g/m³ and 50 %: only short trips count


@pytest.mark.parametrize("height", [-500, 0, 1000, 5000, 11_000])
def test_water_boils_where_the_standard_atmosphere_has_its_saturation_pressure(height):
    pascal = 101_325 * (1 - 0.0065 * height / 288.15) ** (9.80665 * 0.0289644 / (8.31432 * 0.0065))

    assert moisture.boiling_point(altitude_m=height) == pytest.approx(iapws97._TSat_P(pascal / 1e6) - 273.15, abs=2e-6)


def test_without_a_height_the_place_is_at_sea_level():
    assert moisture.moisture_factor(DRY, 1) == pytest.approx(1.4, abs=1e-12)  # the weight of short trips, in full
    assert moisture.moisture_factor(DRY, 1, altitude_m=1) < 1.4 - 1e-6


def test_without_storage_said_there_is_none():
    assert moisture.moisture_factor(DRY, 0) == 1
