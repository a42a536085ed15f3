"""Whether what went in and what came out agree, brought to one temperature: by weight, by volume, or by both."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from shopserv.calc import errors, oil
from shopserv.calc.bench import DENSITY_DOUBT, Given, Part, parts_of, worked
from shopserv.calc.causes import Cause, Suspect, causes_of
from shopserv.calc.measures import Real, exact
from shopserv.calc.working import Change, Step

JUG_SHARE = 0.02  # of a volume read off a jug or bucket; common practice, no source
COVERAGE = 2  # about 95 %: JCGM 100:2008 (GUM), 6.3.3
JUG_DOUBT_K = 5  # of its temperature; common practice, no source
HOT_C = 65  # of fluid that runs out warm and is read at once; common practice, no source
GAIN = 0.02  # a scale may be off by so much and nobody notices; common practice, no source
OVERDUE = 2  # a scale whose check is overdue is trusted half as far; common practice, no source


_HOW = {False: r"V = m / \rho(T)", True: r"V = V_r\,F(T_r) / F(T)"}
SOURCES = (
    "volume by temperature: API MPMS 11.1, lubricating oils",
    "band: JCGM 100:2008 (GUM), 5.1.2 and 5.2.2; twice it: 6.3.3",
    "5 kg/m³, 2 % and 5 K: common practice, no source",
)


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

    way          by weight, by volume, or partly by weight
    is_inside    within twice the band
    cause        the likeliest, in words; empty where it closes
    parts        of the band, largest first
    causes       what may have happened, likeliest first; none where it closes
    by_gain_ml   what a scale 1 % off would put into the difference: it errs in and out alike
    """

    in_ml: float
    out_ml: float
    difference_ml: float
    band_ml: float
    is_inside: bool
    way: str
    verdict: str
    cause: str
    parts: tuple[Part, ...]
    causes: tuple[Cause, ...]
    by_gain_ml: float
    working: dict[str, Any] = field(default_factory=dict)


@dataclass(slots=True)
class _Sums:
    """What the vessels add up to; `weighed` counts them by sign, mL by in (less left) and out."""

    put_in: float = 0.0
    out: float = 0.0
    weighed: int = 0
    weighed_sign: int = 0
    vessels_out: int = 0
    moved: float = 0.0
    by_weight: float = 0.0
    weighed_in: float = 0.0
    weighed_out: float = 0.0
    jugs: float = 0.0
    warm_in: float = 0.0
    warm_out: float = 0.0
    unread_out: float = 0.0

    @property
    def weighed_share(self) -> float:
        """Of all that moved, by volume; 0 where nothing did."""
        return self.by_weight / self.moved if self.moved else 0.0

    @property
    def by_gain(self) -> float:
        """What a scale 1 % off would add."""
        return (self.weighed_in - self.weighed_out) / 100

    def take(self, amount: Amount, ml: float) -> None:
        """One vessel more."""
        sign = 1 if amount.way == "in" else -1
        self.moved += ml
        if amount.way == "out":
            self.out += ml
        else:
            self.put_in += sign * ml
        if amount.mass_g is not None:
            self.by_weight += ml
            self.weighed, self.weighed_sign = self.weighed + 1, self.weighed_sign + sign
            if amount.way == "out":
                self.vessels_out += 1
                self.weighed_out += ml
            else:
                self.weighed_in += sign * ml
            return
        self.jugs = math.hypot(self.jugs, JUG_SHARE * ml)
        if amount.way != "out":
            self.warm_in += ml
            return
        self.warm_out += ml
        if amount.at_c is None:
            self.unread_out += ml


