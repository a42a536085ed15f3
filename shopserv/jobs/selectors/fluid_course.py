"""The Fluid course page: order and liters of the stages of one method, and what other orders would give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from django.http import Http404

from shopserv.calc.course_bands import BandedCourse
from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import Unit, UnitSheet
from shopserv.catalog.price_list import PriceList
from shopserv.common import clock
from shopserv.jobs import best_course, courses
from shopserv.jobs.models import Option, QuoteVersion
from shopserv.jobs.selectors.quotes import QuoteSheet, quote_sheet
from shopserv.jobs.services import drain_labor
from shopserv.jobs.services.plan_data import edits_of
from shopserv.registry import selectors as registry
from shopserv.registry.models import Vehicle
from shopserv.shop import terms
from shopserv.shop.actors import Actor

DOUBT = Fraction(1, 5)


@dataclass(frozen=True, slots=True)
class CoursePage:
    """One method's course for a vehicle.

    low, high        the same but where the fill is a band
    habit            the default course, of a band for its high end; none where it cannot be planned
    is_doubted       whether fill and drains are taken 20 % off either way: then every share on the page is over that
    loss_points      how many thousandths of the lower share an edited course loses against the default; 0: none
    others           (name, course or reason) of other orders for the same new fluid
    best             the best order that method and sheet allow
    doubt            levels and share with what is not certain, the toggle of 20 % included; none: not known
    pickup_ml, dips_ml   where the pump draws air, below full; where turning parts dip, above full; none: not known
    sheet_ml         what the unit sheet gives, by name, as far as known
    fault            why the course cannot run; empty: it can
    not_taken        why a course that can run may not be taken; empty: it may
    """

    method: str
    words: str
    unit: str
    sheet_version: int
    low: courses.Course | None
    high: courses.Course | None
    habit: courses.Course | None
    is_doubted: bool
    loss_points: int
    others: tuple[tuple[str, courses.Course | str], ...]
    best: best_course.Best
    doubt: BandedCourse | None
    pickup_ml: int | None
    dips_ml: int | None
    stop_margin_ml: int
    sheet_ml: dict[str, int]
    fault: str = ""
    not_taken: str = ""

    @property
    def spans_ml(self) -> tuple[tuple[int, int], ...]:
        """What the unit sheet gives, low and high; a fill that is a band is one span."""
        single = {ml for name, ml in self.sheet_ml.items() if not name.startswith("total fill")}
        high = self.sheet_ml.get("total fill", 0)
        fill = [(self.sheet_ml.get("total fill, low", high), high)] if high else []
        return (*((ml, ml) for ml in sorted(single)), *fill)


def course_page(
    actor: Actor,
    vehicle: Vehicle,
    method: str,
    *,
    stages: Sequence[Mapping[str, Any]] | None = None,
    is_doubted: bool = False,
) -> CoursePage:
    """The course of a method for a vehicle: the default, or `stages` as a person has changed them.

    is_doubted   whether fill and drains are taken as 20 % off either way
    raises       Http404 for a method that there is not, or a unit without a sheet in force
    """
    actor.must("open file")
    identified = registry.identification_of(vehicle)
    day = clock.today(actor.house.time_zone)
    sheet = catalog.sheet_in_force(identified.unit, day) if identified else None
    if sheet is None or method not in courses.METHODS:
        raise Http404("no such course")
    values = catalog.values_of(sheet)
    facts = courses.facts_of(values, sheet.sumps)
    house = courses.HouseNumbers(**terms.house_rules(actor.house, day).course_numbers)
    off = DOUBT * is_doubted
    low = high = habit = None
    fault = not_taken = ""
    try:
        made = [courses.default_course(method, facts, house, fill) for fill in courses.fills(facts)]
        low, habit, high = made[0], courses.banded(made[-1], facts, off), made[-1]
        if stages is not None:
            low = high = None
            made = [courses.edited_course(method, stages, facts, house, fill) for fill in courses.fills(facts)]
            low, high = made[0], made[-1]
            not_taken = next((why for one in made if (why := courses.why_not_taken(one, facts, house))), "")
    except courses.CannotPlan as cause:
        fault = str(cause)
    high = courses.banded(high, facts, off) if high else None
    shown = high or habit
    band = values.get("level_band_ml")
    minimum = -band.low // 2 if band and band.low else None
    return CoursePage(
        method=method,
        words=courses.METHODS[method].words,
        unit=sheet.unit.code,
        sheet_version=sheet.version,
        low=low,
        high=high,
        habit=habit,
        is_doubted=is_doubted,
        loss_points=_loss(habit, high),
        others=courses.other_orders(shown, facts, house, off) if shown else (),
        best=_best(method, facts, house, sheet, actor, off),
        doubt=best_course.doubted(high, facts, off=off, minimum_ml=minimum) if high else None,
        pickup_ml=facts.pickup_below_full_ml,
        dips_ml=facts.dips_above_full_ml,
        stop_margin_ml=house.stop_margin_ml,
        sheet_ml=_sheet_ml(facts),
        fault=fault,
        not_taken=not_taken,
    )


def _best(
    method: str,
    facts: courses.SheetFacts,
    house: courses.HouseNumbers,
    sheet: UnitSheet,
    actor: Actor,
    off: Fraction = Fraction(0),
) -> best_course.Best:
    allowed = [code for code in sheet.methods if code not in sheet.barred]
    first = actor.house.units_first
    return best_course.best_course(method, facts, house, open_methods=allowed, units_first=first, off=off)


def _sheet_ml(facts: courses.SheetFacts) -> dict[str, int]:
    low, high = facts.total_fill_ml or (None, None)
    found = {
        "total fill": high,
        "total fill, low": low,
        "drained": facts.drain_ml,
        "pan": facts.pan_ml,
        "sump": facts.sump_ml,
        "pickup below full": facts.pickup_below_full_ml,
    }
    return {name: value for name, value in found.items() if value}


def _loss(default: courses.Course | None, taken: courses.Course | None) -> int:
    if default is None or taken is None:
        return 0
    return max(0, ((default.fraction_low_ppm or 0) - (taken.fraction_low_ppm or 0)) // 1000)


@dataclass(frozen=True, slots=True)
class Over:
    """How far a course stands above the line where turning parts dip, at its worst stage.

    stage       number of the stage, from 1
    level_ml    where it stands against full with the engine running
    by_ml       how much of that is above the line
    """

    stage: int
    level_ml: int
    by_ml: int


def over_the_line(course: courses.Course, dips_ml: int | None) -> Over | None:
    """Where a course with the engine running stands too high by most; none: nowhere, or the line is not known."""
    if dips_ml is None:
        return None
    found, before = [], 0
    for number, (stage, level) in enumerate(zip(course.stages, course.levels_ml, strict=True), start=1):
        high = max(before, level)
        if stage["op"] in ("pump", "mix") and high > dips_ml:
            found.append(Over(number, high, high - dips_ml))
        before = level
    return max(found, key=lambda one: one.by_ml, default=None)


@dataclass(frozen=True, slots=True)
class DrainLabor:
    """The labor of a drain or pan that a course opens besides its method.

    question   what to ask, in words
    tenths     of the price list; none: it has no such operation, and it is asked before it is offered
    """

    question: str
    tenths: int | None


@dataclass(frozen=True, slots=True)
class CourseOfOption:
    """The course of one option of a quote's newest version, or as it is being changed.

    stages     in order; none where the method has no course on this unit
    is_taken   whether these stages are those of the option
    share_ppm  share of new fluid: of the option as it was written down, where these are its stages; none: not known
    over       what it runs over, as courses.Course has it
    drain      the labor of what these stages open and the method does not
    best_drain the same for the best order
    may_take   whether the version is a draft, in which a course may be taken
    """

    version: QuoteVersion
    option: Option
    page: CoursePage
    stages: tuple[Mapping[str, Any], ...]
    is_taken: bool
    share_ppm: tuple[int, int] | None
    over: tuple[str, ...] | None
    drain: DrainLabor | None
    best_drain: DrainLabor | None
    may_take: bool


def course_of_option(
    actor: Actor,
    number: str,
    letter: str,
    *,
    stages: Sequence[Mapping[str, Any]] | None = None,
    is_doubted: bool = False,
) -> CourseOfOption:
    """The Fluid course page of one option of a quote: its own course, or `stages` as a person has changed them.

    raises   Http404 for a quote of another shop, an option that there is not, or one without a method
    """
    found = quote_sheet(actor, number)
    option = next((one.option for one in found.columns if one.option.letter == letter), None)
    if option is None or option.kind != "work":
        raise Http404("no such course")
    kept = _kept(found.version, letter)
    wanted = kept if stages is None else tuple(stages)
    page = course_page(actor, found.quote.vehicle, option.method, stages=wanted, is_doubted=is_doubted)
    shown: Sequence[Mapping[str, Any]] = wanted if wanted is not None else page.high.stages if page.high else ()
    is_taken = stages is None or list(map(dict, stages)) == list(map(dict, option.course.get("stages", ())))
    share, over = _share(option, page, is_taken=is_taken)
    return CourseOfOption(
        version=found.version,
        option=option,
        page=page,
        stages=tuple(shown),
        is_taken=is_taken,
        share_ppm=share,
        over=over,
        drain=_drain(found, option, shown),
        best_drain=_drain(found, option, page.best.course.stages) if page.best.course else None,
        may_take=found.version.state == "draft" and actor.may("write quote"),
    )


def _drain(found: QuoteSheet, option: Option, stages: Sequence[Mapping[str, Any]]) -> DrainLabor | None:
    """What the stages open besides the method, with its time; nothing is read where they open nothing."""
    kept = found.version.inputs.get("sheet")
    facts = courses.facts_from(kept) if kept else courses.SheetFacts()
    opened = drain_labor.opened_besides(option.method, stages, facts)
    unit = Unit.objects.filter(code=found.version.inputs.get("unit", "")).first() if opened else None
    if unit is None:
        return None
    day = clock.today(found.version.quote.shop.time_zone)
    listed = drain_labor.operation_of(PriceList(unit, None, day), opened)
    return DrainLabor(drain_labor.QUESTION[opened], listed.tenths if listed else None)


def _share(
    option: Option, page: CoursePage, *, is_taken: bool
) -> tuple[tuple[int, int] | None, tuple[str, ...] | None]:
    """The share and what it runs over: the option's own, as its quote says it, but for what is only looked at."""
    kept, high = option.course, page.high
    same = high is None or [dict(row) for row in high.stages] == [dict(row) for row in kept.get("stages", ())]
    if is_taken and same and not page.is_doubted and kept:
        low, most, over = option.fraction_low_ppm, option.fraction_high_ppm, kept.get("over")
    elif high is not None:
        low, most, over = high.fraction_low_ppm, high.fraction_high_ppm, high.over
    else:
        return None, None
    share = (low, most) if low is not None and most is not None else None
    return share, None if over is None else tuple(over)


