"""What is reckoned at the bench: how sure a level is, whether the fluid balances, when to start the engine, the flow.

Every answer carries its `working`: inputs with units and where they come from, the formula in words, the steps, what
was assumed and the version of the calculation.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from shopserv.calc import errors, oil, working
from shopserv.calc.measures import Real, exact
from shopserv.calc.working import From

Given = tuple[str, Any, str, str]  # words, value, unit, where it comes from
PROVENANCE = {
    "unit sheet": From.UNIT_SHEET,
    "fluid product": From.PRODUCT,
    "read": From.READ,
    "instrument": From.INSTRUMENT,
    "common practice, no source": From.ASSUMED,
    "house rules": From.HOUSE_RULES,
    "the shop's own figure": From.HOUSE_RULES,
}


@dataclass(frozen=True, slots=True)
class Part:
    """One error that makes a band.

    ml      what it alone makes
    share   of the sum of squares: 0 to 1
    """

    what: str
    words: str
    ml: float
    share: float = 0.0


def parts_of(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The parts that make anything, with their shares, largest first."""
    total = math.fsum(part.ml**2 for part in parts)
    found = [Part(part.what, part.words, part.ml, part.ml**2 / total) for part in parts if part.ml > 0]
    return tuple(sorted(found, key=lambda part: -part.ml))


@dataclass(frozen=True, slots=True)
class Item:
    """One share of a level's error.

    what   the number that has to be read again to lessen it: temperature, tilt fore-aft, tilt side, level sign
    """

    what: str
    words: str
    ml: float


@dataclass(frozen=True, slots=True)
class LevelBudget:
    """How far a level may be off.

    root_sum_square_ml   of all items
    limit_ml             half the band of the sheet; none: the sheet gives no band
    passes               twice the root sum within the limit; none: cannot be said
    missing              what the sheet does not give, in words
    """

    items: tuple[Item, ...]
    root_sum_square_ml: float
    limit_ml: float | None
    passes: bool | None
    missing: tuple[str, ...]
    verdict: str
    working: dict[str, Any] = field(default_factory=dict)

    def riskiest(self, count: int = 2) -> tuple[str, ...]:
        """The numbers with the largest shares, largest first; each is named once."""
        shares: dict[str, float] = {}
        for item in self.items:
            shares[item.what] = shares.get(item.what, 0.0) + item.ml**2
        return tuple(sorted(shares, key=lambda what: -shares[what])[:count])


@dataclass(frozen=True, slots=True)
class Axis:
    """The tilt along one axis, in degrees, and the way from the level point to the middle in mm; none: not known."""

    words: str
    tilt_deg: Real
    offset_mm: Real | None


def level_budget(
    *,
    fill_ml: Real | None,
    density_15: Real,
    temperature_c: Real,
    temperature_error_k: Real,
    axes: Sequence[Axis],
    tilt_error_deg: Real,
    area_cm2: Real | None,
    reading: tuple[str, Real],
    band_ml: Real | None,
    converter_ml: Real = 0,
    sources: Mapping[str, str] | None = None,
) -> LevelBudget:
    """The error budget of a level that was set at `temperature_c` on a vehicle tilted so far.

    fill_ml               of all fluid; none: not known, then the temperature has no share
    density_15            kg/m³ at 15 °C
    temperature_error_k   stated error of the thermometer; tilt_error_deg that of the level tool, counted on each axis
    area_cm2              free surface in the sump; none: not known, then the tilt has no share
    reading               words and mL of the sign itself: drip, mark on the dipstick
    converter_ml          what the converter may hold back, where the sheet says so
    band_ml               from the low to the high mark; none: not known
    sources               where the inputs come from, by their names here
    raises                OutOfRange
    source                common practice, no source: root of the sum of squares, twice it within half the band;
                          temperature by calc.oil.level_error_temperature, tilt by calc.oil.level_error_tilt
    check                 7.4 L of 850 kg/m³, 0.5 K, 0.2° over 240 mm, 0.1° over 60 mm, 780 cm², tool 0.1°, drip 40 mL:
                          2.8, 65.3, 8.2, 32.7, 8.2, 40.0; root sum 84.1 mL, within 300 mL
    """
    items, missing = [], []
    if fill_ml is None:
        missing.append("total fill")
    else:
        hot = exact(temperature_c) + exact(temperature_error_k)
        ml = abs(oil.level_error_temperature(fill_ml, density_15, temperature_c, hot))
        items.append(Item("temperature", f"thermometer {_g(temperature_error_k)} K", ml))
    for axis in axes:
        if area_cm2 is None or axis.offset_mm is None:
            missing.append(f"level point or fluid surface, {axis.words}")
            continue
        for who, tilt in (("vehicle on the locks", axis.tilt_deg), ("level tool", tilt_error_deg)):
            ml = abs(oil.level_error_tilt(axis.offset_mm, exact(area_cm2) * 100, tilt))
            words = f"{who} {_g(tilt)}° {axis.words}, {_g(axis.offset_mm)} mm"
            items.append(Item(f"tilt {axis.words}", words, ml))
    items.append(Item("level sign", reading[0], float(reading[1])))
    if converter_ml:
        items.append(Item("level sign", "fluid held back in the converter", float(converter_ml)))
    root = math.sqrt(math.fsum(item.ml**2 for item in items))
    limit = None if band_ml is None else float(exact(band_ml) / 2)
    if band_ml is None:
        missing.append("low mark to high mark")
    passes = None if limit is None or area_cm2 is None else 2 * root <= limit
    where = sources or {}
    inputs: list[Given] = [
        ("total fill", fill_ml, "mL", where.get("fill_ml", "unit sheet")),
        ("density at 15 °C", density_15, "kg/m³", where.get("density_15", "fluid product")),
        ("fluid temperature", temperature_c, "°C", where.get("temperature_c", "read")),
        ("stated error of the thermometer", temperature_error_k, "K", where.get("temperature_error_k", "instrument")),
        *((f"tilt {axis.words}", axis.tilt_deg, "°", where.get("tilt", "measured")) for axis in axes),
        ("stated error of the level tool", tilt_error_deg, "°", where.get("tilt_error_deg", "instrument")),
        ("fluid surface in the sump", area_cm2, "cm²", where.get("area_cm2", "unit sheet")),
        (reading[0], reading[1], "mL", where.get("reading", "common practice, no source")),
        ("low mark to high mark", band_ml, "mL", where.get("band_ml", "unit sheet")),
    ]
    formula = "root of the sum of squares of the items; twice that must stay within half the way from mark to mark"
    steps = [(item.words, item.ml, "mL") for item in items] + [("root of the sum of squares", root, "mL")]
    return LevelBudget(
        items=tuple(items),
        root_sum_square_ml=root,
        limit_ml=limit,
        passes=passes,
        missing=tuple(missing),
        verdict=_budget_words(root, limit, passes, missing),
        working=worked(formula, inputs, steps, [f"not known: {what}" for what in missing]),
    )


