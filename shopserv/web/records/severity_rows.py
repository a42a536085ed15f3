"""What the severity page says: each input and how it is known, how the factors come about, what moves the day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.calc import intervals, moisture
from shopserv.calc.age import FIRST
from shopserv.calc.measures import convert, mdegc_to_f
from shopserv.calc.severity import Clocks, Heat, Severity
from shopserv.calc.working import Change
from shopserv.common import formats, fresh
from shopserv.common.drawing.heat import HeatStrip, heat_strip, part_of
from shopserv.logbook.models import LaboratoryResult
from shopserv.reminders.exposure import Exposure
from shopserv.web.records.life import band_words

MEASURED, MODELED, ASSUMED, TOLD = (
    gettext_lazy("measured"), gettext_lazy("modeled"), gettext_lazy("assumed"), gettext_lazy("told"),
)  # fmt: skip
HEAT = {"assumed": ASSUMED, "told": TOLD, "log": MEASURED}
KINDS = {
    "city": gettext_lazy("city"), "highway": gettext_lazy("highway"), "hill": gettext_lazy("hill"),
    "towing": gettext_lazy("towing"),
}  # fmt: skip
MOVED = {  # words of calc.severity.MOVED on the screen
    "distance a day": gettext_lazy("distance driven a day"),
    "share of new fluid of this job": gettext_lazy("share of new fluid of this job"),
    "share of new fluid of the last job": gettext_lazy("share of new fluid of the last job"),
    "distance on the sheet": gettext_lazy("distance on the unit sheet"),
    "months on the sheet": gettext_lazy("months on the unit sheet"),
    "humidity of the air": gettext_lazy("humidity of the air"),
    "height of the place": gettext_lazy("height of the place"),
    "share of short trips": gettext_lazy("share of short trips"),
    "time in storage": gettext_lazy("time in storage"),
    "rise of the sump over the air": gettext_lazy("rise of the sump over the air"),
    "water that the laboratory found": gettext_lazy("water that the laboratory found"),
}
MILLION = 1_000_000


@dataclass(frozen=True, slots=True)
class Input:
    """One line of what goes in: figure, how it is known, where it comes from."""

    what: str
    figure: str
    known: str
    source: str


@dataclass(frozen=True, slots=True)
class Part:
    """One line of a sum, as parts/working.html has it."""

    what: str
    how: str
    figure: str
    is_sum: bool = False
    url: str = ""


@dataclass(frozen=True, slots=True)
class Swing:
    """By how much one input, moved by a fifth, moves the day: the bar and both days."""

    words: str
    days: str
    bar: str
    less: str
    more: str
    note: str


def degrees(celsius: float, first: str) -> str:
    """ "174.2 °F" or "79.0 °C", in the shop's own unit alone."""
    if first == "us":
        return f"{formats.number(mdegc_to_f(Fraction(celsius) * 1000), 1)} °F"
    return f"{formats.number(Fraction(celsius), 1)} °C"


def height(meters: int, first: str) -> str:
    """ "459 ft" or "140 m"."""
    return f"{formats.number(convert(meters, 'm', 'ft'))} ft" if first == "us" else f"{formats.number(meters)} m"


def inputs(found: Exposure, first: str) -> list[Input]:
    """What goes in, each with how it is known and its source."""
    rows = []
    if found.place and found.clocks:
        rows += _air(found, found.clocks.severity, first)
    if found.use:
        rows += _use(found, first)
    if found.water:
        rows.append(_water(found))
    if found.state:
        unit = found.unit
        sheet = _("%(distance)s or %(months)s months") % {
            "distance": f"{formats.number(found.state.base_distance)} {unit}",
            "months": formats.number(found.state.base_months),
        }
        rows.append(Input(_("Interval of the unit"), sheet, _("read"), _("unit sheet in force")))
        if found.state.rate is not None:
            rate = f"{formats.number(found.state.rate, 1)} {unit}"
            rows.append(Input(_("Driven a day"), rate, str(MODELED), _("median slope of the odometer's readings")))
    return rows


