"""What a person wants of a quote, and the plan that answers it, as plain values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from shopserv.catalog.models import Unit, UnitSheet
from shopserv.jobs import courses, sums
from shopserv.jobs.findings import Standing
from shopserv.jobs.models import Authorization, QuoteVersion, Visit
from shopserv.registry.models import Customer, Vehicle


@dataclass(frozen=True, slots=True)
class ExtraLine:
    """A line that a person wrote into an option.

    kind               labor, part, sublet, fee, discount, diagnosis, core, fluid
    unit_price_cents   none: left blank, which an offer refuses; a discount's is below zero
    cost_cents         of the whole line
    detail             vendor, product and batch of fluid that the customer brought
    """

    kind: str
    text: str
    quantity_thousandths: int = 1000
    unit: str = "piece"
    unit_price_cents: int | None = None
    cost_cents: int = 0
    number: str = ""
    condition: str = ""
    detail: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class OptionEdit:
    """One column of the quote sheet as a person wants it.

    method       a code of courses.METHODS for work; empty for diagnosis, teardown and additions
    tenths       of an hour; none: what the price list says
    stages       none: the default course of the method
    without      numbers of parts that are left out
    prices       key of a line (sums.key_of) -> cents, or none where the price was left blank
    """

    method: str = ""
    kind: str = "work"
    title: str = ""
    tenths: int | None = None
    stages: tuple[Mapping[str, Any], ...] | None = None
    extras: tuple[ExtraLine, ...] = ()
    without: tuple[str, ...] = ()
    prices: Mapping[str, int | None] = field(default_factory=dict)
    not_included: str = ""


@dataclass(frozen=True, slots=True)
class Edits:
    """What a person wants of a quote.

    options       none: they are proposed
    recommended   a letter that a person chose; "": worked out anew
    why           the sentence that a person wrote; "": worked out anew
    """

    options: tuple[OptionEdit, ...] = ()
    recommended: str = ""
    why: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class BarredMethod:
    """A method that is not offered, and why in one line."""

    method: str
    words: str
    reason: str


@dataclass(frozen=True, slots=True)
class PlannedOption:
    """One option as planned.

    course, low_course   none for diagnosis and teardown; low_course differs where the fill is a band
    inputs               all that its price was made from (sums.price)
    bought               what the money buys, or none where the clocks are not known
    faults               what an offer would refuse: (row, words)
    """

    letter: str
    kind: str
    method: str
    title: str
    course: courses.Course | None
    low_course: courses.Course | None
    priced: sums.Priced
    inputs: dict[str, Any]
    bought: dict[str, Any] | None
    not_included: str
    tenths: int
    faults: tuple[tuple[str, str], ...] = ()

    @property
    def is_band(self) -> bool:
        """Whether there are two totals because the fill is not known."""
        return self.priced.low_total_cents != self.priced.total_cents

    @property
    def fraction_ppm(self) -> tuple[int, int] | None:
        """Share of new fluid of the course that is done, over every fill that may be; none: not known."""
        course = self.course
        if course is None or course.fraction_low_ppm is None or course.fraction_high_ppm is None:
            return None
        return course.fraction_low_ppm, course.fraction_high_ppm


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of a vehicle; it writes nothing.

    how_known      read from tag, by evidence, assumed, disputed, or "" where the unit is not known
    only_as_band   the unit is assumed: prices may be told as a band alone, no fluid leaves the shelf
    missing        why there is nothing to offer, in one sentence; empty: there is
    warnings       what the writer has to be told before offering: (code, words)
    adds_to        the counted authorization that an addition lengthens
    """

    vehicle: Vehicle
    visit: Visit | None
    customer: Customer | None
    day: date
    unit: Unit | None
    how_known: str
    sheet: UnitSheet | None
    options: tuple[PlannedOption, ...]
    barred: tuple[BarredMethod, ...]
    findings: tuple[Standing, ...]
    recommended: str
    why: str
    note: str
    rules: dict[str, Any]
    warnings: tuple[tuple[str, str], ...] = ()
    missing: str = ""
    only_as_band: bool = False
    adds_to: Authorization | None = None
    inputs: dict[str, Any] = field(default_factory=dict)


_OF_A_LINE = (
    "kind", "text", "quantity_thousandths", "unit", "unit_price_cents", "cost_cents", "number", "condition",
)  # fmt: skip


def extra_as_dict(line: ExtraLine) -> dict[str, Any]:
    """A written line as sums.price takes it."""
    return {**{name: getattr(line, name) for name in _OF_A_LINE}, "detail": dict(line.detail)}


def edit_as_dict(edit: OptionEdit) -> dict[str, Any]:
    """An edit as it is kept with its version."""
    return {
        "method": edit.method,
        "kind": edit.kind,
        "title": edit.title,
        "tenths": edit.tenths,
        "stages": [dict(stage) for stage in edit.stages] if edit.stages is not None else None,
        "extras": [extra_as_dict(line) for line in edit.extras],
        "without": list(edit.without),
        "prices": dict(edit.prices),
        "not_included": edit.not_included,
    }


def edit_from_dict(kept: Mapping[str, Any]) -> OptionEdit:
    """The edit that was kept."""
    stages = kept["stages"]
    return OptionEdit(
        **{
            **kept,
            "stages": tuple(stages) if stages is not None else None,
            "extras": tuple(ExtraLine(**line) for line in kept["extras"]),
            "without": tuple(kept["without"]),
        }
    )


OURS = (
    "Lowest price for the time it lasts: ",
    "No clear winner by this estimate: ",
    "Leaves the largest share of new fluid.",
)


def edits_of(version: QuoteVersion) -> Edits:
    """The edits that a version was made from: what was worked out then is worked out anew, what a person said stays."""
    by_person = said_by_person(version)
    return Edits(
        options=tuple(edit_from_dict(kept) for kept in version.inputs["options"]),
        recommended=version.recommended if by_person["recommended"] else "",
        why=version.why if by_person["why"] else "",
        note=version.note,
    )


def said_by_person(version: QuoteVersion) -> Mapping[str, bool]:
    """Whether a person chose the recommended letter, and whether a person wrote the sentence behind it."""
    kept: Mapping[str, bool] | None = version.inputs.get("by_person")
    if kept is not None:
        return kept
    # Versions that were written before this was kept: known by how our own sentences begin.
    ours = not version.why or version.why.startswith(OURS)
    return {"recommended": bool(version.recommended) and not version.why.startswith(OURS), "why": not ours}
