"""Whether two temperatures of one fluid can belong together: what the minutes, the engine and the instruments allow."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from shopserv.calc import errors, measures, oil
from shopserv.calc.cooling import COVERAGE, SCATTER_K, CoolClock
from shopserv.calc.measures import Real, exact, within

FASTEST_MIN = 20  # time constant of a small unit in moving air; common practice, no source
PRESSED_MIN = 1  # by which a reading may be older than its press; common practice, no source
COLDEST_AIR_C = 0  # of a bay, where nobody read the air; common practice, no source
SHELF_C = 20  # new fluid as it stands on the shelf; common practice, no source
SOAK_K = 3  # from hot metal beside the sump with the engine off; common practice, no source
IDLE_W = 3_000  # heat of the converter while the engine idles in gear, at most; common practice, no source
LEAST_FILL_ML = 4_000  # where the fill is not known; common practice, no source
SPECIFIC_HEAT = 2_000  # J/(kg K) of oil at 55 °C: Incropera et al., table A.5, engine oil (memory)
DENSITY = Fraction(85, 100)  # kg/L


@dataclass(frozen=True, slots=True)
class Read:
    """One temperature as it was read.

    minutes      of its press, from any beginning
    error_k      stated error of its instrument
    figure       as it was typed, without unit: 152.0
    unit         °F or °C
    instrument   which; empty: not named
    """

    minutes: Real
    celsius: Real
    error_k: Real
    figure: str
    unit: str
    instrument: str = ""


@dataclass(frozen=True, slots=True)
class Between:
    """What lies between two readings.

    air_c          none: not read
    constant_min   shortest time constant that the fluid was seen to cool by; none: not known
    is_running     the engine may have run
    poured_ml      cold fluid that went in
    circuit_ml     fluid of the cooler circuit, as cold as the air, that the engine brings in
    fill_ml        of all fluid; none: not known
    """

    air_c: Real | None = None
    constant_min: Real | None = None
    is_running: bool = False
    poured_ml: Real = 0
    circuit_ml: Real = 0
    fill_ml: Real | None = None


@dataclass(frozen=True, slots=True)
class Jump:
    """What the later reading could be, and how far beyond it lies.

    low_c, high_c   between these it fits
    falls_k         of the way down: by the air, by cold fluid; rises_k of the way up, below 0 where more cold fluid
                    went in than the engine makes up for
    doubt_k         twice the error of both readings, either way
    off_k           how far it lies outside: below zero when too cold, above when too warm, 0: it fits
    minutes         counted, with a minute for each press
    likely          what may have happened, likeliest first; empty: it fits
    """

    low_c: float
    high_c: float
    falls_k: float
    rises_k: float
    doubt_k: float
    off_k: float
    minutes: float
    likely: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether both readings can be right."""
        return self.off_k == 0


def shortest_constant(clock: CoolClock) -> float:
    """The early edge of the band of a cooling curve's time constant, in minutes; nothing cools in less than none."""
    return max(0.0, clock.time_constant_min - COVERAGE * clock.time_constant_error)


def cooled(celsius: Real, air_c: Real, minutes: Real, constant_min: Real) -> float:
    """A temperature in °C after so many minutes in air of another, warmer or colder.

    returns   that of the air where the time constant is 0
    raises    OutOfRange for minutes or a constant below 0
    source    Newton's law of cooling, lumped capacitance: Incropera et al., Fundamentals of Heat and Mass Transfer,
              6th edition, 5.1, equation 5.6
    check     its example 5.1: 25 °C in gas of 200 °C, constant 1.0 s: 199 °C after 5.2 s
    """
    if exact(minutes) < 0 or exact(constant_min) < 0:
        raise errors.OutOfRange(
            f"{float(minutes):g} min and a constant of {float(constant_min):g} min: neither is below 0."
        )
    if constant_min == 0:
        return float(air_c)
    return float(air_c) + (float(celsius) - float(air_c)) * math.exp(-float(minutes) / float(constant_min))


def jump(first: Read, then: Read, between: Between) -> Jump:
    """Whether a reading can follow another.

    raises   OutOfRange, DateOrder where the later was pressed first
    source   falls: calc.jump.cooled, and the mean of cold and warm fluid by volume; rises: heat of the converter in the
             fluid alone, the metal left out, from the mean with all that was poured, nothing let out; the doubt: root
             of the squares, twice (JCGM 100:2008, 5.1.2 and 6.3.3). An instrument named at both readings errs alike in
             both. Sizes common practice, no source
    check    66.7 °C, then 42.8 °C in the same minute, 1 K each, air 20 °C, engine running, 0.6 of 7.4 L in the
             cooler circuit: down to 57.6 °C
    """
    low, high, falls, rises, doubt, minutes = _bounds(first, then, between)
    read = float(within(then.celsius, oil.TEMPERATURE_LOW_C, oil.TEMPERATURE_HIGH_C, "The fluid temperature in °C"))
    off = min(0.0, read - low) or max(0.0, read - high)
    likely = () if off == 0 else tuple(_likely(first, then, between, off))
    return Jump(low, high, falls, rises, doubt, off, minutes, likely)


