"""Fluid topped up between jobs: an exchange of so much as was added, in the book of the fluid's age."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from django.db import transaction

from shopserv.calc import age, errors
from shopserv.catalog.models import FluidProduct, Unit
from shopserv.catalog.selectors import products_meeting, sheet_in_force, specification_for, values_of
from shopserv.common import formats
from shopserv.common.errors import Refusal
from shopserv.logbook import services as logbook
from shopserv.logbook.models import ServiceRecord
from shopserv.logbook.selectors import OTHER_FLUID, TOP_UP, changes_of, distance_m, instrument_of
from shopserv.registry.models import Vehicle
from shopserv.reminders.services import forecasts
from shopserv.shop.actors import Actor

MILLION = 1_000_000


@transaction.atomic
def note_top_up(
    vehicle: Vehicle,
    *,
    actor: Actor,
    on: date,
    figure: int,
    unit: str,
    added_ml: int,
    fluid_code: str,
    elsewhere: bool = False,
    is_other_fluid_confirmed: bool = False,
) -> ServiceRecord:
    """Note that fluid was added for what was missing, and make the forecast anew: added / fill is new.

    A fluid that does not meet what the unit asks for is asked about; confirmed, it stands in the logbook without a
    share of new fluid, with a note that makes it suspect (`logbook.selectors.OTHER_FLUID`).

    figure, unit   of the odometer then
    raises         Refusal top_up.fill (the fill of the unit is not known), top_up.amount (more than the unit holds),
                   top_up.order (before the last job, by day or by distance), top_up.first_use,
                   top_up.fluid (to be confirmed), and those of record_service
    """
    actor.must("take in")
    if vehicle.in_service_on and on < vehicle.in_service_on:
        raise Refusal(
            f"It went into service on {formats.day(vehicle.in_service_on)}; a top-up stands after it. "
            "Look at the day and its year.",
            code="top_up.first_use",
            field="topped_on",
        )
    low, high, version, code = _fill(vehicle, on)
    try:
        shares = [age.share_of_add(added_ml, fill) for fill in (high, low)]
    except errors.OutOfRange as cause:
        raise Refusal(
            f"{formats.volume(added_ml)} is more than the {formats.volume(low)} that the unit holds. "
            "Was a whole exchange meant?",
            code="top_up.amount",
            field="added",
        ) from cause
    _refuse_out_of_order(vehicle, on, figure, unit)
    is_other = _is_other_fluid(vehicle, code, fluid_code, on)
    if is_other and not is_other_fluid_confirmed:
        raise Refusal(
            f"{fluid_code} does not meet what {code} asks for. Look at the package. If it was poured in, tick so: it "
            "counts for no share of new fluid, and wrong fluid is suspected (K-06).",
            code="top_up.fluid",
            field="fluid",
            confirmable=True,
            tick_words="It was poured in.",
        )
    if is_other:
        shares = [Fraction(0), Fraction(0)]
    record = logbook.record_service(
        vehicle,
        actor=actor,
        elsewhere=elsewhere,
        done_on=on,
        figure=figure,
        unit=unit,
        method=TOP_UP,
        fluid_code=fluid_code,
        liters_in_ml=added_ml,
        unit_code=code,
        sheet_version=version,
        fraction_low_ppm=int(shares[0] * MILLION),
        fraction_high_ppm=int(shares[1] * MILLION),
        note=OTHER_FLUID if is_other else "",
    )
    forecasts.renew(vehicle, actor=actor)
    return record


def _fill(vehicle: Vehicle, on: date) -> tuple[int, int, int, str]:
    """Fill of the unit, low and high, in mL; version of the sheet; code of the unit."""
    row = vehicle.identifications.filter(state__in=["counted", "disputed"]).select_related("unit").first()
    sheet = sheet_in_force(row.unit, on) if row else None
    fill = values_of(sheet).get("total_fill_ml") if sheet else None
    if row is None or sheet is None or fill is None or not fill.low or not fill.high:
        raise Refusal(
            "How much the unit holds is not known; what was added has no share. Find its unit and sheet first.",
            code="top_up.fill",
            field="added",
        )
    return fill.low, fill.high, sheet.version, row.unit.code


def _is_other_fluid(vehicle: Vehicle, unit_code: str, fluid_code: str, on: date) -> bool:
    """Whether a product of the list meets the specification of none of the unit's sumps."""
    unit = Unit.objects.get(code=unit_code)
    sheet = sheet_in_force(unit, on)
    if sheet is None or not FluidProduct.objects.filter(code=fluid_code).exists():
        return False
    for sump in {row.get("sump", "") for row in sheet.fluids}:
        asked = specification_for(sheet, vehicle.build_month, sump)
        if asked and any(product.code == fluid_code for product in products_meeting(asked, on)):
            return False
    return bool(sheet.fluids)


def _refuse_out_of_order(vehicle: Vehicle, on: date, figure: int, unit: str) -> None:
    last = vehicle.services.filter(corrected_by=None).exclude(figure=None).order_by("done_on", "pk").last()
    if last is None:
        return
    changes = changes_of(vehicle)
    before = distance_m(last.figure or 0, last.unit, last.instrument, changes)
    run = distance_m(figure, unit, instrument_of(vehicle), changes)
    if on < last.done_on or run < before:
        raise Refusal(
            f"The last job was on {formats.day(last.done_on)} at {formats.odometer(last.figure or 0, last.unit)}; "
            "a top-up stands after it.",
            code="top_up.order",
            field="topped_on" if on < last.done_on else "odometer",
        )
