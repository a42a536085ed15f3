"""The sums behind the figures of an option, from the facts that were frozen with it: nothing here is typed twice."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from shopserv.common import formats
from shopserv.jobs.models import Line, Option


@dataclass(frozen=True, slots=True)
class Sum:
    """One figure's sum.

    anchor    by which a page points at it
    formula   in words
    steps     (what, figure, where it comes from), the result last
    """

    anchor: str
    title: str
    formula: str
    steps: tuple[tuple[str, str, str], ...]


def sums_of(option: Option, *, with_margin: bool, with_markup: bool) -> list[Sum]:
    """Every sum of an option: course, fluid, parts, labor, supplies, used fluid, tax, total, what it buys, margin.

    with_margin, with_markup   only for who may see them
    """
    lines = sorted(option.lines.all(), key=lambda line: line.order)
    rules = option.version.rules
    found = [_course(option), *_by_kind(lines, rules, with_markup), _tax(option, lines, rules), _total(option, lines)]
    if option.bought:
        found.append(_bought(option.bought))
    if with_margin:
        found.append(_margin(option, rules))
    return found


def _course(option: Option) -> Sum:
    course = option.course
    steps: list[tuple[str, str, str]] = []
    for number, (stage, level) in enumerate(
        zip(course.get("stages", []), course.get("levels_ml", []), strict=False), 1
    ):
        steps.append((f"{number}. {stage_words(stage)}", formats.milliliters(level), "level against full after it"))
    if course:
        steps.append(("new fluid needed", formats.volume(course["new_ml"]), "sheet of the unit and house numbers"))
    if option.fraction_low_ppm is not None:
        share = formats.share(option.fraction_low_ppm, option.fraction_high_ppm)
        steps.append(("share of new fluid", share, "rest of the unit well stirred, to plug flow; a model figure"))
    return Sum(
        "course",
        "Fluid course and share of new fluid",
        "Each stage is replayed: what is drained leaves, what is poured is mixed with the sump, what is pumped passes "
        "through the rest of the unit. Drains: 1 − (1 − drained / fill) for each round.",
        tuple(steps),
    )


def stage_words(stage: dict[str, Any]) -> str:
    """A stage in words: "pour 1.8 qt, engine off"."""
    op = stage["op"]
    if op == "add":
        return f"pour {formats.volume(stage['volume_ml'])}, engine off"
    if op == "drain":
        return f"drain to {formats.volume(-stage['to_ml'])} below full"
    if op == "pump":
        poured = f"pour {formats.volume(stage['add_ml'])} while the engine pumps" if stage["add_ml"] else "pump down"
        return f"{poured}, stop {formats.volume(stage['stop_margin_ml'])} above the pickup"
    return "warm run with selector sweep: everything mixed"


def _by_kind(lines: list[Line], rules: dict[str, Any], with_markup: bool) -> list[Sum]:
    formulas = {
        "labor": ("Labor", "tenths of an hour × rate an hour / 10, half-up to the cent"),
        "fluid": ("Fluid", "cheapest whole packages that hold the liters; mark-up slice by slice on their cost"),
        "part": ("Parts", "mark-up slice by slice on the cost of the line, half-up to the cent once"),
        "supplies": (
            "Supplies",
            f"{rules['supplies']['text']}" if rules.get("supplies") else "by the rule of the place",
        ),
        "waste": ("Used fluid", "liters × price a liter"),
    }
    found = []
    for kind, (title, formula) in formulas.items():
        chosen = [line for line in lines if line.kind == kind]
        if chosen:
            found.append(
                Sum(kind, title, formula, tuple(step for line in chosen for step in _line(line, rules, with_markup)))
            )
    return found


def _line(line: Line, rules: dict[str, Any], with_markup: bool) -> list[tuple[str, str, str]]:
    steps = []
    if line.unit_price_cents is not None and line.kind in ("labor", "waste"):
        quantity = formats.trimmed(Fraction(line.quantity_thousandths, 1000), 3)
        steps.append(
            (f"{quantity} {line.unit} × {formats.money(line.unit_price_cents)}", "", f"terms of {rules['day']}")
        )
    if line.detail.get("packages"):
        mix = ", ".join(f"{count} × {number}" for number, count in line.detail["packages"].items())
        bought, planned = line.detail["bought_ml"], line.detail["planned_ml"]
        steps.append(
            (
                mix,
                formats.volume(bought),
                f"for {formats.volume(planned)}, left {formats.volume(line.detail['left_ml'])}",
            )
        )
    if with_markup and line.kind in ("fluid", "part"):
        bands = ", ".join(f"{formats.percent(ppm)} above {formats.money(above)}" for above, ppm in rules["markup"])
        steps.append(("mark-up", "", bands))
    return [*steps, (line.text, formats.money_band(line.low_price_cents, line.price_cents), "")]


def _tax(option: Option, lines: list[Line], rules: dict[str, Any]) -> Sum:
    taxed = [line for line in lines if line.is_taxed]
    steps = [(line.text, formats.money(line.price_cents), "") for line in taxed]
    steps.append(("taxed together", formats.money(sum(line.price_cents for line in taxed)), ""))
    for name, ppm in rules["tax"]["parts"]:
        steps.append((name, formats.percent(ppm, 3), f"in force on {rules['day']}"))
    steps.append(("tax", formats.money(option.tax_cents), rules["tax"].get("exempt") or ""))
    return Sum("tax", "Tax", "the taxed lines together × the sum of the rates, half-up once", tuple(steps))


def _total(option: Option, lines: list[Line]) -> Sum:
    steps = [(line.text, formats.money_band(line.low_price_cents, line.price_cents), "") for line in lines]
    steps += [
        ("before tax", formats.money(option.net_cents), ""),
        ("tax", formats.money(option.tax_cents), ""),
        (
            "total",
            formats.money_band(option.low_total_cents, option.total_cents),
            "the high total where the fill is a band",
        ),
    ]
    return Sum("total", "Total", "all lines + tax", tuple(steps))


def _bought(bought: dict[str, Any]) -> Sum:
    unit = bought["unit"]
    steps = (
        (
            "by distance",
            f"{formats.lasts(bought['credit_distance_thousandths'], is_months=False)} {unit}",
            "lower share of new fluid",
        ),
        (
            "by age",
            f"{formats.lasts(bought['credit_months_thousandths'], is_months=True)} months",
            "lower share of new fluid",
        ),
        ("governs", bought["governs"], "the clock that runs out first"),
        ("buys", bought["words"], bought["note"]),
    )
    formula = "credit = interval − (1 − share of new fluid) × age of the fluid before, not below zero; total / credit"
    return Sum("bought", "What the money buys", formula, steps)


def _margin(option: Option, rules: dict[str, Any]) -> Sum:
    margin = option.net_cents - option.cost_cents
    steps = (
        ("before tax", formats.money(option.net_cents), ""),
        ("cost", formats.money(option.cost_cents), ""),
        ("margin", formats.money(margin), f"floor {formats.percent(rules['margin_floor_ppm'])}"),
    )
    return Sum("margin", "Margin", "price before tax − cost", steps)
