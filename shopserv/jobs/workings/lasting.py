"""What the money of an option buys and what that costs a month or a thousand miles; how far a yes goes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any, Protocol

from shopserv.calc import authorization as rules
from shopserv.calc.money import amount, round_half_up
from shopserv.calc.working import Change, From, Given, Number, Step, Working, what_would_change
from shopserv.common import formats
from shopserv.jobs import bought, sums
from shopserv.jobs.models import Authorization, Option
from shopserv.papers.layout.common import tolerance_words

THOUSAND = 1000
CREDIT = (r"c = \max\left(0,\; I - (1 - f)\,a\right)", r"t_d = \frac{c_d}{r} \quad t_m = c_m\,\frac{365}{12}")
PRACTICE = "common practice, no source: the mean age of mixed fluid is (1 − share of new fluid) × age before"


def bought_workings(option: Option, currency: str) -> dict[str, Working]:
    """How long the option lasts and what that costs; empty where no clock is known."""
    if not option.bought:
        return {}
    return {"bought": _lasts(option), "per": _per(option, currency)}


def _lasts(option: Option) -> Working:
    kept = option.bought
    clock = "months" if kept["governs"] == "months" else "distance"
    low, high = (Fraction(kept[f"{end}_{clock}_thousandths"], THOUSAND) for end in ("credit", "high"))
    told = low
    wide: tuple[Step, ...] = ()
    if "wide_low_thousandths" in kept:
        low, high = (Fraction(kept[f"wide_{end}_thousandths"], THOUSAND) for end in ("low", "high"))
        wide = (
            Step("lower share, interval 20 % shorter", r"c(f_1,\, 0.8\,I)", low, _unit(option)),
            Step("higher share, interval 20 % longer", r"c(f_2,\, 1.2\,I)", high, _unit(option)),
        )
    ages = ages_of(option)
    return Working(
        figure="what the money buys",
        value=_told(told, clock),
        unit=_unit(option),
        low=_told(low, clock),
        high=_told(high, clock),
        formula="by each clock: interval − (1 − share of new fluid) × age of the fluid before, not below zero; the "
        "clock that runs out first governs, and the lower share of new fluid decides; told in whole "
        f"{kept['unit']}, counted down, or in tenths of a month; the band is what pages show, in whole months or "
        "hundreds: the lower share with an interval 20 % shorter, the higher share with one 20 % longer",
        formulas=CREDIT,
        given=tuple(_given(option, ages)),
        steps=(
            Step("by distance, lower share", r"c_d", Fraction(kept["credit_distance_thousandths"], 1000), kept["unit"]),
            Step("by age, lower share", r"c_m", Fraction(kept["credit_months_thousandths"], 1000), "months"),
            Step("by distance, higher share", r"c_d", Fraction(kept["high_distance_thousandths"], 1000), kept["unit"]),
            Step("by age, higher share", r"c_m", Fraction(kept["high_months_thousandths"], 1000), "months"),
            Step("governs", r"\min(t_d, t_m)", kept["governs"], ""),
            *wide,
        ),
        sources=(PRACTICE,),
        assumptions=_assumed(ages),
        changes=_changes(option, ages),
        version=option.version.calc_version,
    )


def _told(credit: Fraction, clock: str) -> Fraction:
    """As every page tells it."""
    return Fraction(math.floor(credit)) if clock == "distance" else Fraction(round_half_up(credit, 1))


def _per(option: Option, currency: str) -> Working:
    kept = option.bought
    by_month = kept["governs"] == "months"
    credit = Fraction(kept["credit_months_thousandths" if by_month else "credit_distance_thousandths"], THOUSAND)
    words = "a month" if by_month else f"a thousand {kept['unit']}"
    lasts = credit if by_month else credit / THOUSAND
    measure = "months" if by_month else f"thousand {kept['unit']}"
    return Working(
        figure=f"price {words} that it lasts",
        value=None if kept.get("per_cents") is None else amount(kept["per_cents"]),
        unit=currency,
        formula="total / what the money buys by the clock that governs; due again at once: no price",
        formulas=(r"p = \frac{G}{c}",),
        given=(
            Given("G", "total", amount(option.total_cents), currency, From.COMPUTED, "all lines and tax"),
            Given("c", f"lasts, in {measure}", lasts, "", From.COMPUTED, "what the money buys"),
        ),
        steps=_divided(option, lasts, measure, currency),
        sources=(PRACTICE,),
        assumptions=("to compare with, not a promise",),
        version=option.version.calc_version,
    )


def _divided(option: Option, lasts: Fraction, measure: str, currency: str) -> tuple[Step, ...]:
    """The division with as many digits of what it lasts as give the price to the cent; none where there is no price."""
    cents = option.bought.get("per_cents")
    if cents is None or lasts <= 0:
        return ()
    total, price = amount(option.total_cents), amount(cents)
    tried = (round_half_up(lasts, places) for places in range(2, 6))
    told = next((one for one in tried if one and round_half_up(Fraction(total) / Fraction(one)) == price), None)
    told = round_half_up(lasts, 6) if told is None else told
    words = f"{formats.money(option.total_cents, currency)} over {told} {measure}"
    return (Step(words, rf"G / c = {total} / {told}", price, currency),)


def _unit(option: Option) -> str:
    return "months" if option.bought["governs"] == "months" else str(option.bought["unit"])


def ages_of(option: Option) -> bought.Ages | None:
    """The ages that the version was planned with; none for versions older than those that keep them."""
    kept = option.version.inputs.get("ages")
    return bought.ages_from(kept) if kept else None


def _given(option: Option, ages: bought.Ages | None) -> list[Given]:
    low, high = option.fraction_low_ppm or 0, option.fraction_high_ppm or 0
    share = Given(
        "f",
        "share of new fluid, in thousandths as it is shown",
        bought.shown(low),
        "share",
        From.COMPUTED,
        "fluid course",
        bought.shown(low),
        bought.shown(high),
    )
    if ages is None:
        return [share]
    clock = "forecast of the day of the quote"
    return [
        share,
        Given("a_d", "distance on the fluid before", ages.distance, ages.unit, From.COMPUTED, clock),
        Given("a_m", "age of the fluid before", ages.months, "months", From.COMPUTED, clock),
        Given("I_d", "adjusted interval, distance", ages.interval_distance, ages.unit, From.MODELED, clock),
        Given("I_m", "adjusted interval, months", ages.interval_months, "months", From.MODELED, clock),
        Given("r", "distance a day", ages.rate, ages.unit, From.COMPUTED, "median of all pairs of readings"),
    ]


def _assumed(ages: bought.Ages | None) -> tuple[str, ...]:
    if ages is None:
        return ("the age of the fluid before was not kept with versions of that time",)
    return (
        "the vehicle is driven on as its readings say",
        "the interval may be off by 20 % either way: common practice, no source",
    )


def _changes(option: Option, ages: bought.Ages | None) -> tuple[Change, ...]:
    """What moves the answer, in the unit of the clock that governs now."""
    if ages is None:
        return ()
    is_months = option.bought["governs"] == "months"

    def lasts(at: Mapping[str, Any]) -> Number:
        moved = bought.Ages(ages.unit, at["a_d"], at["a_m"], at["I_d"], at["I_m"], at["r"])
        credit = bought.credit_of(moved, min(Fraction(1), at["f"]))
        return credit[1] if is_months else credit[0]

    names = ("f", "a_m", "I_m") if is_months else ("f", "a_d", "I_d")
    given = {row.symbol: row for row in _given(option, ages)}
    found = what_would_change(
        lasts,
        {name: row.value for name, row in given.items()},
        unit=_unit(option),
        words={name: row.words for name, row in given.items()},
        only=names,
    )
    return tuple(found)


def limit_working(one: Authorization, currency: str) -> Working:
    """The most that may be invoiced on an authorization without a new yes."""
    rule = sums.tolerance_rule(one.rule)
    total, tax = amount(one.amount_cents), amount(one.tax_cents)
    over = rules.tolerance(rule, total, tax)
    source = one.rule.get("source") or one.rule.get("words", "")
    given = [
        Given("A", "agreed, tax included", total, currency, From.READ, "authorization record"),
        Given("T", "tax in it", tax, currency, From.COMPUTED, "quote"),
        Given("q", "percent of the rule", _fraction(rule.percent), "", From.LAW, source),
        Given("x", "amount of the rule", rule.amount, currency, From.LAW, source),
        Given("u", "cap of the rule", rule.cap, currency, From.LAW, source),
    ]
    inner = {
        "none": "0",
        "percent": r"q\,B",
        "amount": "x",
        "lesser_of": r"\min(q\,B,\; x)",
        "greater_of": r"\max(q\,B,\; x)",
    }[rule.kind]
    capped = rf"\min\left({inner},\; u\right)" if rule.cap is not None else inner
    return Working(
        figure="most that may be invoiced without a new yes",
        value=rules.limit(rule, total, tax),
        unit=currency,
        formula=f"{tolerance_words(one.rule, currency).removesuffix('.')}; the tolerance is cut down to the cent",
        formulas=("B = A - T" if rule.base == "before_tax" else "B = A", rf"D = {capped}", "M = B + D"),
        given=tuple(row for row in given if row.value is not None),
        steps=(
            Step("on the basis of the rule", "B", rules.base_of(rule, total, tax), currency),
            Step("tolerance", "D", over, currency),
        ),
        sources=(source,) if source else (),
        assumptions=("the rule was looked up for the day of the quote; the law of the place decides",),
        version=one.option.version.calc_version,
    )


class Room(Protocol):
    """What is left of an authorization, in cents (selectors.room_left)."""

    @property
    def limit_cents(self) -> int: ...
    @property
    def used_cents(self) -> int: ...
    @property
    def left_cents(self) -> int: ...
    @property
    def tenth_cents(self) -> int: ...
    @property
    def extra_tenths(self) -> int: ...
    @property
    def left_after_cents(self) -> int: ...
    @property
    def is_before_tax(self) -> bool: ...


def room_working(room: Room, currency: str, version: str) -> Working:
    """What still fits an authorization without a new yes, and how much more labor that is."""
    basis = "before tax" if room.is_before_tax else "tax included"
    return Working(
        figure="room left",
        value=amount(room.left_cents),
        unit=currency,
        formula=f"the most that may be invoiced less what was agreed so far, {basis}, not below zero; then the most "
        "whole tenths of labor with their supplies and tax that still fit",
        formulas=(r"R = \max(0,\; M - U)", r"n = \max \{ n : p(n) \le R \}"),
        given=(
            Given("M", "most that may be invoiced", amount(room.limit_cents), currency, From.COMPUTED, "the rule"),
            Given("U", f"lines agreed, {basis}", amount(room.used_cents), currency, From.COMPUTED, "options agreed"),
        ),
        steps=(
            Step("one more tenth of an hour", "p(1)", amount(room.tenth_cents), currency),
            Step("tenths that fit", "n", room.extra_tenths, ""),
            Step("left after those", "R - p(n)", amount(room.left_after_cents), currency),
        ),
        version=version,
    )


def _fraction(value: Any) -> Decimal | Fraction | None:
    return None if value is None else Fraction(value)
