"""What the bench says of a job: instruments of the shop, running balance, error budget of a level."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc import bench, errors
from shopserv.calc.balance import OVERDUE, Balance, balance
from shopserv.calc.causes import Suspect
from shopserv.catalog import selectors as catalog
from shopserv.common import formats
from shopserv.jobs import arguments, bay_events
from shopserv.jobs.models import BayEvent, BayStep
from shopserv.shop.models import Instrument, Shop

# Where an instrument is not entered its error is common practice, no source.
USUAL_ERROR = {"scale": Fraction(20), "thermometer": Fraction(1), "scan tool": Fraction(2), "level": Fraction(1, 5)}
NEW_DENSITY_15 = 850  # kg/m³ where the product's is not known; common practice, no source
NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Tool:
    """One instrument.

    error        g of a scale, K of a thermometer or scan tool, degrees of a level
    is_overdue   its check was due before today
    checked_on   the last check; none: never, or not known
    is_entered   it stands in the shop's list; else the error is the usual one
    """

    kind: str
    serial: str
    error: Fraction
    is_overdue: bool = False
    is_entered: bool = True
    checked_on: date | None = None

    @property
    def trusted(self) -> Fraction:
        """How far it is trusted: an overdue check counts its error twice, as on a scale."""
        return self.error * (OVERDUE if self.is_overdue else 1)

    @property
    def words(self) -> str:
        """Kind and serial; what is not in the list says so."""
        said = self.kind if not self.serial else f"{self.kind} {self.serial}"
        if not self.is_entered:
            return f"{said}, not entered: usual error"
        return f"{said}, check overdue" if self.is_overdue else said


def tools_of(shop: Shop, day: date) -> tuple[Tool, ...]:
    """The instruments of a shop, as they may be trusted on a day."""
    return tuple(
        Tool(
            one.kind,
            one.serial,
            _number(one.error_text, USUAL_ERROR.get(one.kind, Fraction(0))),
            one.next_check_on is not None and one.next_check_on < day,
            checked_on=one.checked_on,
        )
        for one in Instrument.objects.filter(shop=shop).order_by("kind", "serial")
    )


def _number(text: str, else_: Fraction) -> Fraction:
    """The figure of an error as it was entered; one in °F is a difference: 1.8 °F are 1 K."""
    found = NUMBER.search(text)
    if found is None:
        return else_
    return Fraction(found[0]) * (Fraction(5, 9) if text.rstrip().upper().endswith("F") else 1)


def tool(tools: Sequence[Tool], kind: str, serial: str = "") -> Tool:
    """The instrument that is named, else the first of its kind, else one of the usual error."""
    of_kind = [one for one in tools if one.kind == kind]
    named = next((one for one in tools if serial and one.serial == serial), None)
    if named is not None:
        return named
    if serial or not of_kind:
        return Tool(kind, serial, USUAL_ERROR[kind], is_entered=False)
    return of_kind[0]


def weighed(events: Sequence[BayEvent]) -> list[BayEvent]:
    """The weights of fluid in, out and left; the flow proof is one of them only where it counts by itself."""
    return [event for event in events if event.what in ("in_g", "out_g", "left_g") or bay_events.is_apart(event)]


def scale_of(events: Sequence[BayEvent], tools: Sequence[Tool], serial: str = "") -> Tool:
    """The scale that is named, here or with a weight, else the first of the shop."""
    return tool(tools, "scale", serial or next((one.instrument for one in weighed(events) if one.instrument), ""))


def running(
    events: Sequence[BayEvent], level: Mapping[str, Any], scale: Tool, *, at_mdegc: int | None = None
) -> Balance | None:
    """In less out so far, with its band, at the temperature of the check or the last one read; none: nothing yet.

    level   limits of the level step: density of the new fluid, cooler
    raises  CalcError of calc.balance where a reading makes no sense
    """
    amounts = bay_events.amounts(events)
    if not amounts:
        return None
    if at_mdegc is None:
        read = bay_events.latest(events, "temp_mdegc")
        at_mdegc = read.value if read is not None else None
    given: dict[str, Any] = {
        "amounts": amounts,
        "at_c": bay_events.WARM_C if at_mdegc is None else Fraction(at_mdegc, 1000),
        "density_in": new_density(level),
        "density_out": bay_events.USED_DENSITY_15,
        "scale_error_g": scale.error,
        "is_scale_overdue": scale.is_overdue,
        "known": known_causes(level),
        "by_two_weighings": True,
    }
    found = balance(**given)
    if not found.is_inside:  # only then the packages are asked for, and what may have been forgotten of them
        given["known"] = (*given["known"], *package_causes(events))
        found = balance(**given)
    return replace(found, working={**found.working, "arguments": arguments.kept(given)})


def flow(step: BayStep, events: Sequence[BayEvent], tools: Sequence[Tool]) -> bench.FlowProof | None:
    """What the flow proof of a step says; none before weight and temperature are read.

    raises  CalcError where a reading makes no sense
    """
    weight, warmth = (bay_events.latest(events, what, step.pk) for what in ("flow_g", "temp_mdegc"))
    if weight is None or warmth is None or weight.value is None or warmth.value is None:
        return None
    minimum = step.limits.get("minimum_ml_min")
    return bench.flow_proof(
        mass_kg=Fraction(weight.value, 1000),
        seconds=step.limits["seconds"],
        density_15=bay_events.USED_DENSITY_15,
        at_c=Fraction(warmth.value, 1000),
        minimum_l_min=None if minimum is None else Fraction(minimum, 1000),
        seconds_to_stop=step.limits["seconds_to_stop"],
        stop_margin_l=Fraction(step.limits["stop_margin_ml"], 1000),
        scale_error_g=tool(tools, "scale", weight.instrument).trusted,
        temperature_error_k=tool(tools, "thermometer", warmth.instrument).trusted,
    )


def flow_words(found: bench.FlowProof, limits: Mapping[str, Any], units_first: str) -> str:
    """The verdict of a flow proof in the volumes of the place, the first unit first."""
    margin = Fraction(limits["stop_margin_ml"], 1000)
    return bench.flow_said(found, margin, lambda liters: formats.volume(Fraction(liters) * 1000, units_first, 2))


def running_or_none(events: Sequence[BayEvent], level: Mapping[str, Any], scale: Tool) -> Balance | None:
    """The running balance to look at; none as well where a reading lies outside what can be reckoned."""
    try:
        return running(events, level, scale)
    except errors.CalcError:
        return None


def new_density(level: Mapping[str, Any]) -> Fraction:
    """Of the new fluid, kg/m³ at 15 °C."""
    return Fraction(level.get("density_15_g_m3") or NEW_DENSITY_15 * 1000, 1000)


def known_causes(level: Mapping[str, Any]) -> tuple[Suspect, ...]:
    """What may have been forgotten or have been so before, and how it would show in mL."""
    found: list[Suspect] = []
    if cooler := level.get("cooler_ml"):
        found += [("the cooler stood empty before and was filled", cooler), ("the cooler is not full", -cooler)]
    if band := level.get("band_ml"):
        half = Fraction(band, 2)
        found += [
            ("the level before stood in the lower half of its marks", 0, half),
            ("the level before stood in the upper half of its marks", -half, 0),
        ]
    return tuple(found)


def package_causes(events: Sequence[BayEvent]) -> tuple[Suspect, ...]:
    """What may have been forgotten of the packages of a job, each by its own volume."""
    if not events:
        return ()
    rows = catalog.packages_called(events[0].work_order.facts.get("packages") or ())
    found: list[Suspect] = []
    for row in rows:
        found += [
            (f"a {row.word} that was entered and not poured", row.volume_ml),
            (f"a {row.word} that was poured and not entered", -row.volume_ml),
        ]
    what = {event.what for event in bay_events.counted(events)}
    if rows and not what & {"left_g", "left_ml"}:
        found.append(("what was left in the last package was not taken off", 0, min(row.volume_ml for row in rows)))
    return tuple(found)


def budget(
    level: Mapping[str, Any],
    *,
    temp_mdegc: int,
    thermometer: Tool,
    tilt: tuple[int, int],
    level_tool: Tool,
) -> bench.LevelBudget:
    """The error budget of a level that is set now.

    level   limits of the level step
    tilt    tenths of a degree, fore-aft and to the side
    raises  OutOfRange
    """
    axes = (
        bench.Axis("fore-aft", Fraction(abs(tilt[0]), 10), level.get("offset_fore_aft_mm")),
        bench.Axis("to the side", Fraction(abs(tilt[1]), 10), level.get("offset_side_mm")),
    )
    sign = level.get("sign") or "level sign"
    given: dict[str, Any] = {
        "fill_ml": level.get("fill_ml"),
        "density_15": new_density(level),
        "temperature_c": Fraction(temp_mdegc, 1000),
        "temperature_error_k": thermometer.trusted,
        "axes": axes,
        "tilt_error_deg": level_tool.trusted,
        "area_cm2": level.get("area_cm2"),
        "reading": (sign, level.get("reading_ml") or 0),
        "band_ml": level.get("band_ml"),
        "sources": {"temperature_error_k": thermometer.words, "tilt_error_deg": level_tool.words},
    }
    found = bench.level_budget(**given)
    return replace(found, working={**found.working, "arguments": arguments.kept(given)})