def _kept(version: QuoteVersion, letter: str) -> tuple[Mapping[str, Any], ...] | None:
    """The stages that a person gave an option; none: the default course of its method."""
    letters = [option.letter for option in version.options.all()]
    edits = edits_of(version).options
    index = sorted(letters).index(letter)
    return edits[index].stages if index < len(edits) else None


@dataclass(frozen=True, slots=True)
class Gain:
    """What the best order gains on one unit, by the method with which it gains most."""

    unit: str
    name: str
    method: str
    best: best_course.Best


def gains(actor: Actor) -> tuple[Gain, ...]:
    """What the best order gains over the default course, for every unit with a sheet in force, by code; two queries."""
    actor.must("open file")
    day = clock.today(actor.house.time_zone)
    house = courses.HouseNumbers(**terms.house_rules(actor.house, day).course_numbers)
    sheets = UnitSheet.objects.filter(state="in force", from_on__lte=day).select_related("unit")
    newest: dict[str, UnitSheet] = {}
    for sheet in sheets.prefetch_related("values").order_by("unit__code", "-from_on", "-version"):
        newest.setdefault(sheet.unit.code, sheet)
    return tuple(found for sheet in newest.values() if (found := _gain(sheet, house, actor)))


def _gain(sheet: UnitSheet, house: courses.HouseNumbers, actor: Actor) -> Gain | None:
    """Of the methods that the sheet allows the one with which the best order gains most; none: it allows none."""
    facts = courses.facts_of(catalog.values_of(sheet), sheet.sumps)
    rows = [
        Gain(sheet.unit.code, sheet.unit.name, template.words, _best(method, facts, house, sheet, actor))
        for method, template in courses.METHODS.items()
        if method in sheet.methods and method not in sheet.barred
    ]
    return max(rows, key=_weight, default=None)


def _weight(gain: Gain) -> tuple[int, bool, int]:
    habit = gain.best.habit
    return gain.best.gain_ppm, not gain.best.why_not, (habit.fraction_low_ppm or 0) if habit else 0
