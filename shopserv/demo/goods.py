"""Fluids, packages, units with their sheets, fitments, parts and labor."""

from __future__ import annotations

from typing import Any

from shopserv.catalog.models import (
    Fitment,
    FluidProduct,
    FluidSpecification,
    LaborOperation,
    Package,
    Part,
    SheetValue,
    Unit,
    UnitSheet,
)
from shopserv.demo.house import MILE_MM
from shopserv.demo.rows import LONG_AGO, Tally, day, noon, scenario, the_day, thousandths

PACKAGE_WORDS = {"B": "bottle", "J": "jug", "P": "pail", "L": "can"}
TORQUES = ("fill", "drain", "level", "pan")


def load_fluids(tally: Tally) -> None:
    """Specifications with their successors, products, and the packages they come in."""
    data = scenario()
    rows = [
        FluidSpecification(
            code=spec["code"],
            name=spec["name"],
            backward_fit=spec.get("backward_fit", False),
            withdrawn_on=day(spec["withdrawn"]),
        )
        for spec in data["fluid_specifications"]
    ]
    specs = tally.ensure(FluidSpecification, ("code",), rows)
    for spec in data["fluid_specifications"]:
        row = specs[(spec["code"],)]
        if spec["successor"] and row.successor_id is None:
            FluidSpecification.objects.filter(pk=row.pk).update(successor=specs[(spec["successor"],)])
    products = tally.ensure(FluidProduct, ("code",), [_product(fluid) for fluid in data["fluids"]])
    tally.link(
        FluidProduct.meets,
        "fluidproduct",
        "fluidspecification",
        [(products[(f["code"],)].pk, specs[(code,)].pk) for f in data["fluids"] for code in f["meets"]],
    )
    packages = [
        Package(
            product=products[(fluid["code"],)],
            stock_number=package["stock_number"],
            word=PACKAGE_WORDS[package["stock_number"].split("-")[1][0]],
            volume_ml=package["volume_ml"],
            cost_cents=package["cost_cents"],
            tare_g=package["tare_g"],
        )
        for fluid in data["fluids"]
        for package in fluid["packages"]
    ]
    tally.ensure(Package, ("stock_number",), packages)


def _product(fluid: dict[str, Any]) -> FluidProduct:
    return FluidProduct(
        code=fluid["code"],
        name=fluid["name"],
        density_15_g_m3=thousandths(fluid["density_15_g_ml"]) * 1000,
        visc_40_um2_s=thousandths(fluid["visc_40_mm2_s"]),
        visc_100_um2_s=thousandths(fluid["visc_100_mm2_s"]),
        color=fluid["color"],
        safety_sheet_file=fluid["safety_sheet"]["file"],
        safety_sheet_on=day(fluid["safety_sheet"]["date"]),
        shelf_months=fluid["shelf_months"],
        opened_months=fluid["opened_months"],
    )


def load_units(tally: Tally) -> dict[str, Unit]:
    """Units by their code, each with its sheet in force and a row for every value that is known."""
    data = scenario()["units"]
    rows = [
        Unit(
            code=unit["code"],
            name=unit["name"],
            kind=unit["kind"],
            gears=unit["gears"],
            tag_pattern=unit["tag_pattern"],
            successor_from_build=unit.get("successor", {}).get("from_build", ""),
        )
        for unit in data
    ]
    units = {key[0]: row for key, row in tally.ensure(Unit, ("code",), rows).items()}
    for unit in data:
        if "successor" in unit and units[unit["code"]].successor_id is None:
            Unit.objects.filter(code=unit["code"]).update(successor=units[unit["successor"]["unit"]])
    sheets = tally.ensure(UnitSheet, ("unit", "version"), [_sheet(units[unit["code"]], unit) for unit in data])
    values = [
        value for unit in data for value in _values(sheets[(units[unit["code"]].pk, unit["version"])], unit, tally)
    ]
    tally.ensure(SheetValue, ("sheet", "what"), [v for v in values if v.sheet.state == "checked"])
    # In force last: from then on a sheet takes no further value.
    UnitSheet.objects.filter(state="checked", pk__in=[sheet.pk for sheet in sheets.values()]).update(state="in force")
    _load_fitments(tally, units)
    return units


def _sheet(unit: Unit, data: dict[str, Any]) -> UnitSheet:
    return UnitSheet(
        unit=unit,
        version=data["version"],
        state="checked",
        methods=data["methods"],
        barred=data["barred"],
        fluids=data["fluid"],
        sumps=data.get("sumps", []),
        note=data.get("note", ""),
        from_on=the_day(data["in_force_from"]),
    )


