"""The workings behind a stored forecast: the due day, both clocks, the factors, and what would move the day most."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction

from django.shortcuts import get_object_or_404

from shopserv.calc import errors, mileage, severity
from shopserv.calc.band_working import band_working
from shopserv.calc.forecast import ASSUMED_RATE, FEW
from shopserv.calc.money import amount
from shopserv.calc.working import Change, From, Given, Step, Working
from shopserv.registry.selectors import vehicle_for
from shopserv.reminders import remake
from shopserv.reminders.clocks import Clocks, clocks_of
from shopserv.reminders.models import Forecast
from shopserv.shop.actors import Actor

PRACTICE = "common practice, no source"
AVERAGE = "published average, weighed with what is known of this vehicle: FHWA Highway Statistics 2009, table VM-1M"
MEAN_AGE = "the mean age of mixed fluid is (1 − share of new fluid) × age before: mean of a mixture"


def due_workings(actor: Actor, number: str, today: date) -> tuple[Forecast, dict[str, Working]]:
    """The forecast that counts for a vehicle, with its workings by anchor; Http404 where there is none.

    number   of the vehicle, which every shop of the business may open
    """
    actor.must("open file")
    row = get_object_or_404(
        Forecast.objects.select_related("vehicle"), vehicle=vehicle_for(actor, number), is_current=True
    )
    found = workings_of(row, today)
    if actor.may("due soon") and row.worth_cents is not None:
        found["work-value"] = worth_working(row, actor.house.business.currency)
    return row, found


def worth_working(row: Forecast, currency: str) -> Working:
    """What the due work is worth: every line of the option that the plan recommended when the forecast was made."""
    kept = row.working.get("worth", ())
    return Working(
        figure="work value",
        value=amount(row.worth_cents or 0),
        unit=currency,
        formula="all lines of the recommended option by the price list of that day, before tax",
        formulas=(r"W = \sum_j P_j",),
        steps=tuple(Step(words, "P_j", amount(cents), currency) for words, cents in kept),
        sources=(PRACTICE,),
        assumptions=() if kept else ("its lines were not kept by the version of that time",),
        version=row.calc_version,
    )


def workings_of(row: Forecast, today: date) -> dict[str, Working]:
    """The workings of one forecast; empty where too little was known to make one."""
    clocks = clocks_of(row, today)
    if clocks is None:
        return {}
    found = {
        "due": _due(row, clocks),
        "distance": _distance(row, clocks),
        "months": _months(row, clocks),
        "age": _age(row, clocks),
        "interval": _interval(row, clocks),
    }
    more = {"doubt": _doubt(row), "band": _band(row, clocks), "crossing": _crossing(row, clocks)}
    return found | {name: one for name, one in more.items() if one}


def _due(row: Forecast, clocks: Clocks) -> Working:
    return Working(
        figure="likely due",
        value=row.told_on,
        unit="",
        low=row.crossed_on or row.early_on,
        high=row.crossed_on or row.late_on,
        formula="the earlier of the two clocks; a distance that the readings ran through ended on that day; early and "
        "late hold the distance clock's band, never later than the months",
        formulas=(r"D = \min(D_d, D_m)",),
        given=(
            Given("D_d", "day by distance", clocks.crossed or row.distance_due_on, "", From.COMPUTED, "distance clock"),
            Given("D_m", "day by months", row.months_due_on, "", From.COMPUTED, "month clock"),
        ),
        steps=(Step("clock that governs", "", row.governs, ""),),
        sources=(PRACTICE, "one input at a time, plus and minus a fifth: common practice, no source"),
        assumptions=clocks.assumptions,
        changes=changes_of(row),
        version=row.calc_version,
    )


def doubt_of(row: Forecast) -> severity.Doubt | None:
    """The due day with the doubt of heat and moisture; none where the inputs were not kept or name no day."""
    state = remake.state_of(row)
    if state is None:
        return None
    try:
        return severity.doubt(replace(state, is_banded=True), date.fromisoformat(row.working["today"]))
    except errors.CalcError:
        return None


def _doubt(row: Forecast) -> Working | None:
    found = doubt_of(row)
    if found is None:
        return None
    hard, mild = found.harder.severity, found.milder.severity
    sump, share = float(severity.SUMP_DOUBT_K), float(severity.MOISTURE_DOUBT)
    return Working(
        figure="likely due, with the doubt of heat and moisture",
        value=row.told_on,
        unit="",
        low=found.early,
        high=found.late,
        formula="from the early edge of the driving with the sump hotter and moisture more, to its late edge with the "
        "sump cooler and moisture less",
        formulas=(r"F_h' = F_h\,2^{\pm \Delta\theta / 11.1}", r"F_w' = 1 + (1 \pm u)(F_w - 1)"),
        given=(
            Given(r"\Delta\theta", "doubt of the sump", sump, "K", From.ASSUMED, "house figure"),
            Given("u", "doubt of what moisture adds", share, "", From.ASSUMED, "house figure"),
        ),
        steps=(
            Step("harder: moisture", "F_w'", hard.moisture, ""),
            Step("harder: heat", "F_h'", hard.thermal, ""),
            Step("harder: due", "", found.harder.due, ""),
            Step("milder: moisture", "F_w'", mild.moisture, ""),
            Step("milder: heat, never below 1", "F_h'", mild.thermal, ""),
            Step("milder: due", "", found.milder.due, ""),
        ),
        sources=("the sump within 5 K, what moisture adds within a fifth: " + PRACTICE,),
        version=row.calc_version,
    )


def changes_of(row: Forecast) -> tuple[Change, ...]:
    """By how many days each input moves the due day, the most first; empty where the inputs were not kept."""
    state = remake.state_of(row)
    if state is None:
        return ()
    today = date.fromisoformat(row.working["today"])
    try:
        base = severity.clocks(state, today).due.toordinal()
        moved = severity.swings(state, today)
    except errors.CalcError:
        return ()
    return tuple(
        replace(
            one,
            less=None if one.less is None else int(one.less) - base,
            more=None if one.more is None else int(one.more) - base,
        )
        for one in moved
        if one.moved or one.note
    )


def _distance(row: Forecast, clocks: Clocks) -> Working:
    unit = clocks.unit
    given = [
        Given("c_d", "left of the interval after the last service", _credit(row, 0), unit, From.COMPUTED, "interval"),
        Given("x_0", "distance run by the day counted from", clocks.due_at - _credit(row, 0), unit, From.READ),
    ]
    if clocks.run is not None:
        on = clocks.read_on.isoformat() if clocks.read_on else ""
        given.append(Given("x", "distance run at the last reading", clocks.run, unit, From.READ, f"reading of {on}"))
    rates = clocks.rates
    if rates is not None:
        assumed = ASSUMED_RATE in clocks.assumptions
        where, source = (From.PUBLISHED, AVERAGE) if assumed else (From.COMPUTED, f"{len(clocks.readings)} readings")
        words = "distance a day" if assumed else "distance a day, middle of all pairs of readings"
        edges = (rates[0], rates[2]) if assumed else (None, None)
        given.append(Given("r", words, rates[1], unit, where, source, *edges))
    left = None if clocks.run is None else clocks.due_at - clocks.run
    crossed, day = clocks.crossed, r"D_d = t_x + \frac{x_\mathrm{end} - x}{r}"
    if crossed:
        day, around = _around(clocks)
        given += around
    return Working(
        figure="left by distance",
        value=left,
        unit=unit,
        formula="where the road ends, less the last reading; the day: "
        + ("on the line between the two readings around it" if crossed else "left / distance a day after the last one"),
        formulas=(r"x_\mathrm{end} = x_0 + c_d", day),
        given=tuple(given),
        steps=(
            Step("the road ends at", r"x_\mathrm{end}", clocks.due_at, unit),
            Step("run through on" if crossed else "day by distance", "D_d", crossed or row.distance_due_on, ""),
        ),
        sources=(
            "middle slope of all pairs: Sen 1968, Theil 1950",
            "80 % band of the day: fitted on simulated fleets and tried on others; the help says how often it holds",
        ),
        assumptions=tuple(_doubted(row)),
        version=row.calc_version,
    )


def _around(clocks: Clocks) -> tuple[str, list[Given]]:
    """How the day of the crossing comes about: the readings around it, and the line between them."""
    rows = [(clocks.since, clocks.due_at - clocks.credit), *(one for one in clocks.readings if one[0] >= clocks.since)]
    rows.sort()
    after = next(n for n, (_on, run) in enumerate(rows) if run >= clocks.due_at)
    given = [
        Given(f"x_{mark}", f"distance run on {on.isoformat()}, {words}", run, clocks.unit, From.READ, "logbook")
        for mark, words, (on, run) in zip("ab", ("before", "after"), rows[max(0, after - 1) :][:2], strict=False)
    ]
    return r"D_d = t_a + (t_b - t_a) \frac{x_\mathrm{end} - x_a}{x_b - x_a}", given


def _band(row: Forecast, clocks: Clocks) -> Working | None:
    """How sure the day by distance is; none where it is past, stands still, or too little was read."""
    if clocks.run is None or clocks.due_at <= clocks.run or row.distance_due_on is None:
        return None
    if len({on for on, _ in clocks.readings}) < FEW or clocks.rates is None:
        return None
    readings = [mileage.Reading(*reading) for reading in clocks.readings]
    made = band_working(readings, clocks.due_at - clocks.run, clocks.unit, clocks.rates[1])
    return replace(made, assumptions=(*made.assumptions, *_doubted(row)), version=row.calc_version)


def _doubted(row: Forecast) -> list[str]:
    """Readings that were left out, and what they look like."""
    return [
        f"the reading of {on} ({run}) is left out: it looks like {kind}"
        for on, run, kind, *_ in row.working["inputs"].get("doubted", ())
    ]


def _months(row: Forecast, clocks: Clocks) -> Working:
    return Working(
        figure="due by months",
        value=row.months_due_on,
        unit="",
        formula="the day counted from and the whole months that were left then",
        formulas=(r"D_m = t_0 + \lfloor c_m \rfloor",),
        given=(
            Given("t_0", "counted from", clocks.since, "", From.READ, "last service, or first use"),
            Given("c_m", "months left then", clocks.credit_months, "months", From.COMPUTED, "interval"),
        ),
        steps=(Step("whole months", r"\lfloor c_m \rfloor", int(clocks.credit_months), ""),),
        sources=(PRACTICE,),
        version=row.calc_version,
    )


def _age(row: Forecast, clocks: Clocks) -> Working:
    unit = clocks.unit
    given = [
        Given(
            "f_i",
            f"share of new fluid that counts, service of {on.isoformat()}",
            share,
            "share",
            From.COMPUTED,
            "logbook; of a band its lower end, as in the quote",
        )
        for on, _, share in clocks.services
    ]
    return Working(
        figure="age of the fluid",
        value=clocks.age[0],
        unit=unit,
        formula="each service leaves (1 − share of new fluid) of the age before; what was run since is added",
        formulas=(r"a \leftarrow (1 - f_i)\,a", r"a = a_0 + (x - x_0)"),
        given=tuple(given),
        steps=(
            Step("distance just after the last service", "a_0", clocks.after[0], unit),
            Step("run since", "x - x_0", clocks.since_run, unit),
            Step("months just after the last service", "", clocks.after[1], "months"),
            Step("whole months since", "", clocks.since_months, "months"),
            Step("months in all", "", clocks.age[1], "months"),
        ),
        sources=(MEAN_AGE,),
        assumptions=clocks.assumptions,
        version=row.calc_version,
    )


def _interval(row: Forecast, clocks: Clocks) -> Working:
    inputs, unit = row.working["inputs"], clocks.unit
    wet = From.MEASURED if row.working.get("moisture_is") == "measured" else From.MODELED
    climate = f"climate place {inputs.get('climate', '')} and use"
    place = f"laboratory, sample of {inputs['water'][2]}" if wet is From.MEASURED else climate
    sheet = f"unit sheet of {inputs.get('unit', '')}"
    return Working(
        figure="interval, adjusted",
        value=clocks.interval[0],
        unit=unit,
        formula="distance: sheet / (moisture × heat, at most 2.5), down to whole 500; months: sheet / moisture, down "
        "to whole ones. Both factors shorten the distance, moisture alone the months",
        formulas=(
            r"I_d = 500 \left\lfloor \frac{B_d}{500 \min(F_w F_h,\; 2.5)} \right\rfloor",
            r"I_m = \left\lfloor \frac{B_m}{F_w} \right\rfloor",
            r"F_w = 1 + w_a + w_r + w_k + w_s \leq 2.2, \quad F_h = \max(1, \sum_i s_i\,h(\theta_i))",
            r"h(\theta) = 2^{(\theta - 79.4) / 11.1}",
            r"w_a = 0.30\,a, \quad w_r = 0.20\,b, \quad w_k = 0.40\,k\,q, \quad w_s = 0.30\,m\,\frac{1 + b}{2}",
            r"a = \frac{w - 5}{15}, \quad b = \frac{\phi - 0.5}{0.4}, \quad q = \frac{\theta_b - 80}{99.97 - 80}",
        ),
        given=(
            Given("B_d", "distance on the sheet", clocks.base[0], unit, From.UNIT_SHEET, sheet),
            Given("B_m", "months on the sheet", clocks.base[1], "months", From.UNIT_SHEET, sheet),
            Given("F_w", "moisture factor", clocks.moisture, "", wet, place),
            Given(
                "F_h", "heat factor", clocks.heat, "", From.MODELED, "shares of the time at a temperature of the sump"
            ),
            *_exposed(row),
        ),
        steps=(
            *_factors(row),
            Step("distance", "I_d", clocks.interval[0], unit),
            Step("months", "I_m", clocks.interval[1], "months"),
        ),
        sources=("factors and their limits: " + PRACTICE + "; models never compared with a real transmission",),
        version=row.calc_version,
    )


def _exposed(row: Forecast) -> list[Given]:
    """What the parts of moisture are reckoned from; none where the inputs were not kept."""
    state = remake.state_of(row)
    if state is None:
        return []
    found = severity.severity(state.climate, state.use, state.base_distance, state.base_months)
    return [
        Given("w", "water in the air, a counted from 5 to 20", found.water_g_m3, "g/m³", From.MODELED, "climate place"),
        Given(
            r"\phi", "relative humidity, b counted from 0.5 to 0.9", found.humidity, "", From.PUBLISHED, "climate place"
        ),
        Given("k", "share of short trips", state.use.short_trip, "", From.TYPED, "use"),
        Given("m", "share of the year in storage", state.use.storage, "", From.TYPED, "use"),
        Given(r"\theta_b", "water boils there at", found.boiling_c, "°C", From.MODELED, "height of the place"),
    ]


def _factors(row: Forecast) -> list[Step]:
    """The parts of both factors; none where the inputs were not kept."""
    state = remake.state_of(row)
    if state is None:
        return []
    given = (state.climate, state.use, state.base_distance, state.base_months)
    found = severity.severity(*given, measured=state.measured)
    parts = [
        Step("water in the air", "w_a", found.absolute, ""),
        Step("moist air", "w_r", found.relative, ""),
        Step("short trips", "w_k", found.short_trips, ""),
        Step("storage", "w_s", found.storage, ""),
        Step("moisture as estimated", "F_w", found.estimate, ""),
    ]
    heat = [
        Step(f"{one.share:.0%} of the time at {one.celsius:g} °C", r"s_i\,h(\theta_i)", one.part, "")
        for one in found.heat
    ]
    return [*parts, *heat, Step("heat", "F_h", found.thermal, "")]


def _crossing(row: Forecast, clocks: Clocks) -> Working | None:
    """Distance a day at which both clocks end together: driven less, the months govern."""
    if clocks.run is None or clocks.read_on is None or row.months_due_on is None:
        return None
    left, days = clocks.due_at - clocks.run, (row.months_due_on - clocks.read_on).days
    if left <= 0 or days <= 0:
        return None
    return Working(
        figure="crossing rate",
        value=left / days,
        unit=f"{clocks.unit}/day",
        formula="what is left by distance / days to the month clock; driven less, the months govern and a new "
        "odometer figure changes nothing",
        formulas=(r"r_x = \frac{x_\mathrm{end} - x}{D_m - t_x}",),
        given=(
            Given("x_\\mathrm{end} - x", "left by distance", left, clocks.unit, From.COMPUTED, "distance clock"),
            Given("D_m - t_x", "days from the last reading to the month clock", days, "days", From.COMPUTED),
        ),
        sources=(PRACTICE,),
        version=row.calc_version,
    )


def _credit(row: Forecast, clock: int) -> Fraction:
    return Fraction(row.working["credit"][clock])
