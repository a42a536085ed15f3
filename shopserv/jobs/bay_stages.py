"""One stage of a fluid course as a step of the bay sheet, and what the bench knows of unit and course. No tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from shopserv.catalog.sheets import Value
from shopserv.jobs import bay_readings as readings
from shopserv.jobs import bay_words as words
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


def stage_steps(bench: Bench) -> Iterator[Step]:
    """The steps of the course, each stage its own, with what has to be done between them."""
    stages, levels = bench.course["stages"], bench.course["levels_ml"]
    before, count = 0, len(stages)
    for number, (stage, level) in enumerate(zip(stages, levels, strict=True), start=1):
        sump = stage.get("sump", "")
        label = f"Stage {number} of {count}{f', {sump} sump' if sump else ''}"
        made = {"drain": _drain, "add": _add, "pump": _pump, "mix": _mix}[stage["op"]]
        yield made(bench, stage, label, 0 if sump and stage["op"] == "drain" else before, level)
        if stage["op"] == "drain":
            yield from _after_drain(bench, sump)
        before = level


def _shown(bench: Bench, stage: Mapping[str, Any], level: int, engine: str, stop: str, **more: Any) -> dict[str, Any]:
    return {
        "op": stage["op"],
        "sump": stage.get("sump", ""),
        "engine": engine,
        "stop_sign": stop,
        "level_after_ml": level,
        "margin_ml": bench.stop_margin_ml,
        "pickup_ml": bench.low("pickup_below_full_ml"),
        "dips_ml": bench.low("dips_above_full_ml"),
        "level_after": _against_full(bench, level),
        **more,
    }


def _against_full(bench: Bench, level: int) -> str:
    if level == 0:
        return "full"
    return f"{bench.shown_volume(abs(level))} {'below' if level < 0 else 'above'} full"


def _drain(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    out = before - level
    amount = bench.shown_volume(out)
    if bench.is_pan:
        said = (
            f"{label}: pan off, about {amount} comes out. The pan still holds fluid after a plug drain: lower it level."
        )
    else:
        said = f"{label}: open the drain, about {amount} comes out. Weigh or read what came."
    spread = int(out * DRAIN_SPREAD)
    return Step(
        "drain_pan" if bench.is_pan else "drain",
        said,
        (words.HOT, words.COOLANT, words.COLLECT),
        needs=(bench.need("out_ml", "out", out, spread),),
        limits=_shown(bench, stage, level, "off", "until it drips", out_ml=out, out=amount),
        is_fluid=True,
    )


def _after_drain(bench: Bench, sump: str) -> Iterator[Step]:
    if not bench.is_pan:
        standpipe = bench.text("level_method").startswith("standpipe")
        said = "Standpipe back in before any filling" if standpipe else "Drain plug in with a new washer"
        yield Step(
            "drain_plug",
            f"{said}: {bench.torque('drain')}.",
            limits={"drain plug": bench.torque("drain"), "sump": sump},
        )
        return
    serviceable = bench.text("filter")
    yield Step(
        "magnet",
        "Look at the magnet and into the pan, then clean both.",
        ("Fine gray paste is wear. Flakes, needles or brass: photo, press finding, stop.",),
    )
    yield Step(
        "filter",
        f"New filter, old seal out of its bore: {serviceable or 'the sheet does not say whether it can be changed'}.",
        ("An old seal left in the bore lets the pump draw air.", words.HOT),
        limits={"filter": serviceable or "not known"},
    )
    yield Step(
        "pan_on",
        f"Pan flat, new gasket, no sealer unless the sheet says so; screws evenly, crosswise: {bench.torque('pan')}.",
        limits={"pan screws": bench.torque("pan")},
    )


def _add(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    amount = bench.shown_volume(stage["volume_ml"])
    return Step(
        "add",
        f"{label}: pour {amount} of {_fluid_of(bench, stage)}, engine off.",
        ("Read the name on the package before it is opened.", words.FIRE),
        # After a drain as much goes in as came out, which is off as far as the drain was.
        needs=(bench.need("in_ml", "poured in", stage["volume_ml"], bench.stop_margin_ml + _drained(stage, before)),),
        limits=_shown(bench, stage, level, "off", "the liters named", in_ml=stage["volume_ml"], into=amount),
        is_fluid=True,
    )


def _drained(stage: Mapping[str, Any], before: int) -> int:
    return int(-before * DRAIN_SPREAD) if before == -stage["volume_ml"] else 0


def _pump(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    poured = stage.get("add_ml", 0)
    out = before - level + poured
    amount = bench.shown_volume(out)
    needs = [bench.need("out_ml", "pumped out", out, bench.stop_margin_ml)]
    said = f"{label}: engine idling in park, let {amount} come, then stop the engine."
    if poured:
        said = (
            f"{label}: engine idling in park, pour {bench.shown_volume(poured)} as it comes; stop when {amount} came."
        )
        needs.append(bench.need("in_ml", "poured in", poured, bench.stop_margin_ml))
    warned = [words.AIR, words.HOT, words.SHAFTS, words.EXHAUST]
    dips = bench.low("dips_above_full_ml")
    # Only the stage that truly stands too high is warned of, by name.
    if dips is not None and max(before, level) > dips:
        warned.insert(0, f"Too high: {_against_full(bench, max(before, level))}, turning parts dip and it foams.")
    return Step(
        "pump",
        said,
        tuple(warned),
        needs=tuple(needs),
        limits=_shown(bench, stage, level, "idling, park", f"{amount} in the bucket, by scale or mark", out_ml=out,
                      out=amount, in_ml=poured),
        is_fluid=True,
    )  # fmt: skip


def _mix(bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int) -> Step:
    dwell = bench.low("selector_dwell_s") or 3
    warned = [words.SWEEP, words.EXHAUST, "Never with a low level: the fill must be back in."]
    if bench.text("may_run_between_drains") == "no":
        warned.insert(0, "The sheet does not allow running between drains: hold, and ask the office.")
    return Step(
        "mix",
        f"{label}: mixing run, engine running warm, each selector position {dwell} s.",
        tuple(warned),
        limits=_shown(bench, stage, level, "running", "warm, every position held"),
        is_fluid=True,
    )


def _fluid_of(bench: Bench, stage: Mapping[str, Any]) -> str:
    rows = bench.facts.get("fluids", ())
    sump = stage.get("sump", "")
    return next((row["name"] for row in rows if row.get("sump", "") == sump), bench.fluid or "the agreed fluid")
