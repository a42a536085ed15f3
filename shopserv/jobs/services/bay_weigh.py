"""A full package of new fluid weighed in the bay: it checks the scale, and counts nothing in or out."""

from __future__ import annotations

from dataclasses import replace

from django.db import transaction

from shopserv.calc import drift, errors
from shopserv.catalog.models import Package
from shopserv.common.errors import Refusal
from shopserv.jobs.models import BayEvent, WorkOrder
from shopserv.jobs.services.bay_press import Press, first_time, note, seen
from shopserv.jobs.services.bay_rules import own_job
from shopserv.shop import trail
from shopserv.shop.actors import Actor


@transaction.atomic
def weigh_package(
    order: WorkOrder, *, actor: Actor, package: str, gross: Press, is_confirmed: bool = False
) -> BayEvent | None:
    """Keep what a full, unopened package of this job weighs; none: this press came before.

    package   stock number
    gross     press of what="package_g", with the scale
    raises    Refusal weigh.package, weigh.tare, weigh.share (may be confirmed); StateRefusal, NotYours, Http404
    """
    own_job(order, actor)
    if not first_time(order, gross.once_key, "in the bay", "level set"):
        return seen(order, gross.once_key)
    row = _package(order, package)
    tare = row.tare_g or 0
    event, _is_new = note(order, None, replace(gross, words=row.stock_number), actor)
    net = (event.value or 0) - tare
    if net <= 0:
        raise Refusal(
            f"{event.value:,} g on the scale, and the empty {row.word} alone weighs {tare:,} g. "
            f"A full one weighs about {tare + _should_weigh(row):,} g. Weigh it once more, closed and full.",
            code="weigh.tare",
            field="package_g",
        )
    off = share_off(row, net)
    if abs(off) > drift.SUSPECT_SHARE and not is_confirmed:
        raise Refusal(
            f"{event.value:,} g; a full {row.word} of {row.volume_ml:,} mL weighs about "
            f"{tare + _should_weigh(row):,} g. "
            f"Was it full and unopened, and is it {row.stock_number}? It will be kept, and not counted.",
            code="weigh.share",
            field="package_g",
            confirmable=True,
        )
    trail.write(actor, "package weighed", order, package=row.stock_number, gross_g=event.value, scale=event.instrument)
    return event


def share_off(package: Package, net_g: int) -> float:
    """By which share a weighed package is more than its label lets expect.

    raises   Refusal where the sheet of the product makes that impossible
    """
    weighing = drift.Weighing("", net_g, package.volume_ml, package.product.density_15_g_m3 / 1000)
    try:
        return drift.share_off(weighing)
    except errors.CalcError as cause:
        raise Refusal(str(cause), code="weigh.package", field="package") from cause


def _should_weigh(package: Package) -> int:
    return round(1000 / (1 + share_off(package, 1000)))


def _package(order: WorkOrder, number: str) -> Package:
    row = Package.objects.select_related("product").filter(stock_number=number).first()
    if row is None or number not in (order.facts.get("packages") or {}):
        raise Refusal(
            f"“{number}” is no package of {order}. Choose one of them.", code="weigh.package", field="package"
        )
    if row.tare_g is None:
        raise Refusal(
            f"What an empty {number} weighs is not known. Weigh an empty one and tell the office.",
            code="weigh.package",
            field="package",
        )
    return row
