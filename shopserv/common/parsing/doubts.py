"""A figure without its unit that makes sense only in another than the one beside the field: asked, never assumed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from shopserv.common import formats
from shopserv.common.parsing import numbers
from shopserv.common.parsing.amounts import quantity, temperature
from shopserv.common.parsing.numbers import FieldError

Span = tuple[int | None, int | None]  # base units; none: no limit at that end
VOLUME_UNITS = ("qt", "L")
TEMPERATURE_UNITS = {"degF": "°F", "degC": "°C"}


@dataclass(frozen=True, slots=True)
class UnitDoubt:
    """A figure that was typed without unit, and what it may mean.

    readings   (unit as it is answered, the figure in it and in the other system), that of the field first
    said       the question, with all readings
    """

    figure: str
    readings: tuple[tuple[str, str], ...]
    said: str

    @property
    def units(self) -> tuple[str, ...]:
        """What may be answered."""
        return tuple(unit for unit, _words in self.readings)


def doubt_of(
    typed: str, units: Sequence[str], read: Callable[[str], int], words: Callable[[int, str], str], expected: Span
) -> UnitDoubt | None:
    """Whether a figure is asked for its unit; none: a unit was typed, or it makes sense as it stands, or in no unit.

    units      of the field first, then the others
    read       base value of the figure with a unit behind it; raises FieldError where that is none
    words      of a base value and its unit: "7.4 qt (7.0 L)"
    expected   what makes sense
    """
    text = numbers.clean(typed)
    if not text or text[-1].isalpha() or text.endswith("°"):
        return None
    found = []
    for unit in units:
        try:
            found.append((unit, read(f"{text} {unit}")))
        except FieldError:
            continue
    makes_sense = [unit for unit, base in found if is_inside(base, expected)]
    if not makes_sense or units[0] in makes_sense:
        return None
    readings = tuple((unit, words(base, unit)) for unit, base in found)
    said = _("“%(typed)s”: in which unit? %(readings)s. Choose one below; nothing is kept before.")
    return UnitDoubt(text, readings, said % {"typed": text, "readings": _(", or ").join(one for _u, one in readings)})


def volume_doubt(typed: str, *, unit: str, expected: Span, sign: str = ".") -> UnitDoubt | None:
    """Whether a volume typed beside "qt" is one in liters, or the other way round."""
    return doubt_of(
        typed,
        _first(unit, VOLUME_UNITS),
        lambda text: quantity(text, sign=sign).ml,
        lambda ml, name: formats.volume(ml, "us" if name == "qt" else "metric"),
        expected,
    )


def temperature_doubt(typed: str, *, unit: str, expected: Span, sign: str = ".") -> UnitDoubt | None:
    """Whether a temperature typed beside "°F" is one in °C, or the other way round."""
    return doubt_of(
        typed,
        _first(TEMPERATURE_UNITS[unit], tuple(TEMPERATURE_UNITS.values())),
        lambda text: temperature(text, sign=sign),
        lambda mdegc, name: formats.temperature(mdegc, "us" if name == "°F" else "metric"),
        expected,
    )


def is_inside(base: int, expected: Span) -> bool:
    """Whether a base value makes sense; both ends belong to it."""
    low, high = expected
    return (low is None or base >= low) and (high is None or base <= high)


def _first(unit: str, units: tuple[str, ...]) -> tuple[str, ...]:
    return (unit, *(one for one in units if one != unit))
