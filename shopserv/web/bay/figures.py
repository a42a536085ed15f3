"""Figures of the bay as they are typed and stepped: from what stands in a field to a press, and back."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from shopserv.calc import measures
from shopserv.common import formats, parsing
from shopserv.common.parsing import FieldError, numbers
from shopserv.jobs.bay_readings import BASE, HOTTEST_MDEGC, KEYS, WHATS

PARTED = re.compile(r"0\.(0*1) ?(.+)")
WORDS = {  # as typed, in small letters -> as it stands in the units of the keys
    **dict.fromkeys(("qt", "qts", "quart", "quarts"), "qt"),
    **dict.fromkeys(("l", "liter", "liters"), "L"),
    "ml": "mL",
    **dict.fromkeys(("g", "gram", "grams"), "g"),
    **dict.fromkeys(("kg", "kilogram", "kilograms"), "kg"),
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), "lb"),
    **dict.fromkeys(("f", "°f", "° f"), "°F"),
    **dict.fromkeys(("c", "°c", "° c"), "°C"),
    **dict.fromkeys(("°", "deg", "degrees"), "°"),
    **dict.fromkeys(("s", "sec", "seconds"), "s"),
    **dict.fromkeys(("mi", "miles"), "mi"),
    "km": "km",
}
LARGEST = 9_999_999
OTHERS = {"volume": ("qt", "L"), "temperature": ("°F", "°C"), "mass": ("g", "kg", "lb")}
PLAUSIBLE = {  # what a bay ever reads, where the sheet sets no limits; common practice, no source
    "temp_mdegc": (10_000, HOTTEST_MDEGC),
    "ambient_mdegc": (2_000, 50_000),
    "flow_g": (50, 10_000),
    "package_g": (300, 250_000),
}
CODES = {"volume": "quantity"}  # how the codes of refusals begin, where a kind is called otherwise elsewhere


@dataclass(frozen=True, slots=True)
class Typed:
    """A figure of a unit of the keys: 31 of "0.1 qt" are 3.1 qt."""

    value: int
    unit: str


def parted(unit: str) -> tuple[int, str]:
    """How many of a key's unit make one of the unit that is read: ("0.1 qt") is (10, "qt")."""
    found = PARTED.fullmatch(unit)
    return (10 ** len(found[1]), found[2]) if found else (1, unit)


def plain(value: int, unit: str) -> str:
    """The figure as it stands in a field: 31 of "0.1 qt" is "3.1"."""
    places = len(str(parted(unit)[0])) - 1
    return f"{Decimal(value).scaleb(-places):.{places}f}"


def from_base(base: int, unit: str) -> int:
    """A base value in whole units of the keys, the nearest."""
    return measures.whole(KEYS[unit].back(base))


def typed_figure(typed: str, *, what: str, unit: str) -> Typed:
    """What was typed for a reading, in its own unit or in another of its kind that was typed with it.

    raises  FieldError quantity, temperature, odometer .missing, .format, .unit, .places, .ambiguous, .range
    """
    if WHATS[what] == "odometer":
        reading = parsing.odometer(typed, unit=unit)
        return Typed(reading.figure, reading.unit)
    kind = CODES.get(WHATS[what], WHATS[what])
    parts = numbers.split(typed, kind)
    if numbers.exponent_of(parts.figure) is not None:
        raise FieldError(f"{kind}.format", _("“%(typed)s”: type digits only.") % {"typed": numbers.clean(typed)})
    value = numbers.decimal(parts.figure, kind, places=3)
    own = parted(unit)[1]
    word = WORDS.get(parts.words.lower(), "") if parts.words else own
    known = [name for name, keys in KEYS.items() if keys.kind == WHATS[what] and parted(name)[1] == word]
    if not known:
        words = _("“%(unit)s” is no unit of this reading. It is read in %(own)s.")
        raise FieldError(f"{kind}.unit", words % {"unit": parts.words, "own": own or BASE[WHATS[what]]})
    return _whole(value, kind, sorted(known, key=lambda name: (name != unit, parted(name)[0])), parts.figure)


def unit_doubt(typed: str, row: Mapping[str, Any]) -> parsing.UnitDoubt | None:
    """Whether a reading without unit is asked for it: it makes sense only in another than the one beside the figure.

    row   of bay_readings.need; its limits say what makes sense, else what a bay ever reads
    """
    what, unit = row["what"], row["unit"]
    own, others = parted(unit)[1], OTHERS.get(WHATS[what], ())
    if own not in others:
        return None

    def base(text: str) -> int:
        read = typed_figure(text, what=what, unit=unit)
        return measures.whole(KEYS[read.unit].exact(read.value))

    return parsing.doubt_of(
        typed,
        (own, *(one for one in others if one != own)),
        base,
        lambda value, read: both_ways(what, value, read),
        expected_of(row),
    )


def expected_of(row: Mapping[str, Any]) -> tuple[int | None, int | None]:
    """What makes sense of a reading: between its limits as sharp as its key, else what a bay ever reads of the kind."""
    low, high = row.get("low_base"), row.get("high_base")
    if low is None or high is None:
        expects = row.get("expects")
        return (expects[0], expects[1]) if expects else PLAUSIBLE.get(row["what"], (None, None))
    half = measures.whole(abs(KEYS[row["unit"]].exact(1) - KEYS[row["unit"]].exact(0)) / 2)
    return low - half, high + half


def both_ways(what: str, base: int, unit: str) -> str:
    """A base value in the unit it may have been read in, and in the other: "7.4 L (7.8 qt)", "1.14 lb (517 g)"."""
    system = "us" if unit in ("qt", "°F", "lb") else "metric"
    if WHATS[what] == "volume":
        return formats.volume(base, system)
    if WHATS[what] == "temperature":
        return formats.temperature(base, system)
    if unit == "g":
        return f"{base:,} g"
    figure = formats.number(measures.g_to_lb(base), 2) if unit == "lb" else formats.trimmed(Fraction(base, 1000), 3)
    return f"{figure} {unit} ({base:,} g)"


def _whole(value: Decimal, kind: str, units: list[str], figure: str) -> Typed:
    for name in units:
        exact = Fraction(value) * parted(name)[0]
        if exact.denominator == 1:
            if abs(exact) > LARGEST:
                raise FieldError(f"{kind}.range", _("“%(typed)s” is too large to be read here.") % {"typed": figure})
            return Typed(int(exact), name)
    step = max(parted(name)[0] for name in units)
    words = _("“%(typed)s”: the figures here go by %(step)s, and it was not rounded. Type the nearest.")
    raise FieldError(f"{kind}.places", words % {"typed": figure, "step": plain(1, units[0]) if step > 1 else "1"})


def beside(what: str, base: int, unit: str) -> str:
    """The same reading in the unit of the other system, to stand beside it; "" where both read the same."""
    word = parted(unit)[1]
    if WHATS[what] == "volume":
        return formats.liters(base) if word == "qt" else formats.quarts(base)
    if WHATS[what] == "temperature":
        first, second = formats.temperature(base, "metric" if word == "°F" else "us").split(" (")
        return first if second else ""
    return ""


def steps_of(row: dict[str, Any]) -> tuple[int, ...]:
    """What the four keys add, in units of the keys: the step and ten times the step, down and up."""
    small = int(row.get("step") or 1)
    return (-10 * small, -small, small, 10 * small)


def key_words(step: int, unit: str) -> str:
    """What stands on a key: "−0.1", "+1"."""
    parts = parted(unit)[0]
    size = formats.trimmed(Fraction(abs(step), parts), 1)
    return f"{'−' if step < 0 else '+'}{size}"
