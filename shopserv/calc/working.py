"""The one form in which a calculation shows its working.

A `Working` is the whole sum behind one figure: what went in and where it comes from, the formulas as mathematics, the
steps between, the sources, what was taken for granted, and what would change the answer most. Calculations make it;
pages, JSON and the recomputation read it. It is kept as plain values (`as_dict`) beside what was computed.

Exact numbers stay exact: a `Fraction` is kept as the text "37/5", a `Decimal` as its digits, an `int` as it is. Money
is `Decimal` with the code of its currency as unit; a float there is refused.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Any

from shopserv import calc
from shopserv.calc.errors import BadNumber, CalcError

Number = Fraction | Decimal | int | float
Value = Number | date | str | None  # None: not known

FIFTH = Fraction(1, 5)
_MONEY = re.compile(r"[A-Z]{3}(?![A-Za-z])")  # an ISO 4217 code: "USD", "USD/h"


class From(StrEnum):
    """Where a value comes from."""

    MEASURED = "measured"  # with an instrument on this vehicle
    READ = "read"  # off the vehicle: odometer, temperature, mark
    TYPED = "typed"  # said by a person who read no instrument
    UNIT_SHEET = "unit sheet"
    PRODUCT = "product sheet"  # of the fluid or part
    INSTRUMENT = "instrument"  # its stated error
    HOUSE_RULES = "house rules"
    TERMS = "terms"  # rates, mark-up, tax of the quote
    LAW = "law"
    PUBLISHED = "published"  # a table or average that names its source
    MODELED = "modeled"
    ASSUMED = "assumed"
    COMPUTED = "computed"  # by another calculation, which has its own working


@dataclass(frozen=True, slots=True)
class Given:
    """One input.

    symbol      as it stands in the formulas, in LaTeX: r"C", r"t_\\mathrm{air}"
    unit        "" for a number without; an ISO 4217 code for money
    source      the row, table or rule behind `provenance`, in words
    low, high   the band that it may lie in; none: taken as exact
    """

    symbol: str
    words: str
    value: Value
    unit: str
    provenance: From
    source: str = ""
    low: Number | None = None
    high: Number | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One value between input and answer; `formula` is LaTeX, best as name, rule and figures: r"V = m / \\rho"."""

    words: str
    formula: str
    value: Value
    unit: str


@dataclass(frozen=True, slots=True)
class Change:
    """What one input would change.

    less, more   the answer with the input lowered and raised; none: it has no answer there
    moved        the larger way from the answer as it is; none: the input cannot be moved
    note         why something is missing, in words
    """

    words: str
    less: Number | None
    more: Number | None
    moved: Number | None
    unit: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Working:
    """The sum behind one figure.

    figure     its name in words: "share of new fluid"
    low, high  the band of the answer; none: exact
    formula    in words, for who reads no formulas
    formulas   LaTeX, in the order of the sum
    sources    of the method: standard with section, law, or "common practice, no source"
    changes    what would change it most, largest first
    """

    figure: str
    value: Value
    unit: str
    low: Value = None
    high: Value = None
    formula: str = ""
    formulas: tuple[str, ...] = ()
    given: tuple[Given, ...] = ()
    steps: tuple[Step, ...] = ()
    sources: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()
    version: str = field(default_factory=lambda: calc.VERSION)

    def as_dict(self) -> dict[str, Any]:
        """The working as plain JSON values.

        raises   BadNumber for a float amount of money, or a value that is not finite
        """
        return {
            "version": self.version,
            "figure": self.figure,
            "value": plain(self.value, self.unit),
            "unit": self.unit,
            "low": plain(self.low, self.unit),
            "high": plain(self.high, self.unit),
            "formula": self.formula,
            "formulas": list(self.formulas),
            "inputs": [_given(given) for given in self.given],
            "steps": [
                {"words": step.words, "formula": step.formula, "value": plain(step.value, step.unit), "unit": step.unit}
                for step in self.steps
            ],
            "sources": list(self.sources),
            "assumptions": list(self.assumptions),
            "changes": [_change(change) for change in self.changes],
        }


def from_dict(kept: Mapping[str, Any]) -> Working:
    """A working as it was kept; what an older one lacks is empty. Exact numbers stay text (`number` reads them)."""
    return Working(
        figure=kept.get("figure", ""),
        value=kept.get("value"),
        unit=kept.get("unit", ""),
        low=kept.get("low"),
        high=kept.get("high"),
        formula=kept.get("formula", ""),
        formulas=tuple(kept.get("formulas", ())),
        given=tuple(
            Given(
                symbol=row.get("symbol", ""),
                words=row["words"],
                value=row["value"],
                unit=row["unit"],
                provenance=From(row.get("provenance", From.TYPED)),
                source=row.get("source", ""),
                low=row.get("low"),
                high=row.get("high"),
            )
            for row in kept.get("inputs", ())
        ),
        steps=tuple(
            Step(row["words"], row.get("formula", ""), row["value"], row["unit"]) for row in kept.get("steps", ())
        ),
        sources=tuple(kept.get("sources", ())),
        assumptions=tuple(kept.get("assumptions", ())),
        changes=tuple(Change(**row) for row in kept.get("changes", ())),
        version=kept.get("version", ""),
    )


