"""The sums of the fluid ahead: what the shelf serves, what goes from opened packages, what opening together takes."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

from shopserv.calc.money import amount
from shopserv.calc.opened import Cover
from shopserv.calc.pooling import Pooled
from shopserv.calc.promise import Promise, Promised
from shopserv.calc.working import From, Given, Step, Working
from shopserv.common import formats
from shopserv.jobs.shelf import BY_LITER, Pool, Reckoned, share_cents, swings, with_days

PRACTICE = "common practice, no source"
SEARCH = "exact search over every mix of whole packages from which none could be put back"
COUNTED = "counted on this page"
MIX = r"\sum_i n_i\,v_i \ge V"


class Ahead:
    """The workings of one product.

    words      stock number -> word of the kind
    with_cost  whether what packages cost us may be shown
    """

    def __init__(self, found: Reckoned, words: Mapping[str, str], *, currency: str, with_cost: bool) -> None:
        self.found, self.words, self.currency, self.with_cost = found, words, currency, with_cost
        self.sizes = {kind.name: Fraction(kind.size_ml) for kind in found.counted.packages}

    def all(self) -> dict[str, Working]:
        """Each working by its anchor, with the code of the product in front; what was not reckoned has none."""
        code, made = self.found.counted.product, {}
        if self.found.promised is not None:
            made[f"{code}-promise"] = self._promise(self.found.promised)
        if self.found.cover is not None and self.found.counted.opened:
            made[f"{code}-opened"] = self._opened(self.found.cover)
        for pool in self.found.pools:
            if pool.found is not None:
                anchor = f"{code}-pool" if f"{code}-pool" not in made else f"{code}-pool-{pool.day}"
                made[anchor] = self._pool(pool, pool.found)
        return made

    def _kinds(self) -> list[Given]:
        given = []
        for kind in self.found.counted.packages:
            word = self.words[kind.name]
            given.append(Given("v_i", f"{word} holds", Fraction(kind.size_ml), "mL", From.PRODUCT, "price list"))
            if self.with_cost:
                cost = amount(kind.cost_cents)
                given.append(Given("k_i", f"{word} costs us", cost, self.currency, From.TERMS, "price list"))
        return given

    def _stock(self) -> list[Given]:
        given = [
            Given("s_i", f"{self.words[kind.name]}: on the shelf", kind.stock, "", From.TYPED, COUNTED)
            for kind in self.found.counted.packages
        ]
        for one in self.found.counted.arrivals:
            on = formats.day(one.usable_from)
            words = f"{self.words[one.package]}: on its way, usable from {on}"
            given.append(Given("s_i", words, one.count, "", From.TYPED, COUNTED))
        return given

    def _needs(self, jobs: Any) -> list[Given]:
        return [
            Given(
                "V",
                f"{job.order} ({job.vehicle}) on {formats.day(job.day)} needs",
                job.need_ml,
                "mL",
                From.COMPUTED,
                f"agreed course, {job.said}",
                job.low_ml if job.low_ml != job.need_ml else None,
                job.need_ml if job.low_ml != job.need_ml else None,
            )
            for job in jobs
        ]

    def _promise(self, promised: Promise) -> Working:
        found, short = self.found, promised.shortage
        steps = [step for one in promised.served for step in self._served(one)]
        given = [*self._needs(found.jobs), *self._stock(), *self._kinds()]
        if found.rule == BY_LITER:
            words = "of what stands open, what the jobs can use up before its last day"
            given.append(Given("o", words, found.open_ml, "mL", From.COMPUTED, "earliest use-by first"))
        if short is not None:
            lead = found.counted.lead_days
            given.append(Given("d", "until an order is here", lead, "days", From.TYPED, COUNTED))
            steps.append(Step(f"{short.job.name} is the first that no way serves", MIX, short.job.day, ""))
            if short.order is not None:
                count = sum(short.order.values())
                steps.append(Step(f"the cheapest order that serves it: {self.mix(short.order)}", "", count, "packages"))
                if self.with_cost:
                    cost = amount(short.order_cents or 0)
                    steps.append(Step("what it costs us", r"\min \sum_i n_i\,k_i", cost, self.currency))
            steps.append(Step("order by: its day, less the days of an order", r"t - d", short.order_by, ""))
        return Working(
            figure=f"agreed jobs that the shelf serves, {found.counted.product}",
            value=len(promised.served),
            unit=f"of {len(found.jobs)} jobs",
            formula="day by day the packages that hold the liters, at the lowest cost over all jobs together; a job "
            "fails only when no way to share out the shelf serves it and every job before it",
            formulas=(r"\min \sum_j \sum_i n_{ij}\,k_i \quad \text{with} \quad \sum_i n_{ij}\,v_i \ge V_j",),
            given=tuple(given),
            steps=tuple(steps),
            sources=(SEARCH,),
            assumptions=self._taken(),
            changes=swings(found, {"needs": "what every job needs", **self.words}),
        )

    def _taken(self) -> tuple[str, ...]:
        said = ["of a fill that is known as a band its high end"]
        if self.found.is_mixed:
            said.append("some quotes price by the liter, some by whole packages: every job opens its own")
        elif self.found.rule == BY_LITER:
            said.append("what is left over of a package stays fit for the next job")
        else:
            said.append("what is left over belongs to its customer, and serves no other job")
        return tuple(said)

    def _served(self, one: Promised) -> list[Step]:
        held = sum((self.sizes[name] * n for name, n in one.counts.items()), Fraction(0))
        mix = self.mix(one.counts) or "what stands open"
        steps = [Step(f"{one.job.name} takes {mix}", r"\sum_i n_i\,v_i", held, "mL")]
        if self.with_cost:
            steps.append(Step("which cost us", r"\sum_i n_i\,k_i", amount(one.cost_cents), self.currency))
        if self.found.rule == BY_LITER:
            steps.append(Step("open afterwards", r"o + \sum_i n_i\,v_i - V", one.open_ml, "mL"))
        return steps

    def _opened(self, cover: Cover) -> Working:
        job, by_label = self.found.jobs[0], {one.label: one for one in self.found.counted.opened}
        given = self._needs([job])
        for one in by_label.values():
            last = formats.day(one.use_by) if one.use_by else "no last day known"
            given.append(
                Given("o_i", f"still in {one.label}; use by: {last}", Fraction(one.left_ml), "mL", From.TYPED, COUNTED)
            )
        steps = []
        for taken in cover.taken:
            steps.append(Step(f"from {taken.label}", r"\min(o_i, V)", taken.volume_ml, "mL"))
            if self.with_cost:
                cost = amount(share_cents(taken))
                steps.append(Step("its share of what the package cost", r"k\,\frac{o}{v}", cost, self.currency))
        steps += [Step(f"not {one.label}: {with_days(one.reason)}", "", 0, "mL") for one in cover.not_taken]
        if cover.whole.counts:
            steps.append(Step(f"the rest from {self.mix(cover.whole.counts)}", MIX, cover.whole.total_ml, "mL"))
            steps.append(Step("left over", r"\sum_i n_i\,v_i - V", cover.whole.surplus_ml, "mL"))
        return Working(
            figure=f"from opened packages for {job.order}, {self.found.counted.product}",
            value=sum((one.volume_ml for one in cover.taken), Fraction(0)),
            unit="mL",
            formula="the earliest use-by first; the rest from the cheapest whole packages",
            formulas=(r"V - \sum_i o_i \le \sum_i n_i\,v_i",),
            given=(*given, *self._kinds()),
            steps=tuple(steps),
            sources=("house rule; earliest use-by first: " + PRACTICE,),
        )

    def _pool(self, pool: Pool, one: Pooled) -> Working:
        day = formats.day(pool.day) if pool.day else ""
        together = sum(one.joint.counts.values())
        steps = [Step(f"together {self.mix(one.joint.counts)}", MIX, one.joint.total_ml, "mL")]
        if one.single is not None:
            for job, choice in zip(pool.jobs, one.single, strict=True):
                steps.append(Step(f"{job.order} alone {self.mix(choice.counts)}", MIX, choice.total_ml, "mL"))
        if self.with_cost:
            steps.append(Step("together they cost us", "K", amount(one.joint.cost_cents), self.currency))
            if one.single_cents is not None:
                steps.append(Step("one by one", r"\sum_j K_j", amount(one.single_cents), self.currency))
            for share in one.shares:
                steps.append(
                    Step(f"share of {share.name}", r"K\,\frac{V_j}{\sum v}", amount(share.cost_cents), self.currency)
                )
            steps.append(Step("stays with the shop", r"K - \sum_j K_j", amount(one.left_cents), self.currency))
        saving = one.saving_cents if self.with_cost else None
        return Working(
            figure=f"saved by opening together on {day}, {self.found.counted.product}"
            if saving is not None
            else f"packages opened together on {day}, {self.found.counted.product}",
            value=amount(saving) if saving is not None else together,
            unit=self.currency if saving is not None else "packages",
            formula="the cheapest whole packages for all jobs of the day, beside the sum of the single ones",
            formulas=(r"S = \sum_j K_j - K",),
            given=(*self._needs(pool.jobs), *self._kinds()),
            steps=tuple(steps),
            sources=(SEARCH,),
            assumptions=("one batch; opened packages are left aside",),
        )

    def mix(self, counts: Mapping[str, int]) -> str:
        """ "2 × jug, 3 × bottle"."""
        return ", ".join(f"{n} × {self.words[name]}" for name, n in counts.items() if n)
