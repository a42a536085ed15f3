"""What is reckoned at the bench: how sure a level is, and the flow of the cooler line.

Every answer carries its `working`: inputs with units and where they come from, the formula in words, the steps, what
was assumed and the version of the calculation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from shopserv.calc import errors, oil, working
from shopserv.calc.measures import Real, exact
from shopserv.calc.working import From

DENSITY_DOUBT = 5  # kg/m³ of drained fluid, whose make is rarely known; common practice, no source
CLOCK_DOUBT_S = 0.5  # of a span stopped by hand; common practice, no source
STOP_DOUBT_S = 1  # of the time until the engine stands; common practice, no source

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

    what    the number that has to be read again to lessen it: temperature, tilt fore-aft, tilt side, level sign
    share   of the sum of squares: 0 to 1
    """

    what: str
    words: str
    ml: float
    share: float = 0.0


@dataclass(frozen=True, slots=True)
class LevelBudget:
    """How far a level may be off.

    root_sum_square_ml   of all items
    limit_ml             half the band of the sheet; none: the sheet gives no band
    passes               twice the root sum within the limit; none: cannot be said
    missing              what the sheet does not give, in words
    parts                the items by the number that lessens them, largest first
    advice               which one is largest, and what reading it again without error would leave
    """

    items: tuple[Item, ...]
    root_sum_square_ml: float
    limit_ml: float | None
    passes: bool | None
    missing: tuple[str, ...]
    verdict: str
    parts: tuple[Part, ...] = ()
    advice: str = ""
    working: dict[str, Any] = field(default_factory=dict)

    def riskiest(self, count: int = 2) -> tuple[str, ...]:
        """The numbers with the largest shares, largest first; each is named once."""
        return tuple(part.what for part in self.parts[:count])


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
    squares = math.fsum(item.ml**2 for item in items)
    root = math.sqrt(squares)
    items = [replace(item, share=item.ml**2 / squares if squares else 0.0) for item in items]
    parts = _by_number(items)
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
    steps = [working.Step(item.words, _HOW[item.what.split()[0]], item.ml, "mL") for item in items]
    steps.append(working.Step("root of the sum of squares", r"u = \sqrt{\sum u_i^2}", root, "mL"))
    steps += [working.Step(f"share of {part.what}", r"u_i^2 / u^2", 100 * part.share, "%") for part in parts]
    return LevelBudget(
        items=tuple(items),
        root_sum_square_ml=root,
        limit_ml=limit,
        passes=passes,
        missing=tuple(missing),
        verdict=_budget_words(root, limit, passes, missing),
        parts=parts,
        advice=_advice(root, parts),
        working=worked(
            formula,
            inputs,
            steps,
            [f"not known: {what}" for what in missing],
            figure="how far the level may be off",
            value=root,
            unit="mL",
            high=2 * root,
            formulas=BUDGET_FORMULAS,
            sources=BUDGET_SOURCES,
            changes=tuple(
                working.Change(
                    part.words,
                    _without(root, part),
                    math.sqrt(squares + 3 * part.ml**2),
                    root - _without(root, part),
                    "mL",
                    "its error gone, or twice as large",
                )
                for part in parts
            ),
        ),
    )


def _by_number(items: Sequence[Item]) -> tuple[Part, ...]:
    found: dict[str, float] = {}
    for item in items:
        found[item.what] = math.hypot(found.get(item.what, 0.0), item.ml)
    return parts_of([Part(what, what, ml) for what, ml in found.items()])


def _without(root: float, part: Part) -> float:
    return root * math.sqrt(max(0.0, 1 - part.share))


def _advice(root: float, parts: Sequence[Part]) -> str:
    if not parts:
        return ""
    first = parts[0]
    left = _without(root, first)
    share = f"{100 * first.share:.0f} % of the squares"
    return f"largest: {first.what}, {share}; without its error {left:.0f} mL would be left"


