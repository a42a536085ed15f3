"""Workings laid out for a page, and the same as JSON: one form for every audience."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopserv.calc import errors
from shopserv.calc.measures import mdegc_to_f, ml_to_qt
from shopserv.calc.working import Change, From, Given, Step, Working, number
from shopserv.common import formats
from shopserv.common.fields import canonical
from shopserv.web.mathematics import formula
from shopserv.web.query import Asked

FOUR_DIGITS = 4
KEPT = "\N{NO-BREAK SPACE}"  # two units in one cell: each stays with its figure
LARGE_ML = 100  # from here on quarts are told beside milliliters


@dataclass(frozen=True, slots=True)
class Row:
    """One line: its symbol as mathematics, what it is, its figure, and where it comes from."""

    symbol: SafeString | str
    words: str
    figure: str
    source: str = ""
    is_typed: bool = False


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """What one input would change."""

    words: str
    less: str
    more: str
    moved: str
    note: str


@dataclass(frozen=True, slots=True)
class Shown:
    """One working, every figure as text.

    is_inside   the value lies inside its band and is told beside it; else the band alone says all
    """

    anchor: str
    title: str
    figure: str
    band: str
    is_inside: bool
    words: str
    formulas: tuple[SafeString, ...]
    given: tuple[Row, ...]
    steps: tuple[Row, ...]
    changes: tuple[ChangeRow, ...]
    sources: tuple[str, ...]
    assumptions: tuple[str, ...]
    version: str

    @property
    def told(self) -> str:
        """The figure, its band, or both."""
        return (
            _("%(figure)s; %(band)s") % {"figure": self.figure, "band": self.band}
            if self.is_inside
            else (self.band or self.figure)
        )


def shown(workings: Mapping[str, Working], currency: str = "USD") -> list[Shown]:
    """Each working by its anchor, in the order that they are given."""
    return [_shown(anchor, working, currency) for anchor, working in workings.items()]


def wants_json(request: HttpRequest) -> bool:
    """Whether the page is asked for as JSON: `?as=json`; any other form is refused with 400."""
    return Asked(request, *request.GET.keys()).one_of("as", ("json",), "") == "json"


def as_json(of: str, workings: Mapping[str, Working]) -> HttpResponse:
    """The workings as canonical JSON: keys in order, exact numbers as text, never a float of money.

    of   what the figures belong to: "BRW-Q-118 version 1 option C"
    """
    figures = {anchor: working.as_dict() for anchor, working in workings.items()}
    return HttpResponse(canonical({"of": of, "figures": figures}), content_type="application/json")


def _shown(anchor: str, working: Working, currency: str) -> Shown:
    def text(value: Any) -> str:
        return figure(value, working.unit, currency)

    low, high = text(working.low), text(working.high)
    is_band = working.low is not None and working.high is not None and low != high
    alone = "" if is_band else _not_before(working, low)
    return Shown(
        anchor=anchor,
        title=working.figure,
        figure=text(working.value),
        band=_("%(low)s to %(high)s") % {"low": low, "high": high} if is_band else alone,
        is_inside=bool(alone) or (is_band and working.value not in (working.low, working.high)),
        words=working.formula,
        formulas=tuple(formula(latex) for latex in working.formulas),
        given=tuple(_given(row, currency) for row in working.given),
        steps=tuple(_step(row, currency) for row in working.steps),
        changes=tuple(_change(row, currency) for row in working.changes),
        sources=working.sources,
        assumptions=working.assumptions,
        version=working.version,
    )


def _not_before(working: Working, low: str) -> str:
    """The early edge alone, of days whose late edge nobody can tell; else nothing."""
    is_day = working.unit == "days" or isinstance(working.value, date)
    return _("not before %(low)s") % {"low": low} if is_day and working.low is not None and working.high is None else ""


def _given(row: Given, currency: str) -> Row:
    said = figure(row.value, row.unit, currency)
    if row.low is not None or row.high is not None:
        ends = [figure(end, row.unit, currency) for end in (row.low, row.high) if end is not None]
        said = _("%(figure)s; %(ends)s") % {"figure": said, "ends": _(" to ").join(ends)}
    where = provenance(row.provenance)
    told = row.source.startswith(str(row.provenance))
    source = row.source if told else f"{where}: {row.source}" if row.source else where
    return Row(formula(row.symbol) if row.symbol else "", row.words, said, source, row.provenance == From.TYPED)


def _step(row: Step, currency: str) -> Row:
    return Row(formula(row.formula) if row.formula else "", row.words, figure(row.value, row.unit, currency))


def _change(row: Change, currency: str) -> ChangeRow:
    less, more, moved = (figure(value, row.unit, currency) for value in (row.less, row.more, row.moved))
    return ChangeRow(row.words, less, more, moved, row.note)


def provenance(where: str) -> str:
    """Where a value comes from, in the words of the screen."""
    words = {
        From.MEASURED: _("measured"),
        From.READ: _("read"),
        From.TYPED: _("typed"),
        From.UNIT_SHEET: _("unit sheet"),
        From.PRODUCT: _("product sheet"),
        From.INSTRUMENT: _("instrument"),
        From.HOUSE_RULES: _("house rules"),
        From.TERMS: _("terms"),
        From.LAW: _("law"),
        From.PUBLISHED: _("published"),
        From.MODELED: _("modeled"),
        From.ASSUMED: _("assumed"),
        From.COMPUTED: _("computed"),
    }
    return words[From(where)]


def figure(value: Any, unit: str, currency: str = "USD") -> str:
    """A value with its unit as people read it; text and days as they are."""
    if value is None:
        return formats.NOT_KNOWN
    if isinstance(value, date):
        return formats.day(value)
    try:
        exact: Any = number(value)
    except errors.BadNumber:
        return _day_or_text(value, unit)
    if unit == currency or unit.startswith(f"{currency}/"):
        return _money(Fraction(exact), currency) + unit.removeprefix(currency)
    text = digits(exact)
    if unit == "mL" and abs(exact) >= LARGE_ML:
        return f"{text}{KEPT}mL ({formats.number(ml_to_qt(Fraction(exact)), 1)}{KEPT}qt)"
    if unit == "°C":
        return f"{text}{KEPT}°C ({formats.number(mdegc_to_f(Fraction(exact) * 1000), 1)}{KEPT}°F)"
    if unit == "months":
        return f"{formats.number(Fraction(exact), 1)} {unit}"
    if unit == "share":
        return f"{text} ({formats.share(int(exact * 1_000_000))})"
    return f"{text} {unit}" if unit else text


def _day_or_text(value: Any, unit: str) -> str:
    text = str(value)
    try:
        return formats.day(date.fromisoformat(text))
    except ValueError:
        return f"{text} {unit}" if unit and text else text


def _money(exact: Fraction, currency: str) -> str:
    cents = exact * 100
    if cents.denominator == 1:
        return formats.money(int(cents), currency)
    return f"{formats.number(exact, 4)} {currency}"


def digits(value: Any) -> str:
    """A number with what counts of it: whole ones whole, others to four digits, and no zeros at their end."""
    exact = Fraction(value)
    if exact.denominator == 1:
        return formats.number(exact)
    size = math.floor(math.log10(abs(exact))) + 1
    return formats.trimmed(exact, min(8, max(1, FOUR_DIGITS - size)))
