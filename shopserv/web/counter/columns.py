"""The quote sheet as rows of cells: options side by side, each figure formatted once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from shopserv.common import formats, fresh, lasting
from shopserv.common.drawing import share_bar, tube_row, tube_scale
from shopserv.common.drawing.bars import ShareBar
from shopserv.common.drawing.tube import TubeRow, TubeScale
from shopserv.jobs import sums
from shopserv.jobs.models import Line, Option
from shopserv.jobs.selectors.quotes import Column

SHOWN_ELSEWHERE = {"labor", "fluid", "part", "supplies", "waste"}
LAST = {"core", "sublet", "diagnosis", "fee", "discount"}


@dataclass(frozen=True, slots=True)
class Cell:
    """What stands in one column of a row: words at the left, a figure at the right.

    anchor   of its sum on the page of workings; empty: nothing to show
    letter   of the option
    """

    lead: str = ""
    figure: str = ""
    anchor: str = ""
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the sheet. `kind` is a name for the template: labor and total are laid out apart."""

    name: str
    cells: tuple[Cell, ...]
    kind: str = ""
    begins_group: bool = False


def rows_of(columns: Sequence[Column], units_first: str) -> list[Row]:
    """All rows below the drawing, in the order of the sheet."""
    line = _Lines(columns, units_first)
    rows = [
        Row(_share_name(columns), line.each(lambda c: _share(c, columns))),
        Row(line.fluid_names(), line.each(line.volume), begins_group=True),
        Row(_("fluid"), line.each(line.packages)),
        Row(_("parts"), line.each(_parts)),
        Row(_("labor, tenths of an hour"), line.each(_labor), kind="labor"),
        Row(_supplies_name(line.text_of("supplies")), line.each(lambda c: _one(c, "supplies"))),
        Row(line.text_of("waste") or _("used fluid"), line.each(lambda c: _one(c, "waste"))),
    ]
    if any(one.kind in LAST for column in columns for one in column.lines):
        rows.append(Row(_("more"), line.each(_more)))
    rows.append(Row(_("tax"), line.each(_tax)))
    rows.append(Row(_("total"), line.each(_total), kind="total"))
    rows.append(Row(_lasts_name(columns), line.each(_bought), begins_group=True))
    rows.append(Row(_("to compare with"), line.each(_per)))
    rows.append(Row(_("not included"), line.each(lambda c: Cell(c.option.not_included or "–")), begins_group=True))
    if any(column.margin_cents is not None for column in columns):
        rows.append(Row(_("margin, you and owner"), line.each(_margin), kind="margin", begins_group=True))
    return rows


def _tax(column: Column) -> Cell:
    return Cell("", formats.money_band(column.low_tax_cents, column.option.tax_cents), "tax")


def _lasts_name(columns: Sequence[Column]) -> str:
    """What the band of the row holds, as its options were worked out."""
    known = next((column.option.bought for column in columns if column.option.bought), None)
    if known is None:
        return _("lasts")
    return (
        _("lasts, estimate, interval ±20\N{NO-BREAK SPACE}%")
        if "wide_low_thousandths" in known
        else _("lasts, estimate")
    )


def _supplies_name(rule: str) -> str:
    return _("supplies, %(rule)s") % {"rule": rule.split(",")[0]} if rule else _("supplies")


class _Lines:
    def __init__(self, columns: Sequence[Column], units_first: str) -> None:
        self.columns, self.units_first = columns, units_first

    def each(self, cell: Callable[[Column], Cell]) -> tuple[Cell, ...]:
        return tuple(replace(cell(column), letter=column.option.letter) for column in self.columns)

    def fluid_names(self) -> str:
        names = dict.fromkeys(one.text for column in self.columns for one in _of(column, "fluid"))
        return ", ".join(names) or _("fluid")

    def text_of(self, kind: str) -> str:
        return next((one.text for column in self.columns for one in _of(column, kind)), "")

    def volume(self, column: Column) -> Cell:
        lines = _of(column, "fluid")
        if not lines:
            return Cell("", "–")
        left = sum(one.detail.get("left_ml", 0) for one in lines)
        needed = [one.detail.get("planned_ml", one.quantity_thousandths) for one in lines]
        low = [one.detail.get("low", {}).get("planned_ml", need) for one, need in zip(lines, needed, strict=True)]
        short = formats.quarts(left) if self.units_first == "us" else formats.liters(left)
        lead = _("%(volume)s left over") % {"volume": short}
        return Cell(lead, formats.volume_band(sum(low), sum(needed), self.units_first), "course")

    def packages(self, column: Column) -> Cell:
        lines = _of(column, "fluid")
        words = {
            package["number"]: package.get("word", package["number"])
            for fluid in column.option.snapshot.get("fluids", [])
            for package in fluid.get("packages", [])
        }
        order = {number: place for place, number in enumerate(words)}  # of the price list, on either engine
        said = [
            f"{count} {_many(words.get(number, number), number, count)}"
            for one in lines
            for number, count in sorted(
                one.detail.get("packages", {}).items(), key=lambda row: (order.get(row[0], len(order)), row[0])
            )
        ]
        return Cell(", ".join(said), _sum(lines), "fluid")


