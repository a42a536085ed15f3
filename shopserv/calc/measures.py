"""Units of the trade with exact factors, conversion there and back, and the level window.

Everything here is rational and exact. What is kept is a whole number (mL, g, thousandths of a degree); `whole` is the
one place where a measured value becomes one.

source   NIST SP 811 and SP 1038: inch, pound, US gallon, pound-force; the imperial gallon is 4.54609 L by definition;
         a year of a speed has 365 days by our own definition
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.errors import DimensionMismatch, OutOfRange, UnknownUnit

Real = Fraction | int | float

IN_M = Fraction(254, 10_000)
FT_M = 12 * IN_M
MI_M = Fraction(1_609_344, 1_000)
LB_KG = Fraction(45_359_237, 10**8)
LBF_N = LB_KG * Fraction(980_665, 10**5)
GAL_M3 = 231 * IN_M**3
IMP_GAL_M3 = Fraction(454_609, 10**8)
KELVIN_AT_0_C = Fraction(27_315, 100)
DEGF_K = Fraction(5, 9)


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: base value = (value + shift) x factor, with a shift for absolute temperatures only."""

    name: str
    dimension: str
    factor: Fraction
    shift: Fraction = Fraction(0)


# dimension -> unit -> how many base units it is
_FACTORS: dict[str, dict[str, Fraction | int]] = {
    "number": {"": 1, "%": Fraction(1, 100), "ppm": Fraction(1, 10**6)},
    "volume": {  # mL
        "mL": 1,
        "cm3": 1,
        "L": 1_000,
        "m3": 10**6,
        "gal": GAL_M3 * 10**6,
        "qt": GAL_M3 * 10**6 / 4,
        "pt": GAL_M3 * 10**6 / 8,
        "fl_oz": GAL_M3 * 10**6 / 128,
        "imp_gal": IMP_GAL_M3 * 10**6,
        "imp_qt": IMP_GAL_M3 * 10**6 / 4,
    },
    "mass": {"kg": 1, "g": Fraction(1, 1_000), "lb": LB_KG, "oz": LB_KG / 16},
    "density": {
        "kg/m3": 1,
        "kg/L": 1_000,
        "g/cm3": 1_000,
        "g/mL": 1_000,
        "g/m3": Fraction(1, 1_000),
        "lb/gal": LB_KG / GAL_M3,
        "lb/ft3": LB_KG / FT_M**3,
    },
    "distance": {
        "m": 1,
        "mm": Fraction(1, 1_000),
        "cm": Fraction(1, 100),
        "km": 1_000,
        "in": IN_M,
        "ft": FT_M,
        "mi": MI_M,
    },
    "area": {"m2": 1, "mm2": Fraction(1, 10**6), "cm2": Fraction(1, 10**4), "in2": IN_M**2},
    "temperature difference": {"K": 1, "delta_degC": 1, "delta_degF": DEGF_K},
    "pressure": {
        "Pa": 1,
        "hPa": 100,
        "mbar": 100,
        "kPa": 1_000,
        "MPa": 10**6,
        "bar": 10**5,
        "psi": LBF_N / IN_M**2,
    },
    "torque": {"N.m": 1, "lbf.ft": LBF_N * FT_M, "lbf.in": LBF_N * IN_M},
    "time": {"s": 1, "min": 60, "h": 3_600, "d": 86_400},
    "months": {"mo": 1, "yr": 12},
    "speed": {"km/d": 1_000, "mi/d": MI_M, "km/yr": Fraction(1_000, 365), "mi/yr": MI_M / 365},  # m/d
    "angle": {"deg": 1},
    "particle count": {"/mL": 1, "/100mL": Fraction(1, 100)},
    "money": {"USD": 1},
    "hourly rate": {"USD/h": 1},
}
_TEMPERATURES = (
    Unit("K", "temperature", Fraction(1)),
    Unit("degC", "temperature", Fraction(1), KELVIN_AT_0_C),
    Unit("degF", "temperature", DEGF_K, KELVIN_AT_0_C / DEGF_K - 32),
)
# a name may stand in two dimensions: K is a temperature and a difference
UNITS: dict[str, dict[str, Unit]] = {}
for _dimension, _units in _FACTORS.items():
    for _name, _factor in _units.items():
        UNITS.setdefault(_name, {})[_dimension] = Unit(_name, _dimension, Fraction(_factor))
for _unit in _TEMPERATURES:
    UNITS.setdefault(_unit.name, {})[_unit.dimension] = _unit

# where a difference is asked for by name, an absolute unit stands for its step
DIFFERENCES: dict[str, Unit] = {
    name: Unit(name, "temperature difference", step)
    for name, step in (
        ("K", Fraction(1)),
        ("degC", Fraction(1)),
        ("delta_degC", Fraction(1)),
        ("degF", DEGF_K),
        ("delta_degF", DEGF_K),
    )
}


def exact(value: Real) -> Fraction:
    """A number as a fraction; a float stands for the shortest decimal that names it (0.1 is a tenth).

    raises  OutOfRange for infinity and what is not a number
    """
    if isinstance(value, float):
        if not math.isfinite(value):
            raise OutOfRange(f"{value} is not a finite number.")
        return Fraction(repr(value))
    return Fraction(value)


def lean(value: Real) -> Fraction | int:
    """The same as `exact`, as an int where it is whole: sums and quotients come out the same, and sooner."""
    if type(value) is int:
        return value
    number = value if type(value) is Fraction else exact(value)
    return number.numerator if number.denominator == 1 else number