def balance(
    amounts: Sequence[Amount],
    *,
    at_c: Real,
    density_in: Real,
    density_out: Real,
    scale_error_g: Real,
    is_scale_overdue: bool = False,
    known: Sequence[Suspect] = (),
    by_two_weighings: bool = False,
) -> Balance:
    """What went in less what came out, with its band, what makes the band, and what may have happened.

    at_c            temperature of the check, to which everything is brought
    density_in      of the new fluid, density_out of what came out, kg/m³ at 15 °C
    scale_error_g   stated error, of each vessel weighed by itself; where many more vessels were weighed on one side,
                    all the same way, as an offset of the scale would have it: the larger of the two
    by_two_weighings   a net weight is full less empty, each with the error of the scale, as volume at the temperature
                    of the check, and the words give twice the band; else one error a vessel at the density of 15 °C,
                    as the worked example reckons
    known           what may have been forgotten, as calc.causes takes it: (words, mL as it would show), or with a range
    raises          UnknownChoice, OutOfRange, MissingInput for a vessel neither weighed nor read
    source          calc.oil.weighed_volume, oil_volume_at; root of the sum of squares: JCGM 100:2008 (GUM), 5.1.2,
                    errors all the same way 5.2.2. The sizes are common practice, no source: 5 kg/m³ of doubt in the
                    density of what came out, and for volumes 2 % a vessel and 5 K; inside: within twice the band
    check           8.4887 kg of 850 in, 8.5580 kg of 862 out, 42 °C, 9 vessels, 10 g: 10.1911 - 10.1284 = 0.0627 L,
                    band 0.0685 L; by two weighings each 0.0776 L
    """
    sums, steps = _Sums(), []
    for amount in amounts:
        if amount.way not in ("in", "out", "left"):
            raise errors.UnknownChoice(f"{amount.way!r}: an amount goes in, comes out or is left.")
        ml = _at(amount, at_c, density_out if amount.way == "out" else density_in)
        sums.take(amount, ml)
        steps.append(Step(f"{amount.way}: {amount.words}", _HOW[amount.mass_g is None], ml, "mL"))
    error = float(scale_error_g) * (OVERDUE if is_scale_overdue else 1)
    parts = parts_of(_parts(sums, error, at_c, density_in, density_out, by_two_weighings))
    band = math.hypot(*(part.ml for part in parts))
    difference = sums.put_in - sums.out
    inside = bool(amounts) and abs(difference) <= COVERAGE * band
    way = "by weight" if sums.weighed == len(amounts) else "partly by weight" if sums.weighed else "by volume"
    found: tuple[Cause, ...] = ()
    if amounts and not inside:
        found = causes_of(difference, band, [*known, *_own_causes(sums, at_c, density_out)])
    cause = found[0].words if found else ""
    steps += [
        Step("in", r"V_{in} = \sum V_i - \sum V_{left}", sums.put_in, "mL"),
        Step("out", r"V_{out} = \sum V_j", sums.out, "mL"),
        Step("in less out", r"\Delta = V_{in} - V_{out}", difference, "mL"),
        *(Step(f"band, by {part.words}", "u_i", part.ml, "mL") for part in parts),
        Step("band", r"u = \sqrt{\sum u_i^2}", band, "mL"),
        Step("what a scale 1 % off would add", r"0.01\,(V_{in} - V_{out})", sums.by_gain, "mL"),
    ]
    overdue = " (its check is overdue: counted twice)" if is_scale_overdue else ""
    inputs: list[Given] = [
        ("temperature of the check", at_c, "°C", "read"),
        ("density of the new fluid at 15 °C", density_in, "kg/m³", "fluid product"),
        ("density at 15 °C of what came out", density_out, "kg/m³", "common practice, no source"),
        (
            "scale error, full and empty each" if by_two_weighings else "scale error a vessel",
            scale_error_g,
            "g",
            f"instrument{overdue}",
        ),
        *((amount.words, _typed(amount), "", amount.way) for amount in amounts),
    ]
    taken = ["the unit stood at its level before" if amounts else "nothing was entered"]
    if way != "by weight":
        taken.append("a volume off a jug is good to 2 %, its temperature to 5 K")
    formula = "in - left over - out, each as volume at the temperature of the check: mass / density there"
    return Balance(
        in_ml=sums.put_in,
        out_ml=sums.out,
        difference_ml=difference,
        band_ml=band,
        is_inside=inside,
        way=way,
        verdict=(
            _twice_words(difference, band, inside, cause, _way(way, sums))
            if by_two_weighings
            else _words(difference, band, inside, way, cause)
        ),
        cause=cause,
        parts=parts,
        causes=found,
        by_gain_ml=sums.by_gain,
        working=worked(
            formula,
            inputs,
            steps,
            taken,
            figure="in less out",
            value=difference,
            unit="mL",
            low=difference - COVERAGE * band,
            high=difference + COVERAGE * band,
            formulas=(r"\Delta = \sum V_{in} - \sum V_{left} - \sum V_{out}", r"V = m / \rho(T)", r"u^2 = \sum u_i^2"),
            sources=SOURCES,
            changes=_changes(difference, parts),
        )
        | {"causes": [asdict(one) for one in found]},
    )


