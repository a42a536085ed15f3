"""How hot a vehicle's fluid runs: told by kinds of use, or read from a log."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import Any

from django.db import IntegrityError, transaction

from shopserv.calc import errors, profile, templog
from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.common.fields import sha256
from shopserv.registry.models import TemperatureLog, UsePattern, Vehicle
from shopserv.registry.services import vehicles
from shopserv.shop import trail
from shopserv.shop.actors import Actor

MILLION = 1_000_000
MOST_BYTES = 4_000_000
FAULTS_KEPT = 50
LEAST_SECONDS = 2 * 3600  # of running: common practice, no source
USUAL_C = (50, 130)  # mean of a sump while running: common practice, no source


@transaction.atomic
def note_profile(
    vehicle: Vehicle,
    *,
    actor: Actor,
    short_trip_ppm: int,
    stored_months: int,
    loads: Sequence[tuple[str, int, int]],
    is_assumed: bool = False,
    on: date | None = None,
) -> UsePattern:
    """Note how a vehicle is used by kinds of use.

    loads        (kind, share_ppm, sump in thousandths of a °C); the shares sum to 100 %
    is_assumed   the temperatures are those that the house assumes, nobody read them on the vehicle
    raises       Refusal use.profile, use.share, use.stored
    """
    if not 0 <= stored_months <= 12:
        raise Refusal(f"{stored_months} months a year cannot be; 0 to 12.", code="use.stored", field="stored_months")
    try:
        found = profile.loads([(kind, Fraction(ppm, MILLION), Fraction(mdegc, 1000)) for kind, ppm, mdegc in loads])
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="use.profile", field="share_city") from cause
    day = on or clock.today(actor.house.time_zone)
    before = vehicle.uses.filter(from_on__lte=day).order_by("-from_on").first()
    by_kind = {one.kind: int(one.share * MILLION) for one in found}
    return vehicles.note_use(
        vehicle,
        actor=actor,
        on=day,
        idle_ppm=before.idle_ppm if before else 0,
        short_trip_ppm=short_trip_ppm,
        stored_months=stored_months,
        towing_ppm=by_kind.get("towing", 0),
        hill_ppm=by_kind.get("hill", 0),
        temperatures=[[int(share * MILLION), int(at * 1000)] for share, at in profile.bins_of(found)],
        profile=[list(load) for load in loads],
        heat_from="assumed" if is_assumed else "told",
        log=None,
    )


def read_log(
    text: str,
    *,
    time: int | None = None,
    heat: int | None = None,
    unit: str | None = None,
    order: str = "mdy",
    ticks: str | None = None,
) -> templog.Log:
    """A log as it would count, its faults with their lines.

    time, heat   places of the columns from 0, where the head does not say
    order        of a day in the log: mdy or dmy
    ticks        unit of a time that is a plain number: ms, s, min or h, where the head does not say
    raises       Refusal log.columns, log.unit, log.ticks (what must be asked), log.unreadable
    """
    try:
        head = templog.head_of(text)
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="log.unreadable", field="file") from cause
    at, hot = (place if asked is None else asked for place, asked in ((head.time, time), (head.heat, heat)))
    names = ", ".join(f"{n} {name or '(no name)'}" for n, name in enumerate(head.names, start=1))
    if at is None:
        raise Refusal(
            f"Which column is the time? The file has: {names}. Type its number.", code="log.columns", field="time"
        )
    if hot is None:
        raise Refusal(
            f"Which column is the fluid's temperature? The file has: {names}. Type its number.",
            code="log.columns",
            field="heat",
        )
    if unit is None and 0 <= hot < len(head.names) and templog.unit_of(head.names[hot]) is None:
        raise Refusal(
            f"Is “{head.names[hot]}” in °C or in °F? The file does not say; choose.", code="log.unit", field="unit"
        )
    counts = None if ticks else templog.counted(text, head, at)
    if counts is not None:
        spans = "; ".join(f"in {sign} {templog.length(counts * tick)}" for sign, tick in templog.TICKS.items())
        raise Refusal(
            f"In what does “{head.names[at]}” count? The file does not say. It would last {spans}. Choose.",
            code="log.ticks",
            field="ticks",
        )
    try:
        return templog.read(text, head, time=at, heat=hot, unit=unit, order=order, ticks=ticks)
    except errors.UnknownChoice as cause:
        raise Refusal(str(cause), code="log.columns", field="heat") from cause
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="log.unreadable", field="file") from cause


@transaction.atomic
def note_log(
    vehicle: Vehicle,
    *,
    actor: Actor,
    file_name: str,
    data: bytes,
    time: int | None = None,
    heat: int | None = None,
    unit: str | None = None,
    ticks: str | None = None,
    are_faults_confirmed: bool = False,
    is_heat_confirmed: bool = False,
) -> UsePattern:
    """Take how hot the fluid runs from a log; its steps of 5 K are kept with its hash, not its lines.

    raises  Refusal of `read_log`; log.size, log.letters, log.twice, log.faults (lines that do not count; it can be
            confirmed that the rest counts), log.no_use where nothing is known of its use yet, log.short, log.future,
            log.before; log.heat for a mean that a running sump rarely has (it can be confirmed)
    """
    actor.must("take in")
    today = clock.today(actor.house.time_zone)
    text = _text(data)
    order = "mdy" if actor.house.units_first == "us" else "dmy"
    log = read_log(text, time=time, heat=heat, unit=unit, order=order, ticks=ticks)
    if log.faults and not are_faults_confirmed:
        raise _faulty(log)
    before = vehicle.uses.filter(from_on__lte=today).order_by("-from_on").first()
    if before is None:
        raise Refusal("Note first how the vehicle is used; the log says only how hot it runs.", code="log.no_use")
    try:
        strips = templog.strips(log.samples)
    except errors.InsufficientReadings as cause:
        raise Refusal(str(cause), code="log.unreadable", field="file") from cause
    _believe(vehicle, today, log, strips, is_heat_confirmed=is_heat_confirmed)
    head = templog.head_of(text)
    hot = head.heat if heat is None else heat
    scale = unit or (templog.unit_of(head.names[hot]) if hot is not None else None) or ""
    # The same file told to be in another unit is another log.
    told = "".join(filter(None, (unit, ticks))).encode()
    row = _keep(vehicle, actor, today, file_name, data + told, scale, log, strips)
    use = vehicles.note_use(
        vehicle,
        actor=actor,
        on=today,
        short_trip_ppm=before.short_trip_ppm,
        towing_ppm=before.towing_ppm,
        hill_ppm=before.hill_ppm,
        idle_ppm=before.idle_ppm,
        stored_months=before.stored_months,
        temperatures=_whole(templog.bins_of(strips)),
        profile=[],
        heat_from="log",
        log=row,
    )
    trail.write(actor, "temperature log taken", vehicle, file=row.file_name, sha256=row.sha256, rows=row.rows)
    return use


def _believe(
    vehicle: Vehicle, today: date, log: templog.Log, strips: Sequence[templog.Strip], *, is_heat_confirmed: bool
) -> None:
    """Refuse a log that says too little, or is of another time; ask about a heat that is rare."""
    counted = templog.duration(strips)
    if counted < LEAST_SECONDS:
        raise Refusal(
            f"The log counts {float(counted / 60):,.1f} minutes of running; at least {LEAST_SECONDS // 3600} hours are "
            "needed to say how hot a life is. Log a longer drive.",
            code="log.short",
            field="file",
        )
    days = templog.days_of(log)
    if days and days[1] > today + timedelta(days=1):  # a day: the zone of a logger is not known
        raise Refusal(
            f"The log runs until {days[1]:%B %-d, %Y}, which is yet to come. Set the clock of the logger.",
            code="log.future",
            field="file",
        )
    first_use = vehicle.in_service_on
    if days and first_use and days[0] < first_use:
        raise Refusal(
            f"The log begins on {days[0]:%B %-d, %Y}, before the first use on {first_use:%B %-d, %Y}. Is it of this "
            "vehicle? Set the clock of the logger.",
            code="log.before",
            field="file",
        )
    mean = templog.mean(strips)
    if not is_heat_confirmed and not USUAL_C[0] <= mean <= USUAL_C[1]:
        raise Refusal(
            f"The log counts {templog.length(counted)} of running. "
            f"The mean is {float(mean):.1f} °C ({float(mean * 9 / 5 + 32):.1f} °F); while running it is usually "
            f"{USUAL_C[0]} to {USUAL_C[1]} °C. Is the unit right, and the column?",
            code="log.heat",
            field="unit",
            confirmable=True,
            tick_words="the unit is right, it ran at that",
        )


@transaction.atomic
def withdraw_log(vehicle: Vehicle, *, actor: Actor) -> UsePattern:
    """Let the log that counts count no more; how hot it ran by the use noted before counts again. The log is kept.

    raises   Refusal log.none without a log that counts, log.alone where nothing else was noted before
    """
    actor.must("take in")
    today = clock.today(actor.house.time_zone)
    rows = list(vehicle.uses.filter(from_on__lte=today).select_related("log").order_by("-from_on"))
    if not rows or rows[0].log is None:
        raise Refusal("No temperature log counts for it now.", code="log.none")
    log = rows[0].log
    earlier = next((row for row in rows if row.log_id != log.pk), None)
    if earlier is None:
        raise Refusal(
            "Nothing else was noted before it. Note how the vehicle is used; that stands for the log.", code="log.alone"
        )
    use = vehicles.note_use(
        vehicle,
        actor=actor,
        on=today,
        short_trip_ppm=rows[0].short_trip_ppm,
        towing_ppm=earlier.towing_ppm,
        hill_ppm=earlier.hill_ppm,
        idle_ppm=rows[0].idle_ppm,
        stored_months=rows[0].stored_months,
        temperatures=earlier.temperatures,
        profile=earlier.profile,
        heat_from=earlier.heat_from,
        log=earlier.log,
    )
    trail.write(actor, "temperature log withdrawn", vehicle, file=log.file_name, sha256=log.sha256)
    return use


def _text(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise Refusal(
            "The file has more than 4 MB; at most 4 MB are read. Cut it into parts.",
            code="log.size",
            field="file",
        )
    if b"\x00" in data:
        raise Refusal(
            "The file is not text. Save the log as CSV (comma-separated text).", code="log.letters", field="file"
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _faulty(log: templog.Log) -> Refusal:
    named = " ".join(f"Line {fault.line}: {fault.why}" for fault in log.faults[:5])
    more = f" And {len(log.faults) - 5:,} more." if len(log.faults) > 5 else ""
    return Refusal(
        f"{len(log.faults):,} of {len(log.faults) + len(log.samples):,} lines cannot count. {named}{more} "
        f"The others last {templog.length(templog.lasts(log))}.",
        code="log.faults",
        field="file",
        confirmable=True,
        tick_words="count the others without these lines",
    )


def _keep(
    vehicle: Vehicle,
    actor: Actor,
    today: date,
    file_name: str,
    data: bytes,
    unit: str,
    log: templog.Log,
    strips: Sequence[templog.Strip],
) -> TemperatureLog:
    now = vehicle.uses.filter(from_on__lte=today).order_by("-from_on").first()
    known = TemperatureLog.objects.filter(vehicle=vehicle, sha256=sha256(data)).first()
    if known and now and now.log_id != known.pk:
        return known  # withdrawn, or followed by something else: it is taken again
    try:
        with transaction.atomic():
            return TemperatureLog.objects.create(
                vehicle=vehicle,
                file_name=file_name[-120:],
                sha256=sha256(data),
                unit=unit,
                rows=len(log.samples),
                begins=templog.said(log.samples[0].at),
                ends=templog.said(log.samples[-1].at),
                steps=[[one.low_c, int(one.seconds * 1000), round(one.mean_c * 1000)] for one in strips],
                faults=[[fault.line, fault.why[:200]] for fault in log.faults[:FAULTS_KEPT]],
                fault_count=len(log.faults),
                gap_count=len(log.gaps),
                by=actor.name,
                noted_on=today,
            )
    except IntegrityError as cause:
        raise Refusal(
            f"This very log of {vehicle} was taken already.", code="log.twice", field="file", status=409
        ) from cause


def _whole(bins: Sequence[tuple[Fraction, Fraction]]) -> list[list[Any]]:
    """Shares in ppm that sum to the whole, what rounding leaves going to the longest."""
    rows = [[int(share * MILLION), round(at * 1000)] for share, at in bins]
    longest = max(range(len(rows)), key=lambda n: rows[n][0])
    rows[longest][0] += MILLION - sum(share for share, _ in rows)
    return rows
