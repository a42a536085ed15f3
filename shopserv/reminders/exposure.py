"""What a vehicle's fluid is exposed to, as one reads it: the facts, both clocks, and any what-if of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from shopserv.calc import age, profile, severity
from shopserv.calc.forecast import Climate, Use
from shopserv.logbook.models import LaboratoryResult
from shopserv.logbook.selectors import laboratory_results_of
from shopserv.registry.models import TemperatureLog, UsePattern, Vehicle
from shopserv.reminders.services import forecasts
from shopserv.reminders.services.facts import Facts, facts_of
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace

MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Exposure:
    """All that a page of severity shows.

    state, clocks   none where too little is known; `missing` says what
    loads           the kinds of use behind the temperatures; empty: none are known
    water           the laboratory result that counts; `results` are all of them
    """

    unit: str
    place: ClimatePlace | None
    use: UsePattern | None
    log: TemperatureLog | None
    water: LaboratoryResult | None
    results: tuple[LaboratoryResult, ...]
    state: severity.State | None
    clocks: severity.Clocks | None
    missing: str
    loads: tuple[profile.Load, ...]


def exposure_of(actor: Actor, vehicle: Vehicle, *, today: date) -> Exposure:
    """What the fluid of a vehicle is exposed to, and both clocks as it stands."""
    actor.must("open file")
    facts = facts_of([vehicle], on=today)[0]
    state = _state(facts, today)
    use = facts.use
    return Exposure(
        unit=facts.unit,
        place=vehicle.home_climate,
        use=use,
        log=use.log if use else None,
        water=facts.water,
        results=tuple(laboratory_results_of(actor, vehicle)),
        state=state,
        clocks=severity.clocks(state, today) if state else None,
        missing="" if state else forecasts.missing_of(facts),
        loads=tuple(
            profile.Load(kind, Fraction(ppm, MILLION), Fraction(mdegc, 1000))
            for kind, ppm, mdegc in (use.profile if use else [])
        ),
    )


def _state(facts: Facts, today: date) -> severity.State | None:
    found = forecasts.calculated(facts, today)
    use, place = facts.use, facts.vehicle.home_climate
    if found is None or use is None or place is None or facts.base_distance is None or facts.base_months is None:
        return None
    return severity.State(
        base_distance=facts.base_distance,
        base_months=facts.base_months,
        climate=Climate(
            tuple(mdegc / 1000 for mdegc in place.mean_mdegc),
            tuple(ppm / MILLION for ppm in place.humidity_ppm),
            place.altitude_m,
        ),
        use=Use(
            Fraction(use.short_trip_ppm, MILLION),
            Fraction(use.stored_months, 12),
            tuple((Fraction(share, MILLION), mdegc / 1000) for share, mdegc in use.temperatures),
        ),
        first_use=facts.vehicle.in_service_on,
        jobs=tuple(age.Job(job.on, job.distance, job.fraction) for job in facts.jobs),
        run=facts.readings[-1][1] if facts.readings else None,
        read_on=facts.readings[-1][0] if facts.readings else None,
        rate=found.rate,
        measured=forecasts.measured_of(facts),
    )


@dataclass(frozen=True, slots=True)
class WhatIf:
    """What is asked: distance a day, shares of short trips, towing and new fluid; none: as it is."""

    rate: Fraction | None = None
    short_trips: Fraction | None = None
    towing: Fraction | None = None
    share: Fraction = Fraction(0)


def what_if(found: Exposure, asked: WhatIf, *, today: date) -> severity.Clocks | None:
    """Both clocks for what is asked; none where too little is known.

    Towing that is not in the profile is taken from all other time at the assumed temperature of the sump.
    """
    state = found.state
    if state is None:
        return None
    use = state.use
    if asked.short_trips is not None:
        use = replace(use, short_trip=asked.short_trips)
    if asked.towing is not None:
        use = replace(use, bins=tuple((share, float(at)) for share, at in _towed(found, use, asked.towing)))
    rate = state.rate if asked.rate is None else asked.rate
    return severity.clocks(replace(state, use=use, rate=rate), today, asked.share)


def _towed(found: Exposure, use: Use, towing: Fraction) -> tuple[profile.Bin, ...]:
    if found.loads:
        return profile.bins_of(profile.with_towing(found.loads, towing))
    return profile.with_share(use.bins, towing, profile.ASSUMED_C["towing"])


def towing_of(found: Exposure) -> Fraction:
    """The share of towing as it stands."""
    return next((one.share for one in found.loads if one.kind == "towing"), Fraction(0))
