"""The rules of places, as data: how far a bill may pass what was agreed, with citation and the day it was looked up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any

from shopserv.calc.authorization import BASES, KINDS, ToleranceRule, limit
from shopserv.calc.errors import BadDate, BadNumber, ConflictingInput, MissingInput, UnknownChoice

READ = ("text", "summary")
LOOK_UP = "look up before use"
NEEDED = {
    "none": (),
    "percent": ("percent",),
    "amount": ("amount",),
    "lesser_of": ("percent", "amount"),
    "greater_of": ("percent", "amount"),
}


@dataclass(frozen=True, slots=True)
class PlaceRule:
    """The tolerance of one place.

    words         in short, our own
    citation      where the law says it; empty for an unknown place
    read          text, or summary where the text itself was not read
    edition       which edition of the text was read
    looked_up_on  the day on which it was read; none for an unknown place
    """

    code: str
    place: str
    rule: ToleranceRule
    words: str
    citation: str
    read: str
    edition: str
    looked_up_on: date | None
    note: str = ""

    @property
    def caution(self) -> str:
        """What has to be said beside the rule; empty where the text itself was read."""
        return "" if self.read == "text" else LOOK_UP


UNKNOWN = PlaceRule(
    code="",
    place="unknown",
    rule=ToleranceRule("none"),
    words="nothing over without a new yes",
    citation="",
    read="summary",
    edition="",
    looked_up_on=None,
    note="No rule of this place is known: the strictest one holds.",
)


def place_rules(rows: Sequence[Mapping[str, Any]]) -> dict[str, PlaceRule]:
    """The rules of a data file by code.

    raises   MissingInput, UnknownChoice, BadNumber, BadDate, ConflictingInput for a code given twice or a figure that
             the kind does not use
    """
    found: dict[str, PlaceRule] = {}
    for row in rows:
        one = _place_rule(row)
        if one.code in found:
            raise ConflictingInput(f"The place {one.code} is given twice.")
        found[one.code] = one
    return found


def rule_of(code: str, known: Mapping[str, PlaceRule]) -> PlaceRule:
    """The rule of a place; of an unknown one: no tolerance."""
    return known.get(code, UNKNOWN)


def most_billed(one: PlaceRule, total: Decimal, tax: Decimal = Decimal(0)) -> Decimal:
    """The most that may be billed on an agreed total, on the basis of the rule.

    check    Florida, 442.95: 487.24
    """
    return limit(one.rule, total, tax)


def _place_rule(row: Mapping[str, Any]) -> PlaceRule:
    code = _text(row, "code", "a rule")
    kind, base, read = (_text(row, name, code) for name in ("kind", "base", "read"))
    for word, allowed, what in ((kind, KINDS, "kind"), (base, BASES, "base"), (read, READ, "read")):
        if word not in allowed:
            raise UnknownChoice(f"{what} of {code} is {word!r}; it may be {', '.join(allowed)}.")
    for name in NEEDED[kind]:
        _text(row, name, code)
    unused = {"percent", "amount"} - set(NEEDED[kind])
    if wrong := sorted(name for name in unused if name in row):
        raise ConflictingInput(f"{code} gives {', '.join(wrong)}, which a rule of kind {kind} does not use.")
    percent = Fraction(_number(row, "percent", code)) / 100 if "percent" in row else None
    amount, cap = (_number(row, name, code) if name in row else None for name in ("amount", "cap"))
    return PlaceRule(
        code=code,
        place=_text(row, "place", code),
        rule=ToleranceRule(kind, percent, amount, cap, base),
        words=_text(row, "words", code),
        citation=_text(row, "citation", code),
        read=read,
        edition=_text(row, "edition", code),
        looked_up_on=_day(row, code),
        note=str(row.get("note", "")),
    )


def _text(row: Mapping[str, Any], name: str, code: str) -> str:
    word = row.get(name)
    if not isinstance(word, str) or not word:
        raise MissingInput(f"{name} of {code} is missing.")
    return word


def _number(row: Mapping[str, Any], name: str, code: str) -> Decimal:
    word = _text(row, name, code)
    try:
        number = Decimal(word)
    except InvalidOperation as cause:
        raise BadNumber(f"{name} of {code} is {word!r}; it must be a plain number.") from cause
    if not number.is_finite() or number < 0:
        raise BadNumber(f"{name} of {code} is {word!r}; it must be a number of 0 or more.")
    return number


def _day(row: Mapping[str, Any], code: str) -> date:
    word = _text(row, "looked_up_on", code)
    try:
        return date.fromisoformat(word)
    except ValueError as cause:
        raise BadDate(f"looked_up_on of {code} is {word!r}; it must be a day like 2026-11-26.") from cause
