"""Money still inside the authorization, and what of more work would fit."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django.http import Http404

from shopserv.calc.authorization import most_tenths, tolerance
from shopserv.calc.money import amount, cents, half_up
from shopserv.jobs import sums
from shopserv.jobs.models import Authorization, Line
from shopserv.jobs.selectors import house_terms
from shopserv.jobs.selectors.quotes import quote_for
from shopserv.shop.actors import Actor

MOST_TENTHS = 999


@dataclass(frozen=True, slots=True)
class RoomLeft:
    """What is left of an authorization, in cents, on the basis of its rule.

    version, letter  of the option that counts
    is_before_tax    whether agreed, used, limit and left are before tax
    rule             how far an invoice may go beyond, as the authorization froze it
    tenth_cents      one more tenth of labor, with supplies and, where it is taxed, with tax
    extra_tenths     the most tenths that still fit
    left_after_cents what is left after those
    lines            every line agreed, in order
    tax_cents        the tax on them, where the basis holds it; 0 where the basis is before tax
    """

    quote_number: str
    version: int
    letter: str
    agreed_cents: int
    is_before_tax: bool
    rule: dict[str, Any]
    source: str
    tolerance_cents: int
    limit_cents: int
    used_cents: int
    left_cents: int
    tenth_cents: int
    extra_tenths: int
    left_after_cents: int
    lines: tuple[Line, ...]
    method: str
    parts: frozenset[str]
    tax_cents: int = 0

    def fits(self, amount_cents: int, *, method: str = "", parts: Collection[str] = ()) -> bool:
        """Whether this much more may be done without a new yes; another method or part never fits.

        amount_cents   on the basis of the rule
        raises         ValueError below zero
        """
        if amount_cents < 0:
            raise ValueError(f"{amount_cents} cents: what is added is not below zero")
        if (method and method != self.method) or not set(parts) <= self.parts:
            return False
        return amount_cents <= self.left_cents


def room_left(actor: Actor, number: str) -> RoomLeft | None:
    """The room left on a quote of the actor's shop; none without an authorization: then nothing may begin."""
    quote = quote_for(actor, number)
    counted = quote.authorizations.filter(state="counted").select_related("option__version__adds_to").first()
    return room_of(counted) if counted else None


def room_left_of_work(actor: Actor, work_order_number: str) -> RoomLeft | None:
    """The room left on a work order of the actor's shop, by its counted authorization."""
    actor.must("see prices")
    rows = Authorization.objects.filter(shop=actor.house, work_orders__number=work_order_number)
    if not rows.exists():
        raise Http404("no such work order")
    counted = rows.filter(state="counted").select_related("option__version__adds_to", "quote").first()
    return room_of(counted) if counted else None


def fits_in_bay(actor: Actor, work_order_number: str, tenths: int) -> bool:
    """Whether so many more tenths fit, for the bay: yes or no, and no amount."""
    actor.must("bay work")
    rows = Authorization.objects.filter(shop=actor.house, work_orders__number=work_order_number, state="counted")
    counted = rows.select_related("option__version__adds_to", "quote").first()
    return counted is not None and 0 <= tenths <= room_of(counted).extra_tenths


def room_of(counted: Authorization) -> RoomLeft:
    """The room left of a counted authorization, by the rule that it keeps."""
    rule = counted.rule
    over = tolerance(sums.tolerance_rule(rule), amount(counted.amount_cents), amount(counted.tax_cents))
    before_tax = rule["base"] == "before_tax"
    chain = house_terms.chain_of(counted)
    lines = tuple(line for one in chain for line in one.option.lines.order_by("order"))
    agreed = counted.amount_cents - (counted.tax_cents if before_tax else 0)
    tax = 0 if before_tax else sum(one.option.tax_cents for one in chain)
    used = sum(line.price_cents for line in lines) + tax
    left = max(0, agreed + cents(over) - used)
    tenths, costs, first = _tenths(counted, lines, left, before_tax)
    return RoomLeft(
        quote_number=counted.quote.number,
        version=counted.option.version.version,
        letter=counted.option.letter,
        agreed_cents=agreed,
        is_before_tax=before_tax,
        rule=rule,
        source=rule["source"],
        tolerance_cents=cents(over),
        limit_cents=agreed + cents(over),
        used_cents=used,
        left_cents=left,
        tenth_cents=first,
        extra_tenths=tenths,
        left_after_cents=left - costs,
        lines=lines,
        method=chain[0].option.method,
        parts=frozenset(line.number for line in lines if line.kind == "part"),
        tax_cents=tax,
    )


def _tenths(counted: Authorization, lines: tuple[Line, ...], left: int, before_tax: bool) -> tuple[int, int, int]:
    """The most tenths that fit, what they cost, and what the first one costs."""
    terms = counted.option.snapshot["terms"]
    labor = sum(line.price_cents for line in lines if line.kind == "labor")
    taxed: dict[int, int] = {}
    for line in lines:
        if line.is_taxed:
            taxed[line.tax_rate_ppm] = taxed.get(line.tax_rate_ppm, 0) + line.price_cents
    all_before = {**terms, "taxed_before": taxed}

    def cost(tenths: int) -> int:
        more = half_up(terms["sold_cents"] * tenths, 10)
        supplies = sums.supplies_on(labor + more, terms["supplies"]) - sums.supplies_on(labor, terms["supplies"])
        bases: dict[int, int] = {}
        for kind, price in (("labor", more), ("supplies", supplies)):
            is_taxed, rate = sums.rate_on(kind, terms)
            if is_taxed:
                bases[rate] = bases.get(rate, 0) + price
        return more + supplies + (0 if before_tax else sums.tax_on(bases, all_before))

    tenths = most_tenths(left, cost, MOST_TENTHS)
    return tenths, cost(tenths), cost(1)