def _air(found: Exposure, factors: Severity, first: str) -> list[Input]:
    place = found.place
    assert place is not None
    source = ", ".join(part for part in (place.name, place.source, place.period) if part)
    how = _("typed") if place.kind == "own" else str(MEASURED)
    humid = _("worked out of dew points") if place.is_from_dew_point else how
    return [
        Input(_("Air, mean of the year"), degrees(factors.air_c, first), how, source),
        Input(_("Relative humidity, mean"), formats.percent(round(factors.humidity * MILLION)), humid, source),
        Input(
            _("Water in the air"), f"{factors.water_g_m3:.1f} g/m³", str(MODELED),
            _("from both, month by month: ideal gas, vapor pressure by IAPWS R7-97 and WMO-No. 8"),
        ),
        Input(
            _("Water boils there at"), degrees(factors.boiling_c, first), str(MODELED),
            _("height %(height)s; ISO 2533 and IAPWS R7-97") % {"height": height(place.altitude_m, first)},
        ),
    ]  # fmt: skip


def _use(found: Exposure, first: str) -> list[Input]:
    use = found.use
    assert use is not None
    since = _("use noted from %(on)s on") % {"on": formats.day(use.from_on)}
    rows = [
        Input(_("Short trips"), formats.percent(use.short_trip_ppm), str(TOLD), since),
        Input(_("Stored"), _("%(n)s months a year") % {"n": formats.number(use.stored_months)}, str(TOLD), since),
    ]
    if found.log:
        log = found.log
        source = _("log %(file)s, %(rows)s lines from %(begins)s to %(ends)s, %(faults)s set aside, file %(hash)s…") % {
            "file": log.file_name, "rows": formats.number(log.rows), "begins": log.begins, "ends": log.ends,
            "faults": formats.number(log.fault_count), "hash": log.sha256[:8],
        }  # fmt: skip
        return [*rows, Input(_("Temperature of the sump"), _heat_words(use.temperatures, first), str(MEASURED), source)]
    if found.loads:
        return rows + [
            Input(
                _("Sump in %(kind)s driving") % {"kind": KINDS[one.kind]},
                _("%(share)s at %(heat)s")
                % {"share": formats.percent(round(one.share * MILLION)), "heat": degrees(float(one.celsius), first)},
                str(HEAT[use.heat_from]),
                since if use.heat_from == "told" else _("common practice, no source"),
            )
            for one in found.loads
            if one.share
        ]
    source = since if use.heat_from == "told" else _("common practice, no source; %(since)s") % {"since": since}
    return [
        *rows,
        Input(
            _("Temperature of the sump"), _heat_words(use.temperatures, first), str(HEAT[use.heat_from]), source
        ),
    ]  # fmt: skip


def _heat_words(temperatures: Sequence[Sequence[int]], first: str) -> str:
    if len(temperatures) > 3:
        low, high = (degrees(pick(at for _s, at in temperatures) / 1000, first) for pick in (min, max))
        return _("%(low)s to %(high)s, see the strip") % {"low": low, "high": high}
    return ", ".join(
        _("%(share)s at %(heat)s") % {"share": formats.percent(share), "heat": degrees(at / 1000, first)}
        for share, at in temperatures
    )


def _water(found: Exposure) -> Input:
    water = found.water
    assert water is not None
    figure = _("%(water)s of %(limit)s mg/kg") % {
        "water": formats.number(water.water_ppm),
        "limit": formats.number(water.limit_ppm),
    }
    source = _("slip %(slip)s, sample of %(on)s; counts until the next exchange; limit: %(limit)s") % {
        "slip": water.reference,
        "on": formats.day(water.sampled_on),
        "limit": water.limit_source,
    }
    return Input(_("Water in the fluid"), figure, str(MEASURED), source)


def moisture_parts(found: Severity, use_ppm: int, stored: int) -> list[Part]:
    """How the moisture factor comes about."""
    rows = [
        Part(_("dry air, no short trips, no storage"), "", "1.000"),
        Part(
            _("humid air"),
            _("0.30 × (%(g)s g/m³ − 5) / 15, 0 to 1") % {"g": f"{found.water_g_m3:.1f}"},
            _add(found.absolute),
        ),
        Part(
            _("moist air"),
            _("0.20 × (%(rh)s − 50 %%) / 40 %%, 0 to 1") % {"rh": _share(found.humidity)},
            _add(found.relative),
        ),
        Part(
            _("short trips"),
            _("0.40 × %(share)s × (water boils at %(at)s °C − 80) / (99.97 − 80)")
            % {"share": formats.percent(use_ppm), "at": f"{found.boiling_c:.2f}"},
            _add(found.short_trips),
        ),
        Part(
            _("storage"),
            _("0.30 × %(n)s / 12 months × (1 + moist air's 0 to 1) / 2") % {"n": formats.number(stored)},
            _add(found.storage),
        ),
    ]  # fmt: skip
    capped = _("at most 2.2") if found.estimate == moisture.MOST else ""
    rows.append(Part(_("moisture, estimated"), capped, f"{found.estimate:.3f}", is_sum=not found.is_measured))
    if found.is_measured:
        how = _("1 + 1.2 × water / limit, at most 2.2; it stands for the estimate")
        rows.append(Part(_("moisture, by the laboratory"), how, f"{found.moisture:.3f}", is_sum=True))
    return rows