def _many(word: str, number: str, count: int) -> str:
    return f"{word}s" if count > 1 and word != number else word


def _of(column: Column, kind: str) -> list[Line]:
    return [line for line in column.lines if line.kind == kind]


def _sum(lines: Sequence[Line]) -> str:
    if not lines:
        return "–"
    return formats.money_band(sum(x.low_price_cents for x in lines), sum(x.price_cents for x in lines))


def _one(column: Column, kind: str) -> Cell:
    lines = _of(column, kind)
    return Cell("", _sum(lines), kind if lines else "")


def share_of(option: Option) -> fresh.Share:
    """The share of an option as every page tells it."""
    return fresh.share_of(option.fraction_low_ppm, option.fraction_high_ppm, option.course)


def covered(columns: Sequence[Column]) -> list[str]:
    """What the shares of the options run over, each way once."""
    return list(dict.fromkeys(covers for column in columns if (covers := share_of(column.option).covers)))


def _share_name(columns: Sequence[Column]) -> str:
    ways = covered(columns)
    return _("share of new fluid, %(covers)s") % {"covers": ways[0]} if len(ways) == 1 else _("share of new fluid")


def _share(column: Column, columns: Sequence[Column]) -> Cell:
    """The share; what it runs over stands in the cell where not all run over the same."""
    said = share_of(column.option)
    lead = said.covers if len(covered(columns)) > 1 else ""
    return Cell(lead, said.figure, "course" if column.option.fraction_low_ppm is not None else "")


def _parts(column: Column) -> Cell:
    lines = _of(column, "part")
    names = ", ".join(f"{one.text}{'' if one.condition == 'new' else f' ({one.condition})'}" for one in lines)
    if missing := ", ".join(column.option.snapshot.get("not_listed", ())):
        said = _("not listed: %(what)s") % {"what": missing}
        names = f"{names}; {said}" if names else said
    return Cell(names, _sum(lines), "part" if lines else "")


def _labor(column: Column) -> Cell:
    lines = _of(column, "labor")
    timed = [line for line in lines if line.unit == "h"]
    tenths = sum(line.quantity_thousandths for line in timed) // 100 if timed else column.option.tenths
    more = [_more_time(line) for line in timed if line.number]
    words = _("%(tenths)s, with %(more)s") % {"tenths": tenths, "more": "; ".join(more)} if more else str(tenths)
    if asked := ", ".join(column.option.snapshot.get("asked", ())):
        words = _("%(words)s; not on the price list: %(what)s") % {"words": words, "what": asked}
    return Cell(words, _sum(lines), "labor" if lines else "")


