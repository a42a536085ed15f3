"""The whole table of units, each by its definition; nothing is in it that is not here.

Sources: NIST SP 811 (2008) appendix B and NIST Handbook 44 appendix C: inch 25.4 mm, US gallon 231 cubic inches and its
parts, avoirdupois pound 0.45359237 kg of 16 ounces, imperial gallon 4.54609 L, all exact; standard gravity 9.80665 m/s²
(3rd CGPM, 1901); 0 °C = 273.15 K, a step of 1 °F = 5/9 K (SI brochure, 9th edition, 2.3.1; SP 811, B.8); prefixes and
the units that may be used beside the SI (SI brochure, tables 7 and 8).
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc import measures

POUND, FORCE, FOOT = Fraction("0.45359237"), Fraction("4.4482216152605"), Fraction("0.3048")
GALLON_M3, SQUARE_INCH_M2 = Fraction("0.003785411784"), Fraction("0.00064516")
DEFINED = {
    "number": {"": "1", "%": "1/100", "ppm": "1/1000000"},
    "volume": {
        "mL": "1",
        "cm3": "1",
        "L": "1000",
        "m3": "1000000",
        "gal": "3785.411784",
        "qt": "946.352946",
        "pt": "473.176473",
        "fl_oz": "29.5735295625",
        "imp_gal": "4546.09",
        "imp_qt": "1136.5225",
    },
    "mass": {"kg": "1", "g": "0.001", "lb": POUND, "oz": "0.028349523125"},
    "density": {
        "kg/m3": "1",
        "kg/L": "1000",
        "g/cm3": "1000",
        "g/mL": "1000",
        "g/m3": "0.001",
        "lb/gal": POUND / GALLON_M3,
        "lb/ft3": POUND / FOOT**3,
    },
    "distance": {
        "m": "1",
        "mm": "0.001",
        "cm": "0.01",
        "km": "1000",
        "in": "0.0254",
        "ft": FOOT,
        "mi": "1609.344",
    },
    "area": {"m2": "1", "mm2": "1/1000000", "cm2": "0.0001", "in2": SQUARE_INCH_M2},
    "temperature": {"K": "1", "degC": "1", "degF": "5/9"},
    "temperature difference": {"K": "1", "delta_degC": "1", "delta_degF": "5/9"},
    "pressure": {
        "Pa": "1",
        "hPa": "100",
        "mbar": "100",
        "kPa": "1000",
        "MPa": "1000000",
        "bar": "100000",
        "psi": FORCE / SQUARE_INCH_M2,
    },
    "torque": {"N.m": "1", "lbf.ft": "1.3558179483314004", "lbf.in": "0.1129848290276167"},
    "time": {"s": "1", "min": "60", "h": "3600", "d": "86400"},
    "months": {"mo": "1", "yr": "12"},
    # a year of a speed has 365 days by our own definition
    "speed": {"km/d": "1000", "mi/d": "1609.344", "km/yr": Fraction(1000, 365), "mi/yr": Fraction("1609.344") / 365},
    "angle": {"deg": "1"},
    "particle count": {"/mL": "1", "/100mL": "0.01"},
    "money": {"USD": "1"},
    "hourly rate": {"USD/h": "1"},
}
# printed with seven digits in SP 811, appendix B.8, as factors to the SI
PRINTED = [
    ("gal", "m3", 3.785412e-03),
    ("qt", "m3", 9.463529e-04),
    ("pt", "m3", 4.731765e-04),
    ("fl_oz", "m3", 2.957353e-05),
    ("imp_qt", "L", 1.136523),
    ("psi", "Pa", 6.894757e03),
    ("lbf.ft", "N.m", 1.355818),
    ("lbf.in", "N.m", 1.129848e-01),
    ("lb/gal", "kg/m3", 1.198264e02),
    ("lb/ft3", "kg/m3", 1.601846e01),
    ("oz", "kg", 2.834952e-02),
    ("lb", "kg", 4.535924e-01),
]


def test_the_table_is_what_the_units_are_by_definition():
    table = {}
    for name, of in measures.UNITS.items():
        for dimension, unit in of.items():
            assert (unit.name, unit.dimension) == (name, dimension)
            table.setdefault(dimension, {})[name] = unit.factor

    assert table == {
        dimension: {name: Fraction(value) for name, value in of.items()} for dimension, of in DEFINED.items()
    }


def test_only_temperatures_begin_elsewhere_than_at_zero():
    shifts = {name: unit.shift for name, of in measures.UNITS.items() for unit in of.values() if unit.shift}

    assert shifts == {"degC": Fraction("273.15"), "degF": Fraction("459.67")}  # SP 811, B.8: K = (°F + 459.67) / 1.8


def test_a_step_of_temperature_has_no_shift_under_either_name():
    steps = {"K": "1", "degC": "1", "delta_degC": "1", "degF": "5/9", "delta_degF": "5/9"}

    assert {name: measures.Unit(name, "temperature difference", Fraction(step)) for name, step in steps.items()} == (
        measures.DIFFERENCES
    )
    assert measures.Unit("x", "mass", Fraction(1)).shift == 0


@pytest.mark.parametrize(("unit", "to", "factor"), PRINTED)
def test_the_factors_are_as_printed(unit, to, factor):
    assert float(measures.convert(1, unit, to)) == pytest.approx(factor, rel=5e-7)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("IN_M", "0.0254"),
        ("FT_M", "0.3048"),
        ("MI_M", "1609.344"),
        ("LB_KG", "0.45359237"),
        ("LBF_N", "4.4482216152605"),
        ("GAL_M3", "0.003785411784"),
        ("IMP_GAL_M3", "0.00454609"),
        ("KELVIN_AT_0_C", "273.15"),
        ("DEGF_K", "5/9"),
    ],
)
def test_the_constants_are_exact(name, value):
    assert getattr(measures, name) == Fraction(value)
