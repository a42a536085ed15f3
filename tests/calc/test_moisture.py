"""Water in air and fluid.

Sources: IAPWS R7-97(2012) tables 35 and 36; the iapws library as another hand; WMO-No. 8 (2008) annex 4.B; ISO 2533;
worked examples; the bounds that any moisture factor must keep.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import iapws97

from shopserv.calc import errors, intervals, moisture
from tests.calc.worked import DEMO, WORKED

CLIMATES = {one["code"]: one for one in DEMO["climates"]}
CELSIUS = st.floats(-45, 60)
SHARES = st.floats(0, 1)
MONTHS = st.lists(st.tuples(CELSIUS, SHARES), min_size=12, max_size=12)
HEIGHTS = st.floats(-500, 11_000)


@pytest.mark.parametrize(("kelvin", "mpa"), [(300, 0.353658941e-2)])
def test_the_pressure_of_the_standards_table(kelvin, mpa):
    assert moisture.saturation_vapor_pressure(kelvin - 273.15) == pytest.approx(mpa * 1e6, rel=1e-8)


@pytest.mark.parametrize(("mpa", "kelvin"), [(0.1, 0.372755919e3), (1, 0.453035632e3)])
def test_the_boiling_points_of_the_standards_table(mpa, kelvin):
    assert moisture.boiling_point(pressure_pa=mpa * 1e6) == pytest.approx(kelvin - 273.15, abs=1e-6)


@given(st.floats(0, 200))
def test_another_library_finds_the_same_pressure(celsius):
    theirs = iapws97._PSat_T(celsius + 273.15) * 1e6

    assert moisture.saturation_vapor_pressure(celsius) == pytest.approx(theirs, rel=1e-10)


@given(st.floats(10_000, 1_000_000))
def test_another_library_finds_the_same_boiling_point(pascal):
    assert moisture.boiling_point(pressure_pa=pascal) == pytest.approx(iapws97._TSat_P(pascal / 1e6) - 273.15, abs=1e-8)


@pytest.mark.parametrize(("celsius", "hpa"), [(-10, 2.8627), (-20, 1.2540), (-40, 0.1891)])
def test_below_freezing_it_is_near_the_tables_over_liquid_water(celsius, hpa):
    """The tables are Goff and Gratch over water, from memory; the formula of WMO-No. 8 stays within a hundredth."""
    assert moisture.saturation_vapor_pressure(celsius) / 100 == pytest.approx(hpa, rel=1e-2)


def test_below_freezing_it_is_the_formula_of_the_standard():
    """2.8703 hPa at -10 °C: WMO-No. 8 annex 4.B as reprinted."""
    assert moisture.saturation_vapor_pressure(-10) == pytest.approx(287.03, rel=2e-5)


@given(CELSIUS, CELSIUS)
def test_warmer_air_holds_more_water(one, other):
    low, high = sorted((one, other))

    assert moisture.saturation_vapor_pressure(low) <= moisture.saturation_vapor_pressure(high)


@pytest.mark.parametrize(("height", "pascal"), [(0, 101325.0), (1000, 89874.6), (5000, 54019.9), (11_000, 22632.1)])
def test_water_boils_where_the_standard_atmosphere_says(height, pascal):
    """Pressures of ISO 2533."""
    assert moisture.boiling_point(altitude_m=height) == pytest.approx(
        moisture.boiling_point(pressure_pa=pascal), abs=1e-3
    )


@pytest.mark.parametrize("place", ["SALTREACH", "BRINDLEWICK", "KELLTOP"])
def test_the_boiling_points_of_the_worked_example(place):
    found = moisture.boiling_point(altitude_m=CLIMATES[place]["altitude_m"])

    assert f"{found:.3f}" == WORKED["severity"]["boiling_c"][place]


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: moisture.saturation_vapor_pressure(-45.001), errors.OutOfRange),
        (lambda: moisture.saturation_vapor_pressure(200.001), errors.OutOfRange),
        (lambda: moisture.boiling_point(altitude_m=-501), errors.OutOfRange),
        (lambda: moisture.boiling_point(altitude_m=11_001), errors.OutOfRange),
        (lambda: moisture.boiling_point(pressure_pa=9_999), errors.OutOfRange),
        (lambda: moisture.boiling_point(pressure_pa=1_000_001), errors.OutOfRange),
        (lambda: moisture.boiling_point(), errors.MissingInput),
        (lambda: moisture.boiling_point(altitude_m=0, pressure_pa=101_325), errors.ConflictingInput),
        (lambda: moisture.relative_humidity(20, 20.001), errors.DewPointAboveTemperature),
        (lambda: moisture.relative_humidity(201, 20), errors.OutOfRange),
        (lambda: moisture.dew_point(20, 0), errors.OutOfRange),
        (lambda: moisture.dew_point(20, 1.001), errors.OutOfRange),
        (lambda: moisture.dew_point(-40, 0.1), errors.OutOfRange),
        (lambda: moisture.absolute_humidity(20, -0.1), errors.OutOfRange),
        (lambda: moisture.moisture_factor([(20, 0.5)] * 11, 0), errors.OutOfRange),
        (lambda: moisture.moisture_factor([(20, 0.5)] * 12, 1.1), errors.OutOfRange),
        (lambda: moisture.moisture_factor([(20, 0.5)] * 12, 0, storage_share=-0.1), errors.OutOfRange),
        (lambda: moisture.moisture_factor([(20, 0.5)] * 12, 0, altitude_m=12_000), errors.OutOfRange),
        (lambda: moisture.moisture_factor([(20, 1.5)] * 12, 0), errors.OutOfRange),
        (lambda: moisture.moisture_factor_measured(-1, 1), errors.OutOfRange),
        (lambda: moisture.moisture_factor_measured(1, 0), errors.OutOfRange),
    ],
)
def test_what_the_air_cannot_do_is_refused(call, error):
    with pytest.raises(error):
        call()


@given(st.floats(-20, 60), st.floats(0.05, 1))
def test_the_dew_point_gives_back_the_humidity(celsius, humidity):
    """Between the two formulas at 0 °C there is a step of 2e-5; a dew point in it is 0 °C."""
    try:
        dew = moisture.dew_point(celsius, humidity)
    except errors.OutOfRange:
        assert humidity * moisture.saturation_vapor_pressure(celsius) < moisture.saturation_vapor_pressure(-45)
        return

    assert moisture.relative_humidity(celsius, min(dew, celsius)) == pytest.approx(humidity, rel=5e-5)


def test_saturated_air_of_20_degrees_holds_17_grams():
    assert moisture.absolute_humidity(20, 1) * 1000 == pytest.approx(17.3, abs=0.05)  # memory
    assert moisture.dew_point(20, 1) == 20
    assert moisture.absolute_humidity(20, 0) == 0


ROWS = WORKED["severity"]["rows"]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["case"])
def test_the_severity_of_the_worked_example(row):
    place = CLIMATES[row["climate"]]
    months = [(t, Fraction(rh, 100)) for t, rh in zip(place["mean_c"], place["rh_pct"], strict=True)]
    water = sum(moisture.absolute_humidity(t, rh) for t, rh in months) / 12 * 1000
    storage = Fraction(5, 12) if row["storage_share"] == "0.4167" else Fraction(row["storage_share"])

    factor = moisture.moisture_factor(
        months, Fraction(row["short_trip_share"]), storage_share=storage, altitude_m=place["altitude_m"]
    )

    bins = [(Fraction(s), int(t.split()[0])) for s, t in WORKED["severity"]["thermal"]["bins"]]
    thermal = intervals.thermal_factor(bins) if row["thermal"] != "1.000" else 1.0
    assert f"{water:.3f}" == row["absolute_humidity_g_m3"]
    assert f"{factor:.3f}" == row["moisture"]
    assert f"{thermal:.3f}" == row["thermal"]
    assert f"{float(intervals.combined_factor(factor, thermal)):.3f}" == row["product"]
    assert intervals.adjusted_distance(row["base_miles"], factor, thermal) == row["miles"]
    assert intervals.adjusted_months(row["base_months"], factor) == row["months"]


@given(MONTHS, SHARES, SHARES, HEIGHTS)
def test_the_factor_keeps_its_bounds(months, short, stored, height):
    factor = moisture.moisture_factor(months, short, storage_share=stored, altitude_m=height)

    assert 1 <= factor <= 2.2
    assert not math.isnan(factor)


@given(st.lists(st.tuples(st.floats(-45, 0), st.floats(0, 0.5)), min_size=12, max_size=12), HEIGHTS)
def test_dry_air_without_short_trips_or_storage_is_the_reference(months, height):
    assert moisture.moisture_factor(months, 0, altitude_m=height) == 1


@given(MONTHS, SHARES, SHARES, SHARES, HEIGHTS)
def test_more_short_trips_or_storage_are_never_better(months, one, other, stored, height):
    low, high = sorted((one, other))

    def factor(short, kept):
        return moisture.moisture_factor(months, short, storage_share=kept, altitude_m=height)

    assert factor(low, stored) <= factor(high, stored)
    assert factor(stored, low) <= factor(stored, high)


@given(MONTHS, SHARES, HEIGHTS, HEIGHTS)
def test_higher_up_short_trips_dry_the_fluid_better(months, short, one, other):
    low, high = sorted((one, other))

    assert moisture.moisture_factor(months, short, altitude_m=high) <= moisture.moisture_factor(
        months, short, altitude_m=low
    )


@given(st.integers(0, 10_000), st.integers(1, 10_000))
def test_a_laboratory_figure_moves_the_factor_in_the_same_bounds(water, limit):
    found = moisture.moisture_factor_measured(water, limit)

    assert found == min(Fraction(11, 5), 1 + Fraction(6, 5) * Fraction(water, limit))
    assert 1 <= found <= Fraction(11, 5)


def test_between_the_two_formulas_at_freezing_the_dew_point_is_freezing():
    """They differ there by a hundredth of a pascal, and a dew point above 0 would be none of the lower formula."""
    assert moisture.dew_point(0, Fraction(99_999, 100_000)) == 0.0


def test_storage_is_a_share_of_the_time():
    with pytest.raises(errors.OutOfRange):
        moisture.moisture_factor([(10, 0.5)] * 12, 0, storage_share=1.5)


def test_a_dew_point_just_above_freezing_is_found_by_the_water_formula():
    for celsius in (0.25, 0.5, 0.999):
        share = moisture.saturation_vapor_pressure(celsius) / moisture.saturation_vapor_pressure(20)
        assert moisture.dew_point(20, share) == pytest.approx(celsius, abs=1e-9)


def test_more_water_than_counts_whole_counts_whole():
    """35 °C, wholly humid: 39.6 g/m³, of which all above 20 counts alike; humidity beyond 0.9 too. 1 + 0.30 + 0.20."""
    assert moisture.moisture_factor([(35.0, 1.0)] * 12, 0.0) == pytest.approx(1.5)
