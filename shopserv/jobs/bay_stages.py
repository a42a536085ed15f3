"""A step of the bay sheet, where the work is done, and what the bench knows of unit and course. No tables."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from shopserv.calc import measures
from shopserv.catalog.sheets import Value
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.courses import METHODS

DRAIN_SPREAD = Fraction(1, 5)  # of a drained volume; common practice, no source


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the bay sheet.

    text       one sentence, or few short ones
    cautions   those that belong at this very step
    needs      bay_readings.need
    limits     what is shown and checked with it
    """

    code: str
    text: str
    cautions: tuple[str, ...] = ()
    needs: tuple[dict[str, Any], ...] = ()
    limits: dict[str, Any] = field(default_factory=dict)
    is_fluid: bool = False
    may_skip: bool = False

    def saying(self, cautions: tuple[str, ...], **limits: Any) -> Step:
        """The same step with more cautions and more that is shown."""
        return replace(self, cautions=(*self.cautions, *cautions), limits={**self.limits, **limits})


@dataclass(frozen=True, slots=True)
class Place:
    """Where the work is done, and with what house numbers.

    stored_tilt      tenths of a degree fore-aft and side, of a pit or four-post lift alone
    odometer         figure at intake; none: not read
    density_15_g_m3  of the new fluid; none: not known
    """

    units_first: str = "us"
    idle_rise_mk: int = 4000
    stop_margin_ml: int = 300
    allowance_ml: int = 300
    bay: str = ""
    bay_kind: str = ""
    rated_load_kg: int | None = None
    inspection_due_on: str = ""
    stored_tilt: tuple[int, int] | None = None
    odometer: int | None = None
    odometer_unit: str = "mi"
    density_15_g_m3: int | None = None

    @property
    def is_pit(self) -> bool:
        """Whether the vehicle stands over a pit, and nothing is lifted."""
        return "pit" in self.bay_kind

    @property
    def wheels_are_down(self) -> bool:
        """Whether the wheels carry the vehicle: over a pit and on the runways of a four-post lift."""
        return self.is_pit or "four-post" in self.bay_kind


