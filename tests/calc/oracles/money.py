# ruff: noqa: E501  sources are long lines
"""Prices, tax, packages and rules, against sample invoices, Python's decimal arithmetic and scipy's integer programs."""

from __future__ import annotations

from decimal import ROUND_FLOOR, ROUND_HALF_UP, Decimal
from fractions import Fraction
from random import Random
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from tests.calc.oracles.book import Book

DECIMAL = "Python's decimal arithmetic: quantize with ROUND_HALF_UP"
EN5 = "EN 16931 validation artifacts: sample invoice ubl-tc434-example5.xml"
EN_DISCOUNT = "EN 16931 validation artifacts: sample-discount-price.xml"
EN_CREDIT = "EN 16931 validation artifacts: ubl-tc434-creditnote1.xml"
STREAMLINED = (
    "Streamlined Sales and Use Tax Agreement s. 324(A): to the third decimal place, up when it is greater than four"
)
FLORIDA = "Fla. Stat. 559.909(1)(b): 10 USD or 10 percent, whichever is greater, not above 50 USD"
COLORADO = "Colo. Rev. Stat. 42-9-105(1): 10 percent or 25 USD, whichever is less"
WASHINGTON = "RCW 46.71.025: 110 percent of the estimate, without sales tax (from a summary of the statute)"
MILP = "scipy 1.17.1: milp (HiGHS), one integer program after the other, cost, surplus, number of containers; one answer only"
CENT = Decimal("0.01")


def cents(value: Decimal) -> Decimal:
    """Half-up on the magnitude."""
    return value.quantize(CENT, ROUND_HALF_UP)


def usd(value: Decimal) -> str:
    """As a value string."""
    return f"{cents(value)} USD"


def write() -> None:
    """money.json"""
    book = Book("money", "Prices, tax, packages and what an invoice may come to")
    _tax(book)
    _prices(book)
    _quotes(book)
    _packages(book)
    _rules(book)
    book.save()


def _lines(*pairs: tuple[str, str]) -> list[dict[str, str]]:
    return [{"amount": f"{amount} USD", "rate": rate} for amount, rate in pairs]


def _tax(book: Book) -> None:
    lines = _lines(
        ("1000.00", "25 %"), ("500.00", "25 %"), ("2500.00", "12 %"), ("-150.00", "25 %"), ("150.00", "25 %")
    )
    for report, expect in (
        ("by_rate", ["300.00 USD", "375.00 USD"]),
        ("total_tax", "675.00 USD"),
        ("total_with_tax", "4675.00 USD"),
    ):
        book.value("tax_by_rate", {"lines": lines, "report": report}, expect, EN5, "worked-example")
    book.value(
        "balance_due", {"total": "4675.00 USD", "deposits": ["2337.50 USD"]}, "2337.50 USD", EN5, "worked-example"
    )
    given = {"taxables": ["1500.00 USD"], "percent": "10 %"}
    book.value(
        "document_discount", given, ["1350.00 USD"], EN5 + ", allowance of 10 % on 1,500.00: 150.00", "worked-example"
    )
    given = {"lines": _lines(("12.12", "25 %"))}
    book.value("tax_by_rate", given | {"report": "total_tax"}, "3.03 USD", EN_DISCOUNT, "worked-example")
    given = {"lines": _lines(("-100.11", "0"))}
    book.value(
        "tax_by_rate",
        given | {"report": "total_with_tax"},
        "-100.11 USD",
        EN_CREDIT + ", as a negative sum",
        "worked-example",
    )
    for amount, rate in (
        ("1.00", "8.4"),
        ("1.00", "8.5"),
        ("0.99", "4.5"),
        ("13.10", "5.5"),
        ("7.27", "6.35"),
        ("0.07", "7"),
        ("0.08", "7"),
        ("251.40", "8.875"),
    ):
        expect = usd(Decimal(amount) * Decimal(rate) / 100)
        book.value(
            "tax_by_rate",
            {"lines": _lines((amount, f"{rate} %")), "report": "total_tax"},
            expect,
            STREAMLINED,
            "published",
        )
    draw = Random(324)
    for rates in (("6.25",), ("6", "7.25"), ("4.712", "9.9", "0")):
        pairs = [(f"{draw.randint(1, 40000) / 100:.2f}", f"{draw.choice(rates)} %") for _ in range(7)]
        lines = _lines(*pairs)
        by_line = sum((cents(Decimal(a) * Decimal(r.split()[0]) / 100) for a, r in pairs), Decimal(0))
        by_rate = sum(
            (
                cents(sum((Decimal(a) for a, r in pairs if r == f"{rate} %"), Decimal(0)) * Decimal(rate) / 100)
                for rate in rates
            ),
            Decimal(0),
        )
        book.value(
            "tax_by_rate", {"lines": lines, "method": "line", "report": "total_tax"}, usd(by_line), DECIMAL, "library"
        )
        book.value("tax_by_rate", {"lines": lines, "report": "total_tax"}, usd(by_rate), DECIMAL, "library")
    for taxable, rate, credits in (
        ("251.40", "8.875", ["100.00", "0.05", "151.35"]),
        ("90.09", "7", ["30.03", "30.03", "30.03"]),
    ):
        done, before, taxes = Decimal(0), Decimal(0), []
        for credit in credits:
            done += Decimal(credit)
            after = cents(done * Decimal(rate) / 100)
            taxes.append(usd(after - before))
            before = after
        assert before == cents(Decimal(taxable) * Decimal(rate) / 100)
        given = {"invoice_taxable": f"{taxable} USD", "rate": f"{rate} %", "credits": [f"{c} USD" for c in credits]}
        book.value("credit_note_tax", given, taxes, DECIMAL + "; together exactly the tax charged", "library")
    book.error(
        "tax_by_rate", {"lines": _lines(("1.00", "-1 %")), "report": "total_tax"}, "OutOfRange", "no tax below zero"
    )
    book.error(
        "credit_note_tax",
        {"invoice_taxable": "9.99 USD", "rate": "0", "credits": ["5.00 USD", "5.00 USD"]},
        "OverCredit",
        "no more back than was charged",
    )


