"""Tax by kind of line and jurisdiction: state, county and city, each with its own rate and base; exemptions.

The tax of a document is rounded once for each combined rate, as calc.tax does it. What each jurisdiction gets of it is
shared out to the cent, so that the parts add up to the whole.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.errors import ConflictingInput, OutOfRange
from shopserv.calc.money import Number, amount, round_half_up
from shopserv.calc.tax import TaxLine, tax_by_rate


@dataclass(frozen=True, slots=True)
class Jurisdiction:
    """One that taxes: its rate (0.0625 for 6.25 %) and the kinds of line that it falls on."""

    name: str
    rate: Number
    taxes: Mapping[str, bool]


@dataclass(frozen=True, slots=True)
class Certificate:
    """An exemption certificate.

    until          its last day; none: until it is withdrawn
    jurisdictions  that it frees from; none: all
    kinds          of line that it covers; none: all
    """

    number: str
    begins: date
    until: date | None = None
    jurisdictions: frozenset[str] | None = None
    kinds: frozenset[str] | None = None


@dataclass(frozen=True, slots=True)
class KindLine:
    """A line of a document: its kind and its amount before tax, which may be negative."""

    kind: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Part:
    """What one jurisdiction takes.

    base      the lines that it taxes, together
    exempted  the lines that it would tax but for the certificate, together
    exact     base x rate, not rounded
    tax       its part of the rounded tax
    """

    name: str
    rate: Fraction
    base: Decimal
    exempted: Decimal
    exact: Fraction
    tax: Decimal


@dataclass(frozen=True, slots=True)
class PlacedTax:
    """The tax of a document.

    line_rates  of each line in order the combined rate
    by_rate     combined rate -> tax, rising
    refused     why a certificate does not count, in one sentence; empty: there is none, or it counts
    """

    tax: Decimal
    parts: tuple[Part, ...]
    line_rates: tuple[Fraction, ...]
    by_rate: tuple[tuple[Fraction, Decimal], ...]
    total_with_tax: Decimal
    refused: str


def placed_tax(
    lines: Sequence[KindLine],
    jurisdictions: Sequence[Jurisdiction],
    *,
    on: date,
    certificate: Certificate | None = None,
    method: str = "document",
) -> PlacedTax:
    """Tax of lines by every jurisdiction that falls on their kind.

    on       the day of the document: a certificate that has ended, or not begun, frees from nothing
    method   document: rounded once for each combined rate; line: rounded line by line
    raises   OutOfRange for a negative rate, UnknownChoice, ConflictingInput for two jurisdictions of one name
    source   Streamlined Sales and Use Tax Agreement section 324(B), as R.I. Gen. Laws 44-18.1-25: rounding may be
             applied to the state and local taxes together, by item or by invoice; cents shared by largest remainder,
             common practice, no source
    check    133.13 of parts and fluid at 5.5 % state and 0.75 % county: 8.32, of which 7.32 and 1.00
    """
    names = [one.name for one in jurisdictions]
    if len(set(names)) < len(names):
        raise ConflictingInput(f"Two jurisdictions have one name among {', '.join(names)}.")
    for one in jurisdictions:
        if Fraction(one.rate) < 0:
            raise OutOfRange(f"The rate of {one.name} is {float(one.rate):g}; it must not be negative.")
    refused = why_refused(certificate, on) if certificate else ""
    counts = certificate if certificate and not refused else None
    taxing = [[one for one in jurisdictions if _taxes(one, line.kind, counts)] for line in lines]
    rates = tuple(sum((Fraction(one.rate) for one in row), Fraction(0)) for row in taxing)
    whole = tax_by_rate([TaxLine(line.amount, rate) for line, rate in zip(lines, rates, strict=True)], method)
    bases = [sum((Fraction(line.amount) for line, row in zip(lines, taxing, strict=True) if one in row), Fraction(0))
             for one in jurisdictions]  # fmt: skip
    exact = [base * Fraction(one.rate) for base, one in zip(bases, jurisdictions, strict=True)]
    shares = _shared(whole.total_tax, exact)
    parts = tuple(
        Part(
            name=one.name,
            rate=Fraction(one.rate),
            base=round_half_up(base),
            exempted=_would_be(one, lines, counts),
            exact=each,
            tax=share,
        )
        for one, base, each, share in zip(jurisdictions, bases, exact, shares, strict=True)
    )
    return PlacedTax(whole.total_tax, parts, rates, whole.by_rate, whole.total_with_tax, refused)


def why_refused(certificate: Certificate, on: date) -> str:
    """Why a certificate does not count on a day, in one sentence; empty: it does. Its last day counts."""
    if on < certificate.begins:
        return (
            f"The exemption certificate {certificate.number} begins on {certificate.begins:%B %-d, %Y}: tax is charged."
        )
    if certificate.until is not None and on > certificate.until:
        return (
            f"The exemption certificate {certificate.number} ended on {certificate.until:%B %-d, %Y}: tax is charged."
        )
    return ""


def _covers(certificate: Certificate, jurisdiction: Jurisdiction, kind: str) -> bool:
    named = certificate.jurisdictions is None or jurisdiction.name in certificate.jurisdictions
    return named and (certificate.kinds is None or kind in certificate.kinds)


def _taxes(jurisdiction: Jurisdiction, kind: str, certificate: Certificate | None) -> bool:
    if not jurisdiction.taxes.get(kind, False):
        return False
    return certificate is None or not _covers(certificate, jurisdiction, kind)


def _would_be(jurisdiction: Jurisdiction, lines: Sequence[KindLine], certificate: Certificate | None) -> Decimal:
    """Of the lines that it taxes, those that the certificate frees."""
    freed = [
        Fraction(line.amount)
        for line in lines
        if _taxes(jurisdiction, line.kind, None) and not _taxes(jurisdiction, line.kind, certificate)
    ]
    return round_half_up(sum(freed, Fraction(0)))


def _shared(total: Decimal, exact: Sequence[Fraction]) -> list[Decimal]:
    """Whole cents that add up to the total: each value cut down, then a cent to those that lost most, or taken from
    those that lost least where too much is there. Who takes nothing gets nothing, unless all take nothing."""
    down = [value * 100 // 1 for value in exact]
    missing = int(Fraction(total) * 100) - sum(down)
    step = 1 if missing > 0 else -1
    takers = [i for i, value in enumerate(exact) if value] or list(range(len(exact)))
    takers.sort(key=lambda i: (step * (down[i] - exact[i] * 100), i))
    for turn in range(abs(missing)):
        down[takers[turn % len(takers)]] += step
    return [amount(value) for value in down]
