"""What earlier jobs put in that one should know of before more is filled: named by a paper alone, or withdrawn."""

from __future__ import annotations

from datetime import date

from shopserv.catalog.models import FluidProduct, FluidSpecification
from shopserv.common import formats
from shopserv.logbook.models import ServiceRecord
from shopserv.registry.models import Vehicle


def warning(vehicle: Vehicle, day: date) -> str:
    """A sentence on the newest job whose fluid is no product of the list; empty where every one is known. Two queries.

    A withdrawn specification whose successor fits backward may be followed by that; the product stays unknown.
    """
    known = FluidProduct.objects.values("code")
    records = ServiceRecord.objects.filter(vehicle=vehicle, corrected_by__isnull=True).exclude(fluid_code__in=known)
    record = records.order_by("-done_on").first()
    if record is None:
        return ""
    done = (
        f"The job of {formats.day(record.done_on)} names only “{record.fluid_code}”: which product went in is not known"
    )
    named = FluidSpecification.objects.select_related("successor").filter(code=record.fluid_code.split(" ")[0]).first()
    if named is None or named.withdrawn_on is None or named.withdrawn_on > day:
        return f"{done}. Look at the fluid first."
    withdrawn = f"{named.name} was withdrawn on {formats.day(named.withdrawn_on)}"
    if named.backward_fit and named.successor:
        return f"{done}. {withdrawn}; its successor {named.successor.name} fits backward. Watch the fluid."
    return f"{done}. {withdrawn} and nothing fits backward: the shop owner decides."
