"""Water in the air, where it boils, and what moisture does to the fluid's life."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from shopserv.calc.errors import ConflictingInput, DewPointAboveTemperature, MissingInput, OutOfRange
from shopserv.calc.measures import Real, exact, within

# IAPWS R7-97(2012), table 34
N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
ZERO_C_K = 273.15
GAS_CONSTANT_OF_VAPOR = 461.526  # J/(kg K)
COLDEST_C, HOTTEST_C = -45, 200
LOWEST_M, HIGHEST_M = -500, 11_000
SEA_LEVEL_PA = 101_325.0
LAPSE_K_M, SEA_LEVEL_K = 0.0065, 288.15
MOST = 2.2
# a declared judgment without a source: humid air, moist air, short trips, storage
WEIGHT_ABSOLUTE, WEIGHT_RELATIVE, WEIGHT_SHORT, WEIGHT_STORED = 0.30, 0.20, 0.40, 0.30
WATER_WEIGHT = Fraction(12, 10)
DRIES_AT_C = 80.0


def _saturation_pa(kelvin: float) -> float:
    theta = kelvin + N[8] / (kelvin - N[9])
    a = theta * theta + N[0] * theta + N[1]
    b = N[2] * theta * theta + N[3] * theta + N[4]
    c = N[5] * theta * theta + N[6] * theta + N[7]
    return (2 * c / (-b + math.sqrt(b * b - 4 * a * c))) ** 4 * 1e6


def _saturation_k(pascal: float) -> float:
    beta = (pascal / 1e6) ** 0.25
    e = beta * beta + N[2] * beta + N[5]
    f = N[0] * beta * beta + N[3] * beta + N[6]
    g = N[1] * beta * beta + N[4] * beta + N[7]
    d = 2 * g / (-f - math.sqrt(f * f - 4 * e * g))
    return (N[9] + d - math.sqrt((N[9] + d) ** 2 - 4 * (N[8] + N[9] * d))) / 2


def saturation_vapor_pressure(temperature_c: Real) -> float:
    """Pressure of saturated vapor over liquid water, in Pa.

    temperature_c   °C, -45 to 200
    raises          OutOfRange
    source          IAPWS R7-97(2012) region 4 from 0 °C; below, WMO-No. 8 (2008) annex 4.B
    check           26.85 °C (300 K): 3,536.58941 Pa
    """
    celsius = within(temperature_c, COLDEST_C, HOTTEST_C, "The air temperature in °C")
    if celsius >= 0:
        return _saturation_pa(float(celsius) + ZERO_C_K)
    return 611.2 * math.exp(17.62 * float(celsius) / (243.12 + float(celsius)))


def boiling_point(*, altitude_m: Real | None = None, pressure_pa: Real | None = None) -> float:
    """Temperature at which water boils, in °C, at a height or a pressure.

    altitude_m    geopotential, -500 to 11,000 m
    pressure_pa   10,000 to 1,000,000 Pa
    raises        ConflictingInput for both, MissingInput for neither, OutOfRange
    source        IAPWS R7-97(2012) region 4; ISO 2533 for the pressure at a height
    check         0.1 MPa: 99.605919 °C (372.755919 K)
    """
    if altitude_m is not None and pressure_pa is not None:
        raise ConflictingInput("Give the altitude or the pressure, not both.")
    if altitude_m is not None:
        height = float(within(altitude_m, LOWEST_M, HIGHEST_M, "The altitude in m"))
        return _saturation_k(SEA_LEVEL_PA * (1 - LAPSE_K_M * height / SEA_LEVEL_K) ** 5.255876) - ZERO_C_K
    if pressure_pa is None:
        raise MissingInput("The altitude or the pressure is missing.")
    return _saturation_k(float(within(pressure_pa, 10_000, 1_000_000, "The pressure in Pa"))) - ZERO_C_K


def relative_humidity(temperature_c: Real, dew_point_c: Real) -> float:
    """Relative humidity, 0 to 1, from temperature and dew point in °C.

    raises   OutOfRange, DewPointAboveTemperature
    source   WMO-No. 8 (2008)
    """
    pressure, full = saturation_vapor_pressure(dew_point_c), saturation_vapor_pressure(temperature_c)
    if dew_point_c > temperature_c:
        raise DewPointAboveTemperature(
            f"A dew point of {float(dew_point_c):g} °C lies above {float(temperature_c):g} °C."
        )
    return pressure / full


def dew_point(temperature_c: Real, humidity: Real) -> float:
    """The temperature in °C at which air of this humidity is saturated.

    humidity   relative, above 0, at most 1
    raises     OutOfRange, also for an answer below -45 °C
    """
    share = within(humidity, 0, 1, "The relative humidity")
    if share == 0:
        raise OutOfRange("Air without water has no dew point.")
    pressure = float(share) * saturation_vapor_pressure(temperature_c)
    if share == 1:
        return float(temperature_c)
    if pressure >= saturation_vapor_pressure(0):
        return _saturation_k(pressure) - ZERO_C_K
    log = math.log(pressure / 611.2)
    found = min(0.0, 243.12 * log / (17.62 - log))
    if found < COLDEST_C:
        raise OutOfRange(f"The dew point lies below {COLDEST_C} °C.")
    return found


def absolute_humidity(temperature_c: Real, humidity: Real) -> float:
    """Water in the air, in kg/m³.

    humidity   relative, 0 to 1
    source     ideal gas; R of vapor 461.526 J/(kg K)
    check      20 °C saturated: 0.0173 kg/m³ (memory: 17.3 g/m³)
    """
    share = float(within(humidity, 0, 1, "The relative humidity"))
    return (
        share * saturation_vapor_pressure(temperature_c) / (GAS_CONSTANT_OF_VAPOR * (float(temperature_c) + ZERO_C_K))
    )


def moisture_factor(
    months: Sequence[tuple[Real, Real]],
    short_trip_share: Real,
    *,
    storage_share: Real = 0,
    altitude_m: Real = 0,
) -> float:
    """How much moisture shortens the life of the fluid: 1.000 to 2.200.

    months             12 of (mean temperature in °C, mean relative humidity 0 to 1)
    short_trip_share   0 to 1; storage_share likewise
    altitude_m         -500 to 11,000: where water boils lower, short trips dry the fluid better
    returns            1 at the reference: at most 5 g/m³, at most 50 %, no short trips, no storage
    raises             OutOfRange
    source             the weights are a declared judgment without a source
    check              coast, short trips (V-01 of the demonstration): 1.806
    """
    if len(months) != 12:
        raise OutOfRange(f"{len(months)} months were given; there are 12.")
    water = math.fsum(absolute_humidity(t, rh) for t, rh in months) / 12 * 1_000
    mean = math.fsum(float(rh) for _, rh in months) / 12
    a, b = _clamp((water - 5) / 15), _clamp((mean - 0.5) / 0.4)
    short = float(within(short_trip_share, 0, 1, "The share of short trips"))
    stored = float(within(storage_share, 0, 1, "The share of storage"))
    dries = (boiling_point(altitude_m=altitude_m) - DRIES_AT_C) / (boiling_point(altitude_m=0) - DRIES_AT_C)
    factor = 1 + WEIGHT_ABSOLUTE * a + WEIGHT_RELATIVE * b + WEIGHT_SHORT * short * _clamp(dries)
    return min(MOST, factor + WEIGHT_STORED * stored * (1 + b) / 2)


def moisture_factor_measured(water: Real, limit: Real) -> Fraction:
    """The factor from a laboratory figure, used in place of the estimate.

    water, limit   water in the fluid and its limit, shares by mass
    returns        1 to 2.2, exact
    raises         OutOfRange for negative water or a limit that is not above 0
    source         judgment, no source
    check          600 of 1,200 ppm: 1.6
    """
    content, most = exact(water), exact(limit)
    if content < 0:
        raise OutOfRange(f"A water content of {float(content):g} is below zero.")
    if most <= 0:
        raise OutOfRange(f"A limit of {float(most):g} is not above zero.")
    return min(exact(MOST), 1 + WATER_WEIGHT * content / most)


def _clamp(value: float) -> float:
    return min(1.0, max(0.0, value))