def _budget_words(root: float, limit: float | None, passes: bool | None, missing: Sequence[str]) -> str:
    if passes is None or limit is None:
        return f"cannot be said: not known is {', '.join(missing)}"
    holds = "within" if passes else "more than"
    return f"twice {root:.0f} mL is {holds} the {limit:.0f} mL from the middle of the marks to the edge"


@dataclass(frozen=True, slots=True)
class CoolDown:
    """When the fluid will be where; minutes count from the second reading, 0 where it is there already.

    start_engine_in_min   none: the air is too warm for the fluid to cool so far
    """

    time_constant_min: float
    window_opens_in_min: float | None
    window_closes_in_min: float | None
    start_engine_at_c: float
    start_engine_in_min: float | None
    verdict: str
    working: dict[str, Any] = field(default_factory=dict)


def cool_down(
    *,
    first: tuple[Real, Real],
    second: tuple[Real, Real],
    ambient_c: Real,
    window_c: tuple[Real, Real],
    idle_rise_k: Real,
) -> CoolDown:
    """The cool-down clock: when the fluid is in the window, and when to start the engine for the check.

    first, second   (minutes, °C) of two readings
    idle_rise_k     by how much the fluid warms from starting the engine to the check: the shop's own figure
    raises          DateOrder, OutOfRange, NotCooling of calc.oil.cool_down_time
    source          Newton's law of cooling; "start at low edge less idle rise" is common practice, no source
    check           78 and 70 °C nine minutes apart in 18 °C, 40 to 45 °C, 4 K: constant 62.89 min, window after 41.2
                    to 54.1 min, start at 36.0 °C after 66.7 min
    """
    low, high = exact(window_c[0]), exact(window_c[1])
    start = low - exact(idle_rise_k)

    def until(target: Real) -> float | None:
        try:
            return oil.cool_down_time(first, second, ambient_c, target)
        except errors.Unreachable:
            return None

    opens, closes, start_in = until(high), until(low), until(start)
    fall = (exact(first[1]) - exact(ambient_c)) / (exact(second[1]) - exact(ambient_c))
    constant = float(exact(second[0]) - exact(first[0])) / math.log(float(fall))
    if start_in is None:
        verdict = f"the air is too warm to wait for {_g(start)} °C"
    elif start_in == 0:
        verdict = f"start the engine now: the fluid is at or below {_g(start)} °C"
    else:
        verdict = f"start the engine at {_g(start)} °C, in {start_in:.0f} min"
    inputs: list[Given] = [
        ("first reading", f"{_g(first[1])} °C at {_g(first[0])} min", "", "read"),
        ("second reading", f"{_g(second[1])} °C at {_g(second[0])} min", "", "read"),
        ("air around", ambient_c, "°C", "read"),
        ("window", f"{_g(low)} to {_g(high)}", "°C", "unit sheet"),
        ("idle rise", idle_rise_k, "K", "the shop's own figure"),
    ]
    steps = [("time constant", constant, "min")]
    steps += [
        (words, minutes, "min")
        for words, minutes in (("high edge in", opens), ("low edge in", closes), ("start in", start_in))
        if minutes is not None
    ]
    formula = "T = Ta + (T0 - Ta) exp(-t/tau), tau from the two readings; start the engine at the low edge - idle rise"
    taken = ["the air around the unit keeps its temperature"]
    return CoolDown(constant, opens, closes, float(start), start_in, verdict, worked(formula, inputs, steps, taken))