def _bounds(first: Read, then: Read, between: Between) -> tuple[float, float, float, float, float, float]:
    """(low, high, falls, rises, doubt, minutes) of what can follow a reading."""
    passed = exact(then.minutes) - exact(first.minutes)
    if passed < 0:
        raise errors.DateOrder("The later temperature must be read after the one before.")
    minutes = float(passed + PRESSED_MIN)
    warm = float(within(first.celsius, oil.TEMPERATURE_LOW_C, oil.TEMPERATURE_HIGH_C, "The fluid temperature in °C"))
    falls, rises, doubt = _falls(warm, minutes, between), _rises(warm, minutes, between), _doubt(first, then)
    return warm - falls - doubt, warm + rises + doubt, falls, rises, doubt, minutes


def _doubt(first: Read, then: Read) -> float:
    """Twice the error of both readings; an instrument named at both errs alike in both."""
    for one in (first, then):
        if exact(one.error_k) < 0:
            raise errors.OutOfRange(f"The error of a thermometer is {float(one.error_k):g} K; it must not be negative.")
    is_same = first.instrument != "" and first.instrument == then.instrument
    stated = () if is_same else (float(first.error_k), float(then.error_k))
    return COVERAGE * math.hypot(SCATTER_K, SCATTER_K, *stated)


def _falls(warm: float, minutes: float, between: Between) -> float:
    """By how much the fluid falls at most, in K: by the cold fluid that went in, then by the air."""
    air = float(COLDEST_AIR_C if between.air_c is None else between.air_c)
    cold = float(exact(between.poured_ml) + (exact(between.circuit_ml) if between.is_running else 0))
    fill = float(between.fill_ml or 0)
    share = min(1.0, cold / fill) if fill else float(cold > 0)
    mixed = warm - share * max(0.0, warm - min(air, SHELF_C))
    constant = float(FASTEST_MIN if between.constant_min is None else between.constant_min)
    if between.is_running:  # air is drawn past, and the cooler cools
        constant = min(FASTEST_MIN, constant)
    return warm - min(mixed, cooled(mixed, air, minutes, constant))


def _rises(warm: float, minutes: float, between: Between) -> float:
    """By how much the fluid rises at most, in K: by the converter; else by the metal beside it and warmer air."""
    if between.is_running:
        kilograms = float(between.fill_ml or LEAST_FILL_ML) / 1000 * DENSITY
        return 60 * IDLE_W * minutes / (kilograms * SPECIFIC_HEAT) - _chilled(warm, between)
    air = warm if between.air_c is None else float(between.air_c)
    return SOAK_K + max(0.0, cooled(warm, air, minutes, FASTEST_MIN) - warm) - _chilled(warm, between)


def _chilled(warm: float, between: Between) -> float:
    """By how much what was poured cools the fluid at least, in K: mixed with all of it, nothing let out before."""
    fill, poured = float(between.fill_ml or 0), float(exact(between.poured_ml))
    cold = max(SHELF_C, SHELF_C if between.air_c is None else float(between.air_c))
    return max(0.0, warm - cold) * poured / (fill + poured) if fill else 0.0


def _likely(first: Read, then: Read, between: Between, off: float) -> Iterator[str]:
    """What may have happened; a slip of typing only where it would explain the jump."""
    for slip in _SLIPS:
        if any(_fit(first, one, between) for one in _slipped(then, slip)):
            yield f"{slip}, now"
        if any(_fit(one, then, between) for one in _slipped(first, slip)):
            yield f"{slip}, before"
    if first.instrument != then.instrument:
        yield "another instrument"
    if off > 0:
        yield "driven, not only idled" if between.is_running else "the engine ran"
    yield "typed later than read"


def _fit(first: Read, then: Read, between: Between) -> bool:
    low, high, *_more = _bounds(first, then, between)
    return low <= float(then.celsius) <= high


_DIGITS = "0123456789"
_SLIPS = ("digits exchanged", "the other unit", "one digit wrong")


def _slipped(one: Read, slip: str) -> Iterator[Read]:
    """What a reading would be without a slip of typing; none that no fluid has."""
    for figure, unit in _figures(one, slip):
        celsius = measures.convert(Fraction(figure), "degF", "degC") if unit == "°F" else Fraction(figure)
        if oil.TEMPERATURE_LOW_C <= celsius <= oil.TEMPERATURE_HIGH_C:
            yield replace(one, celsius=celsius)


def _figures(one: Read, slip: str) -> Iterator[tuple[str, str]]:
    """(figure, unit) without the slip; the digits before the point alone are meant."""
    whole, point, rest = one.figure.partition(".")
    if slip == "the other unit":
        yield one.figure, "°C" if one.unit == "°F" else "°F"
        return
    for at, digit in enumerate(whole):
        if slip == "one digit wrong" and digit.isdigit():
            yield from ((f"{whole[:at]}{other}{whole[at + 1 :]}{point}{rest}", one.unit) for other in _DIGITS)
        elif slip == "digits exchanged" and whole[at : at + 2].isdigit():
            yield f"{whole[:at]}{whole[at : at + 2][::-1]}{whole[at + 2 :]}{point}{rest}", one.unit
