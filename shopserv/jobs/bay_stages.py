"""A step of the bay sheet, where the work is done, and what the bench knows of unit and course. No tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

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


@dataclass(frozen=True, slots=True)
class Bench:
    """The facts of a work order and the values of its unit sheet, asked by name."""

    facts: Mapping[str, Any]
    values: Mapping[str, Value]
    units_first: str
    stop_margin_ml: int

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
    def sumps(self) -> tuple[str, ...]:
        """Names of the sumps that are levelled, where there is more than one."""
        return tuple(dict.fromkeys(stage["sump"] for stage in self.course.get("stages", ()) if stage.get("sump")))

    @property
    def fill_ml(self) -> int | None:
        """The fill that the course was made for; of a band the high end."""
        fill = self.values.get("total_fill_ml")
        return self.course.get("fill_ml") or (fill.high if fill else None)

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

    def shown_temp(self, mdegc: int | None) -> str:
        """A temperature in both units, or not known."""
        return "not known" if mdegc is None else readings.temperature(mdegc, self.units_first)

    def shown_fill(self) -> str:
        """The fill; a band says that the level sign decides."""
        fill = self.values.get("total_fill_ml")
        if fill is None or fill.low is None or fill.high is None:
            return "not known: stop at the level sign"
        if fill.low == fill.high:
            return readings.volume(fill.low, self.units_first)
        ends = [readings.volume(end, self.units_first).split(" (") for end in (fill.low, fill.high)]
        first = f"{ends[0][0].split(' ')[0]} to {ends[1][0]}"
        second = f"{ends[0][1].split(' ')[0]} to {ends[1][1]}"
        return f"{first} ({second}: stop at the level sign"

    def allowance_limit(self, allowance_ml: int) -> int | None:
        """How much may be poured at the level before it is asked; none: any, where the fill is not known."""
        if self.fill_ml is None or not self.course:
            return None
        # What a drain is off by is made up at the level.
        drained = max((-level for level in self.course["levels_ml"]), default=0)
        return allowance_ml + int(drained * DRAIN_SPREAD) + self.stop_margin_ml

    def need(self, what: str, said: str, expected: int, spread: int) -> dict[str, Any]:
        """An amount that is expected, and how far it may be off."""
        return readings.need(
            what,
            said,
            units_first=self.units_first,
            start=expected,
            low=max(0, expected - spread),
            high=expected + spread,
        )
