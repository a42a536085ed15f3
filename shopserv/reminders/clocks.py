"""The two clocks of a vehicle as a page shows them, read from its stored forecast. No tables."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from shopserv.calc import bands, mileage
from shopserv.calc.forecast import crossed_after, whole_months
from shopserv.reminders.models import Forecast


@dataclass(frozen=True, slots=True)
class Clocks:
    """How old the fluid is by either clock, and how old it may become; distances in `unit`, exact.

    run                 distance across all instruments at the last reading; none: no reading
    after, since_run    mean age just after the last service, and what was run since
    interval, base      what is allowed here, and what the sheet says; months likewise
    read_on             the day of the last reading; none: no reading
    credit_months       what was left of the months just after the last service, exact; whole ones of it count
    credit              distance that was left just after the last service
    due_at              where on the road the distance clock ends
    crossed             the day on which the readings ran through it; none: not yet
    crossing            distance a day, from the last reading on, at which both clocks end together: driven less, the
                        months govern; none: one of them has ended
    is_measured         whether a laboratory's figure stands for the estimate of moisture
    road                (low, high) on the road at the day the month clock ends, where it governs and is yet to come
    readings, services  (day, distance run) of each, oldest first; services with their share of new fluid, 0 to 1
    """

    unit: str
    run: Fraction | None
    after: tuple[Fraction, Fraction]
    since: date
    since_run: Fraction
    since_months: int
    interval: tuple[Fraction, int]
    base: tuple[Fraction, int]
    moisture: float
    heat: float
    read_on: date | None
    credit_months: Fraction
    credit: Fraction
    due_at: Fraction
    crossed: date | None
    crossing: Fraction | None
    is_measured: bool
    road: tuple[Fraction, Fraction] | None
    rates: tuple[Fraction, Fraction, Fraction] | None
    readings: tuple[tuple[date, Fraction], ...]
    services: tuple[tuple[date, Fraction, Fraction], ...]
    assumptions: tuple[str, ...]

    @property
    def age(self) -> tuple[Fraction, Fraction]:
        """Distance and months of the fluid now."""
        return self.after[0] + self.since_run, self.after[1] + self.since_months


def clocks_of(forecast: Forecast, today: date) -> Clocks | None:
    """What the forecast was made from; none where too little was known to make one.

    check   V-01 of the demonstration on 2026-11-24: 50,679 mi and 69.048 months old, 33,000 and 33 allowed
    """
    said = forecast.working
    if "counted_from" not in said:
        return None
    inputs = said["inputs"]
    readings = tuple((date.fromisoformat(on), Fraction(run)) for on, run in inputs["readings"])
    services = tuple((date.fromisoformat(on), Fraction(run), Fraction(share)) for on, run, share in inputs["jobs"])
    since, at = date.fromisoformat(said["counted_from"][0]), Fraction(said["counted_from"][1])
    run = readings[-1][1] if readings else None
    low, likely, high = (None if rate is None else Fraction(rate) for rate in said["rate_a_day"])
    due_at = at + Fraction(said["credit"][0])
    rates = (low, likely, high) if low is not None and likely is not None and high is not None else None
    return Clocks(
        unit=said["unit"],
        run=run,
        after=(Fraction(said["age_after_last_job"][0]), Fraction(said["age_after_last_job"][1])),
        since=since,
        since_run=max(Fraction(0), run - at) if run is not None else Fraction(0),
        since_months=max(0, whole_months(since, today)),
        interval=(Fraction(said["interval"][0]), said["interval"][1]),
        base=(Fraction(said["base"][0]), said["base"][1]),
        moisture=said["moisture"],
        heat=said["heat"],
        read_on=readings[-1][0] if readings else None,
        credit_months=Fraction(said["credit"][1]),
        credit=Fraction(said["credit"][0]),
        due_at=due_at,
        crossed=crossed_after(readings, since, at, Fraction(said["credit"][0])),
        crossing=_crossing(due_at, run, readings[-1][0] if readings else None, forecast.months_due_on),
        is_measured=said.get("moisture_is") == "measured",
        road=_road(forecast, run, rates, readings, today, said["unit"]),
        rates=rates,
        readings=readings,
        services=services,
        assumptions=tuple(said["assumptions"]),
    )


def _crossing(due_at: Fraction, run: Fraction | None, read_on: date | None, months_due: date | None) -> Fraction | None:
    if run is None or read_on is None or months_due is None:
        return None
    days = (months_due - read_on).days
    return (due_at - run) / days if days > 0 and due_at > run else None


def _road(
    forecast: Forecast,
    run: Fraction | None,
    rates: tuple[Fraction, Fraction, Fraction] | None,
    readings: tuple[tuple[date, Fraction], ...],
    today: date,
    unit: str,
) -> tuple[Fraction, Fraction] | None:
    if run is None or rates is None or forecast.governs != "months" or forecast.months_due_on is None:
        return None
    days = (forecast.months_due_on - readings[-1][0]).days
    if forecast.months_due_on <= today or days <= 0:
        return None
    low, high = bands.reach([mileage.Reading(*reading) for reading in readings], days, unit, rates[1] or None)
    return run + Fraction(low), run + Fraction(high)
