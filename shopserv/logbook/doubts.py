"""Which counted readings of a vehicle are likely wrong; nothing is decided here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from shopserv.calc.readings import Typed, Verdict, verdicts
from shopserv.logbook.models import OdometerChange, OdometerReading
from shopserv.logbook.selectors import METERS, changes_of, distance_m, instrument_of, readings_of
from shopserv.registry.models import Vehicle
from shopserv.shop.actors import Actor

LOOKED_AGAIN = "looked at again"  # how the reason of a reading begins that a person found right


@dataclass(frozen=True, slots=True)
class Doubt:
    """A counted reading that is more likely wrong than right, and what it likely is.

    meant   the figure that was likely meant, in the unit of the reading; None: nobody can tell
    """

    reading: OdometerReading
    verdict: Verdict
    meant: int | None


def judged(rows: Sequence[OdometerReading], changes: list[OdometerChange], unit: str) -> tuple[Verdict, ...]:
    """A verdict for each counted reading of one vehicle; what a person has looked at again is right.

    unit   that the vehicle is kept in
    """
    typed = []
    for row in rows:
        figure = row.figure * METERS[row.unit] / METERS[unit]
        before = distance_m(row.figure, row.unit, row.instrument, changes) / METERS[unit] - figure
        typed.append(Typed(row.read_on, Fraction(figure), before, row.reason.startswith(LOOKED_AGAIN)))
    return verdicts(typed, unit)


def doubt_of_new(vehicle: Vehicle, figure: int, unit: str, on: date) -> Verdict | None:
    """What the whole series says against a reading that is about to be noted, in its unit; none: it fits.

    unit   that the present instrument shows
    """
    rows = list(vehicle.readings.filter(state="counted").order_by("read_at", "pk"))
    number = instrument_of(vehicle)
    new = OdometerReading(vehicle=vehicle, figure=figure, unit=unit, instrument=number, read_on=on)
    verdict = judged([*rows, new], changes_of(vehicle), vehicle.distance_unit)[-1]
    if not verdict.is_doubted:
        return None
    return verdict if unit == vehicle.distance_unit else replace(verdict, meant=None)


def doubts_of(actor: Actor, vehicle: Vehicle) -> list[Doubt]:
    """The counted readings of `vehicle` that are doubted, oldest first."""
    rows = [row for row in readings_of(actor, vehicle) if row.state == "counted"]
    found = judged(rows, changes_of(vehicle), vehicle.distance_unit)
    return [
        Doubt(row, verdict, verdict.meant if row.unit == vehicle.distance_unit else None)
        for row, verdict in zip(rows, found, strict=True)
        if verdict.is_doubted
    ]