def _parts(sums: _Sums, error_g: float, at_c: Real, density_in: Real, density_out: Real, by_two: bool) -> list[Part]:
    scale = (
        _by_two(sums, error_g, at_c, density_in, density_out) if by_two else _by_one(sums, error_g, float(density_in))
    )
    return [
        scale,
        Part("density", "density of what came out", DENSITY_DOUBT / float(density_out) * sums.weighed_out),
        Part("jugs", "volumes read off a jug", sums.jugs),
        Part("temperature in", "temperature of volumes put in", _warmth(sums.warm_in, at_c, density_in)),
        Part("temperature out", "temperature of volumes that came out", _warmth(sums.warm_out, at_c, density_out)),
    ]


def _by_one(sums: _Sums, error_g: float, density_in: float) -> Part:
    count, together = math.sqrt(sums.weighed), abs(sums.weighed_sign)
    how = "each by itself" if count >= together else "all the same way"
    return Part(
        "scale", f"{_vessels(sums)} weighed, {error_g:g} g {how}", error_g * max(count, together) / (density_in / 1000)
    )


def _by_two(sums: _Sums, error_g: float, at_c: Real, density_in: Real, density_out: Real) -> Part:
    """Full less empty: an offset of the scale cancels, what is left errs each by itself."""
    one_in, one_out = (oil.weighed_volume(exact(error_g) / 1000, one, at_c) * 1000 for one in (density_in, density_out))
    ml = math.sqrt(2 * ((sums.weighed - sums.vessels_out) * one_in**2 + sums.vessels_out * one_out**2))
    return Part("scale", f"{_vessels(sums)} weighed, full and empty {error_g:g} g each by itself", ml)


def _vessels(sums: _Sums) -> str:
    return f"{sums.weighed} vessel{'' if sums.weighed == 1 else 's'}"


def _own_causes(sums: _Sums, at_c: Real, density_out: Real) -> list[Suspect]:
    """What the amounts themselves may have wrong."""
    found: list[Suspect] = []
    if sums.unread_out:
        cold = oil.oil_volume_at(sums.unread_out, HOT_C, at_c, density_out)
        found.append((f"what came out was read hot ({HOT_C} °C) and taken as cold", cold - sums.unread_out))
    one_sided = abs(GAIN * (sums.weighed_in - sums.weighed_out))
    if one_sided and sums.jugs:
        found.append(("the scale weighs up to 2 % off, and not all was weighed", -one_sided, one_sided))
    return found


def _changes(difference: float, parts: Sequence[Part]) -> tuple[Change, ...]:
    return tuple(
        Change(part.words, difference - part.ml, difference + part.ml, part.ml, "mL", "one band either way")
        for part in parts
    )


def _at(amount: Amount, at_c: Real, density: Real) -> float:
    if amount.mass_g is not None:
        return oil.weighed_volume(exact(amount.mass_g) / 1000, density, at_c) * 1000
    if amount.volume_ml is None:
        raise errors.MissingInput(f"{amount.words}: neither weighed nor read.")
    return oil.oil_volume_at(amount.volume_ml, at_c if amount.at_c is None else amount.at_c, at_c, density)


def _warmth(ml: float, at_c: Real, density: Real) -> float:
    return abs(oil.level_error_temperature(ml, density, at_c, exact(at_c) + JUG_DOUBT_K))


def _way(way: str, sums: _Sums) -> str:
    if way != "partly by weight":
        return way
    share = 100 * sums.weighed_share
    return f"with {'less than 1' if share < 1 else format(share, '.0f')} % of it by weight, the rest by volume"


def _typed(amount: Amount) -> str:
    if amount.mass_g is not None:
        return f"{float(amount.mass_g):g} g"
    assert amount.volume_ml is not None
    at = "the temperature of the check" if amount.at_c is None else f"{float(amount.at_c):g} °C"
    return f"{float(amount.volume_ml):g} mL read at T_r = {at}"


def _words(difference: float, band: float, inside: bool, way: str, cause: str) -> str:
    if not inside and not cause:
        return "cannot be said: nothing was entered"
    if inside:
        return f"closes {way}: {_apart(difference)}, within twice its band of {band:.0f} mL"
    return f"does not close {way}: {_apart(difference)}, band {band:.0f} mL; likeliest: {cause}"


def _twice_words(difference: float, band: float, inside: bool, cause: str, way: str) -> str:
    """As `_words`, with twice the band as it is shown beside the difference."""
    if not inside and not cause:
        return "cannot be said: nothing was entered"
    apart = f"{_apart(difference)}, give or take {COVERAGE * band:.0f} mL"
    return f"closes {way}: {apart}" if inside else f"does not close {way}: {apart}; likeliest: {cause}"


def _apart(difference: float) -> str:
    ml = round(difference)
    if not ml:
        return "as much went in as came out"
    return f"{ml} mL more went in than came out" if ml > 0 else f"{-ml} mL more came out than went in"
