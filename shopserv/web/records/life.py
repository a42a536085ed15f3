"""The head of a logbook: the road of a vehicle, its two clocks and the sentence that explains them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopserv.calc.severity import Doubt
from shopserv.common import formats, fresh
from shopserv.common.drawing.bars import ClockBar, clock_bar
from shopserv.common.drawing.strip import RoadStrip, road_strip
from shopserv.reminders.clocks import Clocks
from shopserv.reminders.models import Forecast
from shopserv.web.records.lines import method_words

FAR_DAYS = 3652  # ten years: a day beyond is none that anybody knows
LAST_DAYS = 61  # two months, told in days as well
ROOM_ABOVE, ROOM_BELOW = 0.12, 0.25


@dataclass(frozen=True, slots=True)
class Clock:
    """One of the two clocks: how old the fluid is by it, its bar, when it ends."""

    words: str
    age: str
    of: str
    governs: bool
    bar: ClockBar
    ends: str


def road(
    clocks: Clocks, forecast: Forecast, today: date, first_use: date | None, done: Mapping[date, Done]
) -> RoadStrip | None:
    """The road from the first kilometer to the forecast; none where no reading is known.

    done   method of a service by its day with its share of new fluid (low, high), for the words at its tick
    """
    if clocks.run is None:
        return None
    unit, last_on = clocks.unit, clocks.readings[-1][0]
    now = round(clocks.run)
    stops = [(0, _("%(month)s, first fluid") % {"month": formats.month(first_use)})] if first_use else []
    stops += [(round(run), _stop(on, share, done)) for on, run, share in clocks.services]
    due = _("due by distance %(at)s") % {"at": formats.number(clocks.due_at)}
    band = (round(clocks.road[0]), round(clocks.road[1])) if clocks.road else None
    below = ""
    if band and forecast.months_due_on:
        low, high = formats.number(band[0]), formats.odometer(band[1], unit)
        below = _("%(low)s to %(high)s, %(month)s") % {
            "low": low,
            "high": high,
            "month": formats.month(forecast.months_due_on),
        }
    return road_strip(
        now,
        unit=unit,
        now_words=(_("last reading today %(figure)s") if last_on == today else _("%(on)s: %(figure)s"))
        % {"on": formats.day(last_on), "figure": formats.number(now)},
        readings=[round(run) for _on, run in clocks.readings],
        stops=stops,
        due_at=(round(clocks.due_at), due),
        band=band,
        band_above=_("next due, by age") if band and _is_apart(band, now, now, ROOM_ABOVE) else "",
        band_below=below if band and _is_apart(band, round(clocks.due_at), now, ROOM_BELOW) else "",
        words=_("Run %(figure)s; %(due)s") % {"figure": formats.odometer(now, unit), "due": due},
    )


def _is_apart(band: tuple[int, int], other: int, now: int, room: float) -> bool:
    """Whether the words at a band have room beside the words at `other`, as shares of the road that is drawn."""
    return abs(sum(band) / 2 - other) > room * max(band[1], other, now)


Done = tuple[str, int | None, int | None]


def _stop(on: date, share: Fraction, done: Mapping[date, Done]) -> str:
    """The words at a service: its share as the record has it, else the one that counts."""
    method, low, high = done.get(on, ("", None, None))
    words = method_words(method) or _("service")
    said = formats.share(int(share * 1_000_000)) if low is None else fresh.figure(low, high)
    return _("%(month)s, %(what)s, %(share)s new") % {
        "month": formats.month(on),
        "what": words,
        "share": said,
    }


def two_clocks(clocks: Clocks, forecast: Forecast, today: date) -> tuple[Clock, Clock]:
    """The month clock and the distance clock."""
    run, months = clocks.age
    unit = {"mi": _("Miles"), "km": _("Kilometers")}[clocks.unit]
    return (
        Clock(
            _("Months"),
            formats.number(months, int(months.denominator > 1)),
            formats.number(clocks.interval[1]),
            forecast.governs == "months",
            _bar(months, clocks.interval[1], clocks.base[1]),
            _ends_by_age(forecast.months_due_on, today),
        ),
        Clock(
            unit,
            formats.number(run),
            formats.number(clocks.interval[0]),
            forecast.governs == "distance",
            _bar(run, clocks.interval[0], clocks.base[0]),
            _ends_by_distance(clocks, forecast, today),
        ),
    )


def _bar(age: Fraction, here: Fraction | int, base: Fraction | int) -> ClockBar:
    return clock_bar(
        float(age),
        here=float(here),
        here_words=_("%(n)s here") % {"n": formats.number(here)},
        sheet=float(base),
        sheet_words=_("%(n)s on the sheet") % {"n": formats.number(base)},
    )


def _ends_by_distance(clocks: Clocks, forecast: Forecast, today: date) -> str:
    """When the distance clock ends, from a reading that is named by its day where it is not of today."""
    if forecast.left_m is not None and forecast.left_m < 0:
        said = _("past by %(far)s") % {"far": _far(-forecast.left_m, clocks.unit)}
        if clocks.crossed:
            said = _("%(past)s, crossed about %(on)s") % {"past": said, "on": formats.day(clocks.crossed)}
    else:
        said = _ends(forecast.distance_due_on, today)
    if clocks.read_on is None or clocks.read_on == today:
        return said
    return _("%(said)s; read %(on)s") % {"said": said, "on": formats.day(clocks.read_on)}


def _far(distance_m: int, unit: str) -> str:
    return formats.distance(distance_m, "us" if unit == "mi" else "metric")


def _ends_by_age(on: date | None, today: date) -> str:
    """When the month clock ends, and for its last weeks in how many days."""
    said = _ends(on, today)
    days = (on - today).days if on else -1
    if days == 0:
        return _("ends today")
    if not 0 < days < LAST_DAYS:
        return said
    return said + ngettext(", in %(n)d day", ", in %(n)d days", days) % {"n": days}


def months_words(clocks: Clocks, forecast: Forecast, today: date) -> str:
    """Why the month clock ends on its day: only whole months count, of what was left and of what has passed."""
    if forecast.months_due_on is None:
        return ""
    whole = int(clocks.credit_months)
    if not whole:
        return _("Only whole months count: none was left on %(since)s.") % {"since": formats.day(clocks.since)}
    return _(
        "Only whole months count: of the %(left)s left on %(since)s, %(whole)s count, until %(ends)s; "
        "%(passed)s have passed."
    ) % {
        "left": formats.trimmed(clocks.credit_months),
        "since": formats.day(clocks.since),
        "whole": formats.number(whole),
        "ends": formats.day(forecast.months_due_on),
        "passed": formats.number(clocks.since_months),
    }


def _ends(on: date | None, today: date) -> str:
    if on is None:
        return _("its end cannot be told yet")
    return (_("ended %(on)s") if on < today else _("ends %(on)s")) % {"on": formats.day(on)}


def due_words(forecast: Forecast, clocks: Clocks | None, today: date) -> str:
    """When it is due, by which clock, how sure that is; past by distance since the readings ran through it."""
    if forecast.due_on is None:
        return _("No day can be said: %(why)s.") % {"why": forecast.reason or _("too little is known")}
    clock = {"months": _("by age"), "distance": _("by distance")}.get(forecast.governs, "")
    on = formats.day(forecast.due_on)
    if forecast.governs == "distance" and clocks and clocks.crossed and clocks.crossed < today:
        return _("Past due by distance since about %(on)s, when the readings ran through %(at)s.") % {
            "on": formats.day(clocks.crossed),
            "at": formats.odometer(round(clocks.due_at), clocks.unit),
        }
    if forecast.due_on < today:
        return _("Past due %(clock)s since %(on)s.") % {"clock": clock, "on": on}
    said = _("Due %(clock)s about %(on)s.") % {"clock": clock, "on": on}
    if forecast.late_on is not None:
        return f"{said} {band_words(forecast.early_on or forecast.due_on, forecast.late_on, today)}".strip()
    if forecast.early_on is None:
        return said
    return said + " " + _("Between: %(early)s or later.") % {"early": formats.day(forecast.early_on)}


def band_words(early: date, late: date, today: date) -> str:
    """The band in a sentence, empty without one; a late day of decades ahead is none that anybody knows."""
    if early == late:
        return ""
    if (late - today).days <= FAR_DAYS:
        return _("Between: %(band)s.") % {"band": formats.day_band(early, late)}
    return _("Not before %(early)s; its late edge lies more than ten years ahead.") % {"early": formats.day(early)}


def doubt_words(found: Doubt | None, today: date) -> str:
    """That the band is of the driving alone, and the wider one; empty where none can be made."""
    if found is None:
        return ""
    band = formats.day_band(found.early, found.late)
    if (found.late - today).days > FAR_DAYS:
        band = _("not before %(early)s, and perhaps more than ten years from now") % {"early": formats.day(found.early)}
    return _(
        "The band is that of the driving alone. With the doubt of heat (the sump within 5 K) and moisture (a fifth of "
        "what it adds): %(band)s; common practice, no source."
    ) % {"band": band}


def factor_words(clocks: Clocks) -> str:
    """Which factor shortens which clock."""
    moisture, heat = (formats.number(Fraction(round(x * 1000), 1000), 3) for x in (clocks.moisture, clocks.heat))
    if clocks.moisture > 1:
        said = _("Moisture, factor %(n)s, shortens both clocks")
        wet = (_("Moisture, factor %(n)s as measured, shortens both clocks") if clocks.is_measured else said) % {
            "n": moisture
        }
    else:
        wet = _("Moisture shortens neither clock")
    hot = (
        _("heat, factor %(n)s, shortens the distance") if clocks.heat > 1 else _("heat, factor %(n)s, shortens neither")
    )
    return f"{wet}; {hot % {'n': heat}}."


def rate_words(clocks: Clocks) -> str:
    """How far it is driven a day; how sure that is, the band of the due day says."""
    if clocks.rates is None:
        return _("How far it is driven a day is not known yet: it needs a second reading.")
    return _("Likely %(likely)s %(unit)s a day.") % {
        "likely": formats.number(clocks.rates[1], 1),
        "unit": clocks.unit,
    }


def crossing_words(clocks: Clocks) -> str:
    """At which distance a day both clocks would end together; empty where one has ended."""
    if clocks.crossing is None:
        return ""
    return _("Driven under %(rate)s %(unit)s a day, the months govern.") % {
        "rate": formats.number(clocks.crossing, 1),
        "unit": clocks.unit,
    }


def age_book(clocks: Clocks) -> list[tuple[str, str, str, bool]]:
    """How the age of the fluid comes about: words, distance, months, whether it is the sum."""
    month = formats.month(clocks.since)
    return [
        _age(_("left after %(month)s") % {"month": month}, *clocks.after),
        _age(_("use since, in whole months"), clocks.since_run, clocks.since_months),
        _age(_("now"), *clocks.age, is_sum=True),
        _age(_("allowed here"), *clocks.interval),
        _age(_("on the sheet"), *clocks.base),
    ]


def _age(words: str, run: Fraction, months: Fraction | int, *, is_sum: bool = False) -> tuple[str, str, str, bool]:
    return words, formats.number(run), formats.number(months, int(months.denominator > 1)), is_sum
