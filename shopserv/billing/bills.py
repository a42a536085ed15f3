"""What an invoice would say: the lines agreed, the tax of the day, and how far it may go. Nothing is saved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from typing import Any

from shopserv.calc.authorization import limit
from shopserv.calc.money import amount, cents
from shopserv.calc.tax import TaxLine, tax_by_rate
from shopserv.common import formats
from shopserv.jobs import sums
from shopserv.jobs.models import Authorization, Line, Option, WorkOrder
from shopserv.jobs.selectors import house_terms
from shopserv.jobs.snapshots.quote import in_order
from shopserv.registry import selectors as registry
from shopserv.registry.models import ExemptionCertificate
from shopserv.shop import terms

PPM = Decimal(1_000_000)
MORE_KINDS = ("labor", "fluid", "supplies", "waste", "fee", "discount")


@dataclass(frozen=True, slots=True)
class More:
    """What is billed beyond the agreed lines, inside the tolerance; never another part, method or sublet.

    kind         one of MORE_KINDS
    price_cents  above zero; of a discount below zero
    """

    kind: str
    text: str
    price_cents: int
    quantity_thousandths: int = 1000
    unit: str = ""


@dataclass(frozen=True, slots=True)
class BilledLine:
    """One line of the invoice; `billed` is the row of the quote line that it bills, if any."""

    kind: str
    text: str
    price_cents: int
    number: str = ""
    quantity_thousandths: int = 1000
    unit: str = ""
    unit_price_cents: int | None = None
    is_taxed: bool = False
    tax_rate_ppm: int = 0
    condition: str = ""
    detail: dict[str, Any] = field(default_factory=dict)
    billed: int | None = None


@dataclass(frozen=True, slots=True)
class Bill:
    """An invoice's sums in cents.

    tax_by_rate      [{rate_ppm, base_cents, tax_cents}] by rising rate
    exempt           the certificate by which no tax is charged today
    limit_cents      the most that may be invoiced without a new yes, on the basis of the rule
    on_basis_cents   what this invoice comes to on that basis, with what was invoiced before
    """

    authorization: Authorization
    lines: tuple[BilledLine, ...]
    net_cents: int
    tax_by_rate: tuple[dict[str, int], ...]
    tax_cents: int
    exempt: ExemptionCertificate | None
    limit_cents: int
    on_basis_cents: int
    is_before_tax: bool

    @property
    def total_cents(self) -> int:
        """What is to be paid."""
        return self.net_cents + self.tax_cents

    @property
    def beyond_cents(self) -> int:
        """By how much it passes the limit; 0 where it does not."""
        return max(0, self.on_basis_cents - self.limit_cents)


def bill_of(
    order: WorkOrder, authorization: Authorization, *, day: date, before_cents: int = 0, more: Sequence[More] = ()
) -> Bill:
    """The bill of a work order by its counted authorization.

    day           of the invoice: exemption and tax rates are those of this day
    before_cents  invoiced on the work order already, on the basis of the rule
    source        16 CCR 3354; tax once per rate, half-up (calc.tax)
    """
    exempt = registry.exemption_on(authorization.quote.customer, day)
    taxed = _Taxes(order, day, exempt is not None)
    lines = [line for one in house_terms.chain_of(authorization) for line in _agreed(one.option, order)]
    lines = _as_measured(lines, order)
    lines += [BilledLine(m.kind, m.text, m.price_cents, "", m.quantity_thousandths, m.unit) for m in more]
    lines = [taxed.on(line) for line in lines]
    net = sum(line.price_cents for line in lines)
    rows = tuple(_by_rate(lines))
    tax = sum(row["tax_cents"] for row in rows)
    rule = authorization.rule
    before_tax = rule["base"] == "before_tax"
    most = limit(sums.tolerance_rule(rule), amount(authorization.amount_cents), amount(authorization.tax_cents))
    return Bill(
        authorization=authorization,
        lines=tuple(lines),
        net_cents=net,
        tax_by_rate=rows,
        tax_cents=tax,
        exempt=exempt,
        limit_cents=cents(most),
        on_basis_cents=before_cents + net + (0 if before_tax else tax),
        is_before_tax=before_tax,
    )


class _Taxes:
    """The rates of the day and the kinds of line that they fall on."""

    def __init__(self, order: WorkOrder, day: date, is_exempt: bool) -> None:
        rates = terms.tax_rates(order.shop, day)
        taxes = [[rate.jurisdiction, rate.rate_ppm, rate.applies_to] for rate in rates]
        self.terms = {"exempt": is_exempt, "taxes": taxes}

    def on(self, line: BilledLine) -> BilledLine:
        is_taxed, rate = sums.rate_on(line.kind, self.terms)
        return replace(line, is_taxed=is_taxed, tax_rate_ppm=rate)


def _by_rate(lines: Sequence[BilledLine]) -> list[dict[str, int]]:
    found = []
    for ppm in sorted({line.tax_rate_ppm for line in lines if line.is_taxed}):
        base = sum(line.price_cents for line in lines if line.is_taxed and line.tax_rate_ppm == ppm)
        tax = tax_by_rate([TaxLine(amount(base), Decimal(ppm) / PPM)]).total_tax
        found.append({"rate_ppm": ppm, "base_cents": base, "tax_cents": cents(tax)})
    return found


def _agreed(option: Option, order: WorkOrder) -> list[BilledLine]:
    """The lines of an agreed option; where it was agreed as a band, by what really went in."""
    rows = in_order(option)
    filled = _filled(option, order)
    if filled is None:
        return [_line(row, option) for row in rows]
    again = {line.order: made for line, made in zip(rows, sums.price(filled).lines, strict=True)}
    return [
        _line(
            row,
            option,
            price_cents=again[row.order].price_cents or 0,
            quantity_thousandths=again[row.order].quantity_thousandths,
            detail=again[row.order].detail,
        )
        for row in rows
    ]


def _line(row: Line, option: Option, **changed: Any) -> BilledLine:
    names = ("kind", "number", "quantity_thousandths", "unit", "unit_price_cents", "price_cents", "condition")
    values = {name: getattr(row, name) for name in names}
    text = option.title if row.kind == "labor" and row.text == option.method else row.text
    return BilledLine(**{**values, "detail": row.detail, "text": text, "billed": row.pk, **changed})


def _as_measured(lines: list[BilledLine], order: WorkOrder) -> list[BilledLine]:
    """The one fluid of a job with what was poured and left over as it was measured; its price stays.

    With several fluids, or without a balance, nobody can say which of them took what: the plan stands. By the liter the
    quantity is what the price was made from and stays, too.
    """
    fluids = [line for line in lines if line.kind == "fluid" and "bought_ml" in line.detail]
    balance = getattr(order, "balance", None)
    if len(fluids) != 1 or balance is None:
        return lines
    one = fluids[0]
    poured = balance.poured_ml
    read = order.close_out.get("leftover", {}).get("left_ml")
    left = max(0, one.detail["bought_ml"] - poured) if read is None else read
    measured = replace(
        one,
        quantity_thousandths=poured if one.detail.get("leftover") == "the customer's" else one.quantity_thousandths,
        detail={**one.detail, "poured_ml": poured, "left_ml": left, "is_left_read": read is not None},
    )
    return [measured if line is one else line for line in lines]


def _filled(option: Option, order: WorkOrder) -> dict[str, Any] | None:
    """The inputs of a band again with the fluid that went in, held inside the band; none where there is no band."""
    fluids = option.snapshot.get("fluids", [])
    bands = [row for row in fluids if row["low_need_ml"] != row["need_ml"]]
    balance = getattr(order, "balance", None)
    if len(bands) != 1 or balance is None:
        return None  # not a band, or nobody can say which of two took what: the agreed high end stands
    rest = sum(row["need_ml"] for row in fluids if row is not bands[0])
    need = min(max(balance.poured_ml - rest, bands[0]["low_need_ml"]), bands[0]["need_ml"])
    filled = [{**row, "need_ml": need, "low_need_ml": need} if row is bands[0] else row for row in fluids]
    return {**option.snapshot, "fluids": filled}


def beyond_words(bill: Bill, currency: str) -> str:
    """The sentence where the bill goes beyond what was agreed."""
    basis = " before tax" if bill.is_before_tax else ""
    return (
        f"The invoice comes to {formats.money(bill.on_basis_cents, currency)}{basis}; agreed are "
        f"{formats.money(bill.authorization.amount_cents, currency)} and at most "
        f"{formats.money(bill.limit_cents, currency)}{basis} may be billed ({bill.authorization.rule['words']}). "
        f"{formats.money(bill.beyond_cents, currency)} needs a new yes."
    )
