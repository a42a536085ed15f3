"""Oil by temperature, weight and tilt, and how long it takes to cool."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from shopserv.calc.errors import (
    DateOrder,
    NotCooling,
    OutOfRange,
    TareExceedsGross,
    UnknownChoice,
    Unreachable,
)
from shopserv.calc.measures import Real, convert, exact, within

DENSITY_LOW, DENSITY_HIGH = Fraction(8_009, 10), Fraction(11_635, 10)
TEMPERATURE_LOW_C, TEMPERATURE_HIGH_C = -50, 150
K1_PER_K, K1_PER_DEGF = Fraction(6_278, 10**4), Fraction(34_878, 10**5)


def oil_volume_correction(temperature_c: Real, density: Real = 850, base: str = "15 degC") -> float:
    """Volume at the base temperature of one volume measured at `temperature_c`.

    temperature_c   °C, -50 to 150
    density         kg/m³ at the base temperature, 800.9 to 1163.5
    base            15 degC or 60 degF
    returns         ratio without unit: 1 at the base, smaller when warm
    raises          OutOfRange outside either range, UnknownChoice for another base
    source          formula of API MPMS 11.1, lubricating oils: K0 = 0, K1 = 0.6278 (ranges from memory)
    check           850 kg/m³: 0.981437 at 40 °C, 0.951370 at 80 °C
    """
    rho = within(density, DENSITY_LOW, DENSITY_HIGH, "The density in kg/m³")
    temperature = within(temperature_c, TEMPERATURE_LOW_C, TEMPERATURE_HIGH_C, "The oil temperature in °C")
    if base == "15 degC":
        x = K1_PER_K / rho * (temperature - 15)
    elif base == "60 degF":
        x = K1_PER_DEGF / rho * (convert(temperature, "degC", "degF") - 60)
    else:
        raise UnknownChoice(f"The base is {base!r}; it may be 15 degC or 60 degF.")
    return math.exp(-float(x * (1 + Fraction(8, 10) * x)))


def oil_volume_at(volume: Real, from_c: Real, to_c: Real, density_15: Real = 850) -> float:
    """What a volume measured at `from_c` takes up at `to_c`.

    volume     any unit, 0 or more; the answer has the same
    from_c, to_c   °C, -50 to 150
    density_15 kg/m³ at 15 °C, 800.9 to 1163.5
    raises     OutOfRange
    source     see oil_volume_correction
    check      10 L of 850 kg/m³ at 20 °C are 10.472 L at 80 °C
    """
    ratio = oil_volume_correction(from_c, density_15) / oil_volume_correction(to_c, density_15)
    return float(_not_negative(volume, "The volume")) * ratio


def weighed_volume(mass_kg: Real, density_15: Real, temperature_c: Real) -> float:
    """The volume in liters that a weighed mass takes up at `temperature_c`; air buoyancy is ignored.

    mass_kg        kg, 0 or more
    density_15     kg/m³ at 15 °C, 800.9 to 1163.5
    temperature_c  °C, -50 to 150
    returns        liters
    raises         OutOfRange
    source         see oil_volume_correction
    check          8.5 kg of 850 kg/m³: 10 L at 15 °C, 10.5112 L at 80 °C
    """
    ratio = oil_volume_correction(temperature_c, density_15)
    return float(_not_negative(mass_kg, "The mass") * 1_000 / exact(density_15)) / ratio


def net_mass(weighings: Sequence[tuple[Real, Real]]) -> Fraction:
    """Sum of the net masses of weighed containers.

    weighings   list of (gross, tare), any one unit of mass
    raises      TareExceedsGross, OutOfRange for a negative mass
    """
    total = Fraction(0)
    for gross, tare in weighings:
        full, empty = _not_negative(gross, "The gross mass"), _not_negative(tare, "The tare")
        if empty > full:
            raise TareExceedsGross(f"The empty container weighs {float(empty):g}, the full one only {float(full):g}.")
        total += full - empty
    return total


def fluid_balance(
    removed: Sequence[tuple[Real, Real]],
    added: Sequence[tuple[Real, Real]],
    *,
    density_15_removed: Real,
    density_15_added: Real,
    temperature_c: Real,
) -> float:
    """What was added less what was removed, as volume at one temperature.

    removed, added   lists of (gross kg, tare kg); either may be empty
    returns          liters; negative: less went in than came out
    raises           TareExceedsGross, OutOfRange
    source           see oil_volume_correction
    check            5.40 + 2.25 kg of 862 kg/m³ out, 3.45 + 3.95 kg of 846 kg/m³ in, at 42 °C: -0.1268 L
    """
    return weighed_volume(net_mass(added), density_15_added, temperature_c) - weighed_volume(
        net_mass(removed), density_15_removed, temperature_c
    )


def level_error_temperature(volume: Real, density_15: Real, correct_c: Real, actual_c: Real) -> float:
    """What stands too high in the sump because the level is checked at `actual_c`.

    volume    of all fluid, any unit, 0 or more; the answer has the same
    returns   signed: positive when the fluid is too warm
    raises    OutOfRange
    source    see oil_volume_correction
    check     7.4 L of 850 kg/m³ at 50 instead of 40 °C: 56.8 mL
    """
    amount = _not_negative(volume, "The volume")
    ratio = oil_volume_correction(correct_c, density_15) / oil_volume_correction(actual_c, density_15)
    return float(amount) * (ratio - 1)


def level_error_tilt(offset_mm: Real, area_mm2: Real, tilt_deg: Real) -> float:
    """What stands too high at the check point because the vehicle is not level.

    offset_mm   from the check point to the center of the free surface, signed
    area_mm2    of the free surface, 0 or more
    tilt_deg    above -45, below 45
    returns     mL, signed
    raises      OutOfRange
    source      geometry of a plane surface
    check       240 mm, 78,000 mm² and 1°: 326.8 mL
    """
    tilt = exact(tilt_deg)
    if abs(tilt) >= 45:
        raise OutOfRange(f"The tilt is {float(tilt):g} degrees; it must be under 45 either way.")
    moment = exact(offset_mm) * _not_negative(area_mm2, "The free surface") / 1_000
    return float(moment) * math.tan(math.radians(float(tilt)))


def cool_down_time(first: tuple[Real, Real], second: tuple[Real, Real], ambient: Real, target: Real) -> float:
    """How long after the second reading the fluid reaches `target`, by Newton's law of cooling.

    first, second   (time, temperature), times in one unit, temperatures in one unit
    returns         in the unit of the times; 0 when the target is reached already
    raises          DateOrder, OutOfRange (a reading not above ambient), NotCooling, Unreachable, in this order
    source          Newton's law of cooling
    check           80 and 70 °C ten minutes apart in 20 °C: 38.018 min more to 45 °C
    """
    (t0, temperature_0), (t1, temperature_1) = map(exact, first), map(exact, second)
    air, goal = exact(ambient), exact(target)
    if t1 <= t0:
        raise DateOrder("The second temperature must be read after the first.")
    if temperature_0 <= air or temperature_1 <= air:
        raise OutOfRange("Both temperatures must be above that of the air.")
    if temperature_1 >= temperature_0:
        raise NotCooling("The second temperature is not below the first: the fluid is not cooling.")
    if goal >= temperature_1:
        return 0.0
    if goal <= air:
        raise Unreachable("The fluid cools no further than the air; the target must be above it.")
    steepness = math.log1p(float((temperature_0 - temperature_1) / (temperature_1 - air)))
    return float(t1 - t0) * math.log1p(float((temperature_1 - goal) / (goal - air))) / steepness


def _not_negative(value: Real, what: str) -> Fraction:
    number = exact(value)
    if number < 0:
        raise OutOfRange(f"{what} is {float(number):g}; it must not be negative.")
    return number
