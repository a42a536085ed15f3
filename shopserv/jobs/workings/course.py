"""The share of new fluid of an option: each stage replayed, and what would change the share most."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc import course_bands, errors
from shopserv.calc.working import Change, From, Given, Number, Step, Working, what_would_change
from shopserv.common import formats, fresh
from shopserv.jobs import courses
from shopserv.jobs.models import Option

PPM = 1_000_000
STIRRED = (
    r"c_s \leftarrow c_s \frac{V_s}{V_s + v} \quad \text{poured}",
    r"\frac{\mathrm{d} c_r}{\mathrm{d} V} = \frac{c_s - c_r}{V_r} \quad \text{pumped, rest stirred}",
    r"c_r(V) = c_s(V - V_r) \quad \text{pumped, plug flow}",
    r"f = 1 - \frac{c_s V_s + c_r V_r}{V_s + V_r}",
)
POURED_MEANWHILE = (  # o: old fraction of the sump; s held before, d its fall, v poured, q of Q pumped so far
    r"o(q) = o \left( \frac{s - d\,q / Q}{s} \right)^{v / d} \quad \text{poured evenly while it pumps, level falls}",
    r"o(q) = o\,e^{-q / s} \quad \text{poured evenly while it pumps, level stays}",
)
DRAINS = (r"f = 1 - \prod_{i=1}^{n} \left( 1 - \frac{d_i}{C} \right)",)
SOURCES = (
    "mass balance; stirred vessel and plug flow of residence time theory",
    "as a model of a transmission: our own, never compared with a real unit",
)


def course_working(option: Option, layout: Mapping[str, Any], units_first: str) -> Working:
    """How the share of new fluid comes about, with what leads to each end of its band.

    layout   what the version kept of the unit sheet: sump, pickup
    """
    course = option.course
    low, high = option.fraction_low_ppm, option.fraction_high_ppm
    known = low is not None and high is not None
    steps = [
        Step(f"{number}. {stage_words(stage, units_first)}", "", level, "mL")
        for number, (stage, level) in enumerate(
            zip(course.get("stages", []), course.get("levels_ml", []), strict=False), 1
        )
    ]
    if known:
        steps += [
            Step(words, symbol, Fraction(ppm or 0, PPM), "share")
            for words, symbol, ppm in zip(
                _ends(option, units_first), (r"f_\mathrm{low}", r"f_\mathrm{high}"), (low, high), strict=True
            )
        ]
    return Working(
        figure="share of new fluid",
        value=Fraction(low or 0, PPM) if known else None,
        unit="share",
        low=Fraction(low or 0, PPM) if known else None,
        high=Fraction(high or 0, PPM) if known else None,
        formula="Each stage is replayed: what is drained leaves, what is poured mixes with the sump, what is pumped "
        "passes through the rest of the unit. The lower share is the one that is counted. Beside each stage stands "
        f"the level against full after it. The band runs {fresh.covers(course.get('over'))}.",
        formulas=formulas_of(course),
        given=tuple(_given(option, layout)),
        steps=tuple(steps),
        sources=SOURCES,
        assumptions=tuple(_assumed(option)),
        changes=_changes(option, layout),
        version=option.version.calc_version,
    )


def facts_kept(option: Option) -> courses.SheetFacts | None:
    """What the version kept of the unit sheet; none: it was written by a program that kept less."""
    sheet = option.version.inputs.get("sheet")
    return courses.facts_from(sheet) if sheet and option.course.get("over") is not None else None


def share_ends(option: Option) -> course_bands.ShareBand | None:
    """The share once more from what was frozen, with the values that lead to its ends; none: nothing was open."""
    course, facts = option.course, facts_kept(option)
    if facts is None or not course["over"] or course["fill_ml"] is None or course["kind"] == "sumps":
        return None
    again = courses.replayed(option.method, course["stages"], facts, course["fill_ml"], course["new_ml"])
    unit = courses.unit_bands(again, facts)
    return course_bands.share_band(unit, [courses.stage_of(row) for row in course["stages"]]) if unit else None


def _ends(option: Option, units_first: str) -> tuple[str, str]:
    if option.course.get("kind") == "sumps":
        return "the sump with the smaller share", "the sump with the larger share"
    found = share_ends(option)
    if found is None:
        return "lower of stirred and plug flow", "higher of the two"
    return (
        f"stirred, where the unit is worst for it: {_unit_words(found.low_if, units_first)}",
        f"plug flow, where it is best: {_unit_words(found.high_if, units_first)}",
    )


UNIT_WORDS = {"capacity_ml": "total fill", "sump_ml": "sump at full", "pickup_ml": "pickup below full"}


def _unit_words(values: Mapping[str, Fraction], units_first: str) -> str:
    said = [
        f"{words} {formats.volume(abs(values[name]), units_first)}"
        for name, words in UNIT_WORDS.items()
        if name in values
    ]
    if "drained" in values:
        said.append(f"drains {formats.trimmed(values['drained'] * 100)} % of what is planned")
    return ", ".join(said)


def formulas_of(course: Mapping[str, Any]) -> tuple[str, ...]:
    """Of the operations that the course has; what is poured meanwhile has its own."""
    if course.get("kind") in ("drains", "sumps"):
        return DRAINS
    pours = any(stage["op"] == "pump" and stage.get("add_ml") for stage in course.get("stages", []))
    return STIRRED + (POURED_MEANWHILE if pours else ())


def on(rules: Mapping[str, Any]) -> str:
    """The day whose terms a version was priced by."""
    return formats.day(date.fromisoformat(rules["day"])) if rules.get("day") else formats.NOT_KNOWN


def _given(option: Option, layout: Mapping[str, Any]) -> list[Given]:
    course = option.course
    fill, low = course.get("fill_ml"), course.get("low", {}).get("fill_ml")
    sheet = f"unit sheet {option.version.inputs.get('unit', '')} version {option.version.inputs.get('sheet_version')}"
    rows = [
        Given("C", "total fill", fill, "mL", From.UNIT_SHEET, sheet, low, fill if low else None),
        Given("V_s", "sump at full", layout.get("sump_ml"), "mL", From.UNIT_SHEET, sheet),
        Given("p", "pickup below full", layout.get("pickup_below_full_ml"), "mL", From.UNIT_SHEET, sheet),
        Given(
            "m",
            "stop margin above the pickup",
            layout.get("stop_margin_ml"),
            "mL",
            From.HOUSE_RULES,
            f"house rules of {on(option.version.rules)}",
        ),
        Given(
            "V",
            "new fluid needed",
            course.get("new_ml"),
            "mL",
            From.TYPED if course.get("is_edited") else From.COMPUTED,
            "stages as a person changed them" if course.get("is_edited") else "course of the method",
        ),
    ]
    return [row for row in rows if row.value is not None]


def _assumed(option: Option) -> list[str]:
    found = ["the sump mixes at once, the rest of the unit stays full"]
    over: Sequence[str] = option.course.get("over") or ()
    if "capacity_ml" in over:
        found.append(
            "the unit sheet gives the fill as a band: the course is planned for its high end and done by liters, "
            "whatever the unit holds"
        )
    elif option.course.get("low"):
        found.append("the unit sheet gives the fill as a band: both ends were replayed")
    elif option.course.get("fill_ml"):
        found.append("the fill is taken as exact: what one a fifth off would do stands under what would change it most")
    if option.fraction_low_ppm is None:
        found.append("the unit sheet gives no fill: no share can be said")
    return found


def _changes(option: Option, layout: Mapping[str, Any]) -> tuple[Change, ...]:
    """Fill, sump, pickup and what is poured, each a fifth up and down; none where the course cannot be replayed."""
    course = option.course
    if not course.get("fill_ml") or layout.get("sump_ml") is None or course.get("kind") == "sumps":
        return ()

    sheet = facts_kept(option)

    def lower_share(at: Mapping[str, Any]) -> Number:
        facts = courses.SheetFacts(sump_ml=int(at["sump"]), pickup_below_full_ml=_whole(at["pickup"]))
        stages = [_scaled(stage, at["amounts"]) for stage in course["stages"]]
        try:
            again = courses.replayed(option.method, stages, facts, int(at["fill"]), course["new_ml"])
            if sheet is not None and course["over"]:
                again = courses.banded(again, _moved(sheet, facts, Fraction(again.fill_ml or 0, course["fill_ml"])))
        except courses.CannotPlan as cause:
            raise errors.OutOfRange(str(cause)) from cause
        return Fraction(again.fraction_low_ppm or 0, PPM)

    inputs = {
        "fill": course["fill_ml"],
        "sump": layout["sump_ml"],
        "pickup": layout.get("pickup_below_full_ml"),
        "amounts": Fraction(1),
    }
    words = {"fill": "total fill", "sump": "sump at full", "pickup": "pickup below full"}
    words["amounts"] = "liters drained and poured"
    try:
        return what_would_change(lower_share, inputs, unit="share", words=words)
    except errors.CalcError:  # an older course that could not run by the rules of today
        return ()


def _moved(sheet: courses.SheetFacts, at: courses.SheetFacts, fill: Fraction) -> courses.SheetFacts:
    """The unit sheet with its values as they are at one change, each with as wide a band, in proportion."""
    moved = {
        "sump_ml": (at.sump_ml, sheet.sump_ml),
        "pickup_below_full_ml": (at.pickup_below_full_ml, sheet.pickup_below_full_ml),
    }
    bands = {**sheet.bands}
    for name, (new, old) in moved.items():
        if name in bands and new and old:
            bands[name] = (new, bands[name][1] * new // old)
    low, high = sheet.total_fill_ml or (0, 0)
    return replace(
        sheet,
        sump_ml=at.sump_ml,
        pickup_below_full_ml=at.pickup_below_full_ml,
        total_fill_ml=(int(low * fill), int(high * fill)),
        bands=bands,
    )


def _whole(value: Any) -> int | None:
    return None if value is None else int(value)


def _scaled(stage: Mapping[str, Any], share: Fraction) -> dict[str, Any]:
    return {
        name: int(value * share) if name in ("to_ml", "volume_ml", "add_ml") else value for name, value in stage.items()
    }


def stage_words(stage: Mapping[str, Any], units_first: str = "us") -> str:
    """A stage in words: "pour 1.8 qt (1.7 L), engine off"."""
    op = stage["op"]
    sump = f"{stage['sump']} sump: " if stage.get("sump") else ""
    if op == "add":
        return f"{sump}pour {formats.volume(stage['volume_ml'], units_first)}, engine off"
    if op == "drain":
        return f"{sump}drain to {formats.volume(-stage['to_ml'], units_first)} below full"
    if op == "pump":
        poured = (
            f"pour {formats.volume(stage['add_ml'], units_first)} while the engine pumps"
            if stage["add_ml"]
            else "pump down"
        )
        return f"{poured}, stop {formats.volume(stage['stop_margin_ml'], units_first)} above the pickup"
    return "warm run with selector sweep: everything mixed"
