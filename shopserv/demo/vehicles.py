"""Vehicles with plates, keepers, use and unit; what was read and done."""

from __future__ import annotations

from datetime import date
from typing import Any

from shopserv.calc import vin
from shopserv.catalog.models import Unit
from shopserv.demo.rows import Tally, day, noon, ppm, scenario, the_day, thousandths
from shopserv.logbook.models import OdometerChange, OdometerReading, ServiceRecord
from shopserv.registry.models import Customer, Identification, KeeperRecord, PlateRecord, UsePattern, Vehicle
from shopserv.registry.normal import plate_form
from shopserv.shop.models import ClimatePlace, Shop

AS_OF = date(2026, 11, 24)
STRAY_KNOWN_FROM = date(2025, 6, 11)


def everyone() -> list[dict[str, Any]]:
    """Private vehicles, stray records and vans in one form: the scenario's, with what a van takes from its fleet."""
    data = scenario()
    fleet = data["fleet"]
    vans = [
        {**van, "keeper": fleet["customer"], "use": fleet["use"], "fleet_number": van["no"]} for van in fleet["vans"]
    ]
    return [*data["vehicles"], *data["stray_records"], *vans]


def known_from(one: dict[str, Any]) -> date:
    """The day from which plate, use and keeper of a vehicle are known: its first use, else its first reading."""
    return the_day(one.get("in_service") or min(on for on, _ in one["readings"]))


def load_vehicles(
    tally: Tally, shops: dict[str, Shop], places: dict[str, ClimatePlace], customers: dict[str, Customer]
) -> dict[str, Vehicle]:
    """Vehicles by their own number; the stray second record of V-03 is one of them, marked as disputed."""
    all_of_them = everyone()
    rows = [_vehicle(one, places[one["home_climate"]], shops) for one in all_of_them]
    vehicles = {key[0]: row for key, row in tally.ensure(Vehicle, ("number",), rows).items()}
    plates = [
        PlateRecord(
            vehicle=vehicles[one["no"]],
            plate=plate_form(one["plate"]),
            as_typed=one["plate"],
            from_on=known_from(one),
        )
        for one in all_of_them
    ]
    tally.ensure(PlateRecord, ("vehicle", "from_on"), plates)
    keepers = [
        KeeperRecord(vehicle=vehicles[one["no"]], customer=customers[who], from_on=on)
        for one in all_of_them
        for who, on in _keepers(one)
    ]
    tally.ensure(KeeperRecord, ("vehicle", "from_on"), keepers)
    uses = [_use(vehicles[one["no"]], one) for one in all_of_them if "use" in one]
    tally.ensure(UsePattern, ("vehicle", "from_on"), uses)
    return vehicles


def _vehicle(one: dict[str, Any], place: ClimatePlace, shops: dict[str, Shop]) -> Vehicle:
    stray = "of" in one
    return Vehicle(
        number=one["no"],
        fleet_number=one.get("fleet_number", ""),
        vin_as_read=one["vin"],
        vin=vin.normal_form(one["vin"]),
        vin_check=vin.status(one["vin"]),
        vin_kept_because=one["note"] if stray else "",
        is_disputed=stray,
        year=one["year"],
        make=one["make"],
        model=one["model"],
        wheels_driven=_wheels(one),
        build_month=one.get("build", ""),
        in_service_on=day(one.get("in_service")),
        distance_unit=one.get("unit_of_distance", "mi"),
        home_climate=place,
        first_shop=shops[_first_shop(one)],
    )


def _wheels(one: dict[str, Any]) -> str:
    fits = scenario()["fitments"]
    return next((f["wheels_driven"] for f in fits if (f["make"], f["model"]) == (one["make"], one["model"])), "")


def _first_shop(one: dict[str, Any]) -> str:
    done = [service["where"] for service in one["services"] if service["where"] != "elsewhere"]
    if done:
        return str(done[0])
    return "SLT" if one["home_climate"] == "SALTREACH" else "BRW"


def _keepers(one: dict[str, Any]) -> list[tuple[str, date]]:
    if "keepers" in one:
        return [(who, the_day(since)) for who, since, _ in one["keepers"]]
    return [(one["keeper"], known_from(one))]


def _use(vehicle: Vehicle, one: dict[str, Any]) -> UsePattern:
    use = one["use"]
    return UsePattern(
        vehicle=vehicle,
        short_trip_ppm=ppm(use["short_trip_share"]),
        towing_ppm=ppm(use["towing_share"]),
        hill_ppm=ppm(use["hill_share"]),
        idle_ppm=ppm(use["idle_share"]),
        stored_months=use["stored_months"],
        temperatures=[[ppm(share), thousandths(celsius)] for share, celsius in use["temps"]],
        from_on=known_from(one),
    )


