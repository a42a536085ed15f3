"""What the money of an option buys, by the clock that governs: a model figure that lets the customer compare."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.common import formats
from shopserv.registry.models import Vehicle
from shopserv.reminders.services import forecasts
from shopserv.reminders.services.facts import Facts, facts_of

DAYS_A_MONTH = Fraction(365, 12)
THOUSAND = 1000
# How far the interval may be off: common practice, no source; the same swing that the sums show as ±20 %.
DOUBT = (Fraction(4, 5), Fraction(6, 5))


@dataclass(frozen=True, slots=True)
class Ages:
    """How old the fluid of a vehicle is, and how old it may become.

    distance, interval_distance   in `unit`, exact
    months, interval_months       whole ones of the clock, exact
    rate                          `unit` a day, or none
    """

    unit: str
    distance: Fraction
    months: Fraction
    interval_distance: Fraction
    interval_months: Fraction
    rate: Fraction | None

    def as_dict(self) -> dict[str, str | None]:
        """As they are kept with a version, exact."""
        return {each.name: None if (value := getattr(self, each.name)) is None else str(value) for each in fields(self)}


def ages_from(kept: Mapping[str, str | None]) -> Ages:
    """The ages that were kept."""
    numbers = {name: None if value is None else Fraction(value) for name, value in kept.items() if name != "unit"}
    return Ages(unit=kept["unit"] or "", **numbers)  # type: ignore[arg-type]  # only the rate may be none


def ages_of(vehicle: Vehicle, *, on: date) -> Ages | None:
    """The age of the fluid in a vehicle on a day; none where the clocks are not known."""
    facts = facts_of([vehicle], on=on)[0]
    facts.water = None  # a laboratory's figure of the fluid that goes says nothing of the one that comes
    known = forecasts.calculated(facts, on)
    if known is None:
        return None
    driven, months = _since(facts, on)
    return Ages(
        facts.unit,
        Fraction(known.age_after) + driven,
        Fraction(known.age_after_months) + months,
        Fraction(known.interval),
        Fraction(known.interval_months),
        None if known.rate is None else Fraction(known.rate),
    )


def bought_by(ages: Ages, total_cents: int, fraction_ppm: tuple[int, int]) -> dict[str, Any]:
    """What an option gives until the fluid is due again.

    total_cents    what the option costs
    fraction_ppm   share of new fluid, low and high; the low one decides
    returns        governs, credit_distance and credit_months in thousandths, unit, per_cents (a month, or a thousand
                   of the unit), a_day_exact (cents for each day that it lasts, to compare options of either clock),
                   words; per_cents none: due again at once; wide_low and wide_high in thousandths, by the clock that
                   governs: the low share with an interval 20 % shorter, the high share with one 20 % longer
    source         common practice, no source: credit = interval - (1 - share) x age of the fluid before
    check          V-01 of the demonstration: 442.95 at 0.858 buys 23.2 months, $19.10 a month; 183.64 is due at once
    """
    low, high = (credit_of(ages, shown(ppm)) for ppm in fraction_ppm)
    governs, days = _governs(low, ages.rate)
    credit = low[1] if governs == "months" else low[0]
    per = None if credit < 1 else Fraction(total_cents) / (credit if governs == "months" else credit / THOUSAND)
    wide = wide_of(ages, fraction_ppm, governs)
    return {
        "governs": governs,
        "unit": ages.unit,
        "wide_low_thousandths": int(wide[0] * 1000),
        "wide_high_thousandths": int(wide[1] * 1000),
        "credit_distance_thousandths": int(low[0] * 1000),
        "credit_months_thousandths": int(low[1] * 1000),
        "high_distance_thousandths": int(high[0] * 1000),
        "high_months_thousandths": int(high[1] * 1000),
        "per_cents": None if per is None else int(per + Fraction(1, 2)),
        "a_day_exact": "" if per is None else str(Fraction(total_cents) / days),
        "words": _words(governs, credit, per, ages.unit),
        "note": "model figure, to compare with",
    }


def _since(facts: Facts, on: date) -> tuple[Fraction, Fraction]:
    """Distance and whole months since the last service, or since first use."""
    run = facts.readings[-1][1] if facts.readings else Fraction(0)
    if facts.jobs:
        return max(run - facts.jobs[-1].distance, Fraction(0)), whole_months(facts.jobs[-1].on, on)
    first = facts.vehicle.in_service_on
    return run, whole_months(first, on) if first else Fraction(0)


def whole_months(since: date, until: date) -> Fraction:
    """Whole months from one day to another, counted down."""
    months = (until.year - since.year) * 12 + until.month - since.month
    return Fraction(months - (until.day < since.day))


def credit_of(ages: Ages, share: Fraction) -> tuple[Fraction, Fraction]:
    """What a share of new fluid leaves until the fluid is due again: distance and months."""
    left = 1 - share
    return (
        max(Fraction(0), ages.interval_distance - left * ages.distance),
        max(Fraction(0), ages.interval_months - left * ages.months),
    )


def wide_of(ages: Ages, fraction_ppm: tuple[int, int], governs: str) -> tuple[Fraction, Fraction]:
    """How long it lasts at the least and at the most where the interval is in doubt, too, in months or the unit."""
    ends = []
    for ppm, by in zip(fraction_ppm, DOUBT, strict=True):
        days = days_of(ages, shown(ppm), by)
        ends.append(days / DAYS_A_MONTH if governs == "months" else days * (ages.rate or 0))
    return ends[0], ends[1]


def days_of(ages: Ages, share: Fraction, interval_by: Fraction) -> Fraction:
    """Days until the fluid is due again by the clock that runs out first, with an interval that much of what it is."""
    moved = replace(
        ages,
        interval_distance=ages.interval_distance * interval_by,
        interval_months=ages.interval_months * interval_by,
    )
    return _governs(credit_of(moved, share), ages.rate)[1]


def overlap(ages: Ages, one: tuple[int, tuple[int, int]], best: tuple[int, tuple[int, int]]) -> bool:
    """Whether an option may cost less for its time than the best one, at one and the same interval within its doubt.

    one, best   total in cents and share of new fluid, low and high
    """
    for by in (DOUBT[0], Fraction(1), DOUBT[1]):
        least = days_of(ages, shown(best[1][0]), by)
        most = days_of(ages, shown(one[1][1]), by)
        if most > 0 and best[0] * most >= one[0] * least:  # best's dearest day against the other's cheapest
            return True
    return False


def shown(ppm: int) -> Fraction:
    """The share as it is shown, in thousandths, half up: what can be read beside it can be worked out from it."""
    return Fraction((ppm + 500) // 1000, 1000)


def _governs(credit: tuple[Fraction, Fraction], rate: Fraction | None) -> tuple[str, Fraction]:
    """The clock that runs out first, and in how many days; without a rate of distance, or in a tie, the months."""
    by_age = credit[1] * DAYS_A_MONTH
    if rate is None or rate <= 0:
        return "months", by_age
    by_distance = credit[0] / rate
    return ("distance", by_distance) if by_distance < by_age else ("months", by_age)


def _words(governs: str, credit: Fraction, per: Fraction | None, unit: str) -> str:
    if per is None:
        return f"due again at once by {'age' if governs == 'months' else 'distance'}"
    money = f"${int(per + Fraction(1, 2)) / 100:,.2f}"
    by_age = governs == "months"
    figure = formats.lasts(int(credit * THOUSAND), is_months=by_age)
    return f"{figure} months, {money} a month" if by_age else f"{figure} {unit}, {money} a thousand {unit}"
