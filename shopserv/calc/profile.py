"""How hot the fluid runs: from shares of use with their sump temperatures, or from bins of a temperature log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.errors import OutOfRange, SharesDoNotSumToOne, UnknownChoice
from shopserv.calc.intervals import CLOSE_TO_ONE
from shopserv.calc.measures import Real, exact, within

KINDS = ("city", "highway", "hill", "towing")
# what the sump runs at in each kind of use, in °C; to be replaced by what was read on the vehicle
ASSUMED_C = {"city": 85, "highway": 79, "hill": 95, "towing": 108}
COLDEST_C, HOTTEST_C = -45, 180

Bin = tuple[Fraction, Fraction]  # share of the time, °C


@dataclass(frozen=True, slots=True)
class Load:
    """A kind of use: its share of the driving time (0 to 1) and the temperature of the sump in °C."""

    kind: str
    share: Fraction
    celsius: Fraction


def loads(shares: Sequence[tuple[str, Real, Real]]) -> tuple[Load, ...]:
    """A load profile, checked.

    shares   (kind, share of the driving time, °C of the sump)
    raises   UnknownChoice for a kind that is none of KINDS or stands twice, OutOfRange for a share outside 0 to 1 or a
             temperature outside -45 to 180 °C, SharesDoNotSumToOne
    source   temperatures: common practice, no source
    """
    found: list[Load] = []
    for kind, share, celsius in shares:
        if kind not in KINDS or any(kind == one.kind for one in found):
            raise UnknownChoice(f"{kind!r} is not a kind of use of its own; there are {', '.join(KINDS)}.")
        part = within(share, 0, 1, f"The share of {kind}")
        found.append(Load(kind, part, _sump(celsius)))
    whole = sum((one.share for one in found), Fraction(0))
    if abs(whole - 1) > CLOSE_TO_ONE:
        raise SharesDoNotSumToOne(f"The shares of use sum to {float(100 * whole):g} %; they must sum to 100 %.")
    return tuple(found)


def bins_of(profile: Sequence[Load]) -> tuple[Bin, ...]:
    """The temperature shares of a load profile; what takes no time is left out."""
    return tuple((one.share, one.celsius) for one in profile if one.share)


def with_share(bins: Sequence[tuple[Real, Real]], share: Real, celsius: Real) -> tuple[Bin, ...]:
    """Bins in which `share` of the time is spent at `celsius`, the rest as before.

    bins     (share, °C) that sum to 1; none at `celsius`
    share    0 to 1
    raises   OutOfRange
    check    all at 80 °C, a tenth at 108 °C: nine tenths at 80, one at 108
    """
    part, hot = within(share, 0, 1, "The share of the time"), _sump(celsius)
    rest = [((1 - part) * exact(one), exact(at)) for one, at in bins]
    return tuple(row for row in [*rest, (part, hot)] if row[0])


def with_towing(profile: Sequence[Load], share: Real) -> tuple[Load, ...]:
    """The profile with another share of towing; the others keep their proportions among themselves.

    share    0 to 1
    raises   OutOfRange, also where nothing but towing is known and some other use would have to take its time
    check    0.7 city, 0.2 highway, 0.1 towing; towing 0.4: 0.4667, 0.1333, 0.4
    """
    part = within(share, 0, 1, "The share of towing")
    rest = sum((one.share for one in profile if one.kind != "towing"), Fraction(0))
    if not rest and part != 1:
        raise OutOfRange("All of the time is towing; what else it is used for is not known.")
    found = [
        Load(one.kind, one.share * (1 - part) / rest if rest else Fraction(0), one.celsius)
        for one in profile
        if one.kind != "towing"
    ]
    hot = next((one.celsius for one in profile if one.kind == "towing"), Fraction(ASSUMED_C["towing"]))
    return (*found, Load("towing", part, hot))


def hotter(bins: Sequence[tuple[Real, Real]], air_c: Real, times: Real) -> tuple[Bin, ...]:
    """The bins with the rise of the sump over the air taken `times`; below the air nothing moves.

    times    0 or more
    raises   OutOfRange
    check    80 °C in air of 20 °C, 1.2 times: 92 °C
    """
    factor, air = exact(times), exact(air_c)
    if factor < 0:
        raise OutOfRange(f"A rise of {float(factor):g} times is below zero.")
    return tuple((exact(share), _rise(exact(at), air, factor)) for share, at in bins)


def _rise(at: Fraction, air: Fraction, factor: Fraction) -> Fraction:
    return air + factor * (at - air) if at > air else at


def _sump(celsius: Real) -> Fraction:
    return within(celsius, COLDEST_C, HOTTEST_C, "The temperature of the sump in °C")