def whole(value: Real) -> int:
    """A measured value as the whole number that is kept, half away from zero.

    check   2.5 gives 3, -2.5 gives -3
    """
    rest = exact(value)
    size = math.floor(abs(rest) + Fraction(1, 2))
    return size if rest >= 0 else -size


def within(value: Real, low: Real, high: Real, what: str) -> Fraction:
    """`value` as a fraction if it lies in low..high, both ends allowed.

    raises  OutOfRange with value and range otherwise
    """
    number = exact(value)
    if not exact(low) <= number <= exact(high):
        raise OutOfRange(f"{what} is {float(number):g}; it may be {float(low):g} to {float(high):g}.")
    return number


def unit(name: str, dimension: str) -> Unit:
    """The unit of this name in this dimension.

    raises  UnknownUnit, DimensionMismatch
    """
    found = UNITS.get(name)
    if found is None:
        raise UnknownUnit(f"{name!r} is no unit that is known here.")
    if dimension not in found:
        raise DimensionMismatch(f"{name or 'a plain number'} is no unit of {dimension}.")
    return found[dimension]


def to_base(value: Real, of: Unit) -> Fraction:
    """`value` of a unit in the base unit of its dimension."""
    return (exact(value) + of.shift) * of.factor


def from_base(value: Real, to: Unit) -> Fraction:
    """A base value in a unit of its dimension."""
    return exact(value) / to.factor - to.shift


def common_units(source: str, target: str, *, is_difference: bool = False) -> tuple[Unit, Unit]:
    """Both units in the dimension that they share; absolute before difference, as K is both.

    raises  UnknownUnit, DimensionMismatch
    """
    for name in (source, target):
        if name not in UNITS:
            raise UnknownUnit(f"{name!r} is no unit that is known here.")
    if is_difference:
        if source in DIFFERENCES and target in DIFFERENCES:
            return DIFFERENCES[source], DIFFERENCES[target]
        raise DimensionMismatch(f"{source} and {target} are not both temperature differences.")
    shared = sorted(UNITS[source].keys() & UNITS[target].keys())
    if not shared:
        raise DimensionMismatch(f"{source or 'a plain number'} cannot be converted to {target or 'a plain number'}.")
    return UNITS[source][shared[0]], UNITS[target][shared[0]]


def convert(value: Real, source: str, target: str, *, is_difference: bool = False) -> Fraction:
    """`value` of unit `source` in unit `target`, exact.

    is_difference   both are temperature differences; degC then means a step of 1 K, degF of 5/9 K
    returns         fraction
    raises          UnknownUnit, DimensionMismatch, OutOfRange below absolute zero
    source          NIST SP 811
    check           1 qt = 0.946352946 L; 104 degF = 40 degC
    """
    one, other = common_units(source, target, is_difference=is_difference)
    base = to_base(value, one)
    if one.dimension == "temperature" and base < 0:
        raise OutOfRange(f"{float(value):g} {source} is below absolute zero.")
    return from_base(base, other)


def level_window_status(temperature: Real, low: Real, high: Real) -> str:
    """Where a temperature stands to the window in which the level may be set; both edges belong to it.

    temperature, low, high   in one unit of any kind
    returns                  below, inside, above
    raises                   OutOfRange if low is not under high
    check                    40, 40, 45 is inside; 39.999 is below
    """
    value, bottom, top = exact(temperature), exact(low), exact(high)
    if bottom >= top:
        raise OutOfRange(f"The window's low end {float(bottom):g} must be under its high end {float(top):g}.")
    return "below" if value < bottom else "above" if value > top else "inside"


# What is kept, in the units that people read, and back


def ml_to_qt(volume_ml: Real) -> Fraction:
    """US liquid quarts of a volume in mL."""
    return convert(volume_ml, "mL", "qt")


def qt_to_ml(volume_qt: Real) -> int:
    """Whole mL of a volume in US liquid quarts."""
    return whole(convert(volume_qt, "qt", "mL"))


def ml_to_l(volume_ml: Real) -> Fraction:
    """Liters of a volume in mL."""
    return convert(volume_ml, "mL", "L")


def mdegc_to_f(temperature_mdegc: Real) -> Fraction:
    """°F of a temperature in thousandths of a °C."""
    return convert(exact(temperature_mdegc) / 1_000, "degC", "degF")


def f_to_mdegc(temperature_f: Real) -> int:
    """Whole thousandths of a °C of a temperature in °F."""
    return whole(convert(temperature_f, "degF", "degC") * 1_000)


def km_to_mi(distance_km: Real) -> Fraction:
    """Miles of a distance in km."""
    return convert(distance_km, "km", "mi")


def mi_to_km(distance_mi: Real) -> Fraction:
    """Kilometers of a distance in miles."""
    return convert(distance_mi, "mi", "km")


def nm_to_lbf_ft(torque_nm: Real) -> Fraction:
    """Pound-force feet of a torque in N·m."""
    return convert(torque_nm, "N.m", "lbf.ft")


def lbf_ft_to_nm(torque_lbf_ft: Real) -> Fraction:
    """N·m of a torque in pound-force feet."""
    return convert(torque_lbf_ft, "lbf.ft", "N.m")


def g_to_lb(mass_g: Real) -> Fraction:
    """Pounds of a mass in g."""
    return convert(mass_g, "g", "lb")
