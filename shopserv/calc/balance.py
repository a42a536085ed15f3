"""Whether what went in and what came out agree, brought to one temperature: by weight, by volume, or by both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from shopserv.calc import errors, oil
from shopserv.calc.bench import Given, worked
from shopserv.calc.measures import Real, exact

DENSITY_DOUBT = 5  # kg/m³ of drained fluid, whose make is rarely known; common practice, no source
JUG_SHARE = 0.02  # of a volume read off a jug or bucket; common practice, no source
JUG_DOUBT_K = 5  # of its temperature; common practice, no source
OVERDUE = 2  # a scale whose check is overdue is trusted half as far; common practice, no source


@dataclass(frozen=True, slots=True)
class Amount:
    """One vessel that was weighed or read.

    way         in, out, or left (opened and not poured)
    mass_g      net; none: read as a volume
    volume_ml   none where it was weighed
    at_c        temperature of a volume when it was read; none: that of the check
    """

    way: str
    words: str
    mass_g: Real | None = None
    volume_ml: Real | None = None
    at_c: Real | None = None


@dataclass(frozen=True, slots=True)
class Balance:
    """In less out, in mL at the temperature of the check.

    way         by weight, by volume, or partly by weight
    is_inside   within twice the band
    cause       the likeliest, in words; empty where it closes
    """

    in_ml: float
    out_ml: float
    difference_ml: float
    band_ml: float
    is_inside: bool
    way: str
    verdict: str
    cause: str
    working: dict[str, Any] = field(default_factory=dict)


def balance(
    amounts: Sequence[Amount],
    *,
    at_c: Real,
    density_in: Real,
    density_out: Real,
    scale_error_g: Real,
    is_scale_overdue: bool = False,
    known: Sequence[tuple[str, Real]] = (),
) -> Balance:
    """What went in less what came out, with its band.

    at_c            temperature of the check, to which everything is brought
    density_in      of the new fluid, density_out of what came out, kg/m³ at 15 °C
    scale_error_g   stated error, counted once for each vessel weighed
    known           (cause in words, mL as it would show) of what may have been forgotten: cooler, a package
    raises          UnknownChoice, OutOfRange, MissingInput for a vessel neither weighed nor read
    source          calc.oil.weighed_volume, oil_volume_at. The band is common practice, no source: root of the sum of
                    squares of scale error x root(vessels) / density of the new fluid at 15 °C, 5 kg/m³ of doubt in the
                    density of what came out, and for volumes 2 % a vessel and 5 K; inside: within twice the band
    check           8.4887 kg of 850 in, 8.5580 kg of 862 out, 42 °C, 9 vessels, 10 g: 10.1911 - 10.1284 = 0.0627 L,
                    band 0.0685 L
    """
    sums, weighed, jugs, steps = {"in": 0.0, "out": 0.0, "left": 0.0}, 0, 0.0, []
    warm = {"in": 0.0, "out": 0.0}
    for amount in amounts:
        if amount.way not in sums:
            raise errors.UnknownChoice(f"{amount.way!r}: an amount goes in, comes out or is left.")
        density = density_out if amount.way == "out" else density_in
        ml = _at(amount, at_c, density)
        sums[amount.way] += ml
        steps.append((f"{amount.way}: {amount.words}", ml, "mL"))
        if amount.mass_g is not None:
            weighed += 1
        else:
            jugs += (JUG_SHARE * ml) ** 2
            warm["out" if amount.way == "out" else "in"] += ml
    put_in = sums["in"] - sums["left"]
    error = float(scale_error_g) * (OVERDUE if is_scale_overdue else 1)
    squares = [error**2 * weighed / (float(density_in) / 1000) ** 2, jugs]
    squares.append((DENSITY_DOUBT / float(density_out) * (sums["out"] - warm["out"])) ** 2)
    squares += [
        _warmth(ml, at_c, density) ** 2 for ml, density in ((warm["in"], density_in), (warm["out"], density_out))
    ]
    band = math.sqrt(math.fsum(squares))
    difference = put_in - sums["out"]
    inside = bool(amounts) and abs(difference) <= 2 * band
    cause = "" if inside or not amounts else likeliest(difference, band, known)
    way = "by weight" if weighed == len(amounts) else "partly by weight" if weighed else "by volume"
    steps += [("in", put_in, "mL"), ("out", sums["out"], "mL"), ("in less out", difference, "mL"), ("band", band, "mL")]
    overdue = " (its check is overdue: counted twice)" if is_scale_overdue else ""
    inputs: list[Given] = [
        ("temperature of the check", at_c, "°C", "read"),
        ("density of the new fluid at 15 °C", density_in, "kg/m³", "fluid product"),
        ("density at 15 °C of what came out", density_out, "kg/m³", "common practice, no source"),
        ("scale error a vessel", scale_error_g, "g", f"instrument{overdue}"),
        *((amount.words, _typed(amount), "", amount.way) for amount in amounts),
    ]
    taken = ["the unit stood at its level before" if amounts else "nothing was entered"]
    if way != "by weight":
        taken.append("a volume off a jug is good to 2 %, its temperature to 5 K")
    formula = "in - left over - out, each as volume at the temperature of the check: mass / density there"
    return Balance(
        in_ml=put_in,
        out_ml=sums["out"],
        difference_ml=difference,
        band_ml=band,
        is_inside=inside,
        way=way,
        verdict=_words(difference, band, inside, way, cause),
        cause=cause,
        working=worked(formula, inputs, steps, taken),
    )


def likeliest(difference_ml: float, band_ml: float, known: Sequence[tuple[str, Real]]) -> str:
    """The cause whose own amount is nearest to what is missing, if it comes within twice the band; else in general.

    known    (words, mL): above 0 where it lets more go in than come out
    source   common practice, no source
    """
    near = [(abs(difference_ml - float(ml)), words) for words, ml in known]
    best = min(near, default=(math.inf, ""))
    if best[0] <= 2 * band_ml:
        return best[1]
    if difference_ml > 0:
        return "spilled, a vessel that was not entered, or the unit was low before"
    return "a package that was not entered, or the unit was too full before"


def _at(amount: Amount, at_c: Real, density: Real) -> float:
    if amount.mass_g is not None:
        return oil.weighed_volume(exact(amount.mass_g) / 1000, density, at_c) * 1000
    if amount.volume_ml is None:
        raise errors.MissingInput(f"{amount.words}: neither weighed nor read.")
    return oil.oil_volume_at(amount.volume_ml, at_c if amount.at_c is None else amount.at_c, at_c, density)


def _warmth(ml: float, at_c: Real, density: Real) -> float:
    return abs(oil.level_error_temperature(ml, density, at_c, exact(at_c) + JUG_DOUBT_K))


def _typed(amount: Amount) -> str:
    if amount.mass_g is not None:
        return f"{float(amount.mass_g):g} g"
    assert amount.volume_ml is not None
    return f"{float(amount.volume_ml):g} mL"


def _words(difference: float, band: float, inside: bool, way: str, cause: str) -> str:
    if not inside and not cause:
        return "cannot be said: nothing was entered"
    more = "more went in than came out" if difference > 0 else "more came out than went in"
    if inside:
        return f"closes {way}: {abs(difference):.0f} mL {more}, within twice its band of {band:.0f} mL"
    return f"does not close {way}: {abs(difference):.0f} mL {more}, band {band:.0f} mL; likeliest: {cause}"
