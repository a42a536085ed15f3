"""The best order of a method's stages, what it gains over the default course, and courses under doubt. No tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from shopserv.calc import course_bands, fluid, measures, orders
from shopserv.common import formats
from shopserv.jobs import courses
from shopserv.jobs.courses import CannotPlan, Course, HouseNumbers, SheetFacts, Stage

FIFTH = Fraction(1, 5)
MOST_BATCHES = 12
MOST_STAGES = 14
LARGEST_POUR_ML = 6_000
SAVING_STEP_ML = 100
WORTH_PPM = 5_000  # half a point: less is not worth another order


@dataclass(frozen=True, slots=True)
class Best:
    """The best order of a method on a unit.

    habit, course   the default course, and the best order with no more new fluid; of a banded fill for its high end
    gain_ppm        by how much the sure share rises, both over the same doubt; 0: no order brings half a point more;
                    with fill and drains off it may be none, or below 0
    saved_ml        with so much less new fluid the best order still brings the sure share of the habit
    opens_drain     whether it opens the drain where the habit does not
    why_not         why nothing was searched; empty: it was
    """

    habit: Course | None
    course: Course | None
    gain_ppm: int = 0
    saved_ml: int = 0
    opens_drain: bool = False
    why_not: str = ""

    @property
    def gain_points(self) -> str:
        """The gain in points of share, to a tenth: "2.5"."""
        return formats.number(Fraction(self.gain_ppm, 10_000), 1)


def best_course(
    method: str,
    facts: SheetFacts,
    house: HouseNumbers,
    *,
    open_methods: Sequence[str] = (),
    units_first: str = "us",
    off: Fraction = Fraction(0),
) -> Best:
    """The best order of stages that method and unit sheet allow, against the default course.

    It is searched for the unit that is likely; that it gains is told over all that the unit may be.

    open_methods   codes that the unit sheet names and does not bar: a drain plug is opened only where one of them does
    units_first    pours are tried in quarters of this unit, and in equal shares
    off            as of `courses.banded`
    source         own model (`calc.orders`); that the engine starts only at full or above: common practice, no source
    """
    try:
        habit = courses.default_course(method, facts, house, courses.fills(facts)[-1])
    except CannotPlan as cause:
        return Best(None, None, why_not=str(cause))
    if habit.kind == "sumps":
        return Best(habit, None, why_not="each sump is drained once; there is no other order")
    if habit.fill_ml is None or facts.sump_ml is None or habit.fraction_low_ppm is None:
        return Best(habit, None, why_not="the unit sheet gives no fill or no sump")
    if habit.kind == "drains" and not courses.METHODS[method].is_repeated:
        return Best(habit, None, why_not="one drain; there is no other order")
    new = habit.new_ml - _allowance(habit, house)
    likely = _likely(habit, facts)
    habit = courses.banded(habit, facts, off)

    def reaching(new_ml: int, ppm: int) -> Course | None:
        asked = _search_of(method, habit, new_ml, facts, house, tuple(open_methods), units_first)
        found = _found(asked, new_ml, ppm)
        return courses.banded(_course(method, found[0], habit, facts, house), facts, off) if found else None

    course = reaching(new, likely + WORTH_PPM)
    if course is None or (not off and _gain(course, habit) < WORTH_PPM):
        return Best(habit, None)
    return Best(
        habit=habit,
        course=course,
        gain_ppm=_gain(course, habit),
        saved_ml=_saved(new, lambda ml: (less := reaching(ml, likely)) is not None and _gain(less, habit) >= 0),
        opens_drain=_drains(course.stages) > _drains(habit.stages),
    )


def _likely(course: Course, facts: SheetFacts) -> int:
    """The sure share on the unit that is likely, as the search weighs it."""
    alone = courses.replayed(course.method, course.stages, facts, course.fill_ml, course.new_ml)
    return alone.fraction_low_ppm or 0


def _gain(course: Course, habit: Course) -> int:
    return (course.fraction_low_ppm or 0) - (habit.fraction_low_ppm or 0)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is searched but for the liters; kept whole so that the same search is made once."""

    layout: fluid.UnitLayout
    limits: orders.LevelLimits
    allowed: orders.AllowedStages


