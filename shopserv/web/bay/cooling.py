"""The cool-down clock as a bay sheet shows it: in words, as moments with their bands, and drawn."""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from shopserv.calc import measures
from shopserv.calc.cooling import Moment
from shopserv.common import clock, drawing, formats
from shopserv.jobs.bay_cooling import Cooling

SHARE_WORDS = {
    "scatter of the readings": later("how a reading scatters"),
    "thermometer": later("the thermometer"),
    "air around the unit": later("the air around the unit"),
}


def cooling_words(cooling: Cooling, units_first: str) -> dict[str, Any]:
    """When the engine is started, when the fluid stands in its window, and how sure that is."""
    read = [{"words": formats.temperature(mdegc, units_first), "at": at} for at, mdegc in cooling.readings]
    found: dict[str, Any] = {"read": read, "step": cooling.next_at, "wrong": cooling.wrong}
    if cooling.engine_since is not None:
        started = {"words": _("engine started"), "at": cooling.engine_since, "band": ""}
        found |= {"wrong": "", "verdict": _running(cooling, cooling.engine_since, units_first), "rows": [started]}
        return found | (_drawn(cooling, units_first) if cooling.clock else {})
    now = cooling.clock
    if now is None:
        return found
    start = formats.temperature(round(now.start_c * 1000), units_first)
    start_row = () if cooling.is_engine_off else ((_("start the engine"), now.start),)
    named = ((_("window opens"), now.opens), *start_row, (_("window closes"), now.closes))
    rows = [_moment(cooling, words, moment, units_first) for words, moment in named if moment is not None]
    found |= {
        "verdict": _verdict(cooling, start, units_first),
        "rows": sorted(rows, key=lambda row: row["at"]),
        "narrower": _narrower(now.closes if cooling.is_engine_off else now.start, count=len(read)),
        "off": "" if now.fits or now.residual_k is None else _off(now.residual_k, units_first),
    }
    return found | _drawn(cooling, units_first)


def _drawn(cooling: Cooling, units_first: str) -> dict[str, Any]:
    return {
        "unit": "°F" if units_first == "us" else "°C",
        "curve": _curve(cooling, units_first),
        "window": _("window %(band)s") % {"band": formats.temperature_band(*cooling.window_mdegc, units_first)},
    }


def _running(cooling: Cooling, since: datetime, units_first: str) -> str:
    """What counts once the engine runs: the fluid warms, so the window opens at its low edge."""
    opens, closes = (formats.temperature(mdegc, units_first) for mdegc in cooling.window_mdegc)
    if cooling.is_above_window(since):
        return _(
            "The engine runs since %(at)s and the fluid was still above %(closes)s: it must cool first. "
            "Engine off, and read again as it cools."
        ) % {"at": formats.clock_time(since, units_first), "closes": closes}
    return _(
        "The engine runs since %(at)s and the fluid warms: the window opens at %(opens)s and closes at %(closes)s. "
        "Above that: engine off, and read again as it cools."
    ) % {"at": formats.clock_time(since, units_first), "opens": opens, "closes": closes}


def _verdict(cooling: Cooling, start: str, units_first: str) -> str:
    now = cooling.clock
    if now is not None and cooling.is_engine_off:
        return _engine_off(cooling, now.opens, now.closes, units_first)
    if cooling.start_engine_at is None or now is None or now.start is None:
        return _("The air is too warm to wait for %(start)s.") % {"start": start}
    if now.start.minutes == 0:
        return _("Start the engine now: the fluid is at %(start)s or below.") % {"start": start}
    said = {"start": start, "at": formats.clock_time(cooling.start_engine_at, units_first)}
    if cooling.start_engine_at <= clock.now():
        return _("Start the engine now: by the clock the fluid is at %(start)s since %(at)s.") % said
    return _("Start the engine at %(start)s, about %(at)s.") % said


def _engine_off(cooling: Cooling, opens: Moment | None, closes: Moment | None, units_first: str) -> str:
    """When the level is set with the engine off."""
    if opens is None or closes is None:
        return _("The air is too warm for the fluid to come into its window by itself.")
    ends = [cooling.at(one.minutes) for one in (opens, closes)]
    said = [formats.clock_time(one, units_first) for one in ends if one is not None]
    return _("Engine off: the window opens about %(opens)s and closes about %(closes)s.") % {
        "opens": said[0],
        "closes": said[1],
    }


def _moment(cooling: Cooling, words: str, moment: Moment, units_first: str) -> dict[str, Any]:
    low, high = cooling.at(moment.low), cooling.at(moment.high)
    band = ""
    if moment.minutes:
        band = _("%(low)s to %(high)s") % {
            "low": _time(low, units_first),
            "high": _time(high, units_first) if high else _("no end"),
        }
    return {"words": words, "at": cooling.at(moment.minutes), "band": band}


def _time(at: datetime | None, units_first: str) -> str:
    return formats.clock_time(at, units_first).removesuffix(" AM").removesuffix(" PM") if at else ""


def _narrower(start: Moment | None, count: int) -> str:
    """What makes the band widest, and what would narrow it."""
    if start is None or not start.shares:
        return ""
    first = start.shares[0].words
    said = _("Most of the band is %(what)s.") % {"what": SHARE_WORDS[first]}
    if first == "scatter of the readings":
        mend = _("Read once more some minutes from now.") if count == 2 else _("Another reading narrows it further.")
        return f"{said} {mend}"
    return said


def _off(residual_k: float, units_first: str) -> str:
    degrees = Fraction(residual_k) * (Fraction(9, 5) if units_first == "us" else 1)
    unit = "°F" if units_first == "us" else "°C"
    return _(
        "The readings lie %(off)s %(unit)s off one curve: a fan, an open door or a warm engine changed the air. "
        "Trust the thermometer, not the clock."
    ) % {"off": formats.number(degrees, 1), "unit": unit}


def _curve(cooling: Cooling, units_first: str) -> Any:
    """The drawing, in the degrees that the place shows first."""
    now = cooling.clock
    assert now is not None

    def shown(celsius: float) -> float:
        return float(measures.mdegc_to_f(Fraction(celsius) * 1000)) if units_first == "us" else celsius

    last = cooling.readings[-1][0]
    since = cooling.engine_since
    if since is None:
        start = None if now.start is None or cooling.is_engine_off else (now.start.minutes, shown(now.start.celsius))
        words = _verdict(cooling, formats.temperature(round(now.start_c * 1000), units_first), units_first)
    else:  # the mark stands where it was started, as far as the drawing goes
        minute = (since - last).total_seconds() / 60
        near = min(now.curve, key=lambda point: abs(point.minutes - minute))
        start = (minute, shown(near.celsius)) if minute <= now.curve[-1].minutes else None
        words = _running(cooling, since, units_first)
    window = [shown(mdegc / 1000) for mdegc in cooling.window_mdegc]
    return drawing.cooling_curve(
        [(point.minutes, shown(point.celsius), shown(point.low), shown(point.high)) for point in now.curve],
        readings=[((at - last).total_seconds() / 60, shown(mdegc / 1000)) for at, mdegc in cooling.readings],
        window=(window[0], window[1]),
        start=start,
        start_words=_("start") if since is None else "",  # the row beside it says it; the window's words stand here
        now=(clock.now() - last).total_seconds() / 60,
        words=words,
    )
