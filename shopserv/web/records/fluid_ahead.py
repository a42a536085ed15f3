"""Fluid ahead: whether the shelf as it was just counted serves the agreed jobs, when to order. Nothing is stored."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopserv.common import clock
from shopserv.jobs.selectors.ahead import AheadProduct, fluid_ahead
from shopserv.jobs.shelf import Reckoned, reckon
from shopserv.jobs.workings.ahead import Ahead
from shopserv.logbook.batches import batch_inside, batch_working
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.query import says_what_was_asked
from shopserv.web.records.fluid_ahead_forms import BatchForm, DaysForm, ShelfForm
from shopserv.web.records.fluid_ahead_rows import Teller, batch_told


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address asks: each product with its form and what was reckoned, and the days of the jobs."""

    parts: tuple[tuple[AheadProduct, ShelfForm, Reckoned | None], ...]
    days_form: DaysForm
    days: Mapping[str, date | None]

    @property
    def is_wrong(self) -> bool:
        """Whether something is to be mended."""
        return bool(self.days_form.errors) or any(form.errors for _product, form, _found in self.parts)


@require_GET
def fluid_ahead_page(request: HttpRequest) -> HttpResponse:
    """Each product that agreed jobs need: the jobs, the shelf as it was counted, and what it does for them."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    asked = _asked(request, actor)
    told = [Teller(actor, product).told(form, asked.days, found) for product, form, found in asked.parts]
    context = {
        "told": told,
        "days_form": asked.days_form,
        "is_wrong": asked.is_wrong,
        "query": request.GET.urlencode(),
        "many": len(told) > 1,
    }
    is_wrong = asked.is_wrong
    if actor.may("batches"):
        form = BatchForm(request.GET)
        is_wrong = is_wrong or bool(form.errors)
        context |= {"batch_form": form, "batch": batch_told(actor, form.mark) if form.mark else None}
    return render(request, "records/fluid_ahead.html", context, status=422 if is_wrong else 200)


@require_GET
@says_what_was_asked
def fluid_sums(request: HttpRequest) -> HttpResponse:
    """The sums behind the same address, as a page or as JSON."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    is_json = workings.wants_json(request)
    currency, with_cost = actor.house.business.currency, actor.may("see cost")
    found = {
        anchor: working
        for product, _form, reckoned in _asked(request, actor).parts
        if reckoned is not None
        for anchor, working in Ahead(reckoned, Teller(actor, product).words, currency=currency, with_cost=with_cost)
        .all()
        .items()
    }
    if actor.may("batches") and (mark := BatchForm(request.GET).mark):
        found["batch"] = batch_working(mark, batch_inside(actor, mark))
    if is_json:
        return workings.as_json(_("fluid ahead of %(shop)s") % {"shop": actor.house.code}, found)
    query = request.GET.copy()
    query["as"] = "json"
    context = {
        "sums": workings.shown(found, currency),
        "query": request.GET.urlencode(),
        "json_url": f"?{query.urlencode()}",
    }
    return render(request, "records/fluid_sums.html", context)


def _asked(request: HttpRequest, actor: Actor) -> Asked:
    today = clock.today(actor.house.time_zone)
    products = fluid_ahead(actor)
    days_form = DaysForm(request.GET, jobs=[job for one in products for job in one.jobs], today=today)
    days = {job.order: days_form.day_of(job) for one in products for job in one.jobs}
    parts = []
    for product in products:
        form = ShelfForm(request.GET, product=product, today=today, units_first=actor.house.units_first)
        jobs = [replace(job, day=day) for job in product.jobs if (day := days[job.order]) is not None]
        is_whole = form.counted is not None and len(jobs) == len(product.jobs)
        found = reckon(jobs, form.counted, today=today) if is_whole and form.counted else None
        short = found.promised.shortage if found and found.promised else None
        parts.append((product, form, None if short and form.ask_lead(short.job) else found))
    return Asked(tuple(parts), days_form, days)