def _add(value: float) -> str:
    return f"+ {value:.3f}"


def heat_parts(found: Severity, first: str) -> list[Part]:
    """How the thermal factor comes about; of a long log the six temperatures that add most."""
    shown, others = found.hottest(6)
    rows = [_heat_part(degrees(one.celsius, first), one) for one in shown]
    if others:
        rows.append(_heat_part(_("the other temperatures"), others))
    floor = _("never below 1") if found.thermal == 1 else ""
    rows.append(Part(_("heat"), floor, f"{found.thermal:.3f}", is_sum=True))
    return rows


def _heat_part(words: str, one: Heat) -> Part:
    how = _("%(share)s of the time × wear %(wear)s") % {"share": _share(one.share), "wear": f"{one.wear:.2f}"}
    return Part(words, how, f"{one.part:.3f}")


def _share(share: float) -> str:
    return formats.percent(round(share * MILLION), 1)


def interval_parts(found: Exposure, factors: Severity) -> list[Part]:
    """What both factors leave of the distance, and moisture alone of the months."""
    state = found.state
    assert state is not None
    capped = _("moisture × heat, at most 2.5") if factors.is_capped else _("moisture × heat")
    unit = found.unit
    return [
        Part(_("both together"), capped, f"{factors.product:.3f}"),
        Part(
            _("distance"),
            _("%(base)s %(unit)s / %(factor)s, down to 500")
            % {"base": formats.number(state.base_distance), "unit": unit, "factor": f"{factors.product:.3f}"},
            f"{formats.number(factors.distance)} {unit}",
            is_sum=True,
        ),
        Part(
            _("months"),
            _("%(base)s / %(factor)s, moisture alone, down to whole months")
            % {"base": formats.number(state.base_months), "factor": f"{factors.moisture:.3f}"},
            formats.number(factors.months),
            is_sum=True,
        ),
    ]


def credit_parts(found: Exposure, clocks: Clocks, share: Fraction) -> list[Part]:
    """What is left by either clock after a job that leaves `share` of new fluid."""
    before, unit = found.clocks, found.unit
    assert before is not None
    kept = _("× %(kept)s that stays") % {"kept": formats.percent(round((1 - share) * MILLION))}
    rows = []
    for n, (words, allowed) in enumerate(
        ((unit, clocks.severity.distance), (_("months"), Fraction(clocks.severity.months)))
    ):
        places = 0 if n == 0 else 1
        shown = {"age": formats.number(before.age[n], places), "unit": words, "kept": kept}
        how = _("%(age)s %(unit)s %(kept)s") % shown if share else ""
        rows.append(Part(_("age of the fluid"), how, f"{formats.number(clocks.age[n], places)} {words}"))
        left = f"{formats.number(clocks.credit[n], places)} {words}"
        whole = _("%(n)s whole ones count") % {"n": formats.number(int(clocks.credit[1]))} if n else ""
        rows.append(Part(_("left of %(n)s") % {"n": formats.number(allowed)}, whole, left, is_sum=True))
    return rows


def strip(found: Severity, first: str) -> HeatStrip:
    """The histogram of the temperatures in the shop's unit, with the mark from which wear is counted."""
    mark = float(intervals.REFERENCE_C)
    bins = [(one.share, _shown(one.celsius, first), formats.percent(round(one.share * MILLION))) for one in found.heat]
    return heat_strip(bins, mark=_shown(mark, first))


def _shown(celsius: float, first: str) -> float:
    return float(mdegc_to_f(Fraction(celsius) * 1000)) if first == "us" else celsius


def swings(changes: Sequence[Change]) -> list[Swing]:
    """What moves the day most, as bars; what moves nothing is named last."""
    most = max((float(change.moved or 0) for change in changes), default=0.0)
    return [
        Swing(
            str(MOVED.get(change.words, change.words)),
            "–" if change.moved is None else formats.number(int(change.moved)),
            part_of(float(change.moved or 0), most),
            _day(change.less),
            _day(change.more),
            _("not known") if change.moved is None else _limit_words(change.note),
        )
        for change in changes
    ]


