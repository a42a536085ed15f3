"""The closed list of what a unit sheet may say, and the sheet's values as plain facts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shopserv.catalog.models import SheetValue


@dataclass(frozen=True, slots=True)
class What:
    """One thing a sheet may say.

    words   on the page
    kind    mL, mdegc, mnm, mm, cm2, mdeg, s, mL/min, m, months, or "text"
    blocks  what cannot be done or shown while it is not known; empty where nothing waits for it
    """

    words: str
    kind: str
    blocks: str = ""


WHAT: dict[str, What] = {
    "total_fill_ml": What("total fill", "mL", "one price: the quote shows two totals; level by the sign only"),
    "drain_ml": What("out by the drain plug", "mL", "drain and fill"),
    "pan_ml": What("out with the pan", "mL", "pan removal"),
    "converter_ml": What("converter", "mL"),
    "cooler_ml": What("cooler and lines", "mL"),
    "sump_ml": What("sump", "mL", "share of new fluid"),
    "pickup_below_full_ml": What("pickup draws air below full", "mL", "cooler-line fluid exchange"),
    "dips_above_full_ml": What("turning parts dip above full", "mL", "warning of too high a level"),
    "level_method": What("level by", "text", "setting the level"),
    "level_low_mdegc": What("level window, low edge", "mdegc", "setting the level"),
    "level_high_mdegc": What("level window, high edge", "mdegc", "setting the level"),
    "level_engine": What("engine at the check", "text", "setting the level"),
    "level_plug_closed_with": What("level plug is closed with the engine", "text"),
    "selector_dwell_s": What("selector dwell", "s"),
    "sump_area_cm2": What("fluid surface in the sump", "cm2", "level error budget"),
    "offset_fore_aft_mm": What("level point to middle, fore-aft", "mm", "level error budget"),
    "offset_side_mm": What("level point to middle, side", "mm", "level error budget"),
    "tilt_limit_mdeg": What("tilt limit", "mdeg", "setting the level"),
    "level_band_ml": What("low mark to high mark", "mL", "level error budget"),
    "torque_fill_mnm": What("torque, fill plug", "mnm", "torque at close-out"),
    "torque_drain_mnm": What("torque, drain plug", "mnm", "torque at close-out"),
    "torque_level_mnm": What("torque, level plug", "mnm", "torque at close-out"),
    "torque_pan_mnm": What("torque, pan screws", "mnm", "torque at close-out"),
    "filter": What("filter", "text"),
    "thermostat_place": What("cooler thermostat", "text"),
    "thermostat_opens_mdegc": What("thermostat opens at", "mdegc"),
    "thermostat_hold_open": What("held open by", "text"),
    "cooler_min_flow_ml_min": What("least cooler flow", "mL/min", "flow proof"),
    "cooler_flows_out_by": What("fluid comes out by", "text", "which line to open"),
    "may_run_between_drains": What("may run between drains", "text"),
    "electric_pump": What("electric pump", "text"),
    "adaptation": What("adaptation", "text"),
    "interval_m": What("interval, distance", "m", "forecast by distance"),
    "interval_months": What("interval, months", "months", "forecast by age"),
}

# A plug may be missing from a unit altogether: then there is a row, and it has no figure.
MAY_BE_NOT_FITTED = frozenset(what for what in WHAT if what.startswith("torque_"))


@dataclass(frozen=True, slots=True)
class Value:
    """One value of a sheet.

    low, high   whole numbers in the unit that `what` names; equal unless the value is a band; none for a text
    is_fitted   False for a plug that the unit does not have
    """

    what: str
    low: int | None
    high: int | None
    text: str
    source: str
    grade: str

    @property
    def is_band(self) -> bool:
        """Whether low and high differ."""
        return self.low != self.high

    @property
    def is_fitted(self) -> bool:
        """False for a torque row without a figure."""
        return not (self.what in MAY_BE_NOT_FITTED and self.low is None)


def values_by_what(rows: Iterable[SheetValue]) -> dict[str, Value]:
    """The values of one sheet by what they say. What has no row is not known and is not in the answer."""
    return {row.what: Value(row.what, row.low, row.high, row.text, row.source, row.source_grade) for row in rows}
