"""The price of an option from its inputs, as plain data: the same inputs give the same cents for ever. No tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc import packages, pricing
from shopserv.calc.authorization import ToleranceRule
from shopserv.calc.money import amount, cents, round_half_up
from shopserv.calc.tax import TaxLine, tax_by_rate

PPM = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class PricedLine:
    """One line of an option.

    price_cents       with the high fill where the fill is a band; none: a price is missing
    low_price_cents   with the low fill; equal to price_cents elsewhere
    """

    kind: str
    text: str
    price_cents: int | None
    number: str = ""
    quantity_thousandths: int = 1000
    unit: str = ""
    unit_price_cents: int | None = None
    low_price_cents: int | None = None
    cost_cents: int = 0
    is_taxed: bool = False
    tax_rate_ppm: int = 0
    condition: str = ""
    detail: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Priced:
    """An option's lines and sums, in cents. The totals of an addition are those of what is added."""

    lines: tuple[PricedLine, ...]
    net_cents: int
    taxable_cents: int
    tax_cents: int
    total_cents: int
    low_total_cents: int
    cost_cents: int

    @property
    def margin_cents(self) -> int:
        """Price before tax less cost."""
        return self.net_cents - self.cost_cents

    @property
    def margin_ppm(self) -> int:
        """Margin as a share of the price before tax, cut down."""
        return self.margin_cents * 1_000_000 // self.net_cents if self.net_cents > 0 else 0


def price(inputs: Mapping[str, Any]) -> Priced:
    """Price an option.

    inputs   terms: {sold_cents, hour_cost_cents, bands, fluid_rule, supplies, waste, tax_rate_ppm, taxed, exempt,
             labor_before_cents, taxed_before_cents}; labor: {tenths, text, kind}; fluids: [{code, name, need_ml,
             low_need_ml, packages}]; parts; extras: lines that a person wrote; prices: {key of a line: cents or null}
    source   common practice, no source: mark-up slice by slice on the whole line, tax once per rate half-up
    check    the four options of the example unit: 183.64, 395.69, 442.95, 641.89
    """
    terms = inputs["terms"]
    lines = [*_labor(inputs["labor"], terms)]
    lines += [_fluid(row, terms) for row in inputs["fluids"]]
    for row in inputs["parts"]:
        lines += _part(row, terms)
    lines += [_extra(row) for row in inputs["extras"]]
    lines += _supplies(lines, terms) + _waste(inputs["fluids"], terms)
    lines = [_taxed(_overridden(line, inputs.get("prices", {})), terms) for line in lines]
    return _summed(lines, terms)


def key_of(line: PricedLine) -> str:
    """By what a person's own price is kept: the kind, and the number or words where there may be several."""
    return line.kind if line.kind in ("labor", "supplies", "waste") else f"{line.kind} {line.number or line.text}"


def _labor(labor: Mapping[str, Any], terms: Mapping[str, Any]) -> list[PricedLine]:
    tenths = labor.get("tenths")
    if tenths is None:
        return []
    return [
        PricedLine(
            kind=labor.get("kind", "labor"),
            text=labor["text"],
            price_cents=_hours(tenths, terms["sold_cents"]),
            quantity_thousandths=tenths * 100,
            unit="h",
            unit_price_cents=terms["sold_cents"],
            cost_cents=_hours(tenths, terms["hour_cost_cents"]),
        )
    ]


def _hours(tenths: int, per_hour_cents: int) -> int:
    return cents(round_half_up(amount(per_hour_cents) * tenths / 10))


def _fluid(row: Mapping[str, Any], terms: Mapping[str, Any]) -> PricedLine:
    high = _filled(row, row["need_ml"], terms)
    low = high if row["low_need_ml"] == row["need_ml"] else _filled(row, row["low_need_ml"], terms)
    return replace(high, low_price_cents=low.price_cents, detail={**high.detail, "low": _band(low, high)})


def _band(low: PricedLine, high: PricedLine) -> dict[str, Any]:
    return {} if low is high else dict(low.detail)


def _filled(row: Mapping[str, Any], need_ml: int, terms: Mapping[str, Any]) -> PricedLine:
    choice = packages.cheapest(
        Fraction(need_ml),
        [packages.Package(p["number"], Fraction(p["volume_ml"]), p["cost_cents"]) for p in row["packages"]],
    )
    bought = int(choice.total_ml)
    cost = choice.cost_cents
    if terms["fluid_rule"] == "by-liter" and bought:
        cost = cents(round_half_up(amount(cost) * need_ml / bought))
    return PricedLine(
        kind="fluid",
        text=row["name"],
        number=row["code"],
        price_cents=_marked_up(cost, terms),
        quantity_thousandths=need_ml,
        unit="L",
        cost_cents=cost,
        detail={
            "packages": dict(choice.counts),
            "planned_ml": need_ml,
            "bought_ml": bought,
            "left_ml": bought - need_ml,
            "leftover": "the customer's" if terms["fluid_rule"] == "whole-packages" else "the shop's",
        },
    )


def _marked_up(cost_cents: int, terms: Mapping[str, Any]) -> int:
    bands = [pricing.Band(amount(above), Decimal(markup) / PPM) for above, markup in terms["bands"]]
    return cents(pricing.marked_up(amount(cost_cents), bands))


