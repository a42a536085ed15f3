"""What every paper carries: the shop, the vehicle, the customer, the moment."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from shopserv.jobs.models import Visit
from shopserv.logbook.selectors import last_counted
from shopserv.registry.models import Customer, Vehicle
from shopserv.registry.selectors import plate_on
from shopserv.shop.models import Shop


def shop_part(shop: Shop) -> dict[str, Any]:
    """Name, legal name, address, telephone and registration of the shop."""
    return {
        "code": shop.code,
        "name": shop.name,
        "legal_name": shop.business.legal_name,
        "tax_number": shop.business.tax_number,
        "address": list(shop.address),
        "phone": shop.phone,
        "email": shop.email,
        "registration_number": shop.registration_number,
        "currency": shop.business.currency,
        "country": shop.business.country,
        "time_zone": shop.time_zone,
        "units_first": shop.units_first,
        "paper_size": shop.paper_size,
    }


def vehicle_part(vehicle: Vehicle, visit: Visit | None, at: datetime, shop: Shop) -> dict[str, Any]:
    """VIN, plate, year, make, model, and the odometer as read on the visit, else as last counted."""
    plate = plate_on(vehicle, at.astimezone(ZoneInfo(shop.time_zone)).date())
    reading = (visit.odometer if visit else None) or last_counted(vehicle)
    return {
        "number": vehicle.number,
        "fleet_number": vehicle.fleet_number,
        "vin": vehicle.vin or vehicle.vin_as_read,
        "plate": plate.as_typed if plate else "",
        "year": vehicle.year,
        "make": vehicle.make,
        "model": vehicle.model,
        "odometer": reading.figure if reading else None,
        "odometer_unit": reading.unit if reading else vehicle.distance_unit,
        "odometer_on": reading.read_on.isoformat() if reading else "",
    }


def customer_part(customer: Customer) -> dict[str, Any]:
    """Name, address and telephone of the customer."""
    phone = next((p.as_typed for p in customer.contact_points.all() if p.kind == "phone" and p.state == "good"), "")
    return {
        "number": customer.number,
        "name": customer.name,
        "address": list(customer.address),
        "phone": phone,
        "language": customer.language,
    }


def visit_part(visit: Visit | None) -> dict[str, Any]:
    """What the stay adds: number, complaint in the customer's own words, wishes, promise, storage."""
    if visit is None:
        return {"number": "", "complaints": [], "old_parts_wanted": False, "promised_at": "", "inspect_cents": 0}
    return {
        "number": visit.number,
        "complaints": [{"words": c.words, "lamps": c.lamps, "since": c.since} for c in visit.complaints.all()],
        "old_parts_wanted": visit.old_parts_wanted,
        "promised_from": moment(visit.promised_from),
        "promised_at": moment(visit.promised_at),
        "inspect_cents": visit.inspect_cents,
    }


def moment(at: datetime | None) -> str:
    """A moment as text, in UTC; empty where there is none."""
    return at.isoformat() if at else ""