def sheet_figures(unit: dict[str, Any]) -> dict[str, tuple[int | str | None, int | str | None]]:
    """What a unit of the scenario says as (low, high) or (text, text); (None, None) where it says nothing."""
    level, cooler, thermostat = unit["level"], unit["cooler"], unit["thermostat"]
    volumes = ("drain", "pan", "converter", "cooler", "sump", "pickup_below_full", "dips_above_full")
    plain: dict[str, int | str | None] = {f"{name}_ml": unit.get(f"{name}_ml") for name in volumes}
    plain |= {
        "level_method": level["method"],
        "level_low_mdegc": thousandths(level["window_c"][0]),
        "level_high_mdegc": thousandths(level["window_c"][1]),
        "level_engine": level["engine"],
        "level_plug_closed_with": level["plug_closed_with_engine"],
        "selector_dwell_s": level["selector_dwell_s"],
        "sump_area_cm2": level["sump_area_cm2"],
        "offset_fore_aft_mm": level["offset_fore_aft_mm"],
        "offset_side_mm": level["offset_side_mm"],
        "tilt_limit_mdeg": thousandths(level["tilt_limit_deg"]),
        "level_band_ml": level["band_ml"],
        "filter": unit["filter"],
        "thermostat_place": thermostat["place"],
        "thermostat_opens_mdegc": _scaled(thermostat.get("opens_c")),
        "thermostat_hold_open": thermostat.get("hold_open"),
        "cooler_min_flow_ml_min": _scaled(cooler["min_flow_l_min"]),
        "cooler_flows_out_by": cooler["flows_out_by"],
        "may_run_between_drains": "yes" if unit["may_run_between_drains"] else "no",
        "electric_pump": "yes" if unit["electric_pump"] else "no",
        "adaptation": unit["adaptation"],
        "interval_m": unit["interval_mi"] * MILE_MM // 1000,
        "interval_months": unit["interval_months"],
    }
    pairs = {what: (value, value) for what, value in plain.items()}
    fill = unit["total_fill_ml"]
    pairs["total_fill_ml"] = (unit.get("total_fill_low_ml", fill), unit.get("total_fill_high_ml", fill))
    return pairs


def _scaled(value: str | int | None) -> int | None:
    return None if value is None else thousandths(value)


def _values(sheet: UnitSheet, unit: dict[str, Any], tally: Tally) -> list[SheetValue]:
    told = {
        "sheet": sheet,
        "source": unit["source"],
        "source_grade": unit["source_grade"],
        "at": noon(the_day(unit["in_force_from"])),
    }
    rows = []
    for what, (low, high) in sheet_figures(unit).items():
        if low == 0:
            tally.refused.append(f"{unit['code']}: {what} of 0 is no figure; left as not known")
        elif isinstance(low, str):
            rows.append(SheetValue(what=what, text=low, as_typed=low, **told))
        elif low is not None:
            typed = f"{low}" if low == high else f"{low} to {high}"
            rows.append(SheetValue(what=what, low=low, high=high, as_typed=typed, **told))
    for plug in TORQUES:
        torque = unit["torque_nm"][plug]
        value = _scaled(torque)
        typed = "not fitted" if torque is None else f"{torque} N.m"
        rows.append(SheetValue(what=f"torque_{plug}_mnm", low=value, high=value, as_typed=typed, **told))
    return rows


def _load_fitments(tally: Tally, units: dict[str, Unit]) -> None:
    rows = [
        Fitment(
            wmi=fit["wmi"],
            make=fit["make"],
            model=fit["model"],
            year_from=fit["years"][0],
            year_to=fit["years"][1],
            wheels_driven=fit["wheels_driven"],
            build_from=fit.get("build_from", ""),
            build_to=fit.get("build_to", ""),
            unit=units[fit["unit"]],
        )
        for fit in scenario()["fitments"]
    ]
    key = ("make", "model", "year_from", "year_to", "engine", "wheels_driven", "build_from", "unit")
    tally.ensure(Fitment, key, rows)


def load_parts(tally: Tally, units: dict[str, Unit]) -> None:
    """Parts with what they fit, and labor operations."""
    data = scenario()
    rows = [
        Part(
            number=part["number"],
            name=part["name"],
            condition=part["state"],
            cost_cents=part["cost_cents"],
            core_cents=part["core_cents"],
            used_by=part["used_by"],
            per_job=part["per_job"],
        )
        for part in data["parts"]
    ]
    parts = tally.ensure(Part, ("number",), rows)
    pairs = [(parts[(part["number"],)].pk, units[code].pk) for part in data["parts"] for code in part["fits"]]
    tally.link(Part.fits, "part", "unit", pairs)
    labor = [
        LaborOperation(
            units_pattern=one["units"],
            operation=one["operation"],
            method=one["method"] or "",
            tenths=one["tenths"],
            from_on=LONG_AGO,
        )
        for one in data["labor"]
    ]
    tally.ensure(LaborOperation, ("units_pattern", "operation", "from_on"), labor)
