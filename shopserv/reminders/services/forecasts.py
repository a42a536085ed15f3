"""Forecasts made and stored: one vehicle inside the deed that changed it, or all of them in batches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from typing import Any

from django.db import transaction

from shopserv import calc
from shopserv.calc import forecast as arithmetic
from shopserv.common import clock
from shopserv.common.fields import canonical, sha256
from shopserv.logbook.models import LaboratoryResult
from shopserv.logbook.selectors import METERS
from shopserv.registry.models import Vehicle
from shopserv.reminders import grades
from shopserv.reminders.models import Forecast
from shopserv.reminders.services.facts import Doubted, Facts, facts_of
from shopserv.reminders.services.stops import follow
from shopserv.reminders.worth import Worth
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Business

BATCH = 500
DATED = (
    "due_on", "early_on", "late_on", "distance_due_on", "months_due_on", "crossed_on", "governs", "rate_low_m_day",
    "rate_m_day", "rate_high_m_day", "left_m", "months_left_thousandths",
)  # fmt: skip
COMPARED = [
    field.attname
    for field in Forecast._meta.concrete_fields
    if field.name not in ("id", "vehicle", "made_at", "is_current", "working")
]


@transaction.atomic
def renew(vehicle: Vehicle, *, actor: Actor, stop: str | None = None, value: Worth | None = None) -> Forecast:
    """Make the forecast of one vehicle anew, inside the deed that changed a reading, a job, its unit, use or keeper.

    stop     words of a finding that stops all work ("" when it is lifted); not given: what stands stays
    value    what the due work is worth by the price list, told by who can price it; not given: what stands stays
    returns  the forecast that counts; the same row as before where nothing has changed
    """
    changed = _renew(
        [vehicle],
        clock.today(actor.shop.time_zone if actor.shop else "UTC"),
        {vehicle.pk: stop},
        {vehicle.pk: value} if value else {},
    )
    row = vehicle.forecasts.get(is_current=True)
    if changed:
        trail.write(
            actor,
            "forecast renewed",
            vehicle,
            due_on=row.due_on,
            governs=row.governs,
            grade=row.grade,
            reason=row.reason,
        )
    return row


@transaction.atomic
def renew_all(*, actor: Actor, today: date) -> int:
    """Make every forecast anew in batches, as time alone asks for; how many have changed. Work values stay."""
    actor.must("tick")
    keys = list(Vehicle.objects.exclude(state__in=["merged", "scrapped"]).order_by("pk").values_list("pk", flat=True))
    changed = 0
    for start in range(0, len(keys), BATCH):
        batch = Vehicle.objects.filter(pk__in=keys[start : start + BATCH]).select_related("home_climate")
        changed += renew_many(list(batch.order_by("pk")), on=today)
    if changed:
        trail.write(actor, "forecasts renewed", Business.objects.get(), changed=changed, of=len(keys))
    return changed


def renew_many(vehicles: Sequence[Vehicle], *, on: date, values: Mapping[int, Worth] | None = None) -> int:
    """Make the forecasts of `vehicles` anew inside a larger deed, which leaves the entry; how many have changed.

    values   work values by the vehicle's row; one that is not in it keeps what stands
    """
    return _renew(vehicles, on, {}, values or {})


def kept_from(vehicle: Vehicle, *, on: date) -> Forecast:
    """Make the forecast as it was on a day of the past, from what was known then, and keep it as an older one."""
    facts = facts_of([vehicle], on=on)[0]
    row = _row(facts, on, "", None)
    row.is_current = False
    row.save()
    return row


def _renew(vehicles: Sequence[Vehicle], on: date, stops: Mapping[int, str | None], values: Mapping[int, Worth]) -> int:
    all_facts = facts_of(vehicles, on=on)
    keys = [vehicle.pk for vehicle in vehicles]
    there = {row.vehicle_id: row for row in Forecast.objects.filter(vehicle__in=keys, is_current=True)}
    new = []
    for facts in all_facts:
        old = there.get(facts.vehicle.pk)
        stop = stops.get(facts.vehicle.pk)
        if stop is None:
            stop = old.working.get("stop", "") if old else ""
        row = _row(facts, on, stop, values.get(facts.vehicle.pk) or _stands(old))
        # Only what has changed is written: a nightly run over a million rows must not rewrite the table.
        if old is None or any(getattr(old, name) != getattr(row, name) for name in COMPARED):
            new.append(row)
    newer = {there[row.vehicle_id].pk: row for row in new if row.vehicle_id in there}
    Forecast.objects.filter(pk__in=list(newer)).update(is_current=False)
    Forecast.objects.bulk_create(new, batch_size=BATCH)
    follow(newer, {row.pk: row.told_on for row in there.values()})
    return len(new)


def _stands(old: Forecast | None) -> Worth | None:
    if old is None or old.worth_cents is None:
        return None
    lines = tuple((words, cents) for words, cents in old.working.get("worth", ()))
    return Worth(old.worth_cents, old.worth_method, lines)


def _row(facts: Facts, today: date, stop: str, value: Worth | None) -> Forecast:
    found = calculated(facts, today)
    days = figures_of(found, facts.unit, today)
    last_reading_on = facts.readings[-1][0] if facts.readings else None
    grade, reason = grades.grade_of(
        grades.Due(
            today=today,
            # A day that the readings ran through does not move with a later reading, and has no band.
            due_on=days["crossed_on"] or days["due_on"],
            early_on=days["crossed_on"] or days["early_on"],
            late_on=days["crossed_on"] or days["late_on"],
            governs=days["governs"],
            left=found.left if found else None,
            interval=found.interval if found else None,
            interval_months=found.interval_months if found else None,
            last_reading_on=last_reading_on,
            stop=stop,
            doubt=facts.doubt,
            unexplained=facts.unexplained,
            doubted=tuple(one.shown for one in facts.doubted),
            unknown_fluid=any(not job.fluid_is_known for job in facts.jobs),
            missing=missing_of(facts),
        )
    )
    said = _said(facts)
    return Forecast(
        vehicle=facts.vehicle,
        shop_id=facts.shop_pk,
        keeper_id=facts.keeper_pk,
        made_at=clock.now(),
        **days,
        last_reading_on=last_reading_on,
        worth_cents=value.cents if value else None,
        worth_method=value.method if value else "",
        grade=grade,
        reason=reason,
        working={
            **(found.working if found else {}),
            "inputs": said,
            "place": _place(facts),
            "stop": stop,
            **({"worth": [list(line) for line in value.lines]} if value and value.lines else {}),
        },
        inputs_hash=sha256(canonical(said)),
        calc_version=calc.VERSION,
    )


def figures_of(found: arithmetic.Forecast | None, unit: str, today: date) -> dict[str, Any]:
    """What a row keeps of a forecast, by its columns; nothing is known where there is none.

    unit   of its distances: mi or km
    """
    if found is None:
        return {**dict.fromkeys(DATED), "governs": ""}
    per = METERS[unit]
    return {
        "due_on": min(filter(None, [found.distance_due, found.months_due]), default=None),
        "early_on": min(filter(None, [found.early, found.months_due]), default=None),
        "late_on": min(filter(None, [found.late, found.months_due]), default=None),
        "distance_due_on": found.distance_due,
        "months_due_on": found.months_due,
        "crossed_on": found.crossed if found.governs == "distance" else None,
        "governs": found.governs,
        "rate_low_m_day": _whole(found.rate_low, per),
        "rate_m_day": _whole(found.rate, per),
        "rate_high_m_day": _whole(found.rate_high, per),
        "left_m": _whole(found.left, per),
        "months_left_thousandths": _months_left(found.months_due, today),
    }


def calculated(facts: Facts, today: date) -> arithmetic.Forecast | None:
    """What the arithmetic says; none where too little is known to say anything."""
    vehicle, use, place = facts.vehicle, facts.use, facts.vehicle.home_climate
    if facts.base_distance is None or facts.base_months is None or place is None or use is None:
        return None
    if vehicle.in_service_on is None and not facts.jobs:
        return None
    return arithmetic.forecast(
        unit=facts.unit,
        base_distance=facts.base_distance,
        base_months=facts.base_months,
        climate=arithmetic.Climate(
            tuple(mdegc / 1000 for mdegc in place.mean_mdegc),
            tuple(ppm / 1_000_000 for ppm in place.humidity_ppm),
            place.altitude_m,
        ),
        use=arithmetic.Use(
            Fraction(use.short_trip_ppm, 1_000_000),
            Fraction(use.stored_months, 12),
            tuple((Fraction(share, 1_000_000), mdegc / 1000) for share, mdegc in use.temperatures),
        ),
        first_use=vehicle.in_service_on,
        readings=facts.readings,
        jobs=[arithmetic.Job(job.on, job.distance, job.fraction) for job in facts.jobs],
        today=today,
        measured=measured_of(facts),
    )


def measured_of(facts: Facts) -> tuple[Fraction, Fraction] | None:
    """Water and its limit as shares by mass, where a laboratory's figure counts."""
    if facts.water is None:
        return None
    return Fraction(facts.water.water_ppm, 1_000_000), Fraction(facts.water.limit_ppm, 1_000_000)


