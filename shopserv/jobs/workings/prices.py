"""What an option costs: each kind of line, tax and total, from the lines and terms that were frozen with it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc.jurisdictions import Jurisdiction, KindLine, placed_tax
from shopserv.calc.money import amount
from shopserv.calc.working import Change, From, Given, Number, Step, Value, Working, what_would_change
from shopserv.common import formats
from shopserv.jobs import sums
from shopserv.jobs.models import Line, Option
from shopserv.jobs.snapshots.quote import in_order
from shopserv.jobs.workings import goods
from shopserv.jobs.workings.course import on

PRACTICE = "common practice, no source"
TAX_SOURCES = (
    "Streamlined Sales and Use Tax Agreement section 324: tax on the document, rounded half-up",
    "EN 16931 BT-117: tax summed by rate",
)
MARKED_UP = (r"P = K + \sum_j m_j \max\left(0, \min(K, b_{j+1}) - b_j\right)",)
MARKED = "; mark-up slice by slice on the cost of the line, half-up to the cent once"
UNTOLD = (
    "; one price for the line: a graduated mark-up of its cost, less on the dearer part, half-up to the cent; the shop "
    "does not show its cost"
)
USED = "as much as new fluid is planned, what is kept for the level included"
MORE = ("core", "sublet", "diagnosis", "fee", "discount")
OURS = frozenset({"packages", "parts"})  # what things cost us: for the owner alone


class Prices:
    """The workings of one option's money.

    with_cost   whether what things cost us may be shown
    """

    def __init__(self, option: Option, *, currency: str, with_cost: bool) -> None:
        self.option, self.currency, self.with_cost = option, currency, with_cost
        self.rules: Mapping[str, Any] = option.version.rules
        self.lines = in_order(option)
        self.terms_of = f"terms of {on(self.rules)}"

    def all(self) -> dict[str, Working]:
        """Every working by its anchor; a kind without a line has none."""
        made = {
            "labor": self._labor,
            "fluid": self._fluid,
            "part": self._parts,
            "supplies": self._supplies,
            "waste": self._waste,
            "more": self._more,
        }
        found = {}
        for kind, make in made.items():
            rows = [line for line in self.lines if line.kind in (MORE if kind == "more" else (kind,))]
            if rows:
                found[kind] = make(rows)
        return {**found, "tax": self._tax(), "total": self._total()}

    def _working(self, figure: str, rows: Sequence[Line], given: Sequence[Given], **more: Any) -> Working:
        low, high = sum(row.low_price_cents for row in rows), sum(row.price_cents for row in rows)
        return Working(
            **{
                "figure": figure,
                "value": amount(high),
                "unit": self.currency,
                "low": amount(low) if low != high else None,
                "high": amount(high) if low != high else None,
                "given": (*given, *self._typed(rows)),
                "sources": (PRACTICE,),
                "version": self.option.version.calc_version,
                **more,
            }
        )

    def _typed(self, rows: Sequence[Line]) -> list[Given]:
        return [
            Given("P", f"price of “{row.text}”", amount(row.price_cents), self.currency, From.TYPED, "quote sheet")
            for row in rows
            if row.detail.get("typed")
        ]

    def _prices(self, rows: Sequence[Line]) -> list[Step]:
        return [Step(self._said(row), "", amount(row.price_cents), self.currency) for row in rows]

    def _said(self, row: Line) -> str:
        """The method by its words for the customer."""
        return self.option.title if row.text == self.option.method else row.text

    def _labor(self, rows: Sequence[Line]) -> Working:
        given, steps = [], []
        for row in rows:
            hours, rate = _decimal(row.quantity_thousandths), amount(row.unit_price_cents or 0)
            given += [
                Given(
                    "h",
                    f"time of {self._said(row)}",
                    hours,
                    "h",
                    From.TERMS,
                    "labor list, or as typed on the quote sheet",
                ),
                Given("r", "rate an hour", rate, f"{self.currency}/h", From.TERMS, f"rate card, {self.terms_of}"),
            ]
            given += [
                Given(
                    "h", f"{work}, sold once for {', '.join(of)}", -Fraction(tenths, 10), "h", From.TERMS, "labor list"
                )
                for work, of, tenths in row.detail.get("overlap", ())
            ]
            price = amount(row.price_cents)
            steps.append(Step(self._said(row), rf"P = h\,r = {hours} \cdot {rate}", price, self.currency))
        return self._working(
            "labor",
            rows,
            given,
            formula="tenths of an hour × rate an hour, half-up to the cent",
            formulas=(r"P = h\,r",),
            steps=tuple(steps),
            changes=self.changes("labor", ("hours", "rate")),
        )

    def _fluid(self, rows: Sequence[Line]) -> Working:
        given, steps = [], []
        for row in rows:
            need, low = row.detail.get("planned_ml", row.quantity_thousandths), row.detail.get("low", {})
            given.append(
                Given("V", f"{row.text} needed", need, "mL", From.COMPUTED, "fluid course", low.get("planned_ml"), None)
            )
            given += self._packages(row)
            steps += self._kept_for_level(need)
            if "bought_ml" in row.detail:
                steps.append(Step("bought", r"\sum_i n_i\,v_i", row.detail["bought_ml"], "mL"))
                steps.append(Step("left over", r"\sum_i n_i\,v_i - V", row.detail["left_ml"], "mL"))
            if "dearest_ml" in row.detail:
                steps.append(
                    Step("the dearest fill of the band, by which it is priced", "V", row.detail["dearest_ml"], "mL")
                )
            steps += self._fluid_price(row)
        by_liter = self.rules["fluid_rule"] == "by-liter"
        return self._working(
            "fluid",
            rows,
            [*given, *self._markup()],
            formula="the cheapest whole packages that hold the liters"
            + (", charged by the share that is used" if by_liter else "")
            + (MARKED if self.with_cost else UNTOLD),
            formulas=(
                r"K = \min_{n} \sum_i n_i\,k_i \quad \text{with} \quad \sum_i n_i\,v_i \ge V",
                *((r"K' = K \frac{V}{\sum_i n_i\,v_i}",) if by_liter else ()),
                *(MARKED_UP if self.with_cost else ()),
            ),
            steps=tuple(steps),
            changes=self.changes("fluid", ("liters", "packages")),
        )

    def _kept_for_level(self, need_ml: int) -> list[Step]:
        """What the stages pour and what is kept for setting the level, where the need is both."""
        stages = self.option.course.get("stages", []) if self.option.course else []
        poured = sum(stage.get("volume_ml", 0) + stage.get("add_ml", 0) for stage in stages)
        if not 0 < poured < need_ml or need_ml != self.option.course.get("new_ml"):
            return []
        return [
            Step("poured by the stages", r"\sum_j a_j", poured, "mL"),
            Step("kept for setting the level at the end", r"V - \sum_j a_j", need_ml - poured, "mL"),
        ]

    def _listed(self, row: Line) -> list[dict[str, Any]]:
        fluids = self.option.snapshot.get("fluids", [])
        return next((fluid["packages"] for fluid in fluids if fluid["code"] == row.number), [])

    def _fluid_price(self, row: Line) -> list[Step]:
        """From the cost of the packages, for who sees it; then what is bought at the price, at both ends of a band."""
        listed, counts, is_typed = self._listed(row), row.detail.get("packages", {}), row.detail.get("typed")
        charged = row.detail.get("dearest_ml", row.quantity_thousandths)
        steps: list[Step] = []
        if self.with_cost and "dearest_ml" not in row.detail:
            steps += goods.package_costs(counts, listed, self.currency)
        steps += self._from_cost(row)
        if self.rules["fluid_rule"] == "by-liter":
            return [*steps, self._price(row), *self._a_liter(row.price_cents, charged)]
        if "dearest_ml" in row.detail:  # the packages that were kept are those of the highest fill
            steps.append(self._price(row))
        else:
            steps += [*goods.priced_packages(counts, listed, row.price_cents, self.currency), self._price(row)]
            steps += self._a_liter(row.price_cents, row.detail.get("bought_ml", 0))
        low = row.detail.get("low", {})
        if low and not is_typed and row.low_price_cents != row.price_cents:
            least = goods.priced_packages(low["packages"], listed, row.low_price_cents, self.currency)
            steps += [replace(step, words=f"at the lowest fill: {step.words}") for step in least]
            words = f"at the lowest fill: {row.text}"
            steps.append(Step(words, r"P_\mathrm{low}", amount(row.low_price_cents), self.currency))
        return steps

    def _a_liter(self, price_cents: int, volume_ml: int) -> list[Step]:
        units = self.option.version.quote.shop.units_first
        return goods.a_liter(price_cents, volume_ml, self.currency, units)

    def _packages(self, row: Line) -> list[Given]:
        given = []
        for package in self._listed(row):
            words = f"{package.get('word') or 'package'} {package['number']}"
            given.append(Given("v_i", f"{words} holds", package["volume_ml"], "mL", From.PRODUCT, "price list"))
            if self.with_cost:
                cost = amount(package["cost_cents"])
                given.append(Given("k_i", f"{words} costs us", cost, self.currency, From.TERMS, "price list"))
        return given

    def _markup(self) -> list[Given]:
        if not self.with_cost:
            return []
        return [
            Given(
                "m_j",
                f"mark-up on what lies above {formats.money(above, self.currency)}",
                Fraction(ppm, 1_000_000),
                "",
                From.TERMS,
                self.terms_of,
            )
            for above, ppm in self.rules["markup"]
        ]

    def _from_cost(self, row: Line) -> list[Step]:
        """What it costs us and what is put on each slice of that; for the owner alone, and not of a typed price."""
        if not self.with_cost:
            return []
        cost = Step(f"cost of {row.text}", "K", amount(row.cost_cents), self.currency)
        on = [] if row.detail.get("typed") else goods.on_cost(row.cost_cents, self.rules["markup"], self.currency)
        return [cost, *on]

    def _price(self, row: Line) -> Step:
        return Step(row.text, "P", amount(row.price_cents), self.currency)

    def _part_price(self, row: Line) -> list[Step]:
        return [*self._from_cost(row), *goods.priced_pieces(row, self.currency), self._price(row)]

    def _parts(self, rows: Sequence[Line]) -> Working:
        given: list[Given] = []
        for row in rows:
            count = Fraction(row.quantity_thousandths, 1000)
            given.append(Given("n", f"{row.text} ({row.number or row.condition})", count, "", From.TERMS, "parts list"))
            if self.with_cost:
                words = f"cost of {row.text}, all of it"
                given.append(Given("K", words, amount(row.cost_cents), self.currency, From.TERMS, "parts list"))
        return self._working(
            "parts",
            rows,
            [*given, *self._markup()],
            formula="each line by its cost" + (MARKED if self.with_cost else UNTOLD),
            formulas=MARKED_UP if self.with_cost else (),
            steps=tuple(step for row in rows for step in self._part_price(row)),
            changes=self.changes("part", ("parts",)),
        )

    def _supplies(self, rows: Sequence[Line]) -> Working:
        rule = self.rules["supplies"]
        labor = sum(line.price_cents for line in self.lines if line.kind == "labor")
        share = Fraction(rule.get("share_ppm") or 0, 1_000_000)
        given = [
            Given("L", "labor", amount(labor), self.currency, From.COMPUTED, "above"),
            Given("s", "share of labor", share, "", From.TERMS, f"supplies rule, {self.terms_of}"),
        ]
        if rule.get("cap_cents") is not None:
            given.append(Given(r"S_\mathrm{max}", "at most", amount(rule["cap_cents"]), self.currency, From.TERMS))
        return self._working(
            "supplies",
            rows,
            given,
            formula=rule["text"],
            formulas=(r"S = \min\left(s\,L,\; S_\mathrm{max}\right)",),
            steps=tuple(self._prices(rows)),
            changes=self.changes("supplies", ("hours", "rate", "supplies")),
        )

    def _waste(self, rows: Sequence[Line]) -> Working:
        given, kept = [], self._kept_for_level(sum(row.quantity_thousandths for row in rows))
        for row in rows:
            liters = Fraction(row.quantity_thousandths, 1000)
            rate = amount(row.unit_price_cents or 0)
            given += [
                Given("V", "liters of used fluid", liters, "L", From.COMPUTED, USED),
                Given("w", "price a liter", rate, f"{self.currency}/L", From.TERMS, f"waste rule, {self.terms_of}"),
            ]
        return self._working(
            "used fluid",
            rows,
            given,
            formula="liters × price a liter, half-up to the cent",
            formulas=(r"P = V\,w",),
            steps=(*kept, *self._prices(rows)),
            changes=self.changes("waste", ("liters", "waste")),
        )

    def _more(self, rows: Sequence[Line]) -> Working:
        given = []
        for row in rows:
            count = Fraction(row.quantity_thousandths, 1000)
            given.append(Given("n", row.text, count, row.unit, From.TYPED, "quote sheet"))
            if row.unit_price_cents is not None:
                each = amount(row.unit_price_cents)
                given.append(Given("p", f"price of one, {row.text}", each, self.currency, From.TYPED, "quote sheet"))
        return self._working(
            "more",
            rows,
            given,
            formula="quantity × price of one, half-up to the cent; a core charge is what the part list says",
            formulas=(r"P = n\,p",),
            steps=tuple(self._prices(rows)),
        )

    def _tax(self) -> Working:
        tax, terms = self.rules["tax"], self.option.snapshot.get("terms", {})
        taxed = [line for line in self.lines if line.is_taxed]
        before = sums.taxed_before(terms) if terms else {}
        steps: list[Step] = []
        for ppm in sorted({line.tax_rate_ppm for line in taxed}):
            rows = [line for line in taxed if line.tax_rate_ppm == ppm]
            tax_cents = sums.tax_on({ppm: sum(line.price_cents for line in rows)}, terms) if terms else 0
            steps += self._at_rate(rows, ppm, before.get(ppm, 0), tax_cents)
        agreed = sum(before.values())
        one = r"\left[ q\,B \right]_{0.01}"
        if agreed:
            one = r"\left( \left[ q\,(B_0 + B) \right]_{0.01} - \left[ q\,B_0 \right]_{0.01} \right)"
        exempt = tax.get("exempt")
        return self._working(
            "tax",
            [],
            self._taxers(tax),
            value=amount(self.option.tax_cents),
            formula="the lines of each rate together × the rate, half-up to the cent once a rate; the rate of a line "
            "is the sum of those who tax its kind",
            formulas=(rf"T = \sum_q {one}", r"q = \sum_k q_k"),
            steps=(*steps, *self._who_gets(tax, agreed)),
            sources=TAX_SOURCES,
            assumptions=(f"exempt by certificate {exempt}: no line is taxed",) if exempt else (),
            changes=self.changes("tax", ("tax", "liters", "hours", "rate", "packages", "parts")),
        )

    def _taxers(self, tax: Mapping[str, Any]) -> list[Given]:
        """Each jurisdiction with its rate, and what it taxes where they do not all tax the same."""
        rows = tax.get("by_jurisdiction") or [[name, ppm, {}] for name, ppm in tax["parts"]]
        force = f"in force on {on(self.rules)}"
        given = []
        for name, ppm, kinds in rows:
            what = ", ".join(kind for kind, is_taxed in kinds.items() if is_taxed)
            words = f"{name}, on {what}" if what else name
            given.append(Given("q_k", words, Fraction(ppm, 1_000_000), "", From.LAW, force))
        return given

    def _at_rate(self, lines: Sequence[Line], ppm: int, before_cents: int, tax_cents: int) -> list[Step]:
        base = sum(line.price_cents for line in lines)
        more = [Step("agreed and taxed before", "B_0", amount(before_cents), self.currency)] if before_cents else []
        return [
            *self._prices(lines),
            Step("taxed together", r"B = \sum_j P_j", amount(base), self.currency),
            *more,
            Step("their rate", r"q = \sum_k q_k", Fraction(ppm, 1_000_000), ""),
            Step("tax at this rate", r"\left[ q\,B \right]_{0.01}", amount(tax_cents), self.currency),
        ]

    def _who_gets(self, tax: Mapping[str, Any], before: int) -> list[Step]:
        """What each jurisdiction takes of the rounded tax, to the cent; not of an addition, which is a difference."""
        if before or tax.get("exempt") or len(tax["parts"]) < 2:
            return []
        rows = tax.get("by_jurisdiction") or [[name, ppm, tax["applies_to"]] for name, ppm in tax["parts"]]
        placed = placed_tax(
            [KindLine(line.kind, amount(line.price_cents)) for line in self.lines],
            [Jurisdiction(name, Fraction(ppm, 1_000_000), kinds) for name, ppm, kinds in rows],
            on=date.fromisoformat(self.rules["day"]),
        )
        if placed.tax != amount(self.option.tax_cents):
            return []  # terms of an older form: the lines say more than the terms that were kept
        steps = []
        for part in placed.parts:
            steps.append(Step(f"{part.name}: taxed lines", "B_k", part.base, self.currency))
            steps.append(Step(f"{part.name}: of the tax", r"T_k \approx q_k\,B_k", part.tax, self.currency))
        return steps

    def _total(self) -> Working:
        option = self.option
        return self._working(
            "total",
            [],
            [],
            value=amount(option.total_cents),
            low=amount(option.low_total_cents) if option.low_total_cents != option.total_cents else None,
            high=amount(option.total_cents) if option.low_total_cents != option.total_cents else None,
            formula="all lines and the tax; the high total where the fill is a band",
            formulas=(r"G = \sum_j P_j + T",),
            steps=(
                *self._prices(self.lines),
                Step("before tax", r"N = \sum_j P_j", amount(option.net_cents), self.currency),
                Step("tax", "T", amount(option.tax_cents), self.currency),
            ),
            changes=self.changes("total", ("rate", "hours", "liters", "packages", "parts", "supplies", "waste", "tax")),
        )

    def changes(self, what: str, names: Sequence[str]) -> tuple[Change, ...]:
        """How far an amount moves with each input; what costs us is moved only where it may be shown."""
        shown = [name for name in names if self.with_cost or name not in OURS]
        snapshot = self.option.snapshot
        if not shown or "terms" not in snapshot:
            return ()
        found = what_would_change(
            lambda at: amount(_cents(sums.price(altered(snapshot, at)), what)),
            {name: Fraction(1) for name in shown},
            unit=self.currency,
            words=WORDS,
        )
        return tuple(change for change in found if change.moved or change.note)


WORDS = {
    "rate": "rate an hour",
    "hours": "time sold, in whole tenths",
    "liters": "liters of new fluid",
    "packages": "cost of the packages",
    "parts": "cost of the parts",
    "supplies": "share for supplies",
    "waste": "price for used fluid",
    "tax": "tax rate",
}


def altered(snapshot: Mapping[str, Any], share: Mapping[str, Any]) -> dict[str, Any]:
    """The inputs of a price with some of them taken `share` times, whole cents, tenths and milliliters again."""

    def times(value: int | None, name: str) -> int | None:
        return None if value is None else int(value * share.get(name, 1) + Fraction(1, 2))

    terms = snapshot["terms"]
    return {
        **snapshot,
        "terms": {
            **terms,
            "sold_cents": times(terms["sold_cents"], "rate"),
            "tax_rate_ppm": times(terms["tax_rate_ppm"], "tax"),
            **(
                {"taxes": [[name, times(ppm, "tax"), kinds] for name, ppm, kinds in terms["taxes"]]}
                if terms.get("taxes") is not None
                else {}
            ),
            "supplies": {**terms["supplies"], "share_ppm": times(terms["supplies"]["share_ppm"], "supplies")},
            "waste": {**terms["waste"], "cents_per_liter": times(terms["waste"]["cents_per_liter"], "waste")},
            **(
                {"taxes": [[name, times(ppm, "tax"), kinds] for name, ppm, kinds in terms["taxes"]]}
                if "taxes" in terms
                else {}
            ),
        },
        "labor": {**snapshot["labor"], "tenths": times(snapshot["labor"].get("tenths"), "hours")},
        "fluids": [
            {
                **fluid,
                "need_ml": times(fluid["need_ml"], "liters"),
                "low_need_ml": times(fluid["low_need_ml"], "liters"),
                "packages": [{**one, "cost_cents": times(one["cost_cents"], "packages")} for one in fluid["packages"]],
            }
            for fluid in snapshot["fluids"]
        ],
        "parts": [{**part, "cost_cents": times(part["cost_cents"], "parts")} for part in snapshot["parts"]],
    }


def _cents(priced: sums.Priced, what: str) -> int:
    if what == "tax":
        return priced.tax_cents
    if what == "total":
        return priced.total_cents
    return sum(line.price_cents or 0 for line in priced.lines if line.kind == what)


def _decimal(thousandths: int) -> Decimal:
    return Decimal(thousandths) / 1000


def margin_working(option: Option, currency: str, *, with_cost: bool = False) -> Working:
    """What is left of the price before tax.

    with_cost   whether what each line costs us may be shown, and not only all of them together
    """
    net, cost = amount(option.net_cents), amount(option.cost_cents)
    share: Number = Fraction(option.net_cents - option.cost_cents, option.net_cents) if option.net_cents > 0 else 0
    floor: Value = Fraction(option.version.rules["margin_floor_ppm"], 1_000_000)
    lines = in_order(option) if with_cost else []
    said = {line.order: option.title if line.text == option.method else line.text for line in lines}
    return Working(
        figure="margin",
        value=net - cost,
        unit=currency,
        formula="price before tax − what it costs us",
        formulas=(r"M = N - K", *((r"K = \sum_j K_j",) if with_cost else ()), r"m = \frac{M}{N}"),
        given=(
            Given("N", "price before tax", net, currency, From.COMPUTED, "all lines"),
            Given("K", "what it costs us", cost, currency, From.COMPUTED, "price list and rate card"),
            Given(r"m_\mathrm{min}", "floor of the margin", floor, "", From.HOUSE_RULES),
        ),
        steps=(
            *goods.cost_of_lines(lines, said, currency),
            Step("share of the price", r"m = M / N", share, ""),
        ),
        sources=(PRACTICE,),
        version=option.version.calc_version,
    )
