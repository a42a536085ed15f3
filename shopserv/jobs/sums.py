"""The price of an option from its inputs, as plain data: the same inputs give the same cents for ever. No tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from shopserv.calc import overlaps, packages, pricing
from shopserv.calc.authorization import ToleranceRule
from shopserv.calc.money import amount, half_up

PPM = 1_000_000


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
             labor_before_cents, taxed_before_cents; where jurisdictions tax different kinds of line also taxes: [[name,
             rate_ppm, {kind: taxed}]] and taxed_before: {rate_ppm: cents}; where the price list says what operations
             include also included: {operation: {work: tenths}} and before: [[operation, tenths]]}; labor: {tenths,
             text, kind}; fluids: [{code, name, need_ml, low_need_ml, packages}]; parts; extras: lines that a person
             wrote; prices: {key of a line: cents or null}
    source   common practice, no source: mark-up slice by slice on the whole line; tax once per rate, see tax_on
    check    the four options of the example unit: 183.64, 395.69, 442.95, 641.89
    """
    terms = inputs["terms"]
    lines = [*_labor(inputs["labor"], terms)]
    lines += [_fluid(row, terms) for row in inputs["fluids"]]
    for row in inputs["parts"]:
        lines += _part(row, terms)
    lines += [_extra(row) for row in inputs["extras"]]
    lines += _done_once(inputs, terms)
    lines += _supplies(lines, terms) + _waste(inputs["fluids"], terms)
    if prices := inputs.get("prices"):
        lines = _not_below_nothing([_overridden(line, prices) for line in lines])
    return _summed([_taxed(line, terms) for line in lines], terms)


def key_of(line: PricedLine) -> str:
    """By what a person's own price is kept: the kind, and the number or words where there may be several."""
    if line.kind == "labor" and line.number:  # of a further operation, or of work that is done once
        return f"labor {line.number}"
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
    return half_up(per_hour_cents * tenths, 10)


DONE_ONCE = "done once"


def _done_once(inputs: Mapping[str, Any], terms: Mapping[str, Any]) -> list[PricedLine]:
    """What comes off because several operations of one visit include the same work; nothing where none do."""
    removed = done_once(inputs)
    tenths = sum(one.tenths for one in removed)
    if not tenths:
        return []
    works = ", ".join(one.work for one in removed)
    return [
        PricedLine(
            kind="labor",
            text=f"overlap removed: {works}",
            price_cents=-_hours(tenths, terms["sold_cents"]),
            number=DONE_ONCE,
            quantity_thousandths=-tenths * 100,
            unit="h",
            unit_price_cents=terms["sold_cents"],
            cost_cents=-_hours(tenths, terms["hour_cost_cents"]),
            detail={"overlap": [[one.work, list(one.operations), one.tenths] for one in removed]},
        )
    ]


def _not_below_nothing(lines: list[PricedLine]) -> list[PricedLine]:
    """What is done once takes off no more than the labor comes to, where a person has lowered its price."""
    last = next((i for i, line in enumerate(lines) if line.number == DONE_ONCE and line.kind == "labor"), None)
    if last is None:
        return lines
    labor = sum(line.price_cents or 0 for i, line in enumerate(lines) if line.kind == "labor" and i != last)
    off = max(lines[last].price_cents or 0, -max(0, labor))
    lines[last] = replace(lines[last], price_cents=off, low_price_cents=off)
    return lines


def done_once(inputs: Mapping[str, Any]) -> tuple[overlaps.Removed, ...]:
    """The work that this option shares with itself or with what was agreed before, without what was taken off then."""
    included = inputs["terms"].get("included")
    if not included:
        return ()
    before = [_operation(name, tenths, included) for name, tenths in inputs["terms"].get("before", ())]
    now = [_operation(name, tenths, included) for name, tenths in operations_of(inputs)]
    gone = {one.work: one.tenths for one in overlaps.together(before).removed}
    return tuple(
        replace(one, tenths=one.tenths - gone.get(one.work, 0))
        for one in overlaps.together([*before, *now]).removed
        if one.tenths > gone.get(one.work, 0)
    )


