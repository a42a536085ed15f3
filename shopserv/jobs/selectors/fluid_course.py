"""The Fluid course page: order and liters of the stages of one method, and what other orders would give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.http import Http404

from shopserv.catalog import selectors as catalog
from shopserv.common import clock
from shopserv.jobs import courses
from shopserv.registry import selectors as registry
from shopserv.registry.models import Vehicle
from shopserv.shop import terms
from shopserv.shop.actors import Actor


@dataclass(frozen=True, slots=True)
class CoursePage:
    """One method's course for a vehicle.

    low, high        the same but where the fill is a band
    loss_points      how many thousandths of the lower share an edited course loses against the default; 0: none
    others           (name, course or reason) of other orders for the same new fluid
    spread_ppm       share of new fluid if fill and drains were 20 % off
    pickup_ml, dips_ml   where the pump draws air, below full; where turning parts dip, above full; none: not known
    fault            why the course cannot be taken; empty: it can
    """

    method: str
    words: str
    unit: str
    sheet_version: int
    low: courses.Course | None
    high: courses.Course | None
    loss_points: int
    others: tuple[tuple[str, courses.Course | str], ...]
    spread_ppm: tuple[int, int] | None
    pickup_ml: int | None
    dips_ml: int | None
    fault: str = ""


def course_page(
    actor: Actor, vehicle: Vehicle, method: str, *, stages: Sequence[Mapping[str, Any]] | None = None
) -> CoursePage:
    """The course of a method for a vehicle: the default, or `stages` as a person has changed them.

    raises   Http404 for a method that there is not, or a unit without a sheet in force
    """
    actor.must("open file")
    identified = registry.identification_of(vehicle)
    day = clock.today(actor.house.time_zone)
    sheet = catalog.sheet_in_force(identified.unit, day) if identified else None
    if sheet is None or method not in courses.METHODS:
        raise Http404("no such course")
    values = catalog.values_of(sheet)
    facts = courses.facts_of(values, sheet.sumps)
    house = courses.HouseNumbers(**terms.house_rules(actor.house, day).course_numbers)
    low = high = default = None
    fault = ""
    try:
        made = [courses.default_course(method, facts, house, fill) for fill in courses.fills(facts)]
        default, low, high = made[0], made[0], made[-1]
        if stages is not None:
            made = [courses.edited_course(method, stages, facts, house, fill) for fill in courses.fills(facts)]
            low, high = made[0], made[-1]
    except courses.CannotPlan as cause:
        fault = str(cause)
    shown = low or default
    return CoursePage(
        method=method,
        words=courses.METHODS[method].words,
        unit=sheet.unit.code,
        sheet_version=sheet.version,
        low=low,
        high=high,
        loss_points=_loss(default, low),
        others=courses.other_orders(shown, facts, house) if shown else (),
        spread_ppm=courses.spread(shown, facts) if shown else None,
        pickup_ml=facts.pickup_below_full_ml,
        dips_ml=facts.dips_above_full_ml,
        fault=fault,
    )


def _loss(default: courses.Course | None, taken: courses.Course | None) -> int:
    if default is None or taken is None:
        return 0
    return max(0, ((default.fraction_low_ppm or 0) - (taken.fraction_low_ppm or 0)) // 1000)
