"""What the page of the fluid ahead says of one product: the verdict, its jobs line by line, opened ones, pooling."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shopserv.calc.promise import Promised
from shopserv.common import formats
from shopserv.jobs.selectors.ahead import AheadJob, AheadProduct
from shopserv.jobs.shelf import BY_LITER, MOST_WAYS, Other, Pool, Reckoned, others_than_quoted, share_cents, with_days
from shopserv.logbook.batches import MILLION, batch_inside, known_batches, owners_told
from shopserv.shop.actors import Actor
from shopserv.web.nav import may_open
from shopserv.web.records.fluid_ahead_forms import ShelfForm, words_of

FINE, WATCH, DECIDE = "as it should be", "watch", "needs your decision"


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job: what it needs, takes and leaves. state: served, fails, behind, or "" where nothing was counted."""

    job: AheadJob
    url: str
    day: date
    needs: str
    takes: str = ""
    left: str = ""
    state: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """One product on the page; by: the last day of an order, in a sentence."""

    product: AheadProduct
    form: ShelfForm
    lines: tuple[JobLine, ...]
    grade: str
    verdict: str
    rule: str
    by: str = ""
    more: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    pools: tuple[str, ...] = ()
    sums: frozenset[str] = field(default_factory=frozenset)


class Teller:
    """The words of one product for one actor: its units, and costs only for who may see them."""

    def __init__(self, actor: Actor, product: AheadProduct) -> None:
        self.actor, self.product = actor, product
        self.first, self.currency = actor.house.units_first, actor.house.business.currency
        self.with_cost = actor.may("see cost")
        self.words = {one.stock_number: words_of(one, product.packages, self.first) for one in product.packages}

    def told(self, form: ShelfForm, days: Mapping[str, date | None], found: Reckoned | None) -> Told:
        """The page's part of this product.

        days    of each job; none: what was typed is to be mended
        found   none: not counted, or something is to be mended
        """
        if found is None:
            lines = tuple(self._line(job, days.get(job.order) or job.day) for job in self.product.jobs)
            return Told(self.product, form, lines, "", self._not_counted(form, days), self._rule())
        grade, verdict, by, more = self._verdict(found)
        return Told(
            self.product,
            form,
            tuple(self._lines(found)),
            grade,
            verdict,
            self._rule(),
            by,
            more,
            tuple(self._opened(found)),
            tuple(self._pool(pool) for pool in found.pools if len(pool.jobs) > 1),
            sums_of(found),
        )

    def _not_counted(self, form: ShelfForm, days: Mapping[str, date | None]) -> str:
        if not self.product.packages:
            return _("has no package on the price list, so nothing is promised.")
        if form.errors or any(days.get(job.order) is None for job in self.product.jobs):
            return _("is not told until what is marked below is mended.")
        return _("is not counted, so nothing is promised. Count %(kinds)s.") % {"kinds": self._kinds()}

    def _rule(self) -> str:
        """How the agreed quotes price fluid, and what follows for what is left over."""
        rules = {job.rule for job in self.product.jobs}
        if rules == {BY_LITER}:
            return _("Agreed by the liter: what is left over of a package serves the next job.")
        if BY_LITER in rules:
            return _("Agreed partly by the liter, partly by the whole package: every job opens its own packages.")
        return _("Agreed by the whole package: what is left over is its customer's, and serves no other job.")

    def _kinds(self) -> str:
        return _list([f"{word}s" if word != number else word for number, word in self.words.items()])

    def _verdict(self, found: Reckoned) -> tuple[str, str, str, tuple[str, ...]]:
        number = len(found.jobs)
        if found.promised is None:
            words = _(
                "cannot be told: there are more than %(most)s ways to share out the shelf, too many to look through."
            )
            mend = _("Count fewer kinds, such as those that will be opened first, or move far jobs to a later count.")
            return WATCH, words % {"most": formats.number(MOST_WAYS)}, "", (mend,)
        short = found.promised.shortage
        if short is None:
            said = ngettext("reaches for the job ahead.", "reaches for the %(n)s jobs ahead.", number) % {"n": number}
            others = tuple(self._other(one) for one in others_than_quoted(found))
            return WATCH if others else FINE, said, "", others
        job = next(one for one in found.jobs if one.order == short.job.name)
        left = found.days_to_order or 0
        on = _("%(on)s, %(order)s (%(vehicle)s)") % {
            "on": formats.short_day(short.job.day, found.today),
            "order": job.order,
            "vehicle": job.vehicle,
        }
        verdict = _("does not reach for %(job)s.") % {"job": on}
        by = self._by(short.order_by, left, found.today)
        return (WATCH if left > 0 else DECIDE, verdict, by, tuple(self._order(found)))

    def _other(self, one: Other) -> str:
        """Other packages than the quote's: what they cost us more for who may see it, and whose the rest is."""
        said = _("%(order)s (%(vehicle)s) would get %(mix)s where its quote has %(quoted)s") % {
            "order": one.job.order,
            "vehicle": one.job.vehicle,
            "mix": self.mix(one.counts),
            "quoted": self.mix(one.quoted),
        }
        cost = ""
        if self.with_cost and one.more_cents:
            told = {"cost": formats.money(abs(one.more_cents), self.currency)}
            cost = (_(", %(cost)s more of our cost") if one.more_cents > 0 else _(", %(cost)s less of our cost")) % told
        return _("%(said)s%(cost)s; the price stands, and the rest becomes the customer's.") % {
            "said": said,
            "cost": cost,
        }

    def _by(self, by: date, left: int, today: date) -> str:
        if left < 0:
            late = ngettext("%(n)s day", "%(n)s days", -left) % {"n": -left}
            words = _("An order would have had to go out by %(by)s, %(late)s ago: move the vehicle, or find it nearer.")
            return words % {"by": formats.short_day(by, today), "late": late}
        if left == 0:
            return _("Order today.")
        return _("Order by %(by)s.") % {"by": formats.short_day(by, today)}

    def _order(self, found: Reckoned) -> list[str]:
        short, said = found.promised.shortage if found.promised else None, []
        assert short is not None
        if short.order is not None and short.order_cents is not None:
            words = _("The cheapest order that serves it: %(mix)s") % {"mix": self.mix(short.order)}
            said.append(f"{words}{self.cost(short.order_cents)}.")
        behind = found.behind
        if behind:
            words = ngettext(
                "One job behind it is not looked at yet: note what you order as on its way, and ask again.",
                "%(n)s jobs behind it are not looked at yet: note what you order as on its way, and ask again.",
                behind,
            )
            said.append(words % {"n": behind})
        return said

    def _lines(self, found: Reckoned) -> list[JobLine]:
        served = {one.job.name: one for one in found.promised.served} if found.promised else {}
        short = found.promised.shortage if found.promised else None
        lines = []
        for job in found.jobs:
            if one := served.get(job.order):
                left = self._left(one, found.rule)
                lines.append(self._line(job, job.day, self._takes(one), left, "served"))
            elif short and short.job.name == job.order:
                lines.append(self._line(job, job.day, _("not enough"), "", "fails"))
            else:
                lines.append(self._line(job, job.day, "", "", "behind" if short else ""))
        return lines

    def _takes(self, one: Promised) -> str:
        mix = self.mix(one.counts) if one.counts else _("what stands open")
        return f"{mix}{self.cost(one.cost_cents)}" if one.counts else mix

    def _left(self, one: Promised, rule: str) -> str:
        rest = self.mix({name: count for name, count in one.left.items() if count}) or _("no whole package")
        if rule == "by-liter" and one.open_ml:
            return _("%(rest)s, %(open)s open") % {"rest": rest, "open": formats.volume(one.open_ml, self.first)}
        return rest

    def _line(self, job: AheadJob, day: date, takes: str = "", left: str = "", state: str = "") -> JobLine:
        needs = formats.volume_band(job.low_ml, job.need_ml, self.first)
        return JobLine(job, self._url(job), day, needs, takes, left, state)

    def _url(self, job: AheadJob) -> str:
        """The work order for who may open it, else the vehicle's logbook."""
        if may_open(self.actor, "counter:work"):
            return reverse("counter:work", args=[job.order])
        return reverse("records:vehicle", args=[job.vehicle])

    def _opened(self, found: Reckoned) -> list[str]:
        if not found.counted.opened:
            return []
        job, cover = found.jobs[0], found.cover
        if cover is None:
            return [_("The shelf does not hold enough for %(order)s.") % {"order": job.order}]
        said = [
            _("%(volume)s from %(label)s%(cost)s")
            % {
                "volume": self.volume(one.volume_ml),
                "label": one.label,
                "cost": self.cost(share_cents(one)),
            }
            for one in cover.taken
        ]
        if cover.whole.counts:
            said.append(
                _("%(mix)s whole%(cost)s")
                % {"mix": self.mix(cover.whole.counts), "cost": self.cost(cover.whole.cost_cents)}
            )
        lead = _("%(order)s (%(vehicle)s) takes %(list)s.") % {
            "order": job.order,
            "vehicle": job.vehicle,
            "list": _list(said) or _("nothing"),
        }
        return [
            lead,
            *(
                _("Not %(label)s: %(why)s") % {"label": one.label, "why": with_days(one.reason)}
                for one in cover.not_taken
            ),
        ]

    def _pool(self, pool: Pool) -> str:
        if pool.found is None:
            on = "" if pool.day is None else f"{formats.day(pool.day)}: "
            return f"{on}{pool.why}"
        one = pool.found
        together = self.mix(one.joint.counts)
        told = {"on": formats.day(pool.day) if pool.day else "", "together": together + self.cost(one.joint.cost_cents)}
        said = _("%(on)s: opened together from whole packages %(together)s") % told
        if one.single is None:
            return _("%(said)s; one by one the shelf does not do.") % {"said": said}
        apart = self.mix(pool.apart or {}) + self.cost(one.single_cents)
        ends = ""
        if self.with_cost and one.saving_cents is not None:
            ends = _("; saves %(saving)s") % {"saving": formats.money(one.saving_cents, self.currency)}
        return _("%(said)s, one by one %(apart)s%(ends)s. Only from one batch: look at the labels.") % {
            "said": said,
            "apart": apart,
            "ends": ends,
        }

    def mix(self, counts: Mapping[str, int]) -> str:
        """ "2 jugs and 3 bottles", the largest first."""
        return _list(
            [f"{formats.number(n)} {self._many(self.words[name], n, name)}" for name, n in counts.items() if n]
        )

    @staticmethod
    def _many(word: str, count: int, name: str) -> str:
        if count == 1 or word == name:
            return word
        kind, of, size = word.partition(" of ")
        return f"{kind}s{of}{size}"

    def volume(self, ml: Fraction) -> str:
        """A volume, the shop's unit first."""
        return formats.volume(ml, self.first, 2)

    def cost(self, cents: int | None) -> str:
        """ " for $63.10" where costs may be seen; else nothing."""
        if not self.with_cost or cents is None:
            return ""
        return _(" for %(cost)s") % {"cost": formats.money(cents, self.currency)}


def batch_told(actor: Actor, mark: str) -> dict[str, Any]:
    """The vehicles that got a batch, or which batches are known."""
    found = batch_inside(actor, mark)
    people = owners_told(actor, [one.vehicle for one in found])
    rows = [
        {
            "vehicle": one.vehicle,
            "people": people.get(one.vehicle.pk, ""),
            "on": one.got[-1],
            "times": len(one.got),
            "share": formats.share(int(one.low * MILLION), int(one.high * MILLION)),
            "after": one.after,
            "product": one.product,
        }
        for one in found
    ]
    return {"mark": mark, "rows": rows, "known": "" if rows else _list(known_batches(actor))}


def sums_of(found: Reckoned) -> frozenset[str]:
    """Which sums the page of sums has of it."""
    names = {"promise": found.promised is not None, "opened": found.cover is not None and bool(found.counted.opened)}
    names["pool"] = any(pool.found for pool in found.pools)
    return frozenset(name for name, is_there in names.items() if is_there)


def _list(words: list[str]) -> str:
    if len(words) < 2:
        return "".join(words)
    return _("%(first)s and %(last)s") % {"first": ", ".join(words[:-1]), "last": words[-1]}