def _search_of(
    method: str,
    habit: Course,
    new_ml: int,
    facts: SheetFacts,
    house: HouseNumbers,
    open_methods: tuple[str, ...],
    units_first: str,
) -> _Asked:
    template = courses.METHODS[method]
    is_pumped = template.is_exchange
    pickup = facts.pickup_below_full_ml or facts.sump_ml or 0
    low = -max(pickup - house.stop_margin_ml, 0) if is_pumped else -pickup
    drain = getattr(facts, template.first) or 0 if template.first else 0
    is_plug_open = "single drain" in open_methods or "repeated drain" in open_methods
    if not template.first and is_plug_open:
        drain = facts.drain_ml or 0
    return _Asked(
        fluid.UnitLayout(habit.fill_ml or 0, facts.sump_ml or 0, -pickup),
        orders.LevelLimits(low, 0, house.batch_above_full_ml if is_pumped else 0, facts.dips_above_full_ml),
        orders.AllowedStages(
            sizes_ml=_sizes(new_ml + low, drain, units_first) if is_pumped else (),
            drain_ml=drain,
            most_drains=1 if is_pumped else house.rounds,
            drain_first=is_pumped and bool(template.first),
            pumps=is_pumped,
            pours_while_pumping=template.kind == "one pump",
            mixes=template.kind == "drains",
            most_stages=MOST_STAGES,
        ),
    )


def _sizes(rest: int, drain: int, units_first: str) -> tuple[int, ...]:
    """What one pour may be: equal shares of what is to be poured, and quarters of the shop's unit."""
    quarter = Fraction(measures.convert(1, "qt", "mL")) / 4 if units_first == "us" else Fraction(250)
    shares = {part // n for part in (rest, rest - drain) for n in range(1, MOST_BATCHES + 1)}
    quarters = {int(quarter * n) for n in range(1, int(LARGEST_POUR_ML / quarter) + 1)}
    return tuple(sorted(size for size in shares | quarters if 0 < size <= LARGEST_POUR_ML))


@lru_cache(maxsize=512)
def _found(asked: _Asked, new_ml: int, at_least_ppm: int) -> tuple[orders.Order, ...]:
    return orders.best_orders(asked.layout, new_ml, asked.limits, asked.allowed, at_least=at_least_ppm / 1_000_000)


def _allowance(habit: Course, house: HouseNumbers) -> int:
    return house.level_allowance_ml if habit.kind == "drains" else 0


def _course(method: str, order: orders.Order, habit: Course, facts: SheetFacts, house: HouseNumbers) -> Course:
    rows = [_row(stage) for stage in order.stages]
    allowance = _allowance(habit, house)
    return courses.replayed(method, rows, facts, habit.fill_ml, order.new_ml + allowance, is_edited=True)


def _row(stage: fluid.Stage) -> Stage:
    if isinstance(stage, fluid.Drain):
        return {"op": "drain", "to_ml": int(stage.to_ml)}
    if isinstance(stage, fluid.Add):
        return {"op": "add", "volume_ml": int(stage.volume_ml)}
    if isinstance(stage, fluid.Pump):
        return {"op": "pump", "add_ml": int(stage.add_ml), "stop_margin_ml": int(stage.stop_margin_ml)}
    return {"op": "mix"}


def _drains(stages: Sequence[Stage]) -> int:
    return sum(stage["op"] == "drain" for stage in stages)


def _saved(new_ml: int, is_enough: Callable[[int], bool]) -> int:
    """With how much less new fluid it is still enough, in steps of 100 mL."""
    less, more = 0, new_ml // SAVING_STEP_ML + 1  # so many steps less do; so many do not
    while more - less > 1:
        steps = (less + more) // 2
        less, more = (steps, more) if is_enough(new_ml - steps * SAVING_STEP_ML) else (less, steps)
    return less * SAVING_STEP_ML


def doubted(
    course: Course, facts: SheetFacts, *, off: Fraction = FIFTH, minimum_ml: int | None = None
) -> course_bands.BandedCourse | None:
    """The course on units that hold and drain this share more or less, and over all that the sheet gives as a band.

    minimum_ml   level below which the unit must not be driven nor left; none: not known
    returns      none where the course was not replayed on a unit of known fill
    """
    unit = courses.unit_bands(course, facts, off)
    if unit is None:
        return None
    marks = course_bands.LevelMarks(facts.dips_above_full_ml, minimum_ml)
    return course_bands.banded_course(unit, [courses.stage_of(row) for row in course.stages], marks)
