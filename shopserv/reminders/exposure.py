"""What a vehicle's fluid is exposed to, as one reads it: the facts, both clocks, and any what-if of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from shopserv.calc import age, profile, severity
from shopserv.calc.forecast import Climate, Use
from shopserv.calc.mileage import Reading
from shopserv.catalog.models import FluidProduct
from shopserv.logbook.models import LaboratoryResult
from shopserv.logbook.selectors import laboratory_results_of, services_of
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
    book            the age of the fluid job by job; `inside` what is in the unit by fluid, the most first
    shares          share of new fluid of each job as its record has it, low and high in ppm, by (day, place in it)
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
    book: tuple[age.Line, ...]
    inside: tuple[tuple[str, Fraction], ...]
    shares: Mapping[tuple[date, int], tuple[int, int]]


def exposure_of(actor: Actor, vehicle: Vehicle, *, today: date) -> Exposure:
    """What the fluid of a vehicle is exposed to, and both clocks as it stands."""
    actor.must("open file")
    facts = facts_of([vehicle], on=today)[0]
    poured = _poured(actor, vehicle, today)
    state = _state(facts, {key: fluid for key, (fluid, _share) in poured.items()}, today)
    use = facts.use
    clocks = severity.clocks(state, today) if state else None
    return Exposure(
        unit=facts.unit,
        place=vehicle.home_climate,
        use=use,
        log=use.log if use else None,
        water=facts.water,
        results=tuple(laboratory_results_of(actor, vehicle)),
        state=state,
        clocks=clocks,
        missing="" if state else forecasts.missing_of(facts),
        loads=tuple(
            profile.Load(kind, Fraction(ppm, MILLION), Fraction(mdegc, 1000))
            for kind, ppm, mdegc in (use.profile if use else [])
        ),
        book=_book(state, clocks),
        inside=_inside(state),
        shares={key: share for key, (_fluid, share) in poured.items()},
    )


def _poured(actor: Actor, vehicle: Vehicle, today: date) -> dict[tuple[date, int], tuple[str, tuple[int, int]]]:
    """Which fluid each counted job put in: (day, place among the jobs of that day) -> name with batch, and share."""
    found: dict[tuple[date, int], tuple[str, tuple[int, int]]] = {}
    for row in services_of(actor, vehicle):
        if row.figure is None or row.done_on > today or row.corrected_by.all():
            continue
        place = sum(on == row.done_on for on, _n in found)
        fluid = f"{row.fluid_code}, {row.batch_mark}" if row.batch_mark else row.fluid_code
        found[row.done_on, place] = fluid, (row.fraction_low_ppm, row.fraction_high_ppm)
    return found


def _book(state: severity.State | None, clocks: severity.Clocks | None) -> tuple[age.Line, ...]:
    if state is None or clocks is None:
        return ()
    found = clocks.severity
    return age.book(state.jobs, state.first_use, interval=found.distance, months=found.months).lines


def _inside(state: severity.State | None) -> tuple[tuple[str, Fraction], ...]:
    found = age.contents([(job.fluid, job.share) for job in state.jobs]) if state else {}
    return tuple(sorted(found.items(), key=lambda row: -row[1]))


def fluids_of(actor: Actor) -> list[tuple[str, str]]:
    """Code and name of each fluid that may be poured, by name."""
    actor.must("open file")
    return list(FluidProduct.objects.exclude(state="barred").order_by("name").values_list("code", "name"))


def _state(facts: Facts, fluids: Mapping[tuple[date, int], str], today: date) -> severity.State | None:
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
        jobs=tuple(
            age.Job(job.on, job.distance, job.fraction, fluids.get((job.on, _place(facts, n)), ""))
            for n, job in enumerate(facts.jobs)
        ),
        run=facts.readings[-1][1] if facts.readings else None,
        read_on=facts.readings[-1][0] if facts.readings else None,
        rate=found.rate,
        measured=forecasts.measured_of(facts),
        unit=facts.unit,
        readings=tuple(Reading(on, run) for on, run in facts.readings),
    )


def _place(facts: Facts, n: int) -> int:
    """The place of a job among those of its day."""
    return sum(job.on == facts.jobs[n].on for job in facts.jobs[:n])


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
    if asked.rate is not None:  # told, not read: it has no band
        state = replace(state, rate=asked.rate, is_banded=False)
    return severity.clocks(replace(state, use=use), today, asked.share)


def _towed(found: Exposure, use: Use, towing: Fraction) -> tuple[profile.Bin, ...]:
    if found.loads:
        return profile.bins_of(profile.with_towing(found.loads, towing))
    return profile.with_share(use.bins, towing, profile.ASSUMED_C["towing"])


def towing_of(found: Exposure) -> Fraction:
    """The share of towing as it stands."""
    return next((one.share for one in found.loads if one.kind == "towing"), Fraction(0))