_HOW = {
    "temperature": r"V\,(F(T) / F(T + e) - 1)",
    "tilt": r"A\,L \tan\alpha",
    "level": "as the sign itself allows",
}
BUDGET_FORMULAS = (
    r"u = \sqrt{\sum u_i^2}",
    r"2u \le \tfrac12 (V_{high} - V_{low})",
    r"u_{tilt} = A\,L \tan\alpha",
    r"u_T = V\,(F(T) / F(T + e) - 1)",
)
BUDGET_SOURCES = (
    "root of the sum of squares: JCGM 100:2008 (GUM), 5.1.2; twice it: 6.3.3",
    "temperature: API MPMS 11.1, lubricating oils; tilt: geometry of a plane surface",
    "twice within half the band, and the error of the sign itself: common practice, no source",
)


def _budget_words(root: float, limit: float | None, passes: bool | None, missing: Sequence[str]) -> str:
    if passes is None:
        return f"cannot be said: not known is {', '.join(missing)}"
    assert limit is not None
    holds = "within" if passes else "more than"
    return f"twice {root:.0f} mL is {holds} the {limit:.0f} mL from the middle of the marks to the edge"


@dataclass(frozen=True, slots=True)
class FlowProof:
    """How much the cooler line gives.

    flows           at least the sheet's minimum; none: the sheet gives none
    runs_on_l       what still comes until the engine stands: the least stop margin
    margin_holds    the stop margin is at least margin_most_l: what may still come at most
    band_l_min      standard uncertainty of the flow; parts are its shares, in L/min, largest first
    is_clear        twice the band lies on one side of the minimum; none: the sheet gives none
    margin_most_l   what may still come at most: flow and time to stop both twice their doubt up
    """

    l_per_min: float
    flows: bool | None
    runs_on_l: float
    margin_holds: bool
    verdict: str
    band_l_min: float
    parts: tuple[Part, ...]
    is_clear: bool | None
    margin_most_l: float
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
    scale_error_g: Real = 20,
    temperature_error_k: Real = 2,
) -> FlowProof:
    """What the first seconds into the bucket say of the flow.

    mass_kg          net, of `seconds` above 0
    density_15       of what comes out, kg/m³ at 15 °C
    minimum_l_min    of the unit sheet; none: not known
    scale_error_g    counted for full and empty bucket
    raises           OutOfRange
    source           liters = mass / density there; runs on = flow x time to stop: common practice, no source. Band:
                     root of the squares of scale, half a second of the clock, 5 kg/m³ of density, thermometer (JCGM
                     100:2008, 5.1.2; the sizes common practice, no source); one second of doubt in the time to stop
    check            0.516 kg in 15 s at 60 °C, 862 kg/m³: 2.476 L/min; 5 s to stop: 0.206 L; by a scale of 20 g the
                     band is 0.160 L/min, so at most 0.326 L, which may be more than 0.3 L
    """
    if exact(seconds) <= 0 or exact(seconds_to_stop) < 0:
        raise errors.OutOfRange(f"{_g(seconds)} s to weigh and {_g(seconds_to_stop)} s to stop: both must be above 0.")
    liters = oil.weighed_volume(mass_kg, density_15, at_c)
    flow = liters * 60 / float(seconds)
    runs_on = flow * float(seconds_to_stop) / 60
    parts = parts_of(_flow_parts(flow, liters, seconds, density_15, at_c, scale_error_g, temperature_error_k))
    band = math.hypot(*(part.ml for part in parts))
    flows = None if minimum_l_min is None else flow >= float(minimum_l_min)
    is_clear = None if minimum_l_min is None else abs(flow - float(minimum_l_min)) > 2 * band
    most = (flow + 2 * band) * (float(seconds_to_stop) + 2 * STOP_DOUBT_S) / 60
    holds = most <= float(stop_margin_l)
    inputs: list[Given] = [
        ("weighed", mass_kg, "kg", "scale"),
        ("in", seconds, "s", "clock"),
        ("density at 15 °C of what comes out", density_15, "kg/m³", "common practice, no source"),
        ("fluid temperature", at_c, "°C", "read"),
        ("least cooler flow", minimum_l_min, "L/min", "unit sheet"),
        ("time to stop", seconds_to_stop, "s", "common practice, no source"),
        ("stop margin", stop_margin_l, "L", "house rules"),
        ("scale error a weighing", scale_error_g, "g", "instrument"),
        ("stated error of the thermometer", temperature_error_k, "K", "instrument"),
    ]
    steps = [
        working.Step("liters", r"V = m / \rho(T)", liters, "L"),
        working.Step("flow", r"q = 60\,V / t", flow, "L/min"),
        working.Step("runs on", r"q\,t_{stop} / 60", runs_on, "L"),
        *(working.Step(f"flow, by {part.words}", "u_i", part.ml, "L/min") for part in parts),
        working.Step("band of the flow", r"u = \sqrt{\sum u_i^2}", band, "L/min"),
        working.Step("runs on at most", r"(q + 2u)(t_{stop} + 2\,s) / 60", most, "L"),
    ]
    formula = "liters = mass / density at the temperature; flow = liters x 60 / seconds; runs on = flow x time to stop"
    missing = ["not known: least cooler flow of the unit sheet"] if minimum_l_min is None else []
    return FlowProof(
        flow,
        flows,
        runs_on,
        holds,
        _flow_words(flow, flows, (runs_on, most, float(stop_margin_l)), is_clear),
        band,
        parts,
        is_clear,
        most,
        worked(
            formula,
            inputs,
            steps,
            missing,
            figure="cooler flow",
            value=flow,
            unit="L/min",
            low=flow - 2 * band,
            high=flow + 2 * band,
            formulas=(r"q = 60\,m / (\rho(T)\,t)", r"u^2 = \sum u_i^2"),
            sources=(
                "density by temperature: API MPMS 11.1, lubricating oils; band: JCGM 100:2008 (GUM), 5.1.2",
                "half a second, 5 kg/m³, a second of doubt to stop: common practice, no source",
            ),
            changes=tuple(
                working.Change(part.words, flow - part.ml, flow + part.ml, part.ml, "L/min", "one band either way")
                for part in parts
            ),
        ),
    )