@dataclass(frozen=True, slots=True)
class FlowProof:
    """How much the cooler line gives.

    flows          at least the sheet's minimum; none: the sheet gives none
    runs_on_l      what still comes until the engine stands: the least stop margin
    margin_holds   the stop margin is at least that
    """

    l_per_min: float
    flows: bool | None
    runs_on_l: float
    margin_holds: bool
    verdict: str
    working: dict[str, Any] = field(default_factory=dict)


def flow_proof(
    *,
    mass_kg: Real,
    seconds: Real,
    density_15: Real,
    at_c: Real,
    minimum_l_min: Real | None,
    seconds_to_stop: Real,
    stop_margin_l: Real,
) -> FlowProof:
    """What the first seconds into the bucket say of the flow.

    mass_kg          net, of `seconds` above 0
    density_15       of what comes out, kg/m³ at 15 °C
    minimum_l_min    of the unit sheet; none: not known
    raises           OutOfRange
    source           liters = mass / density there; margin = flow x time to stop: common practice, no source
    check            0.516 kg in 15 s at 60 °C, 862 kg/m³: 2.476 L/min; 5 s to stop: 0.206 L, within 0.3 L
    """
    if exact(seconds) <= 0 or exact(seconds_to_stop) < 0:
        raise errors.OutOfRange(f"{_g(seconds)} s to weigh and {_g(seconds_to_stop)} s to stop: both must be above 0.")
    liters = oil.weighed_volume(mass_kg, density_15, at_c)
    flow = liters * 60 / float(seconds)
    runs_on = flow * float(seconds_to_stop) / 60
    flows = None if minimum_l_min is None else flow >= float(minimum_l_min)
    holds = runs_on <= float(stop_margin_l)
    inputs: list[Given] = [
        ("weighed", mass_kg, "kg", "scale"),
        ("in", seconds, "s", "clock"),
        ("density at 15 °C of what comes out", density_15, "kg/m³", "common practice, no source"),
        ("fluid temperature", at_c, "°C", "read"),
        ("least cooler flow", minimum_l_min, "L/min", "unit sheet"),
        ("time to stop", seconds_to_stop, "s", "common practice, no source"),
        ("stop margin", stop_margin_l, "L", "house rules"),
    ]
    steps = [("liters", liters, "L"), ("flow", flow, "L/min"), ("runs on", runs_on, "L")]
    formula = "liters = mass / density at the temperature; flow = liters x 60 / seconds; runs on = flow x time to stop"
    missing = ["not known: least cooler flow of the unit sheet"] if minimum_l_min is None else []
    return FlowProof(
        flow, flows, runs_on, holds, _flow_words(flow, flows, runs_on, holds), worked(formula, inputs, steps, missing)
    )


def _flow_words(flow: float, flows: bool | None, runs_on: float, holds: bool) -> str:
    words = f"{flow:.2f} L a minute"
    if flows is False:
        return f"{words}: less than the sheet asks; thermostat shut or line blocked, no pumped stage"
    if flows is None:
        words += ", the sheet gives no minimum"
    margin = "within the stop margin" if holds else "more than the stop margin: stop earlier"
    return f"{words}; {runs_on:.2f} L run on until the engine stands, {margin}"


def worked(
    formula: str,
    inputs: Sequence[Given | working.Given],
    steps: Sequence[tuple[str, float, str] | working.Step],
    taken: Sequence[str],
    **more: Any,
) -> dict[str, Any]:
    """The working behind a figure as plain values, in the form of calc.working.

    inputs   as calc.working.Given, or in short (words, value, unit, source)
    steps    as calc.working.Step, or in short (words, value, unit)
    more     what else calc.working.Working takes: figure, value, unit, low, high, formulas, sources, changes
    """
    return working.Working(
        **{"figure": "", "value": None, "unit": "", **more},
        formula=formula,
        given=tuple(each if isinstance(each, working.Given) else _given(*each) for each in inputs),
        steps=tuple(each if isinstance(each, working.Step) else _step(*each) for each in steps),
        assumptions=tuple(taken),
    ).as_dict()


def _given(words: str, value: Any, unit: str, source: str) -> working.Given:
    return working.Given("", words, _plain(value), unit, PROVENANCE.get(source, From.MEASURED), source)


def _step(words: str, value: float, unit: str) -> working.Step:
    return working.Step(words, "", round(value, 3), unit)


def _plain(value: Any) -> str:
    if value is None:
        return "not known"
    return value if isinstance(value, str) else _g(value)


def _g(value: Real) -> str:
    return f"{float(value):g}"