def _more_time(line: Line) -> str:
    """An operation beside the method, or what is sold once; which work that is stands in the sum."""
    hours = formats.hours(abs(line.quantity_thousandths) // 100)
    if line.number == sums.DONE_ONCE:
        return _("overlap removed: %(hours)s") % {"hours": hours}
    return f"{line.text} {hours}"


def _more(column: Column) -> Cell:
    lines = [line for line in column.lines if line.kind in LAST]
    return Cell(", ".join(one.text for one in lines), _sum(lines) if lines else "–", "more" if lines else "")


def _total(column: Column) -> Cell:
    return Cell("", formats.money_band(column.option.low_total_cents, column.option.total_cents), "total")


def _bought(column: Column) -> Cell:
    bought = column.option.bought
    if not bought:
        return Cell("", _("not known: no clock"))
    return Cell("", lasting.figure(bought), "bought")


def _per(column: Column) -> Cell:
    bought = column.option.bought
    if not bought or bought.get("per_cents") is None:
        return Cell("", "–")
    return Cell("", lasting.price(bought), "per")


def _margin(column: Column) -> Cell:
    if column.margin_cents is None:
        return Cell("", "–")
    other = column.margin_cents if column.low_margin_cents is None else column.low_margin_cents
    band = formats.money_band(min(other, column.margin_cents), max(other, column.margin_cents))
    return Cell(formats.percent(column.margin_ppm or 0, 1), band, "margin")


def order_words(course: dict[str, Any], units_first: str) -> str:
    """The order of stages in one line: "pump to stop, 5 × (in 1.8, pump), in 1.4"."""
    said: list[str] = []
    for stage in course.get("stages", []):
        said.append(_stage_words(stage, units_first))
    return ", ".join(_folded(said))


def _stage_words(stage: dict[str, Any], units_first: str) -> str:
    def amount(ml: int) -> str:
        text = formats.quarts(ml, 1) if units_first == "us" else formats.liters(ml, 1)
        return text.rpartition(" ")[0]

    op = stage["op"]
    if op == "add":
        return _("in %(amount)s") % {"amount": amount(stage["volume_ml"])}
    if op == "drain":
        return _("out %(amount)s") % {"amount": amount(-stage["to_ml"])}
    if op == "pump":
        if stage.get("add_ml"):
            return _("pour %(amount)s while it pumps") % {"amount": amount(stage["add_ml"])}
        return _("pump")
    return _("warm run")


def _folded(said: list[str]) -> list[str]:
    """Repeated pairs or triples as "5 × (in 1.8, pump)"."""
    for size in (3, 2):
        for start in range(len(said) - 2 * size + 1):
            group, count = said[start : start + size], 1
            while said[start + count * size : start + (count + 1) * size] == group:
                count += 1
            if count > 1:
                folded = f"{count} × ({', '.join(group)})"
                return [*said[:start], folded, *said[start + count * size :]]
    return said


@dataclass(frozen=True, slots=True)
class Drawn:
    """A column with its drawings; none where an option has no course."""

    option: Option
    order: str
    tubes: TubeRow | None
    bar: ShareBar | None


def drawn(columns: Sequence[Column], layout: dict[str, Any], units_first: str) -> tuple[list[Drawn], TubeScale]:
    """Every column with its tubes on the one scale that holds all their levels."""
    levels = [level for column in columns for level in column.option.course.get("levels_ml", [])]
    scale = tube_scale(
        levels,
        pickup_below_full_ml=layout.get("pickup_below_full_ml"),
        dips_above_full_ml=layout.get("dips_above_full_ml"),
        stop_margin_ml=layout.get("stop_margin_ml", 0),
    )
    return [_drawn(column.option, scale, units_first) for column in columns], scale


def _drawn(option: Option, scale: TubeScale, units_first: str) -> Drawn:
    course, low = option.course, option.fraction_low_ppm
    tubes = None
    if course.get("stages"):
        runs = [stage["op"] in ("pump", "mix") for stage in course["stages"]]
        tubes = tube_row(course["levels_ml"], scale, engine=runs, bands=_bands(course), units_first=units_first)
    bar = None if low is None else share_bar(low, option.fraction_high_ppm)
    return Drawn(option, order_words(course, units_first), tubes, bar)


def lines_words(scale: TubeScale, units_first: str) -> str:
    """The lines across the tubes from top to bottom, where the names beside them have no room."""
    short = formats.quarts if units_first == "us" else formats.liters
    said = []
    if scale.dips_ml is not None:
        said.append(_("dotted, turning parts dip: %(at)s above full") % {"at": short(scale.dips_ml)})
    said.append(_("full"))
    if scale.pickup_ml is not None:
        if scale.stop_margin_ml:
            said.append(_("hatched, stop: %(at)s early") % {"at": short(scale.stop_margin_ml)})
        said.append(_("dotted, pump draws air: %(at)s below full") % {"at": short(-scale.pickup_ml)})
    return _("Lines from the top: %(lines)s.") % {"lines": "; ".join(said)}


def _bands(course: dict[str, Any]) -> list[tuple[int, int]]:
    """Of versions that kept two courses: between which levels each stage ends, where both have the same stages.

    A course that is done by liters, whatever the unit holds, has the same levels at any fill.
    """
    if course.get("over") is not None:
        return []
    high, low = course["levels_ml"], course.get("low", {}).get("levels_ml", [])
    if len(low) != len(high):
        return []
    return [(min(ends), max(ends)) for ends in zip(low, high, strict=True)]
