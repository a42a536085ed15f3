"""Evaluators of the reference checks: mileage and due dates, goods, labor, tax, money, authorization, records."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc import authorization, errors, mileage, packages, pricing, records, tax
from shopserv.calc.figures_values import Given, Value, number
from shopserv.calc.money import amount, cents

# Mileage and due dates


def theil_sen_slope(given: Given) -> Value:
    return number(mileage.theil_sen_slope(*([one.exact for one in given.values(name)] for name in ("x", "y"))))


def _reading(given: Given) -> mileage.Reading:
    """A reading in meters."""
    return mileage.Reading(given.day("date"), given.exact("odometer", "distance"))


def _readings(given: Given) -> list[mileage.Reading]:
    return [_reading(one) for one in given.objects("readings")]


def mileage_rate(given: Given) -> Value:
    return Value(mileage.mileage_rate(_readings(given)), "speed")


def odometer_check(given: Given) -> str:
    found = []
    for name in ("previous", "new"):
        one = given.object(name)
        read = one.value("odometer", "distance")
        found.append((mileage.Reading(one.day("date"), read.in_unit(read.unit)), read.unit))
    (previous, unit), (new, new_unit) = found
    rate = given.value("rate", "speed")
    digits = given.count("digits", 6, low=1)
    if unit not in ("mi", "km"):
        raise errors.DimensionMismatch(f"An odometer reads mi or km, not {unit}.")
    return mileage.odometer_check(previous, new, rate.in_unit(f"{unit}/d"), unit=unit, new_unit=new_unit, digits=digits)


def due_date_distance(given: Given) -> date | str:
    report = given.choice("report", ("due", "early", "late"))
    readings, service = _readings(given), _reading(given.object("last_service"))
    at = service.distance + given.exact("interval", "distance")
    if service.distance < 0:
        raise errors.OutOfRange("The odometer at the last service is below zero.")
    slopes = mileage.pair_slopes(readings)
    latest = max(readings, key=lambda r: (r.on, r.distance))
    share = {"due": Fraction(1, 2), "early": mileage.EARLY, "late": mileage.LATE}[report]
    rate = mileage.quantile(slopes, share)
    if report == "late" and rate <= 0:
        return "none"
    return mileage.due_on(latest, at, rate)


def due_date_months(given: Given) -> date:
    months = given.value("interval", "months").exact
    if months.denominator != 1:
        raise errors.OutOfRange(f"{float(months):g} months are no whole months.")
    return mileage.due_date_months(given.day("date"), int(months))


def governing_clock(given: Given) -> str | date:
    report = given.choice("report", ("clock", "date"))
    dues = [given.day(name) if given.has(name) else None for name in ("distance_due", "time_due")]
    clock, day = mileage.governing_clock(*dues)
    return clock if report == "clock" else day


# Goods, labor, tax, money


def _name(given: Given, name: str) -> str:
    word = given.raw(name)
    if not isinstance(word, str):
        raise errors.UnknownChoice(f"{name} is {word!r}; it must be a text.")
    return word


def _package(given: Given) -> packages.Package:
    return packages.Package(
        name=_name(given, "name"),
        size_ml=given.exact("size", "volume"),
        cost_cents=cents(given.money("cost")),
        stock=given.count("stock", low=0) if given.has("stock") else None,
    )


def package_choice(given: Given) -> dict[str, int] | Decimal | Value:
    report = given.choice("report", ("counts", "cost", "surplus"))
    need = given.exact("need", "volume")
    choice = packages.cheapest(need, [_package(one) for one in given.objects("packages")])
    if report == "counts":
        return choice.counts
    return amount(choice.cost_cents) if report == "cost" else Value(choice.surplus_ml, "volume")


def markup_price(given: Given) -> Decimal:
    bands = [
        pricing.Band(one.money("above", may_be_negative=True), one.exact("markup")) for one in given.objects("bands")
    ]
    return pricing.marked_up(given.money("cost"), bands)


def _hours(given: Given) -> Fraction:
    return given.value("time", "time").in_unit("h")


def _hourly(given: Given) -> Decimal:
    rate = given.exact("rate", "hourly rate") * 100
    return amount(int(rate))  # whole cents, or it would not have been read


def labor_tenths(given: Given) -> int:
    return pricing.labor_tenths(_hours(given))


def labor_charge(given: Given) -> Decimal:
    return pricing.labor_charge(_hours(given), _hourly(given))


def tax_by_rate(given: Given) -> Decimal | list[Decimal]:
    report = given.choice("report", ("total_tax", "by_rate", "total_with_tax"))
    method = given.choice("method", tax.METHODS, "document")
    lines = [
        tax.TaxLine(one.money("amount", may_be_negative=True), one.exact("rate")) for one in given.objects("lines")
    ]
    found = tax.tax_by_rate(lines, method)
    if report == "by_rate":
        return [each for _, each in found.by_rate]
    return found.total_tax if report == "total_tax" else found.total_with_tax


def _optional_money(given: Given, name: str) -> Decimal | None:
    return given.money(name) if given.has(name) else None


def _optional_number(given: Given, name: str) -> Fraction | None:
    return given.exact(name) if given.has(name) else None


def shop_supplies(given: Given) -> Decimal:
    return pricing.shop_supplies(
        given.money("base"), given.exact("percent"), _optional_money(given, "minimum"), _optional_money(given, "cap")
    )


def _discount(given: Given) -> dict[str, Any]:
    if given.only_one("amount", "percent") == "amount":
        return {"amount": given.money("amount")}
    return {"percent": given.fraction("percent")}


def document_discount(given: Given) -> list[Decimal]:
    return pricing.document_discount(given.moneys("taxables"), **_discount(given))


def _supplies(given: Given) -> pricing.Supplies:
    return pricing.Supplies(
        percent=given.exact("percent"),
        on=given.choice("on", ("parts", "labor", "both")),
        minimum=_optional_money(given, "minimum"),
        cap=_optional_money(given, "cap"),
        is_taxed=given.flag("taxable", False),
    )


def quote_total(given: Given) -> Decimal:
    report = given.choice("report", ("subtotal", "discount", "taxable", "tax", "total"))
    parts = [
        pricing.PartLine(
            one.exact("quantity"), one.money("unit_price", may_be_negative=True), one.flag("taxable", True)
        )
        for one in given.objects("parts", is_optional=True)
    ]
    labor = [
        pricing.LaborLine(_hours(one), _hourly(one), one.flag("taxable", False))
        for one in given.objects("labor", is_optional=True)
    ]
    discount = _discount(given.object("discount")) if given.has("discount") else {}
    found = pricing.quote_total(
        parts,
        labor,
        given.exact("tax_rate"),
        supplies=_supplies(given.object("supplies")) if given.has("supplies") else None,
        discount_amount=discount.get("amount"),
        discount_percent=discount.get("percent"),
    )
    answer: Decimal = getattr(found, report)
    return answer


def gross_margin(given: Given) -> Decimal | Value:
    report = given.choice("report", ("amount", "percent"))
    price, cost = (given.money(name, may_be_negative=True) for name in ("price", "cost"))
    if report == "amount":
        return pricing.gross_margin(price, cost)
    return number(Fraction(pricing.gross_margin_percent(price, cost)) / 100)


def balance_due(given: Given) -> Decimal:
    lists = {name: given.moneys(name, is_optional=True) for name in ("deposits", "payments", "credits", "refunds")}
    return pricing.balance_due(given.money("total"), **lists)


def credit_note_tax(given: Given) -> list[Decimal]:
    return pricing.credit_note_tax(given.money("invoice_taxable"), given.exact("rate"), given.moneys("credits"))


def payback_count(given: Given) -> int:
    return pricing.payback_count(given.money("equipment"), given.money("saving_per_job", may_be_negative=True))


def diy_break_even(given: Given) -> int:
    return pricing.diy_break_even(*(given.money(name) for name in ("tools", "own_cost", "shop_price")))


# Authorization, records, laboratory, waste


def _rule(given: Given) -> authorization.ToleranceRule:
    return authorization.ToleranceRule(
        kind=given.choice("kind", authorization.KINDS),
        percent=_optional_number(given, "percent"),
        amount=_optional_money(given, "amount"),
        cap=_optional_money(given, "cap"),
        base=given.choice("base", authorization.BASES, "total"),
    )


def authorization_limit(given: Given) -> Decimal | bool:
    report = given.choice("report", ("tolerance", "limit", "needs_consent"))
    total, agreed_tax = given.money("authorized_total"), given.money("authorized_tax", "0 USD")
    rule = _rule(given.object("rule"))
    if report == "needs_consent":
        return authorization.needs_consent(rule, total, given.money("proposed"), agreed_tax)
    figure = authorization.tolerance if report == "tolerance" else authorization.limit
    return figure(rule, total, agreed_tax)


def retention_until(given: Given) -> date:
    return records.retention_until(given.day("date"), given.count("years"))


def iso4406_code(given: Given) -> str:
    return records.iso4406_code(*(given.exact(f"over_{size}um", "particle count") for size in (4, 6, 14)))


def used_oil_presumption(given: Given) -> bool:
    role = given.choice("role", records.ROLES, "generator")
    return records.used_oil_presumption(given.exact("total_halogens"), role)


def used_oil_label(given: Given) -> str:
    return records.used_oil_label(given.choice("on", records.LABELS))


EVALUATORS: dict[str, Callable[[Given], Any]] = {
    evaluator.__name__: evaluator
    for evaluator in (
        theil_sen_slope,
        mileage_rate,
        odometer_check,
        due_date_distance,
        due_date_months,
        governing_clock,
        package_choice,
        markup_price,
        labor_tenths,
        labor_charge,
        tax_by_rate,
        shop_supplies,
        document_discount,
        quote_total,
        gross_margin,
        balance_due,
        credit_note_tax,
        payback_count,
        diy_break_even,
        authorization_limit,
        retention_until,
        iso4406_code,
        used_oil_presumption,
        used_oil_label,
    )
}