def plain(value: Value, unit: str = "") -> Any:
    """A value as JSON takes it: exact numbers as text, "37/5" and "12.50"; days as 2026-11-26.

    raises   BadNumber for a float amount of money, or a value that is not finite
    """
    if isinstance(value, float):
        if _MONEY.match(unit):
            raise BadNumber(f"{value!r} {unit}: an amount of money is a decimal number, never a float.")
        if not math.isfinite(value):
            raise BadNumber(f"{value!r} {unit}: not a finite number.")
        return value
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise BadNumber(f"{value} {unit}: not a finite number.")
        return f"{value:f}"
    if isinstance(value, Fraction):
        return str(value)
    return value.isoformat() if isinstance(value, date) else value


def number(kept: Any) -> Number:
    """The number behind a value that was kept: exact for text and whole numbers.

    raises   BadNumber for what is no number
    """
    if isinstance(kept, int | float | Fraction) and not isinstance(kept, bool):
        return kept
    try:
        if isinstance(kept, str | Decimal):
            return Fraction(kept)
    except (ValueError, ZeroDivisionError, OverflowError):  # a word, 1/0, an infinite Decimal
        pass
    raise BadNumber(f"{kept!r} is not a number.")


def what_would_change(
    result: Callable[[dict[str, Any]], Number],
    inputs: Mapping[str, Value],
    *,
    unit: str,
    words: Mapping[str, str] | None = None,
    spread: Fraction = FIFTH,
    only: Iterable[str] | None = None,
) -> tuple[Change, ...]:
    """Each input moved down and up by `spread` of itself, the others kept: what the answer becomes, largest move first.

    result   takes all inputs by name, gives the answer; a day as its ordinal
    inputs   name -> value; what is no number is explained, not moved
    unit     of how far the answer moves: "days", "L"
    words    name -> words; the name itself where missing
    only     names to move; none: all
    raises   what `result` raises for the inputs as they are; for a moved one its named error is the note
    source   one at a time, plus and minus a fifth: common practice, no source
    check    width x height of 10 and 4: either to 32 and 48, moved 8
    """
    base: Any = result(dict(inputs))
    said = words or {}
    found = [
        _moved(result, inputs, name, said.get(name, name), base, spread, unit)
        for name in (inputs if only is None else only)
    ]
    return tuple(sorted(found, key=lambda change: -1.0 if change.moved is None else float(change.moved), reverse=True))


def _moved(
    result: Callable[[dict[str, Any]], Number],
    inputs: Mapping[str, Value],
    name: str,
    words: str,
    base: Any,
    spread: Fraction,
    unit: str,
) -> Change:
    value = inputs[name]
    if not isinstance(value, Fraction | Decimal | int | float) or isinstance(value, bool):
        why = "not known" if value is None else "not a number"
        return Change(words, None, None, None, unit, f"{why}: cannot be moved")
    if value == 0:
        return Change(words, base, base, base - base, unit, "zero: a share of it is nothing")
    answers: list[Any] = []
    notes = []
    for share in (1 - spread, 1 + spread):
        try:
            answers.append(result({**inputs, name: _times(value, share)}))
        except CalcError as error:
            answers.append(None)
            notes.append(f"{'lowered' if share < 1 else 'raised'}: {error}")
    ways = [abs(answer - base) for answer in answers if answer is not None]
    return Change(words, answers[0], answers[1], max(ways) if ways else None, unit, "; ".join(notes))


def _times(value: Number, share: Fraction) -> Number:
    if isinstance(value, Decimal):
        return value * share.numerator / share.denominator
    return value * share


def _given(given: Given) -> dict[str, Any]:
    row = {
        "symbol": given.symbol,
        "words": given.words,
        "value": plain(given.value, given.unit),
        "unit": given.unit,
        "provenance": str(given.provenance),
        "source": given.source,
    }
    if given.low is not None or given.high is not None:
        row |= {"low": plain(given.low, given.unit), "high": plain(given.high, given.unit)}
    return row


def _change(change: Change) -> dict[str, Any]:
    return {
        "words": change.words,
        "less": plain(change.less, change.unit),
        "more": plain(change.more, change.unit),
        "moved": plain(change.moved, change.unit),
        "unit": change.unit,
        "note": change.note,
    }


def bands(given: Sequence[Given]) -> tuple[Given, ...]:
    """The inputs that are not exact."""
    return tuple(each for each in given if each.low is not None or each.high is not None)