def _flow_parts(
    flow: float, liters: float, seconds: Real, density: Real, at_c: Real, scale_g: Real, thermometer_k: Real
) -> list[Part]:
    for what, size in (("scale", scale_g), ("thermometer", thermometer_k)):
        if exact(size) < 0:
            raise errors.OutOfRange(f"The error of the {what} is {_g(size)}; it must not be negative.")
    scale = oil.weighed_volume(exact(scale_g) / 1000, density, at_c) * math.sqrt(2)
    warmth = abs(oil.level_error_temperature(liters, density, at_c, exact(at_c) + exact(thermometer_k)))
    return [
        Part("scale", "scale, full and empty", scale * 60 / float(seconds)),
        Part("clock", "clock", flow * CLOCK_DOUBT_S / float(seconds)),
        Part("density", "density of what comes out", flow * DENSITY_DOUBT / float(density)),
        Part("temperature", "temperature", warmth * 60 / float(seconds)),
    ]


def flow_said(found: FlowProof, stop_margin_l: Real, say: Callable[[float], str]) -> str:
    """The verdict of a flow proof in the volumes of a place.

    say   liters in words
    """
    runs = found.runs_on_l, found.margin_most_l, float(stop_margin_l)
    return _flow_words(found.l_per_min, found.flows, runs, found.is_clear, say)


def _liters(liters: float) -> str:
    return f"{liters:.2f} L"


def _flow_words(
    flow: float,
    flows: bool | None,
    runs: tuple[float, float, float],
    is_clear: bool | None,
    say: Callable[[float], str] = _liters,
) -> str:
    runs_on, most, margin = runs
    words = f"{say(flow)} a minute"
    if flows is False:
        words += ": less than the sheet asks; thermostat shut or line blocked, no pumped stage"
        return words if is_clear else f"{words}; so near the minimum that weighing longer would tell"
    if flows is None:
        words += ", the sheet gives no minimum"
    elif not is_clear:
        words += ", so near the minimum of the sheet that weighing longer would tell"
    if most <= margin:
        held = f"within the stop margin of {say(margin)}"
    elif runs_on <= margin:
        held = f"which may be more than the stop margin of {say(margin)}: stop by the scale, a little early"
    else:
        held = f"more than the stop margin of {say(margin)}: stop earlier"
    return f"{words}; {say(runs_on)}, at most {say(most)}, run on until the engine stands, {held}"


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