def load_identifications(tally: Tally, vehicles: dict[str, Vehicle], units: dict[str, Unit]) -> None:
    """One counted identification a vehicle. The vans were read from their tags when they came to the fleet."""
    have = set(Identification.objects.values_list("vehicle_id", flat=True))
    rows = [
        Identification(
            vehicle=vehicles[one["no"]],
            unit=units[one["unit"]],
            grade=one.get("identified", "assumed" if "of" in one else "read from tag"),
            evidence=[{"what": one.get("identified", "fleet file"), "from": "demonstration"}],
            by="loading",
            at=noon(known_from(one)),
        )
        for one in everyone()
        if vehicles[one["no"]].pk not in have
    ]
    tally.ensure(Identification, ("vehicle", "state"), rows)


def load_history(tally: Tally, vehicles: dict[str, Vehicle], shops: dict[str, Shop]) -> None:
    """Readings, changed instruments and services. A reading that cannot be so is set aside, one ahead is refused."""
    readings = [row for one in everyone() for row in _readings(vehicles[one["no"]], one, tally)]
    tally.ensure(OdometerReading, ("vehicle", "instrument", "read_at", "source"), readings)
    changes = [
        OdometerChange(
            vehicle=vehicles[one["no"]],
            old_instrument=1,
            new_instrument=2,
            old_last_figure=change["old_last"],
            old_unit=change["old_unit"],
            new_first_figure=change["new_first"],
            new_unit=change["new_unit"],
            on=the_day(change["date"]),
        )
        for one in everyone()
        for change in one.get("odometer_changes", [])
    ]
    tally.ensure(OdometerChange, ("vehicle", "on"), changes)
    services = [_service(vehicles[one["no"]], one, service, shops) for one in everyone() for service in one["services"]]
    tally.ensure(ServiceRecord, ("vehicle", "done_on", "method", "work_order_number"), services)


def _readings(vehicle: Vehicle, one: dict[str, Any], tally: Tally) -> list[OdometerReading]:
    source = "fleet file" if one.get("fleet_number") else "intake"
    highest, rows = 0, []
    for text, figure in one["readings"]:
        on = the_day(text)
        if on > AS_OF:
            tally.refused.append(f"{one['no']}: a reading of {figure:,} dated {text} lies ahead; not taken")
            continue
        reason = ""
        if figure < highest:
            reason = f"lower than {highest:,} before it; cannot tell which is wrong"
            if one.get("note", "").startswith("driver typed the trip meter"):
                reason = f"lower than {highest:,} before it; {one['note']}"
        highest = max(highest, figure)
        rows.append(_reading(vehicle, figure, one.get("unit_of_distance", "mi"), 1, on, source, reason))
    for text, figure in one.get("readings_second", []):
        rows.append(_reading(vehicle, figure, one["second_unit"], 2, the_day(text), source, ""))
    return rows


def _reading(
    vehicle: Vehicle, figure: int, unit: str, instrument: int, on: date, source: str, reason: str
) -> OdometerReading:
    return OdometerReading(
        vehicle=vehicle,
        shop=vehicle.first_shop,
        figure=figure,
        unit=unit,
        as_typed=str(figure),
        instrument=instrument,
        read_on=on,
        read_at=noon(on),
        source=source,
        by="loading",
        state="set aside" if reason else "counted",
        reason=reason,
    )


def _service(vehicle: Vehicle, one: dict[str, Any], service: dict[str, Any], shops: dict[str, Shop]) -> ServiceRecord:
    share = ppm(service["fraction"])
    sumps = ", ".join(f"{name}: {fluid} {ml} mL, {part} new" for name, fluid, ml, part in service.get("sumps", []))
    return ServiceRecord(
        vehicle=vehicle,
        shop=shops.get(service["where"]),
        done_on=the_day(service["date"]),
        figure=service["odo"],
        unit=one.get("unit_of_distance", "mi"),
        unit_code=one["unit"],
        sheet_version=1,
        method=service["method"],
        fluid_code=service["fluid"],
        batch_mark=service.get("batch", ""),
        liters_in_ml=service["liters_in_ml"],
        fraction_low_ppm=share,
        fraction_high_ppm=share,
        note="; ".join(filter(None, [service.get("note"), service.get("fraction_note"), sumps])),
    )