def operations_of(inputs: Mapping[str, Any]) -> list[tuple[str, int]]:
    """The operations of the price list in an option, each with its tenths."""
    labor = inputs["labor"]
    listed = [(labor["text"], labor["tenths"])] if labor.get("tenths") else []
    return listed + [
        (row["number"], row["quantity_thousandths"] // 100)
        for row in inputs["extras"]
        if row["kind"] == "labor" and row.get("number")
    ]


def _operation(name: str, tenths: int, included: Mapping[str, Mapping[str, int]]) -> overlaps.Operation:
    """An operation with what it includes; where a person sold it shorter than that, it includes nothing to take off."""
    works = included.get(name, {})
    return overlaps.Operation(name, tenths, works if sum(works.values()) <= tenths else {})


def _fluid(row: Mapping[str, Any], terms: Mapping[str, Any]) -> PricedLine:
    """The fluid of an option; of a band the highest price that a fill in it can have, and the lowest.

    By whole packages those are the prices of its ends. By the liter a larger fill may open a cheaper package, so that a
    smaller one costs more.
    """
    low_ml, high_ml = row["low_need_ml"], row["need_ml"]
    high = _filled(row, high_ml, terms)
    high.detail["low"] = {}
    if low_ml == high_ml:
        return high
    low = _filled(row, low_ml, terms)
    found = [low, high]
    if terms["fluid_rule"] == "by-liter":
        found += [_filled(row, ml, terms) for ml in _where_mixes_change(row, low_ml, high_ml)]
    dearest = max(found, key=lambda line: line.price_cents or 0)
    lowest = min(line.price_cents or 0 for line in found)
    if dearest.price_cents != high.price_cents:
        high.detail["dearest_ml"] = dearest.quantity_thousandths
    return replace(
        high,
        price_cents=dearest.price_cents,
        cost_cents=dearest.cost_cents,
        low_price_cents=lowest,
        detail={**high.detail, "low": low.detail},
    )


def _where_mixes_change(row: Mapping[str, Any], low_ml: int, high_ml: int) -> list[int]:
    """Between two fills, the largest that each cheapest mix holds, and the one beyond: prices turn nowhere else."""
    found, ml = [], low_ml
    while (held := _mix(row, ml).total_ml) < high_ml:
        found += [int(held), int(held) + 1]
        ml = int(held) + 1
    return found


def _mix(row: Mapping[str, Any], need_ml: int) -> packages.Choice:
    return packages.cheapest(
        need_ml, [packages.Package(p["number"], p["volume_ml"], p["cost_cents"]) for p in row["packages"]]
    )


def _filled(row: Mapping[str, Any], need_ml: int, terms: Mapping[str, Any]) -> PricedLine:
    choice = _mix(row, need_ml)
    bought = int(choice.total_ml)
    cost = choice.cost_cents
    if terms["fluid_rule"] == "by-liter" and bought:
        cost = half_up(cost * need_ml, bought)
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
    return pricing.marked_up_cents(cost_cents, terms["bands"])


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
        total = half_up(each * row["quantity_thousandths"], 1000)
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
    share = half_up(labor_cents * supplies["share_ppm"], PPM)
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
        return half_up(waste["cents_per_liter"] * ml, 1000)

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
        return line
    return replace(line, price_cents=prices[key], low_price_cents=prices[key], detail={**line.detail, "typed": True})


def _taxed(line: PricedLine, terms: Mapping[str, Any]) -> PricedLine:
    is_taxed, rate = rate_on(line.kind, terms)
    low = line.price_cents if line.low_price_cents is None else line.low_price_cents
    return PricedLine(  # dataclasses.replace takes three times as long, and this is done for every line
        line.kind,
        line.text,
        line.price_cents,
        line.number,
        line.quantity_thousandths,
        line.unit,
        line.unit_price_cents,
        low,
        line.cost_cents,
        is_taxed,
        rate,
        line.condition,
        line.detail,
    )


def rate_on(kind: str, terms: Mapping[str, Any]) -> tuple[bool, int]:
    """Whether a kind of line is taxed, and the sum of the rates of those who tax it, in millionths."""
    if terms["exempt"]:
        return False, 0
    taxes = terms.get("taxes")
    if taxes is None:
        taxed = bool(terms["taxed"].get(kind, False))
        return taxed, terms["tax_rate_ppm"] if taxed else 0
    rates = [rate for _, rate, kinds in taxes if kinds.get(kind)]
    return bool(rates), sum(rates)


def _summed(lines: Sequence[PricedLine], terms: Mapping[str, Any]) -> Priced:
    net = low_net = taxable = cost = 0
    high: dict[int, int] = {}
    low: dict[int, int] = {}
    for line in lines:
        price, low_price = line.price_cents or 0, line.low_price_cents or 0
        net += price
        low_net += low_price
        cost += line.cost_cents
        if line.is_taxed:
            taxable += price
            high[line.tax_rate_ppm] = high.get(line.tax_rate_ppm, 0) + price
            low[line.tax_rate_ppm] = low.get(line.tax_rate_ppm, 0) + low_price
    tax = tax_on(high, terms)
    return Priced(tuple(lines), net, taxable, tax, net + tax, low_net + tax_on(low, terms), cost)


def tax_on(bases: Mapping[int, int], terms: Mapping[str, Any]) -> int:
    """Tax in cents on what is added, by rate, so that the tax of the whole job is rounded once for each rate.

    bases   rate in millionths -> cents
    source  Streamlined Sales and Use Tax Agreement section 324; the same as calc.tax by document
    """
    before = taxed_before(terms)
    return sum(
        half_up((before.get(rate, 0) + base) * rate, PPM) - half_up(before.get(rate, 0) * rate, PPM)
        for rate, base in bases.items()
    )


def taxed_before(terms: Mapping[str, Any]) -> dict[int, int]:
    """What was agreed before and is taxed: rate in millionths -> cents."""
    kept = terms.get("taxed_before")
    if kept is not None:
        return {int(rate): base for rate, base in kept.items()}
    return {terms["tax_rate_ppm"]: terms.get("taxed_before_cents", 0)}


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
