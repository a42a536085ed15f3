"""The workings behind an invoice, or behind what it would come to: lines, tax, total, limit, balance due."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Protocol

from shopserv import calc
from shopserv.billing import selectors
from shopserv.billing.models import Invoice
from shopserv.calc.money import amount
from shopserv.calc.working import From, Given, Step, Working
from shopserv.jobs.models import Authorization, WorkOrder
from shopserv.jobs.selectors.work import order_for
from shopserv.jobs.workings.lasting import limit_working
from shopserv.jobs.workings.prices import TAX_SOURCES
from shopserv.shop.actors import Actor


class Billed(Protocol):
    """A line of an invoice or of a bill."""

    @property
    def text(self) -> str: ...
    @property
    def price_cents(self) -> int: ...
    @property
    def is_taxed(self) -> bool: ...
    @property
    def tax_rate_ppm(self) -> int: ...
    @property
    def quantity_thousandths(self) -> int: ...
    @property
    def unit(self) -> str: ...
    @property
    def unit_price_cents(self) -> int | None: ...


@dataclass(frozen=True, slots=True)
class Sums:
    """The sums of a bill or an invoice, in cents.

    paid_cents   none: nothing can be paid on it yet
    """

    lines: tuple[Billed, ...]
    net_cents: int
    tax_by_rate: tuple[Mapping[str, int], ...]
    tax_cents: int
    total_cents: int
    exempt: str
    paid_cents: int | None = None


def invoice_workings(actor: Actor, number: str) -> tuple[WorkOrder, Invoice | None, dict[str, Working]]:
    """The invoice of a work order with its workings; before it is issued, those of what it would come to."""
    order = order_for(actor, number)
    invoice = next((one for one in selectors.invoices_for(actor, order) if one.kind == "invoice"), None)
    currency = order.shop.business.currency
    if invoice is None:
        bill = selectors.bill_for(actor, order)
        if bill is None:
            return order, None, {}
        exempt = bill.exempt.number if bill.exempt else ""
        sums = Sums(bill.lines, bill.net_cents, bill.tax_by_rate, bill.tax_cents, bill.total_cents, exempt)
        return order, None, {**_of(sums, currency), "limit": limit_working(bill.authorization, currency)}
    sums = Sums(
        tuple(invoice.lines.order_by("order")),
        invoice.net_cents,
        tuple(invoice.tax_by_rate),
        invoice.tax_cents,
        invoice.total_cents,
        invoice.exemption_text,
        paid_cents=0,
    )
    counted = _counted(order)
    limit = {"limit": limit_working(counted, currency)} if counted else {}
    return order, invoice, {**_of(sums, currency), **limit}


def _counted(order: WorkOrder) -> Authorization | None:
    rows = order.authorizations.filter(state="counted").select_related("option__version")
    return rows.order_by("-pk").first()


def _of(sums: Sums, currency: str) -> dict[str, Working]:
    found = {"lines": _lines(sums, currency), "tax": _tax(sums, currency), "total": _total(sums, currency)}
    if sums.paid_cents is not None:
        found["balance-due"] = _due(sums, currency)
    return found


def _lines(sums: Sums, currency: str) -> Working:
    given = []
    for line in sums.lines:
        if line.unit_price_cents is None:
            continue
        count = Fraction(line.quantity_thousandths, 1000)
        each = amount(line.unit_price_cents)
        given += [
            Given("n", line.text, count, line.unit, From.COMPUTED, "option that was agreed"),
            Given("p", f"price of one, {line.text}", each, currency, From.TERMS, "option that was agreed"),
        ]
    return Working(
        figure="lines, before tax",
        value=amount(sums.net_cents),
        unit=currency,
        formula="the lines that were agreed, each at its agreed price; where a band was agreed, by what went in",
        formulas=(r"P_j = n_j\,p_j", r"N = \sum_j P_j"),
        given=tuple(given),
        steps=tuple(_prices(sums.lines, currency)),
        sources=("16 CCR 3354: nothing beyond what was agreed",),
        version=calc.VERSION,
    )


def _tax(sums: Sums, currency: str) -> Working:
    given: list[Given] = []
    steps = list(_prices((line for line in sums.lines if line.is_taxed), currency))
    for row in sums.tax_by_rate:
        rate = Fraction(row["rate_ppm"], 1_000_000)
        given.append(Given("q", "sum of the rates", rate, "", From.LAW, "in force on the day of the invoice"))
        steps.append(Step("taxed together", r"B = \sum_j P_j", amount(row["base_cents"]), currency))
        steps.append(Step("tax at this rate", r"\left[ q\,B \right]_{0.01}", amount(row["tax_cents"]), currency))
    return Working(
        figure="tax",
        value=amount(sums.tax_cents),
        unit=currency,
        formula="the taxed lines of each rate together × the rate, half-up to the cent once a rate",
        formulas=(r"T = \sum_q \left[ q \sum_{j \in q} P_j \right]_{0.01}",),
        given=tuple(given),
        steps=tuple(steps),
        sources=TAX_SOURCES,
        assumptions=(f"exempt: {sums.exempt}",) if sums.exempt else (),
        version=calc.VERSION,
    )


def _total(sums: Sums, currency: str) -> Working:
    return Working(
        figure="total",
        value=amount(sums.total_cents),
        unit=currency,
        formula="all lines and the tax",
        formulas=("G = N + T",),
        steps=(
            Step("lines, before tax", "N", amount(sums.net_cents), currency),
            Step("tax", "T", amount(sums.tax_cents), currency),
        ),
        version=calc.VERSION,
    )


def _due(sums: Sums, currency: str) -> Working:
    paid = sums.paid_cents or 0
    return Working(
        figure="balance due",
        value=amount(sums.total_cents - paid),
        unit=currency,
        formula="total less what was paid",
        formulas=("D = G - Z",),
        steps=(Step("total", "G", amount(sums.total_cents), currency), Step("paid", "Z", amount(paid), currency)),
        version=calc.VERSION,
    )


def _prices(lines: Iterable[Any], currency: str) -> list[Step]:
    return [Step(line.text, "P_j", amount(line.price_cents), currency) for line in lines]
