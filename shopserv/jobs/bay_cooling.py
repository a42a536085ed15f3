"""The cool-down clock of a bay sheet: which readings count, and what the clock says of them. No tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

from shopserv.calc import errors
from shopserv.calc.cooling import CoolClock, Errors, Reading, TooFlat, cool_clock
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.bay_bench import Tool, tool
from shopserv.jobs.bay_events import REDO, latest
from shopserv.jobs.models import BayEvent, BayStep

LEAST_MIN = 3  # between the first and the last reading of a clock; common practice, no source


@dataclass(frozen=True, slots=True)
class Cooling:
    """The cool-down clock, with its readings and the moments it names.

    readings       (moment, thousandths of a °C), oldest first
    next_at        order of the step at which one more reading is taken
    wrong          why there is no clock, in words; then `clock` is none
    engine_since   when the engine was started after the last reading: it warms since, and the curve ends there; none:
                   it stands
    is_engine_off  the level is set with the engine off: nothing is started
    """

    clock: CoolClock | None
    readings: tuple[tuple[datetime, int], ...]
    ambient_mdegc: int
    window_mdegc: tuple[int, int]
    next_at: int
    wrong: str = ""
    engine_since: datetime | None = None
    is_engine_off: bool = False

    def at(self, minutes: float | None) -> datetime | None:
        """The moment so many minutes after the last reading."""
        return None if minutes is None else self.readings[-1][0] + timedelta(minutes=minutes)

    def is_above_window(self, when: datetime) -> bool:
        """Whether the fluid is still hotter than its window then: by the clock, without one as it was read last."""
        if self.clock is None:
            return self.readings[-1][1] > self.window_mdegc[1]
        opens = self.clock.opens
        at = self.at(opens.minutes) if opens else None
        return at is None or when < at

    @property
    def start_engine_at(self) -> datetime | None:
        """When to start the engine; none: it runs, it stays off, the air is too warm, or there is no clock."""
        start = self.clock.start if self.clock and not self.engine_since and not self.is_engine_off else None
        return self.at(start.minutes) if start else None


def cooling_of(
    steps: Sequence[BayStep], events: Sequence[BayEvent], tools: Sequence[Tool], units_first: str = "us"
) -> Cooling | None:
    """The clock from all readings since the first; none before there are two.

    A figure pressed twice corrects; the second step done again adds a reading.
    """
    rows = {step.code: step for step in steps}  # the newest of each
    first, second = rows.get("cool_down_1"), rows.get("cool_down_2")
    if first is None or second is None:
        return None
    one, air = (latest(events, what, first.pk) for what in ("temp_mdegc", "ambient_mdegc"))
    if one is None or air is None or one.value is None or air.value is None:
        return None
    later = [event for event in each_try(events, second.pk) if event.received_at > one.received_at]
    if not later:
        return None
    read = tuple((event.received_at, event.value or 0) for event in (one, *later))
    limits = first.limits
    window = limits["low_mdegc"], limits["high_mdegc"]
    thermometer = tool(tools, "thermometer", one.instrument)
    found, wrong = None, _too_soon(read)
    try:
        if wrong:
            raise errors.InsufficientReadings(wrong)
        found = cool_clock(
            [
                Reading(Fraction(int((at - read[0][0]).total_seconds()), 60), Fraction(mdegc, 1000))
                for at, mdegc in read
            ],
            ambient_c=Fraction(air.value, 1000),
            window_c=(Fraction(window[0], 1000), Fraction(window[1], 1000)),
            idle_rise_k=Fraction(limits.get("idle_rise_mk", 0), 1000),
            trust=Errors(thermometer.trusted),
        )
    except errors.CalcError as cause:
        wrong = wrong or _why(cause, read, air.value, units_first)
    level = rows["level"].limits if "level" in rows else {}
    since = _engine_since(rows.get("start_engine"), read[-1][0])
    return Cooling(found, read, air.value, window, second.order, wrong, since, bool(level.get("is_engine_off")))


def _too_soon(read: Sequence[tuple[datetime, int]]) -> str:
    """That readings which fell lie too near in time for a clock, and when to read again; empty: they do not."""
    passed = (read[-1][0] - read[0][0]).total_seconds() / 60
    if passed >= LEAST_MIN or read[-1][1] >= read[0][1]:
        return ""
    minutes = math.ceil(LEAST_MIN - passed)
    return (
        f"The readings lie less than {LEAST_MIN} minutes apart; when each was taken is not known so well. "
        f"Read once more in {minutes} min or later."
    )


def _engine_since(step: BayStep | None, last_read: datetime) -> datetime | None:
    """Since when the engine runs; none: it was not started, or the fluid was read since as it cools."""
    if step is None or step.state not in ("done", "redone") or step.done_at is None:
        return None
    return step.done_at if step.done_at >= last_read else None


def _why(cause: errors.CalcError, read: Sequence[tuple[datetime, int]], air_mdegc: int, units_first: str) -> str:
    """Why there is no clock, in the degrees of the place, and what to do."""
    last, coldest = read[-1][1], min(mdegc for _at, mdegc in read)
    if coldest <= air_mdegc:
        fluid, air = (readings.temperature(one, units_first) for one in (coldest, air_mdegc))
        return f"The fluid read {fluid} in air of {air}; it cools no further than the air. Read both once more."
    if isinstance(cause, TooFlat):
        first, now = (readings.temperature(one, units_first) for one in (read[0][1], last))
        said = f"{now} after {first} is too little to tell how fast the fluid cools."
        if cause.further_k is None:
            return f"{said} The air is too near for a clock: read on until the fluid is where the engine starts."
        # A temperature to wait for: last less the fall that would tell.
        goal = readings.temperature(last - cause.further_k * 1000, units_first)
        return f"{said} Wait, and read once more at {goal} or colder."
    if isinstance(cause, errors.NotCooling):
        first, now = (readings.temperature(one, units_first) for one in (read[0][1], last))
        return f"{now} after {first}: the fluid is not cooling. Is the engine off? Read it once more some minutes on."
    return str(cause)


def each_try(events: Sequence[BayEvent], step_pk: int) -> list[BayEvent]:
    """The newest temperature of each try of a step, oldest first."""
    found: list[BayEvent] = []
    begun = True
    for event in sorted(events, key=lambda event: event.pk):
        if event.step_id != step_pk:
            continue
        if event.what == REDO:
            begun = True
        elif event.what == "temp_mdegc" and event.value is not None:
            if begun:
                found.append(event)
            found[-1], begun = event, False
    return found