def _limit_words(note: str) -> str:
    return note.partition("limit reached: ")[2] and _("limit reached: %(limits)s") % {
        "limits": note.partition("limit reached: ")[2]
    }


def _day(ordinal: object) -> str:
    return formats.day(date.fromordinal(int(ordinal))) if isinstance(ordinal, int | Fraction) else "–"


def lead(found: Exposure, clocks: Clocks) -> str:
    """Both factors in a sentence: which shortens what."""
    factors = clocks.severity
    how = _("water measured, factor modeled") if factors.is_measured else _("estimated")
    unit = found.unit
    state = found.state
    assert state is not None
    return _(
        "Moisture %(wet)s (%(how)s) and heat %(hot)s together shorten the distance: %(distance)s of %(base)s %(unit)s. "
        "Moisture alone shortens the months: %(months)s of %(base_months)s."
    ) % {
        "wet": f"{factors.moisture:.3f}",
        "how": how,
        "hot": f"{factors.thermal:.3f}",
        "distance": formats.number(factors.distance),
        "base": formats.number(state.base_distance),
        "unit": unit,
        "months": formats.number(factors.months),
        "base_months": formats.number(state.base_months),
    }


def due_words(clocks: Clocks, unit: str, today: date) -> str:
    """Which clock governs, when it ends, and at which distance a day both would end together."""
    by = {"months": _("by age"), "distance": _("by distance")}[clocks.governs]
    when = formats.day(clocks.due)
    said = (_("Past due %(by)s since %(on)s.") if clocks.due < today else _("Due %(by)s about %(on)s.")) % {
        "by": by,
        "on": when,
    }
    if clocks.early and clocks.late and clocks.early < clocks.late and clocks.due >= today:
        said += " " + band_words(clocks.early, clocks.late, today)
    return f"{said} {crossing_words(clocks, unit)}".strip()


def crossing_words(clocks: Clocks, unit: str) -> str:
    """The crossing rate in a sentence; empty where one clock has ended."""
    if clocks.crossing is None:
        return ""
    return _("Driven less than %(rate)s a day, the months govern.") % {
        "rate": f"{formats.number(clocks.crossing, 1)} {unit}"
    }


def book(found: Exposure) -> list[tuple[str, str, str, str, str]]:
    """The age of the fluid job by job: day, what was poured, share new, age before and after."""
    return [
        (
            formats.day(line.job.on),
            line.job.fluid,
            _share_of(found, n),
            _age(line.before, found.unit),
            _age(line.after, found.unit),
        )
        for n, line in enumerate(found.book)
    ]


def _share_of(found: Exposure, n: int) -> str:
    """The share as the record of the job has it; of a band also its middle, by which the age is reckoned."""
    job = found.book[n].job
    counted = formats.share(int(job.share * MILLION))
    place = sum(line.job.on == job.on for line in found.book[:n])
    said = fresh.figure(*found.shares.get((job.on, place), (None, None)))
    if (job.on, place) not in found.shares or said == counted:
        return counted
    return _("%(share)s, %(middle)s counted") % {"share": said, "middle": counted}


def _age(both: tuple[Fraction, Fraction], unit: str) -> str:
    return _("%(run)s %(unit)s, %(months)s months") % {
        "run": formats.number(both[0]),
        "unit": unit,
        "months": formats.number(both[1], int(both[1].denominator > 1)),
    }


def sample_words(found: Exposure) -> str:
    """That the months ended before the sample that says so was taken; empty where they did not."""
    water, clocks = found.water, found.clocks
    if water is None or clocks is None or clocks.months_due >= water.sampled_on:
        return ""
    return _("By this figure the months ended on %(ended)s, before the sample of %(sampled)s was taken.") % {
        "ended": formats.day(clocks.months_due),
        "sampled": formats.day(water.sampled_on),
    }


def inside(found: Exposure) -> list[tuple[str, str]]:
    """What is in the unit, by fluid and batch."""
    return [(_("first fluid") if name == FIRST else name, _share(float(part))) for name, part in found.inside]


def slips(results: Sequence[LaboratoryResult]) -> list[tuple[str, str]]:
    """The laboratory's slips that may be withdrawn, each as a choice."""
    return [
        (
            row.reference,
            _("%(slip)s of %(day)s: %(water)s of %(limit)s mg/kg")
            % {
                "slip": row.reference,
                "day": formats.day(row.sampled_on),
                "water": formats.number(row.water_ppm),
                "limit": formats.number(row.limit_ppm),
            },
        )
        for row in results
        if row.withdrawn_at is None
    ]