@dataclass(frozen=True, slots=True)
class Bench:
    """The facts of a work order and the values of its unit sheet, asked by name."""

    facts: Mapping[str, Any]
    values: Mapping[str, Value]
    units_first: str
    stop_margin_ml: int
    sump_rows: Sequence[Mapping[str, Any]] = ()

    @property
    def method(self) -> str:
        """Code of the method; empty for a diagnosis."""
        return str(self.facts.get("method", ""))

    @property
    def course(self) -> Mapping[str, Any]:
        """The agreed course."""
        return self.facts.get("course") or {}

    @property
    def is_pumped(self) -> bool:
        """Whether fluid is pumped out through the cooler line."""
        return any(stage["op"] == "pump" for stage in self.course.get("stages", ()))

    @property
    def is_pan(self) -> bool:
        """Whether the pan comes off."""
        return self.method in METHODS and METHODS[self.method].first == "pan_ml"

    @property
    def adaptation(self) -> str:
        """What the sheet asks for after this work, in its words; empty: nothing."""
        said = self.text("adaptation")
        if said == "none":
            return ""
        sold = [text for facts in (self.facts, *self.facts.get("added", ())) for text in facts.get("operations", ())]
        is_exchange = self.method in METHODS and METHODS[self.method].is_exchange
        only_after = said.startswith("after exchange") and not is_exchange
        return "" if only_after and not any("adaptation" in text for text in sold) else said

    @property
    def sumps(self) -> tuple[str, ...]:
        """Names of the sumps that are levelled, where there is more than one."""
        return tuple(dict.fromkeys(stage["sump"] for stage in self.course.get("stages", ()) if stage.get("sump")))

    @property
    def fill_ml(self) -> int | None:
        """The fill that the course was made for; of a band the high end."""
        fill = self.values.get("total_fill_ml")
        return self.course.get("fill_ml") or (fill.high if fill else None)

    @property
    def is_proof_apart(self) -> bool:
        """Whether the flow proof is followed by a stage that drains elsewhere: then its fluid is out by itself."""
        stages = self.course.get("stages", ())
        return self.is_pumped and stages[0]["op"] != "pump"

    @property
    def fitted_plugs(self) -> tuple[str, ...]:
        """The plugs that the unit has, as far as the sheet says; one it says nothing of may be there."""
        return tuple(plug for plug in ("fill", "drain", "level") if self.is_fitted(plug) is not False)

    @property
    def has_locked_cap(self) -> bool:
        """Whether the dipstick stands under a cap that is locked."""
        return "locked" in self.text("level_method")

    @property
    def fluid(self) -> str:
        """The fluids by name."""
        return ", ".join(
            f"{row['name']} ({row['sump']})" if row.get("sump") else row["name"] for row in self.facts.get("fluids", ())
        )

    @property
    def is_engine_off(self) -> bool:
        """Whether the level is set with the engine off."""
        return self.text("level_engine").startswith("off")

    def is_fitted(self, plug: str) -> bool | None:
        """Whether the unit has the plug; none: the sheet does not say."""
        value = self.values.get(f"torque_{plug}_mnm")
        return value.is_fitted if value is not None else None

    def sump_fill_ml(self, sump: str) -> int | None:
        """The fill of one of several sumps; none: not known, or there is but one."""
        return next((row["total_fill_ml"] for row in self.sump_rows if sump and row["name"] == sump), None)

    def fluid_of(self, sump: str) -> str:
        """The fluid of one sump by name, or the only one."""
        rows = [row["name"] for row in self.facts.get("fluids", ()) if row.get("sump", "") == sump]
        return rows[0] if rows else self.fluid or "the agreed fluid"

    def low(self, what: str) -> int | None:
        """A figure of the sheet; none: not known."""
        value = self.values.get(what)
        return value.low if value else None

    def text(self, what: str) -> str:
        """A text of the sheet; empty: not known."""
        value = self.values.get(what)
        return value.text if value else ""

    def torque(self, plug: str) -> str:
        """The torque of a plug in words."""
        value = self.values.get(f"torque_{plug}_mnm")
        if value is None:
            return "not known: use the vehicle maker's figure"
        return readings.torque(value.low, self.units_first) if value.low is not None else "not fitted"

    def shown_volume(self, ml: int | None) -> str:
        """A volume in both units, or not known."""
        return "not known" if ml is None else readings.volume(ml, self.units_first)

    def switch_off(self, out: int, runs_on_ml: int) -> str:
        """What stands in the bucket when the engine is switched off, so that what runs on ends at `out`."""
        first = self.not_beyond(out - runs_on_ml)
        return readings.shown("out_ml", max(first, self.key_ml), self.units_first)

    @property
    def key_ml(self) -> int:
        """What one key of a volume is worth, in mL."""
        return measures.whole(readings.KEYS[readings.unit_for("volume", self.units_first)].exact(1))

    def to_hundredths(self, ml: int) -> str:
        """A volume to the hundredth in both units, not rounded up in either."""
        qt, liters = f"{math.floor(measures.ml_to_qt(ml) * 100) / 100:.2f} qt", f"{ml // 10 / 100:.2f} L"
        return f"{qt} ({liters})" if self.units_first == "us" else f"{liters} ({qt})"

    def not_beyond(self, ml: int) -> int:
        """The last whole key that does not pass `ml`, in mL."""
        keys = readings.KEYS[readings.unit_for("volume", self.units_first)]
        return math.floor(keys.exact(math.floor(keys.back(ml))))

    def poured(self, ml: int) -> str:
        """An amount that is poured: quarts to the nearest key, liters to the hundredth where a tenth would mislead."""
        if ml % 100 == 0:
            return self.shown_volume(ml)
        qt, liters = f"{float(measures.ml_to_qt(ml)):.1f} qt", f"{ml / 1000:.2f} L"
        return f"{qt} ({liters})" if self.units_first == "us" else f"{liters} ({qt})"

    def shown_temp(self, mdegc: int | None) -> str:
        """A temperature in both units, or not known."""
        return "not known" if mdegc is None else readings.temperature(mdegc, self.units_first)

    def shown_fill(self, sump: str = "") -> str:
        """The fill, of one sump if it is named; a band says that the level sign decides."""
        if self.sump_fill_ml(sump) is not None:
            return self.shown_volume(self.sump_fill_ml(sump))
        fill = self.values.get("total_fill_ml")
        if fill is None or fill.low is None or fill.high is None:
            return "not known: stop at the level sign"
        if fill.low == fill.high:
            return readings.volume(fill.low, self.units_first)
        ends = [readings.volume(end, self.units_first).split(" (") for end in (fill.low, fill.high)]
        first = f"{ends[0][0].split(' ')[0]} to {ends[1][0]}"
        second = f"{ends[0][1].split(' ')[0]} to {ends[1][1]}"
        return f"{first} ({second}: stop at the level sign"

    def allowance_limit(self, allowance_ml: int, sump: str = "") -> int | None:
        """How much may be poured at the level before it is asked; none: any, where the fill is not known."""
        if self.fill_ml is None or not self.course:
            return None
        rows = zip(self.course["stages"], self.course["levels_ml"], strict=True)
        # What a drain is off by is made up at the level.
        drained = max((-level for stage, level in rows if sump in ("", stage.get("sump", ""))), default=0)
        return allowance_ml + int(drained * DRAIN_SPREAD) + self.stop_margin_ml

    def need(self, what: str, said: str, expected: int, spread: int, start: int | None = None) -> dict[str, Any]:
        """An amount that is expected, where the keys begin, and how far it may be off."""
        return readings.need(
            what,
            said,
            units_first=self.units_first,
            start=expected if start is None else start,
            low=max(0, expected - spread),
            high=expected + spread,
        )

    def need_to_stop(self, said: str, stop: int, spread: int) -> dict[str, Any]:
        """What is pumped out: as much less than the stop as the spread, never beyond it."""
        row = readings.need(
            "out_ml",
            said,
            units_first=self.units_first,
            start=self.not_beyond(stop),
            low=max(0, stop - spread),
            high=max(self.not_beyond(stop), self.key_ml) + 1,  # the key itself, whole upward
        )
        return {**row, "stop_base": stop, "stop": self.to_hundredths(stop)}