def missing_of(facts: Facts) -> str:
    """What is not known although a day needs it; empty: all of it is."""
    if not facts.unit_code:
        return "which unit it has is not known"
    if facts.base_distance is None or facts.base_months is None:
        return "the unit's interval is not known"
    if facts.vehicle.home_climate is None or facts.use is None:
        return "how and where it is used is not known"
    if facts.vehicle.in_service_on is None and not facts.jobs:
        return "neither its first use nor a service is known"
    return "needs a second reading" if len(facts.readings) < 2 else ""


def _said(facts: Facts) -> dict[str, Any]:
    """The inputs as plain values, for the working and its hash."""
    use, place = facts.use, facts.vehicle.home_climate
    return {
        "unit": facts.unit_code,
        "distance_unit": facts.unit,
        "interval": str(facts.base_distance),
        "interval_months": facts.base_months,
        "in_service_on": str(facts.vehicle.in_service_on or ""),
        "climate": place.code if place else "",
        "use": [use.short_trip_ppm, use.stored_months, use.temperatures] if use else [],
        "readings": [[str(on), str(distance)] for on, distance in facts.readings],
        "jobs": [[str(job.on), str(job.distance), str(job.fraction)] for job in facts.jobs],
        "unexplained": facts.unexplained,
        **({"doubted": [_doubted(one) for one in facts.doubted]} if facts.doubted else {}),
        **({"water": _water(facts.water)} if facts.water else {}),
    }


def _doubted(one: Doubted) -> list[Any]:
    """A reading left out of the sum: day, distance, what it looks like, the figure meant, how likely that is."""
    return [str(one.on), str(one.distance), one.verdict.kind, one.verdict.meant, round(one.verdict.odds, 4)]


def _water(result: LaboratoryResult) -> list[Any]:
    return [result.water_ppm, result.limit_ppm, result.sampled_on.isoformat(), result.reference]


def _place(facts: Facts) -> dict[str, Any]:
    """The figures of the climate, kept because a place may be corrected later."""
    place = facts.vehicle.home_climate
    if place is None:
        return {}
    return {"mean_mdegc": place.mean_mdegc, "humidity_ppm": place.humidity_ppm, "altitude_m": place.altitude_m}


def _whole(value: Fraction | None, per: Fraction) -> int | None:
    """A distance in the vehicle's unit as whole meters, half up."""
    return None if value is None else int((2 * Fraction(value) * per + 1) // 2)


def _months_left(due: date | None, today: date) -> int | None:
    return None if due is None else int((due - today).days * 1000 / grades.DAYS_A_MONTH)