BANDS = [("0.00", "140"), ("8.00", "95"), ("30.00", "60"), ("120.00", "35")]


def _marked_up(cost: Decimal) -> Decimal:
    steps = [Decimal(above) for above, _ in BANDS] + [Decimal("Infinity")]
    price = cost
    for (above, markup), upper in zip(BANDS, steps[1:], strict=True):
        price += max(Decimal(0), min(cost, upper) - Decimal(above)) * Decimal(markup) / 100
    return price


def _prices(book: Book) -> None:
    bands = [{"above": f"{above} USD", "markup": f"{markup} %"} for above, markup in BANDS]
    source = DECIMAL + "; mark-up by bands is common practice, no source"
    for cost in ("0.01", "7.99", "8.00", "8.01", "29.37", "30.03", "119.99", "120.01", "612.48"):
        book.value(
            "markup_price", {"cost": f"{cost} USD", "bands": bands}, usd(_marked_up(Decimal(cost))), source, "library"
        )
    costs = [f"{c} USD" for c in ("0.50", "7.99", "8.01", "29.99", "30.01", "120.01", "900.00")]
    book.along("markup_price", "increasing", {"bands": bands}, "cost", costs, "a dearer part never has a lower price")
    for minutes, tenths in ((1, 1), (6, 1), (7, 2), (59, 10), (66, 11), (145, 25)):
        book.value(
            "labor_tenths",
            {"time": f"{minutes} min"},
            tenths,
            "common practice, no source: a tenth of an hour is six minutes, any part rounded up",
            "common-practice",
        )
    for tenths, rate in (("0.7", "149.95"), ("2.3", "118.50"), ("11.9", "87.25"), ("0.1", "0.05")):
        expect = usd(Decimal(tenths) * Decimal(rate))
        book.value("labor_charge", {"time": f"{tenths} h", "rate": f"{rate} USD/h"}, expect, DECIMAL, "library")
    for base, percent, low, cap in (
        ("213.70", "6.5", None, None),
        ("88.88", "7.5", "9.00", None),
        ("900.00", "4", None, "29.99"),
        ("0.00", "5", "6.50", None),
        ("400.00", "5", "25.00", "22.00"),
    ):
        charge = cents(Decimal(base) * Decimal(percent) / 100)
        charge = max(charge, Decimal(low)) if low and Decimal(base) else charge
        charge = min(charge, Decimal(cap)) if cap else charge
        given = (
            {"base": f"{base} USD", "percent": f"{percent} %"}
            | ({"minimum": f"{low} USD"} if low else {})
            | ({"cap": f"{cap} USD"} if cap else {})
        )
        book.value(
            "shop_supplies", given, usd(charge), DECIMAL + "; the charge is common practice, no source", "library"
        )
    for price, cost in (("318.20", "121.15"), ("77.77", "80.10"), ("5.00", "0.00")):
        given = {"price": f"{price} USD", "cost": f"{cost} USD"}
        book.value(
            "gross_margin", given | {"report": "amount"}, usd(Decimal(price) - Decimal(cost)), DECIMAL, "library"
        )
        percent = (100 * (Decimal(price) - Decimal(cost)) / Decimal(price)).quantize(Decimal("0.1"), ROUND_HALF_UP)
        book.value("gross_margin", given | {"report": "percent"}, f"{percent} %", DECIMAL, "library")
    for total, deposits, payments, credits, refunds in (
        ("512.19", ["100.00"], ["212.19", "200.00"], [], []),
        ("80.00", [], ["100.00"], ["15.50"], ["35.50"]),
        ("61.20", [], [], ["70.00"], []),
    ):
        back = sum((Decimal(x) for x in (*deposits, *payments, *credits)), Decimal(0)) - sum(
            (Decimal(x) for x in refunds), Decimal(0)
        )
        lists = {"deposits": deposits, "payments": payments, "credits": credits, "refunds": refunds}
        given: dict[str, Any] = {"total": f"{total} USD"} | {k: [f"{x} USD" for x in v] for k, v in lists.items() if v}
        book.value("balance_due", given, usd(Decimal(total) - back), DECIMAL, "library")
    for equipment, saving in (("3899.00", "41.25"), ("1000.00", "250.00"), ("0.00", "9.99"), ("0.01", "100.00")):
        book.value(
            "payback_count",
            {"equipment": f"{equipment} USD", "saving_per_job": f"{saving} USD"},
            -(-Fraction(equipment) // Fraction(saving)),
            "counted by division, a part of a job is a job",
            "identity",
        )
    for tools, own, shop, expect in (
        ("260.00", "95.40", "310.00", 2),
        ("214.60", "95.40", "310.00", 1),
        ("214.61", "95.40", "310.00", 2),
    ):
        given = {"tools": f"{tools} USD", "own_cost": f"{own} USD", "shop_price": f"{shop} USD"}
        book.value("diy_break_even", given, expect, "counted up one by one", "identity")


def _quotes(book: Book) -> None:
    draw = Random(16931)
    for on, percent_off, amount_off in (
        ("labor", None, None),
        ("both", Decimal("7.5"), None),
        ("parts", None, Decimal("21.37")),
    ):
        parts = [(draw.randint(1, 9), Decimal(draw.randint(199, 9000)) / 100, draw.random() < 0.7) for _ in range(4)]
        labor = [(Decimal(draw.randint(3, 31)) / 10, Decimal("142.50"), draw.random() < 0.3) for _ in range(2)]
        priced = [(cents(q * p), t) for q, p, t in parts]
        worked = [(cents(h * r), t) for h, r, t in labor]
        base = {"parts": priced, "labor": worked, "both": priced + worked}[on]
        supplies = min(cents(sum(a for a, _ in base) * Decimal("4.5") / 100), Decimal("24.00"))
        lines = [*priced, *worked, (supplies, True)]
        groups = [sum((a for a, t in lines if t is taxed), Decimal(0)) for taxed in (True, False)]
        total = sum(groups)
        discount = cents(total * percent_off / 100) if percent_off else amount_off or Decimal(0)
        shares = [cents(discount * g / total) for g in groups]
        shares[0 if groups[0] >= groups[1] else 1] += discount - sum(shares)
        after = [g - s for g, s in zip(groups, shares, strict=True)]
        tax = cents(after[0] * Decimal("7.375") / 100)
        given = {
            "parts": [{"quantity": str(q), "unit_price": f"{p} USD", "taxable": t} for q, p, t in parts],
            "labor": [{"time": f"{h} h", "rate": f"{r} USD/h", "taxable": t} for h, r, t in labor],
            "supplies": {"percent": "4.5 %", "cap": "24.00 USD", "on": on, "taxable": True},
            "tax_rate": "7.375 %",
        }
        if discount:
            given["discount"] = {"percent": f"{percent_off} %"} if percent_off else {"amount": f"{amount_off} USD"}
        for report, value in (
            ("subtotal", total),
            ("discount", discount),
            ("taxable", after[0]),
            ("tax", tax),
            ("total", sum(after) + tax),
        ):
            book.value(
                "quote_total", given | {"report": report}, usd(value), DECIMAL + ", an invented quote", "library"
            )
    for taxables, amount in (
        (["80.00", "20.00", "33.33"], "12.34"),
        (["0.01", "0.01", "0.01"], "0.02"),
        (["50.00", "50.00"], "100.00"),
    ):
        values = [Decimal(x) for x in taxables]
        shares = [cents(Decimal(amount) * v / sum(values)) for v in values]
        shares[values.index(max(values))] += Decimal(amount) - sum(shares)
        given = {"taxables": [f"{x} USD" for x in taxables], "amount": f"{amount} USD"}
        book.value(
            "document_discount", given, [usd(v - s) for v, s in zip(values, shares, strict=True)], DECIMAL, "library"
        )


def _packages(book: Book) -> None:
    draw = Random(4)
    made = 0
    while made < 10:
        count = draw.choice((2, 3, 4))
        sizes = [draw.choice((354, 473, 946, 1000, 3785, 4000, 5000, 18927, 20000)) for _ in range(count)]
        costs = [draw.randint(int(s * 0.4), int(s * 0.9)) for s in sizes]
        stocks = [draw.choice((None, None, draw.randint(0, 5))) for _ in sizes]
        need = draw.randint(500, 16000)
        found = best_packages(need, sizes, costs, stocks)
        if found is None or len(set(sizes)) < count:
            continue
        made += 1
        packages = [
            {"name": f"size {i}", "size": f"{s} mL", "cost": f"{Decimal(c) / 100} USD"}
            | ({"stock": k} if k is not None else {})
            for i, (s, c, k) in enumerate(zip(sizes, costs, stocks, strict=True), 1)
        ]
        given = {"need": f"{need} mL", "packages": packages}
        counts = {f"size {i}": n for i, n in enumerate(found, 1) if n}
        book.value("package_choice", given | {"report": "counts"}, counts, MILP, "library")
        cost = sum(n * c for n, c in zip(found, costs, strict=True))
        book.value("package_choice", given | {"report": "cost"}, usd(Decimal(cost) / 100), MILP, "library")
        over = sum(n * s for n, s in zip(found, sizes, strict=True)) - need
        book.value("package_choice", given | {"report": "surplus"}, f"{over} mL", MILP, "library")
    packages = [
        {"name": "jug", "size": "1 gal", "cost": "31.00 USD"},
        {"name": "can", "size": "1 qt", "cost": "9.10 USD"},
    ]
    needs = [f"{n} pt" for n in (1, 2, 3, 5, 8, 13, 21)]
    book.along(
        "package_choice",
        "non_decreasing",
        {"packages": packages, "report": "cost"},
        "need",
        needs,
        "a price never falls when the need grows",
    )
    book.error(
        "package_choice",
        {"need": "5 qt", "packages": [packages[1] | {"stock": 4}], "report": "cost"},
        "NoPackage",
        "four quarts are not five",
    )


def best_packages(need: int, sizes: list[int], costs: list[int], stocks: list[int | None]) -> list[int] | None:
    """Counts by integer programs; None where there is no answer or more than one."""
    n = len(sizes)
    bounds = Bounds(
        np.zeros(n), [float(k) if k is not None else -(-need // s) for k, s in zip(stocks, sizes, strict=True)]
    )
    rows = [LinearConstraint([sizes], need, np.inf)]
    for aim in (costs, sizes, [1] * n):
        found = milp(aim, integrality=np.ones(n), bounds=bounds, constraints=rows)
        if not found.success:
            return None
        rows.append(LinearConstraint([aim], round(found.fun), round(found.fun)))
    counts = [round(x) for x in found.x]
    for i in range(n):  # nothing else does it
        for sign in (1, -1):
            aim = [0] * n
            aim[i] = sign
            if round(milp(aim, integrality=np.ones(n), bounds=bounds, constraints=rows).x[i]) != counts[i]:
                return None
    return counts


def _rules(book: Book) -> None:
    florida = {"kind": "greater_of", "percent": "10 %", "amount": "10.00 USD", "cap": "50.00 USD"}
    colorado = {"kind": "lesser_of", "percent": "10 %", "amount": "25.00 USD"}
    washington = {"kind": "percent", "percent": "10 %", "base": "before_tax"}
    for rule, source in ((florida, FLORIDA), (colorado, COLORADO), (washington, WASHINGTON)):
        for total, tax in (
            ("99.99", "5.40"),
            ("100.01", "6.00"),
            ("212.37", "11.10"),
            ("499.95", "0.00"),
            ("731.08", "41.22"),
        ):
            base = Decimal(total) - (Decimal(tax) if rule is washington else 0)
            tenth = base / 10
            allowed = {
                FLORIDA: min(max(tenth, Decimal(10)), Decimal(50)),
                COLORADO: min(tenth, Decimal(25)),
                WASHINGTON: tenth,
            }[source]
            allowed = allowed.quantize(CENT, ROUND_FLOOR)
            given = {"authorized_total": f"{total} USD", "authorized_tax": f"{tax} USD", "rule": rule}
            book.value("authorization_limit", given | {"report": "tolerance"}, usd(allowed), source, "published")
            at, over = usd(base + allowed), usd(base + allowed + CENT)
            book.value(
                "authorization_limit",
                given | {"report": "needs_consent", "proposed": at},
                False,
                source + "; at the limit",
                "published",
            )
            book.value(
                "authorization_limit",
                given | {"report": "needs_consent", "proposed": over},
                True,
                source + "; a cent over",
                "published",
            )