def _part(row: Mapping[str, Any], terms: Mapping[str, Any]) -> list[PricedLine]:
    cost = row["cost_cents"] * row["quantity"]
    part = PricedLine(
        kind="part",
        text=row["name"],
        number=row["number"],
        price_cents=_marked_up(cost, terms),
        quantity_thousandths=row["quantity"] * 1000,
        unit="piece",
        cost_cents=cost,
        condition=row["condition"],
    )
    if not row.get("core_cents"):
        return [part]
    core = row["core_cents"] * row["quantity"]
    text = f"core charge, {row['name']}"
    return [part, PricedLine("core", text, core, row["number"], part.quantity_thousandths, "piece", cost_cents=core)]


def _extra(row: Mapping[str, Any]) -> PricedLine:
    each = row.get("unit_price_cents")
    total = None
    if each is not None:
        total = cents(round_half_up(amount(each) * row["quantity_thousandths"] / 1000))
    return PricedLine(
        kind=row["kind"],
        text=row["text"],
        price_cents=total,
        number=row.get("number", ""),
        quantity_thousandths=row["quantity_thousandths"],
        unit=row.get("unit", ""),
        unit_price_cents=each,
        cost_cents=row.get("cost_cents", 0),
        condition=row.get("condition", ""),
        detail=dict(row.get("detail", {})),
    )


def supplies_on(labor_cents: int, supplies: Mapping[str, Any]) -> int:
    """The supplies charge on labor, half-up to the cent, at most the cap."""
    if supplies["kind"] == "none":
        return 0
    share = cents(round_half_up(amount(labor_cents) * Decimal(supplies["share_ppm"]) / PPM))
    cap = supplies.get("cap_cents")
    return share if cap is None else min(share, int(cap))


def _supplies(lines: Sequence[PricedLine], terms: Mapping[str, Any]) -> list[PricedLine]:
    supplies, before = terms["supplies"], terms.get("labor_before_cents", 0)
    labor = sum(line.price_cents or 0 for line in lines if line.kind == "labor")
    charge = supplies_on(before + labor, supplies) - supplies_on(before, supplies)
    if not charge:
        return []
    return [PricedLine("supplies", supplies["text"], charge, detail={"sentence": supplies.get("sentence", "")})]


def _waste(fluids: Sequence[Mapping[str, Any]], terms: Mapping[str, Any]) -> list[PricedLine]:
    waste = terms["waste"]
    need = sum(row["need_ml"] for row in fluids)
    if not need or not waste["cents_per_liter"]:
        return []

    def charge(ml: int) -> int:
        return cents(round_half_up(amount(waste["cents_per_liter"]) * ml / 1000))

    low = charge(sum(row["low_need_ml"] for row in fluids))
    return [
        PricedLine(
            "waste",
            waste["text"],
            charge(need),
            quantity_thousandths=need,
            unit="L",
            unit_price_cents=waste["cents_per_liter"],
            low_price_cents=low,
        )
    ]


def _overridden(line: PricedLine, prices: Mapping[str, int | None]) -> PricedLine:
    """A person's own price for a line; none means that it was left blank."""
    key = key_of(line)
    if key not in prices:
        return line if line.low_price_cents is not None else replace(line, low_price_cents=line.price_cents)
    return replace(line, price_cents=prices[key], low_price_cents=prices[key], detail={**line.detail, "typed": True})


def _taxed(line: PricedLine, terms: Mapping[str, Any]) -> PricedLine:
    taxed = bool(terms["taxed"].get(line.kind, False)) and not terms["exempt"]
    return replace(line, is_taxed=taxed, tax_rate_ppm=terms["tax_rate_ppm"] if taxed else 0)


def _summed(lines: Sequence[PricedLine], terms: Mapping[str, Any]) -> Priced:
    net = sum(line.price_cents or 0 for line in lines)
    taxable = sum(line.price_cents or 0 for line in lines if line.is_taxed)
    low_net = sum(line.low_price_cents or 0 for line in lines)
    low_taxable = sum(line.low_price_cents or 0 for line in lines if line.is_taxed)
    tax, low_tax = _tax(taxable, terms), _tax(low_taxable, terms)
    return Priced(
        tuple(lines),
        net,
        taxable,
        tax,
        net + tax,
        low_net + low_tax,
        sum(line.cost_cents for line in lines),
    )


def _tax(taxable_cents: int, terms: Mapping[str, Any]) -> int:
    """Tax on what is added, so that the tax of the whole job is rounded once."""
    before = terms.get("taxed_before_cents", 0)
    return _rounded_tax(before + taxable_cents, terms) - _rounded_tax(before, terms)


def _rounded_tax(base_cents: int, terms: Mapping[str, Any]) -> int:
    rate = Decimal(terms["tax_rate_ppm"]) / PPM
    return cents(tax_by_rate([TaxLine(amount(base_cents), rate)]).total_tax)


def tolerance_rule(rule: dict[str, object]) -> ToleranceRule:
    """A kept rule as the arithmetic takes it."""
    percent, fixed, cap = rule["percent_ppm"], rule["amount_cents"], rule["cap_cents"]
    return ToleranceRule(
        kind=str(rule["kind"]),
        percent=None if percent is None else Decimal(str(percent)) / PPM,
        amount=None if fixed is None else amount(int(str(fixed))),
        cap=None if cap is None else amount(int(str(cap))),
        base=str(rule["base"]),
    )
