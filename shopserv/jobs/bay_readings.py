"""What is read in the bay: its base unit, the keys that step it, and the words that show it. No tables."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc import measures
from shopserv.common.errors import Refusal

# what -> kind; the base unit of each kind is that of BASE
WHATS = {
    "out_ml": "volume",
    "in_ml": "volume",
    "left_ml": "volume",
    "out_g": "mass",
    "in_g": "mass",
    "left_g": "mass",
    "flow_g": "mass",
    "package_g": "mass",  # a full package, gross: it checks the scale, and counts nothing in or out
    "temp_mdegc": "temperature",
    "ambient_mdegc": "temperature",
    "tilt_fore_aft": "angle",
    "tilt_side": "angle",
    "dwell_s": "time",
    "odometer": "odometer",
    "engine_stop": "choice",
}
BASE = {
    "volume": "mL",
    "mass": "g",
    "temperature": "thousandths of a °C",
    "angle": "tenths of a degree",
    "time": "s",
    "odometer": "the unit of the instrument",
    "choice": "number of the answer",
}
AMOUNTS = ("out_ml", "in_ml", "left_ml", "out_g", "in_g", "left_g")
HOTTEST_MDEGC = 150_000  # of fluid; its volume is not known above that
EVER_READ = {  # beyond these nobody ever reads anything in a bay; common practice, no source
    "temp_mdegc": (-40_000, HOTTEST_MDEGC, "a fluid that runs warm reads about 80 °C (176 °F)"),
    "ambient_mdegc": (-40_000, 55_000, "the air of a bay reads about 20 °C (68 °F)"),
}
AIR_DRAWN = "Air may have been drawn: engine off, look into hose and bucket for air, and at the level."
ENGINE_STOPS = ("", "remote switch", "second person")


@dataclass(frozen=True, slots=True)
class Keys:
    """A unit that is stepped by keys.

    exact   what one of it is, as an exact base value
    words   of a figure in it
    """

    kind: str
    exact: Callable[[int], Fraction]
    back: Callable[[int], Fraction]
    words: Callable[[int], str]


def _tenths(unit: str) -> Callable[[int], str]:
    return lambda value: f"{'-' if value < 0 else ''}{abs(value) // 10}.{abs(value) % 10}{unit}"


def _hundredths(unit: str) -> Callable[[int], str]:
    return lambda value: f"{Decimal(value).scaleb(-2):.2f}{unit}"


def _thousandths(unit: str) -> Callable[[int], str]:
    return lambda value: f"{Decimal(value).scaleb(-3):.3f}{unit}"


def _whole(unit: str) -> Callable[[int], str]:
    return lambda value: f"{value:,}{unit}"


def _plain(kind: str, factor: Fraction | int, words: Callable[[int], str]) -> Keys:
    return Keys(kind, lambda value: value * Fraction(factor), lambda base: base / Fraction(factor), words)


KEYS: dict[str, Keys] = {
    "0.1 qt": _plain("volume", measures.convert(Fraction(1, 10), "qt", "mL"), _tenths(" qt")),
    "0.1 L": _plain("volume", 100, _tenths(" L")),
    "mL": _plain("volume", 1, _whole(" mL")),
    "g": _plain("mass", 1, _whole(" g")),
    "0.1 °F": Keys(
        "temperature",
        lambda value: measures.convert(Fraction(value, 10), "degF", "degC") * 1000,
        lambda base: Fraction(measures.mdegc_to_f(base)) * 10,
        _tenths(" °F"),
    ),
    "°F": Keys(
        "temperature",
        lambda value: measures.convert(value, "degF", "degC") * 1000,
        lambda base: measures.mdegc_to_f(base),
        _whole(" °F"),
    ),
    "0.001 kg": _plain("mass", 1, _thousandths(" kg")),
    "0.01 lb": _plain("mass", measures.convert(Fraction(1, 100), "lb", "g"), _hundredths(" lb")),
    "°C": _plain("temperature", 1000, _whole(" °C")),
    "0.1 °C": _plain("temperature", 100, _tenths(" °C")),
    "0.1°": _plain("angle", 1, _tenths("°")),
    "s": _plain("time", 1, _whole(" s")),
    "mi": _plain("odometer", 1, _whole(" mi")),
    "km": _plain("odometer", 1, _whole(" km")),
    "choice": _plain("choice", 1, lambda value: ENGINE_STOPS[value] if 0 < value < len(ENGINE_STOPS) else str(value)),
}


def to_base(what: str, value: int | None, unit: str) -> int:
    """What was pressed as a whole number of the base unit of `what`.

    raises  Refusal bay.what, bay.unit, bay.needs for a press without a figure
    """
    if what not in WHATS:
        raise Refusal(f"Nothing called “{what}” is read in the bay.", code="bay.what", field="what")
    if value is None:
        raise Refusal("The press carries no reading. Read it, then press.", code="bay.needs", field=what)
    keys = KEYS.get(unit)
    if keys is None or keys.kind != WHATS[what]:
        raise Refusal(f"“{unit}” is no unit of {WHATS[what]}.", code="bay.unit", field=what)
    return measures.whole(keys.exact(value))


def typed(value: int, unit: str) -> str:
    """A figure in a unit of the keys, as it is shown: 3.1 qt."""
    return KEYS[unit].words(value)


def shown(what: str, base: int, units_first: str = "us", odometer_unit: str = "mi") -> str:
    """A base value in the unit that the place shows first: 31 tenths of a quart are 3.1 qt."""
    unit = unit_for(WHATS[what], units_first, odometer_unit)
    return typed(measures.whole(KEYS[unit].back(base)), unit)


def unit_for(kind: str, units_first: str, odometer_unit: str = "mi") -> str:
    """The unit of the keys at a place."""
    us = {"volume": "0.1 qt", "temperature": "0.1 °F"}
    metric = {"volume": "0.1 L", "temperature": "0.1 °C"}
    same = {"mass": "g", "angle": "0.1°", "time": "s", "odometer": odometer_unit, "choice": "choice"}
    return {**same, **(us if units_first == "us" else metric)}[kind]


def need(
    what: str,
    words: str,
    *,
    units_first: str,
    start: int | None = None,
    low: int | None = None,
    high: int | None = None,
    step: int = 1,
    odometer_unit: str = "mi",
    expects: tuple[int, int] | None = None,
) -> dict[str, Any]:
    """A reading that a step needs, for plus and minus keys.

    start              where the keys begin, of a planned amount what is expected; nobody has read it
    expects            base units between which the reading makes sense, where that is no limit: beyond them a figure
                       typed without unit is asked for it
    start, low, high   base units; none: the keys begin at 0, no limit
    returns            {what, unit, low, high, start, step, words, low_base, high_base}: figures of `unit`, the limits
                       drawn inward to a whole key, and in base units as they are checked
    """
    unit = unit_for(WHATS[what], units_first, odometer_unit)
    back = KEYS[unit].back
    return {
        "what": what,
        "unit": unit,
        "low": None if low is None else math.ceil(back(low)),
        "high": None if high is None else math.floor(back(high)),
        "start": 0 if start is None else measures.whole(back(start)),
        "step": step,
        "words": words,
        "low_base": low,
        "high_base": high,
        **({} if expects is None else {"expects": list(expects)}),
    }


def is_planned(row: dict[str, Any]) -> bool:
    """Whether a need is an amount that the course names: it may be taken as shown, by an act of its own.

    What an instrument says (temperature, tilt, weight of the proof, odometer, dwell) is never expected to the figure.
    """
    return row["what"] in AMOUNTS and row["start"] > 0


def outside(row: dict[str, Any], base: int, units_first: str) -> str:
    """What is wrong with a reading against its limits, with both values; empty: it is inside.

    The limit is as sharp as its key: 3.1 qt is inside a limit that shows as 3.1 qt.
    """
    low, high, back = row["low_base"], row["high_base"], KEYS[row["unit"]].back
    value = measures.whole(back(base))
    if is_beyond_stop(row, base):
        return f"{row['words']}: {typed(value, row['unit'])} was read, never beyond {row['stop']}. {AIR_DRAWN}"
    below = low is not None and base < low and value < measures.whole(back(low))
    is_stopped = "stop_base" in row  # to the milliliter, not to the key
    above = not is_stopped and high is not None and base > high and value > measures.whole(back(high))
    if not below and not above:
        return ""
    bounds = " to ".join(typed(measures.whole(back(edge)), row["unit"]) for edge in (low, high) if edge is not None)
    if low is None or high is None:
        bounds = f"{'at most' if low is None else 'at least'} {bounds}"
    return f"{row['words']}: {typed(value, row['unit'])} was read, the sheet says {bounds}."


def is_beyond_stop(row: dict[str, Any], base: int) -> bool:
    """Whether more came out than the stop of a pumped stage lets."""
    return base > row.get("stop_base", base)


def more_than_holds(row: dict[str, Any], base: int, units_first: str) -> str:
    """Why so much cannot have come out of the unit, with the unit to look at; empty: it can."""
    holds = row.get("holds_base")
    if holds is None or base <= holds:
        return ""
    read, most = (volume(ml, units_first) for ml in (base, holds))
    return f"{row['words']}: {read} was read, and the unit holds {most}. {_in_other_unit(row, base, holds)}"


def more_than_sump(row: dict[str, Any], base: int, units_first: str) -> str:
    """What is asked of more than the sump holds, with both readings; empty: it is not more."""
    sump = row.get("sump_base")
    if sump is None or base <= sump:
        return ""
    return f" The sump holds {volume(sump, units_first)}. {_in_other_unit(row, base, sump)}"


def _in_other_unit(row: dict[str, Any], base: int, most: int) -> str:
    """The same figure read in the other unit, as a question where it fits."""
    figure = measures.whole(KEYS[row["unit"]].back(base))
    is_us = "qt" in row["unit"]
    ml = measures.whole(KEYS["0.1 L" if is_us else "0.1 qt"].exact(figure))
    said = volume(ml, "metric" if is_us else "us")
    if ml <= most:
        return f"Was it {said}?"
    return f"Read as the other unit it is {said}, which does not fit either: look at the scale of the vessel."


def never_read(row: dict[str, Any], base: int, units_first: str) -> str:
    """Why a reading without limits cannot be: its value, between what it lies, what a right one looks like; empty: it
    can.
    """
    low, high, usual = EVER_READ.get(row["what"], (None, None, ""))
    if low is None or high is None or low <= base <= high:
        return ""
    value, lowest, highest = (temperature(one, units_first) for one in (base, low, high))
    return (
        f"{row['words']}: {value} was read. It lies between {lowest} and {highest}; {usual}. "
        "Look at the unit of the instrument and whether its probe is in the fluid."
        if row["what"] == "temp_mdegc"
        else f"{row['words']}: {value} was read. It lies between {lowest} and {highest}; {usual}."
    )


def volume(ml: int, units_first: str) -> str:
    """A volume in both units, the place's first: 3.1 qt (2.9 L)."""
    qt, liters = f"{_one(measures.ml_to_qt(ml))} qt", f"{_one(Fraction(ml, 1000))} L"
    return f"{qt} ({liters})" if units_first == "us" else f"{liters} ({qt})"


def temperature(mdegc: int, units_first: str) -> str:
    """A temperature in both units, the place's first: 104 °F (40 °C)."""
    f, c = f"{float(measures.mdegc_to_f(mdegc)):.0f} °F", f"{round(mdegc / 1000, 1):g} °C"
    return f"{f} ({c})" if units_first == "us" else f"{c} ({f})"


def load(kg: int, units_first: str) -> str:
    """What a lift may carry in both units, the place's first, pounds not rounded up: 9,920 lb (4,500 kg)."""
    lb, metric = f"{math.floor(measures.g_to_lb(kg * 1000) / 10) * 10:,} lb", f"{kg:,} kg"
    return f"{lb} ({metric})" if units_first == "us" else f"{metric} ({lb})"


def torque(mnm: int, units_first: str) -> str:
    """A torque in both units, the place's first: 26 lb·ft (35 N·m)."""
    lb, nm = f"{float(measures.nm_to_lbf_ft(Fraction(mnm, 1000))):.0f} lb·ft", f"{mnm / 1000:g} N·m"
    return f"{lb} ({nm})" if units_first == "us" else f"{nm} ({lb})"


def _one(value: Fraction) -> str:
    return f"{measures.whole(value * 10) / 10:.1f}"
