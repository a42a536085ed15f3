"""Readings noted, instruments changed, services written down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from django.db import IntegrityError, transaction

from shopserv.common import clock, formats
from shopserv.common.errors import Refusal
from shopserv.logbook import selectors
from shopserv.logbook.doubts import LOOKED_AGAIN, doubt_of_new
from shopserv.logbook.models import LaboratoryResult, OdometerChange, OdometerReading, ServiceRecord
from shopserv.registry.models import Vehicle
from shopserv.shop import trail
from shopserv.shop.actors import Actor

LARGEST = 9_999_999
MILLION = 1_000_000
JUMP_M_DAY = Fraction(2000 * 1_609_344, 1000)
WHY_LOWER = {
    "mistyped before": "an earlier reading was mistyped",
    "mistyped now": "this reading was mistyped",
    "replaced": "the instrument was replaced",
    "cannot tell": "cannot tell which is wrong",
}
MEANT_AS = {"other unit": "read in the other unit, miles or kilometers"}  # else the kind says it
ANSWERS = {  # to a doubted reading: its state from then on, and its reason
    "right": ("counted", LOOKED_AGAIN + " by {who}"),
    "aside": ("set aside", "{kind}" + selectors.SAYS + "{who}"),
    "read as": ("set aside", "{kind}" + selectors.SAYS + "{who}: read as {meant}"),
}


@transaction.atomic
def note_reading(
    vehicle: Vehicle,
    *,
    actor: Actor,
    figure: int,
    unit: str,
    source: str,
    as_typed: str = "",
    on: date | None = None,
    why_lower: str = "",
    first_figure: int = 0,
    old_figure: int | None = None,
    old_is_estimate: bool = False,
    replaced_on: date | None = None,
    is_jump_confirmed: bool = False,
    is_replaced: bool = False,
) -> OdometerReading:
    """Note what the odometer shows; a lower figure is never lost and never counted silently.

    why_lower     one of WHY_LOWER, asked when the figure is below the last; "replaced" begins a new instrument that
                  stood at `first_figure` when it was fitted
    old_figure    what the old instrument stood at then, in its unit; none: its last reading
    replaced_on   none: the day of the reading
    is_replaced   the instrument was replaced though the figure is not below the last; needs `why_lower` "replaced"
    is_jump_confirmed   a rise of more than 2,000 mi a day is right, or at intake a figure that all the others doubt
    returns       the reading: counted, or set aside with its reason
    raises        Refusal odometer.range, odometer.future, odometer.went_back, odometer.jump (both can be answered),
                  odometer.old_one and those of the figures of a replaced instrument
    """
    today = clock.today(actor.shop.time_zone if actor.shop else "UTC")
    day = on or today
    _refuse_impossible(figure, day, today)
    as_typed = as_typed or f"{figure} {unit}"
    if why_lower != "replaced":
        figure, unit = _as_the_instrument_shows(vehicle, figure, unit)
    last = selectors.last_counted(vehicle)
    if last and source != "estimate":
        lower = day >= last.read_on and _meters(figure, unit) < _meters(last.figure, last.unit)
        if lower and not why_lower:
            raise _ask_why(figure, unit, last)
        if why_lower == "replaced" and (lower or is_replaced):
            ends = _Ends(old_figure, old_is_estimate, first_figure, replaced_on or day)
            if not lower:
                _refuse_the_old_one(figure, unit, day, last, ends)
            _new_instrument(vehicle, actor, last, (figure, unit, day), ends)
        elif not lower:
            _ask_about_jump(figure, unit, day, last, is_jump_confirmed)
            if source == "intake" and day >= last.read_on and not is_jump_confirmed:
                _ask_about_doubt(vehicle, figure, unit, day, last)
    state, reason = _judged(figure, unit, day, last, why_lower, source)
    if reason and why_lower == "mistyped before":
        _set_aside_higher(vehicle, figure, unit, day, actor)
        state, reason = "counted", ""
    if state == "counted" and is_jump_confirmed:
        reason = f"{LOOKED_AGAIN} by {actor.name}"  # who confirms a jump has seen the figure: it is not asked again
    reading = _save(
        OdometerReading(
            vehicle=vehicle,
            shop=actor.shop,
            figure=figure,
            unit=unit,
            as_typed=as_typed,
            instrument=selectors.instrument_of(vehicle),
            read_on=day,
            read_at=clock.now() if day == today else _noon(day),
            source=source,
            by=actor.name,
            state=state,
            reason=reason,
        )
    )
    trail.write(actor, "odometer read", vehicle, figure=figure, unit=unit, state=state, reason=reason, source=source)
    return reading


@transaction.atomic
def settle_reading(
    reading: OdometerReading, *, actor: Actor, answer: str, kind: str, meant: int | None = None
) -> OdometerReading:
    """Say what a doubted reading is: right as it stands, set aside, or read as another figure.

    A figure is never edited: the reading is set aside with its reason, and the figure meant is noted beside it.

    answer    "right", "aside" or "read as", which needs `meant` (in the unit of the reading)
    kind      what it looks like, in words; it stands in the reason
    returns   the reading that stands, or the one set aside
    raises    Refusal odometer.settled if it is counted no more, odometer.does_not_fit, odometer.answer, NotYours
    """
    actor.must("take in")
    if answer not in ANSWERS or (answer == "read as" and meant is None):
        raise Refusal("Say what the reading is: right, set aside, or another figure.", code="odometer.answer")
    state, reason = ANSWERS[answer]
    words = reason.format(kind=kind, who=actor.name, meant=f"{meant or 0:,} {reading.unit}")[:200]
    if not OdometerReading.objects.filter(pk=reading.pk, state="counted").update(state=state, reason=words):
        raise Refusal(f"{reading} is not counted any more: look again.", code="odometer.settled", field="answer")
    trail.write(actor, "reading settled", reading.vehicle, figure=reading.figure, unit=reading.unit, answer=words)
    if answer != "read as" or meant is None:
        reading.refresh_from_db()
        return reading
    return _read_as(reading, meant, actor)


def _read_as(reading: OdometerReading, meant: int, actor: Actor) -> OdometerReading:
    """The figure that was meant, of the same day and source; as readings never fall, it has to fit between others."""
    state, reason = _judged(meant, reading.unit, reading.read_on, reading, "", reading.source)
    if state != "counted":
        raise Refusal(
            f"{meant:,} {reading.unit} would be {reason}: look again.", code="odometer.does_not_fit", field="answer"
        )
    return _save(
        OdometerReading(
            vehicle=reading.vehicle,
            shop=reading.shop,
            figure=meant,
            unit=reading.unit,
            as_typed=reading.as_typed,
            instrument=reading.instrument,
            read_on=reading.read_on,
            read_at=reading.read_at + selectors.BESIDE,
            source=reading.source,
            by=actor.name,
            reason=f"{LOOKED_AGAIN} by {actor.name}",
        )
    )


def _as_the_instrument_shows(vehicle: Vehicle, figure: int, unit: str) -> tuple[int, str]:
    """A figure typed in the other unit, converted once, half up; what was typed is kept beside it."""
    shown = selectors.unit_of_instrument(vehicle)
    if shown == unit:
        return figure, unit
    exact = _meters(figure, unit) / selectors.METERS[shown]
    return int((2 * exact + 1) // 2), shown


def _refuse_impossible(figure: int, day: date, today: date) -> None:
    if figure < 0:
        raise Refusal(f"{figure:,}: a reading cannot be below zero.", code="odometer.range", field="odometer")
    if figure > LARGEST:
        raise Refusal(f"The largest reading accepted is {LARGEST:,}.", code="odometer.range", field="odometer")
    if day > today:
        raise Refusal(f"{day:%B %-d, %Y} lies ahead; a reading is of today or before.", code="date.future", field="on")


def _meters(figure: int, unit: str) -> Fraction:
    return figure * selectors.METERS[unit]


def _ask_why(figure: int, unit: str, last: OdometerReading) -> Refusal:
    return Refusal(
        f"The odometer read {last.figure:,} {last.unit} on {last.read_on:%B %-d, %Y}; {figure:,} {unit} is less. "
        "Was an earlier reading mistyped, is this one mistyped, or was the instrument replaced? "
        "If nobody can tell, say so: the figure is kept and not counted.",
        code="odometer.went_back",
        field="odometer",
        confirmable=True,
    )


def _ask_about_jump(figure: int, unit: str, day: date, last: OdometerReading, confirmed: bool) -> None:
    days = max((day - last.read_on).days, 1)
    rise = _meters(figure, unit) - _meters(last.figure, last.unit)
    if not confirmed and day >= last.read_on and rise > JUMP_M_DAY * days:
        raise Refusal(
            f"{figure:,} {unit} is more than 2,000 mi a day since {last.figure:,} {last.unit} on "
            f"{last.read_on:%B %-d, %Y}. A digit too many? If it is right, confirm it.",
            code="odometer.jump",
            field="odometer",
            confirmable=True,
        )


def _ask_about_doubt(vehicle: Vehicle, figure: int, unit: str, day: date, last: OdometerReading) -> None:
    """A figure that the whole series doubts is asked while the vehicle still stands there."""
    verdict = doubt_of_new(vehicle, figure, unit, day)
    if verdict is None:
        return
    days = max((day - last.read_on).days, 1)
    rise = (_meters(figure, unit) - _meters(last.figure, last.unit)) / selectors.METERS[unit]
    fits = ""
    if verdict.meant is not None:
        fits = f" It fits as {formats.odometer(verdict.meant, unit)}: {MEANT_AS.get(verdict.kind, verdict.kind)}."
    raise Refusal(
        f"{formats.odometer(figure, unit)} would be {formats.odometer(round(rise / days), unit)} a day since "
        f"{formats.odometer(last.figure, last.unit)} on {formats.day(last.read_on)}.{fits} "
        "Look again and mend it; if it is right, confirm it.",
        code="odometer.jump",
        field="odometer",
        confirmable=True,
    )


def _judged(figure: int, unit: str, day: date, last: OdometerReading | None, why: str, source: str) -> tuple[str, str]:
    """Whether the reading counts, and why not. Readings of one instrument never fall with time."""
    if source == "estimate":
        return "set aside", "estimate: the odometer could not be read"
    if last is None or why == "replaced":
        return "counted", ""
    neighbors = OdometerReading.objects.filter(
        vehicle=last.vehicle_id, instrument=last.instrument, state="counted"
    ).values_list("read_on", "figure", "unit")
    meters = _meters(figure, unit)
    if any(on <= day and _meters(f, u) > meters for on, f, u in neighbors):
        return "set aside", WHY_LOWER.get(why) or "lower than a reading before it"
    if any(on > day and _meters(f, u) < meters for on, f, u in neighbors):
        return "set aside", "higher than a reading after it"
    return "counted", ""


def _set_aside_higher(vehicle: Vehicle, figure: int, unit: str, day: date, actor: Actor) -> None:
    """Set aside every earlier reading above the figure that counts now; the rows stay and say why."""
    rows = vehicle.readings.filter(state="counted", instrument=selectors.instrument_of(vehicle), read_on__lte=day)
    above = [row.pk for row in rows if _meters(row.figure, row.unit) > _meters(figure, unit)]
    OdometerReading.objects.filter(pk__in=above).update(
        state="set aside", reason=f"mistyped{selectors.SAYS}{actor.name}: {figure:,} {unit} was read later"
    )


@dataclass(frozen=True, slots=True)
class _Ends:
    """Where the old instrument ended and the new one began."""

    old: int | None
    is_estimate: bool
    first: int
    on: date


def _refuse_the_old_one(figure: int, unit: str, day: date, last: OdometerReading, ends: _Ends) -> None:
    """Refuse a replacement where the figure goes on from the old instrument and not from where the new one began.

    raises  Refusal odometer.old_one
    """
    run_old = _meters(figure, unit) - _meters(last.figure, last.unit)
    run_new = _meters(figure, unit) - _meters(ends.first, unit)
    since_last, since_new = (max((day - since).days, 1) for since in (last.read_on, ends.on))
    if run_old <= JUMP_M_DAY * since_last and run_new > JUMP_M_DAY * since_new:
        raise Refusal(
            f"The odometer shows {formats.odometer(figure, unit)} and read {formats.odometer(last.figure, last.unit)} "
            f"on {formats.day(last.read_on)}: the old instrument goes on. One that began at "
            f"{formats.odometer(ends.first, unit)} on {formats.day(ends.on)} cannot show it. Read the odometer once "
            "more, mend where the new one began, or untick that it was replaced.",
            code="odometer.old_one",
            field="first_figure",
        )


def _new_instrument(
    vehicle: Vehicle, actor: Actor, last: OdometerReading, read: tuple[int, str, date], ends: _Ends
) -> OdometerChange:
    figure, unit, day = read
    old = last.figure if ends.old is None else ends.old
    if old < last.figure:
        raise Refusal(
            f"The old instrument read {last} on {formats.day(last.read_on)}; "
            f"{formats.odometer(old, last.unit)} is less. Type what it stood at last.",
            code="odometer.old_last",
            field="old_figure",
        )
    if ends.first > figure:
        raise Refusal(
            f"The new instrument reads {formats.odometer(figure, unit)}; it cannot have begun at "
            f"{formats.odometer(ends.first, unit)}. Mend one of them.",
            code="odometer.new_first",
            field="first_figure",
        )
    if not last.read_on <= ends.on <= day:
        raise Refusal(
            f"The old instrument was read on {formats.day(last.read_on)} and the new one on {formats.day(day)}: "
            "it was replaced on one of these days or between them.",
            code="odometer.replaced_on",
            field="replaced_on",
        )
    said = f"said to {actor.name}"
    if ends.old is None:
        said += "; what the old one stood at was not asked"
    elif ends.is_estimate:
        said += f"; that the old one stood at {formats.odometer(old, last.unit)} is an estimate"
    return _change(vehicle, last.instrument, (old, last.unit), (ends.first, unit), ends.on, said)


def _change(
    vehicle: Vehicle, old_instrument: int, old_last: tuple[int, str], new_first: tuple[int, str], on: date, said: str
) -> OdometerChange:
    """One instrument after another; on one day only one of them is replaced."""
    try:
        with transaction.atomic():
            return OdometerChange.objects.create(
                vehicle=vehicle,
                old_instrument=old_instrument,
                new_instrument=old_instrument + 1,
                old_last_figure=old_last[0],
                old_unit=old_last[1],
                new_first_figure=new_first[0],
                new_unit=new_first[1],
                on=on,
                evidence=said,
            )
    except IntegrityError as cause:
        raise Refusal(
            f"The instrument of {vehicle} was replaced on that day already. Look at the day, and at the last reading.",
            code="odometer.changed_twice",
            field="replaced_on",
        ) from cause


def _save(reading: OdometerReading) -> OdometerReading:
    try:
        with transaction.atomic():
            reading.save()
    except IntegrityError as cause:
        raise Refusal("This reading was noted already.", code="odometer.twice", field="odometer") from cause
    return reading


def _noon(day: date) -> datetime:
    return datetime(day.year, day.month, day.day, 12, tzinfo=clock.now().tzinfo)


@transaction.atomic
def change_instrument(
    vehicle: Vehicle,
    *,
    actor: Actor,
    old_last: tuple[int, str],
    new_first: tuple[int, str],
    on: date,
    evidence: str = "",
) -> OdometerChange:
    """Note that the instrument was replaced; distances add across instruments from now on.

    old_last, new_first   (figure, "mi" or "km")
    raises                Refusal date.future, odometer.changed_twice
    """
    actor.must("take in")
    if on > clock.today(actor.house.time_zone):
        raise Refusal(f"{on:%B %-d, %Y} lies ahead.", code="date.future", field="on")
    change = _change(vehicle, selectors.instrument_of(vehicle), old_last, new_first, on, evidence)
    trail.write(
        actor, "instrument replaced", vehicle, old=list(old_last), new=list(new_first), on=on, evidence=evidence
    )
    return change


@transaction.atomic
def record_service(vehicle: Vehicle, *, actor: Actor, elsewhere: bool = False, **facts: Any) -> ServiceRecord:
    """Write a fluid service into the logbook: one of ours with its work order, or one done elsewhere.

    facts     columns of ServiceRecord: done_on, method, fluid_code, fraction_low_ppm, fraction_high_ppm, and more;
              `corrects` names the record that this one mends
    raises    Refusal date.future, service.twice
    """
    day = facts["done_on"]
    if day > clock.today(actor.house.time_zone):
        raise Refusal(f"{day:%B %-d, %Y} lies ahead; what is done is done.", code="date.future", field="done_on")
    facts.setdefault("instrument", selectors.instrument_of(vehicle))
    try:
        with transaction.atomic():
            record = ServiceRecord.objects.create(vehicle=vehicle, shop=None if elsewhere else actor.house, **facts)
    except IntegrityError as cause:
        raise Refusal(f"This service of {vehicle} is in the logbook already.", code="service.twice") from cause
    trail.write(
        actor,
        "service recorded",
        vehicle,
        method=record.method,
        on=day,
        fluid=record.fluid_code,
        where=str(record.shop or "elsewhere"),
    )
    return record


@transaction.atomic
def note_water(
    vehicle: Vehicle,
    *,
    actor: Actor,
    sampled_on: date,
    reference: str,
    water_ppm: int,
    limit_ppm: int,
    limit_source: str,
    method: str = "",
) -> LaboratoryResult:
    """Note how much water a laboratory found in a sample of the fluid.

    water_ppm, limit_ppm   mg/kg
    reference              number of the laboratory's slip, used once
    raises                 Refusal date.future, water.range, water.limit, water.twice
    """
    actor.must("take in")
    if sampled_on > clock.today(actor.house.time_zone):
        raise Refusal(
            f"{sampled_on:%B %-d, %Y} lies ahead; a sample is of today or before.",
            code="date.future",
            field="sampled_on",
        )
    if not 0 <= water_ppm <= MILLION:
        raise Refusal(f"{water_ppm:,} mg/kg of water cannot be; 0 to 1,000,000.", code="water.range", field="water_ppm")
    if not 0 < limit_ppm <= MILLION:
        raise Refusal(
            f"A limit of {limit_ppm:,} mg/kg cannot be; it is above 0.", code="water.limit", field="limit_ppm"
        )
    try:
        with transaction.atomic():
            result = LaboratoryResult.objects.create(
                vehicle=vehicle,
                shop=actor.house,
                sampled_on=sampled_on,
                reference=reference,
                method=method,
                water_ppm=water_ppm,
                limit_ppm=limit_ppm,
                limit_source=limit_source,
                by=actor.name,
                noted_at=clock.now(),
            )
    except IntegrityError as cause:
        raise Refusal(
            f"Slip {reference} is on file already. Read its number once more.",
            code="water.twice",
            field="reference",
            status=409,
        ) from cause
    trail.write(
        actor,
        "laboratory result noted",
        vehicle,
        reference=reference,
        sampled_on=sampled_on,
        water_ppm=water_ppm,
        limit_ppm=limit_ppm,
    )
    return result


@transaction.atomic
def withdraw_water(vehicle: Vehicle, *, actor: Actor, reference: str, why: str) -> LaboratoryResult:
    """Let a laboratory's slip count no more. It is kept and stays readable, with the reason.

    reference   number of the slip, as noted
    raises      Refusal water.why without a reason, water.withdrawn for a slip that does not stand on this vehicle
    """
    actor.must("take in")
    if not why.strip():
        raise Refusal(
            "No reason was given. Say why the slip counts no more, such as another vehicle's sample.",
            code="water.why",
            field="why",
        )
    standing = vehicle.laboratory_results.filter(reference=reference, withdrawn_at=None)
    if not standing.update(withdrawn_at=clock.now(), withdrawn_by=actor.name, withdrawn_why=why.strip()):
        raise Refusal(
            f"Slip {reference} does not count for {vehicle} now. Look at its laboratory results once more.",
            code="water.withdrawn",
            field="slip",
            status=409,
        )
    row = vehicle.laboratory_results.filter(reference=reference).latest("withdrawn_at")
    trail.write(actor, "laboratory result withdrawn", vehicle, reference=reference, why=why.strip())
    return row
