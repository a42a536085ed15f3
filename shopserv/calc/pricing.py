"""Prices: mark-up, labor, supplies, discount, the sum of a quote, margin, balance and credit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise

from shopserv.calc.errors import (
    BadBands,
    DiscountExceedsTotal,
    NegativeMoney,
    NeverBreaksEven,
    NeverPaysBack,
    NotTenths,
    OutOfRange,
    OverCredit,
)
from shopserv.calc.measures import Real, exact
from shopserv.calc.money import Number, half_up, round_half_up

ZERO = Decimal("0.00")


@dataclass(frozen=True, slots=True)
class Band:
    """The part of a cost above `above` carries `markup` (1.6 for 160 %) until the next band."""

    above: Decimal
    markup: Number


def total_of(amounts: Sequence[Decimal]) -> Decimal:
    """A sum of amounts, exact whatever its size."""
    return round_half_up(sum(map(Fraction, amounts), Fraction(0)))


def not_negative(value: Decimal, what: str) -> Decimal:
    """The amount, if it is zero or more.

    raises  NegativeMoney
    """
    if value < 0:
        raise NegativeMoney(f"{what} is {value}; it may not be negative.")
    return value


def marked_up(cost: Decimal, bands: Sequence[Band]) -> Decimal:
    """Price of a cost by marginal bands, so that a dearer part never has a lower price; rounded once, half-up.

    cost     0 or more
    bands    the first above 0, strictly rising, no mark-up below 0
    raises   NegativeMoney, BadBands
    source   common practice, no source
    check    160/110/80 % above 0/5/20: 5.00 gives 13.00, 38.50 gives 77.80
    """
    not_negative(cost, "The cost")
    steps = [Fraction(band.above) for band in bands]
    if not bands or steps[0] != 0 or any(low >= high for low, high in pairwise(steps)):
        raise BadBands("The bands must begin above 0 and rise.")
    if any(Fraction(band.markup) < 0 for band in bands):
        raise BadBands("A mark-up below zero is a loss on every part; use a discount line.")
    price = whole = Fraction(cost)
    for band, low, high in zip(bands, steps, [*steps[1:], max(whole, steps[-1])], strict=True):
        price += max(Fraction(0), min(whole, high) - low) * Fraction(band.markup)
    return round_half_up(price)


def marked_up_cents(cost_cents: int, bands: Sequence[tuple[int, int]]) -> int:
    """marked_up in whole cents, with bands of (above in cents, mark-up in millionths): the same price, found faster.

    raises   NegativeMoney, BadBands
    check    1,600,000 / 1,100,000 / 800,000 above 0/500/2,000: 3,850 gives 7,780
    """
    if cost_cents < 0:
        raise NegativeMoney(f"The cost is {cost_cents} cents; it may not be negative.")
    if not bands or bands[0][0] != 0 or any(low[0] >= high[0] for low, high in pairwise(bands)):
        raise BadBands("The bands must begin above 0 and rise.")
    if any(markup < 0 for _, markup in bands):
        raise BadBands("A mark-up below zero is a loss on every part; use a discount line.")
    price, high = cost_cents * 1_000_000, cost_cents
    for above, markup in reversed(bands):
        if high > above:
            price += (high - above) * markup
            high = above
    return half_up(price, 1_000_000)


def labor_tenths(time_h: Real) -> int:
    """Tenths of an hour, any part of one rounded up.

    raises   OutOfRange for a negative time
    source   common practice, no source
    check    61 min: 11
    """
    hours = exact(time_h)
    if hours < 0:
        raise OutOfRange(f"A time of {float(hours):g} h is below zero.")
    return -(-hours * 10 // 1)


def labor_charge(time_h: Real, rate: Decimal) -> Decimal:
    """Labor at an hourly rate, half-up.

    time_h   whole tenths of an hour, 0 or more
    raises   NotTenths, OutOfRange for a negative time, NegativeMoney
    check    1.8 h at 150.00: 270.00
    """
    hours = exact(time_h)
    if hours < 0:
        raise OutOfRange(f"A time of {float(hours):g} h is below zero.")
    if (hours * 10).denominator != 1:
        raise NotTenths(f"{float(hours):g} h is no whole number of tenths of an hour.")
    return round_half_up(hours * Fraction(not_negative(rate, "The rate")))


def shop_supplies(
    base: Decimal, percent: Number, minimum: Decimal | None = None, cap: Decimal | None = None
) -> Decimal:
    """Supplies as a share of a base: at least the minimum where there is a base at all, at most the cap, which wins.

    percent   0.05 for 5 %, 0 or more
    raises    NegativeMoney, OutOfRange
    source    common practice, no source; places forbid it or want a sentence (Fla. Stat. 559.905)
    check     5 % of 270.00, at most 25.00: 13.50
    """
    share = Fraction(percent)
    if share < 0:
        raise OutOfRange(f"A share of {float(share):g} is below zero.")
    charge = round_half_up(Fraction(not_negative(base, "The base")) * share)
    if minimum is not None and not_negative(minimum, "The minimum") > charge and base > 0:
        charge = minimum
    if cap is not None:
        charge = min(charge, not_negative(cap, "The cap"))
    return charge


def document_discount(
    taxables: Sequence[Decimal], *, amount: Decimal | None = None, percent: Number | None = None
) -> list[Decimal]:
    """The taxable amounts after a discount on the document, spread in proportion; the rest goes to the largest.

    amount or percent   one of them; a percent is 0 to 1
    raises   NegativeMoney, OutOfRange, DiscountExceedsTotal
    source   EN 16931 document level allowances: each falls on one tax category
    """
    total = sum((Fraction(not_negative(one, "A taxable amount")) for one in taxables), Fraction(0))
    discount = Fraction(_discount(total, amount, percent))
    if discount > total:
        raise DiscountExceedsTotal(f"A discount of {float(discount):.2f} is more than the {float(total):.2f} in all.")
    if not total:
        return list(taxables)
    shares = [Fraction(round_half_up(discount * Fraction(one) / total)) for one in taxables]
    largest = max(range(len(taxables)), key=lambda i: (taxables[i], -i))
    shares[largest] += discount - sum(shares)
    return [round_half_up(Fraction(one) - share) for one, share in zip(taxables, shares, strict=True)]


def _discount(total: Fraction, amount: Decimal | None, percent: Number | None) -> Decimal:
    if amount is not None:
        return not_negative(amount, "The discount")
    share = Fraction(percent or 0)
    if not 0 <= share <= 1:
        raise OutOfRange(f"A discount of {float(share * 100):g} % is not between 0 and 100 %.")
    return round_half_up(total * share)


@dataclass(frozen=True, slots=True)
class PartLine:
    """So many of a part at a price, which is negative for a part that is taken back."""

    quantity: Real
    unit_price: Decimal
    is_taxed: bool = True


@dataclass(frozen=True, slots=True)
class LaborLine:
    """A time at an hourly rate."""

    time_h: Real
    rate: Decimal
    is_taxed: bool = False


@dataclass(frozen=True, slots=True)
class Supplies:
    """A supplies charge on parts, labor or both."""

    percent: Number
    on: str
    minimum: Decimal | None = None
    cap: Decimal | None = None
    is_taxed: bool = False


@dataclass(frozen=True, slots=True)
class QuoteSum:
    """The sums of a quote: before discount, the discount, the taxed group after it, the tax, and all together."""

    subtotal: Decimal
    discount: Decimal
    taxable: Decimal
    tax: Decimal
    total: Decimal


def quote_total(
    parts: Sequence[PartLine],
    labor: Sequence[LaborLine],
    tax_rate: Number,
    *,
    supplies: Supplies | None = None,
    discount_amount: Decimal | None = None,
    discount_percent: Number | None = None,
) -> QuoteSum:
    """The sums of a quote with one rate of tax, which falls on the taxed group after the discount, once, half-up.

    raises   OutOfRange for a negative rate or quantity, and what the parts raise
    check    10.00 taxed and 20.00 not, at 6.25 %: 30.63
    """
    rate = Fraction(tax_rate)
    if rate < 0:
        raise OutOfRange(f"A tax rate of {float(rate):g} is below zero.")
    priced = [(_part(line), line.is_taxed) for line in parts]
    worked = [(labor_charge(line.time_h, line.rate), line.is_taxed) for line in labor]
    lines = [*priced, *worked]
    if supplies:
        on = {"parts": priced, "labor": worked, "both": lines}[supplies.on]
        charge = shop_supplies(total_of([one for one, _ in on]), supplies.percent, supplies.minimum, supplies.cap)
        lines.append((charge, supplies.is_taxed))
    groups = [total_of([one for one, is_taxed in lines if is_taxed is taxed]) for taxed in (True, False)]
    after = groups
    if discount_amount is not None or discount_percent is not None:
        after = document_discount(groups, amount=discount_amount, percent=discount_percent)
    tax = round_half_up(Fraction(after[0]) * rate)
    before = total_of(groups)
    return QuoteSum(
        before, round_half_up(Fraction(before) - Fraction(total_of(after))), after[0], tax, total_of([*after, tax])
    )


def _part(line: PartLine) -> Decimal:
    quantity = exact(line.quantity)
    if quantity < 0:
        raise OutOfRange(f"A quantity of {float(quantity):g} is below zero; a return is a credit.")
    return round_half_up(quantity * Fraction(line.unit_price))


def gross_margin(price: Decimal, cost: Decimal) -> Decimal:
    """Price less cost; negative below cost."""
    return round_half_up(Fraction(price) - Fraction(cost))


def gross_margin_percent(price: Decimal, cost: Decimal) -> Decimal:
    """The margin in percent of the price, half-up to 0.1 %.

    raises   OutOfRange for a price of zero or less
    check    439.30 at a cost of 142.95: 67.5
    """
    if price <= 0:
        raise OutOfRange(f"A margin in percent needs a price above zero, not {price}.")
    return round_half_up(100 * (Fraction(price) - Fraction(cost)) / Fraction(price), 1)


def balance_due(
    total: Decimal,
    *,
    deposits: Sequence[Decimal] = (),
    payments: Sequence[Decimal] = (),
    credits: Sequence[Decimal] = (),
    refunds: Sequence[Decimal] = (),
) -> Decimal:
    """What is still to be paid; negative is owed to the customer.

    raises   NegativeMoney
    """
    not_negative(total, "The total")
    for amount in (*deposits, *payments, *credits, *refunds):
        not_negative(amount, "An amount")
    back = sum(map(Fraction, (*deposits, *payments, *credits)), Fraction(0))
    return round_half_up(Fraction(total) - back + sum(map(Fraction, refunds), Fraction(0)))


def credit_note_tax(invoice_taxable: Decimal, rate: Number, credits: Sequence[Decimal]) -> list[Decimal]:
    """The tax of each credit in order, so that full credit returns exactly the tax charged.

    raises   NegativeMoney, OutOfRange for a negative rate, OverCredit
    check    133.13 at 6.25 %, credits 11.05 and 122.08: 0.69 and 7.63, together the 8.32 charged
    """
    share, taxable = Fraction(rate), Fraction(not_negative(invoice_taxable, "The invoice's taxable amount"))
    if share < 0:
        raise OutOfRange(f"A tax rate of {float(share):g} is below zero.")
    for credit in credits:
        not_negative(credit, "A credit")
    credited, taxes = Fraction(0), []
    for credit in credits:
        before = Fraction(round_half_up(share * credited))
        credited += Fraction(credit)
        if credited > taxable:
            raise OverCredit(f"{float(credited):.2f} credited is more than the {float(taxable):.2f} invoiced.")
        taxes.append(round_half_up(Fraction(round_half_up(share * credited)) - before))
    return taxes


def payback_count(equipment: Decimal, saving_per_job: Decimal) -> int:
    """After how many jobs an equipment has paid for itself.

    raises   NegativeMoney, NeverPaysBack
    """
    not_negative(equipment, "The equipment")
    if saving_per_job <= 0:
        raise NeverPaysBack(f"A saving of {saving_per_job} a job never pays anything back.")
    return -(-Fraction(equipment) // Fraction(saving_per_job))


def diy_break_even(tools: Decimal, own_cost: Decimal, shop_price: Decimal) -> int:
    """After how many own jobs the tools are paid for by what the shop would have asked.

    raises   NegativeMoney, NeverBreaksEven
    """
    for value, what in ((tools, "The tools"), (own_cost, "The own cost"), (shop_price, "The shop's price")):
        not_negative(value, what)
    saving = Fraction(shop_price) - Fraction(own_cost)
    if saving <= 0:
        raise NeverBreaksEven(f"At {own_cost} against {shop_price} nothing is saved.")
    return -(-Fraction(tools) // saving)
