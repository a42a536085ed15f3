"""A stored forecast made again from the inputs that were kept with it. No table is read."""

from __future__ import annotations

from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc import age, mileage, severity
from shopserv.calc import forecast as arithmetic
from shopserv.reminders.models import Forecast

MILLION = 1_000_000


class CannotRemake(ValueError):
    """A forecast that did not keep all that it was made from; says what is missing."""


def arguments_of(row: Forecast) -> dict[str, Any] | None:
    """What `calc.forecast.forecast` was called with; none where too little was known to call it.

    raises   CannotRemake
    """
    said = row.working
    if "counted_from" not in said:
        return None
    inputs, place = said["inputs"], said.get("place")
    if not place:
        raise CannotRemake("the figures of its climate were not kept")
    short_trips, stored, temperatures = inputs["use"]
    water = inputs.get("water")
    return {
        "unit": inputs["distance_unit"],
        "base_distance": Fraction(inputs["interval"]),
        "base_months": inputs["interval_months"],
        "climate": arithmetic.Climate(
            tuple(mdegc / 1000 for mdegc in place["mean_mdegc"]),
            tuple(ppm / MILLION for ppm in place["humidity_ppm"]),
            place["altitude_m"],
        ),
        "use": arithmetic.Use(
            Fraction(short_trips, MILLION),
            Fraction(stored, 12),
            tuple((Fraction(share, MILLION), mdegc / 1000) for share, mdegc in temperatures),
        ),
        "first_use": date.fromisoformat(inputs["in_service_on"]) if inputs["in_service_on"] else None,
        "readings": [(date.fromisoformat(on), Fraction(run)) for on, run in inputs["readings"]],
        "jobs": [
            arithmetic.Job(date.fromisoformat(on), Fraction(run), Fraction(share)) for on, run, share in inputs["jobs"]
        ],
        "today": date.fromisoformat(said["today"]),
        "measured": (Fraction(water[0], MILLION), Fraction(water[1], MILLION)) if water else None,
    }


def made_again(row: Forecast) -> arithmetic.Forecast | None:
    """The forecast once more; none where too little was known.

    raises   CannotRemake
    """
    arguments = arguments_of(row)
    return None if arguments is None else arithmetic.forecast(**arguments)


def state_of(row: Forecast) -> severity.State | None:
    """What the clocks of calc.severity take, from what was kept; none where too little was kept."""
    try:
        given = arguments_of(row)
    except CannotRemake:
        return None
    if given is None:
        return None
    readings, rate = given["readings"], row.working["rate_a_day"][1]
    return severity.State(
        base_distance=given["base_distance"],
        base_months=given["base_months"],
        climate=given["climate"],
        use=given["use"],
        first_use=given["first_use"],
        jobs=tuple(age.Job(job.on, job.distance, job.fraction) for job in given["jobs"]),
        run=readings[-1][1] if readings else None,
        read_on=readings[-1][0] if readings else None,
        rate=None if rate is None else Fraction(rate),
        measured=given["measured"],
        unit=given["unit"],
        readings=tuple(mileage.Reading(*one) for one in readings),
        is_banded=False,
    )
