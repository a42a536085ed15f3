"""Instruments with their checks, and whether a scale drifts by the full packages that were weighed on it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from shopserv.calc import errors
from shopserv.calc.drift import Drift, Weighing, watch
from shopserv.catalog.models import Package
from shopserv.common import clock
from shopserv.jobs.bay_bench import Tool, tools_of
from shopserv.jobs.models import BayEvent, WorkOrder
from shopserv.shop.actors import Actor
from shopserv.shop.instruments import instruments_of
from shopserv.shop.models import Instrument, Shop

SCALE = "scale"


@dataclass(frozen=True, slots=True)
class Weighed:
    """A full package as it was weighed."""

    at: datetime
    order: str
    package: str
    gross_g: int
    net_g: int


@dataclass(frozen=True, slots=True)
class InstrumentRow:
    """One instrument.

    error     as it is reckoned with: g, K, degrees
    drift     of a scale; none: it is none
    weighed   the packages behind the drift, in its order
    """

    instrument: Instrument
    is_overdue: bool
    error: Tool
    drift: Drift | None
    weighed: tuple[Weighed, ...]


def instrument_rows(actor: Actor) -> tuple[InstrumentRow, ...]:
    """The instruments of the actor's shop, each scale with its drift watch since the last check. Four queries."""
    rows = list(instruments_of(actor))
    shop = actor.house
    tools = {one.serial: one for one in tools_of(shop, clock.today(shop.time_zone))}
    weighed = _weighed(shop, {one.serial: one for one in tools.values() if one.kind == SCALE})
    found = []
    for row in rows:
        tool = tools[row.serial]
        own = weighed.get(row.serial, [])
        found.append(
            InstrumentRow(
                row,
                tool.is_overdue,
                tool,
                _drift(own, tool) if row.kind == SCALE else None,
                tuple(one for one, _ in own),
            )
        )
    return tuple(found)


def alarms_of(shop: Shop, tools: Sequence[Tool]) -> tuple[str, ...]:
    """What is to be said of scales of a shop that seem to drift; empty where none does.

    tools   of that shop, as tools_of gives them. One query where nothing was weighed
    """
    scales = {one.serial: one for one in tools if one.kind == SCALE}
    found = []
    for serial, rows in sorted(_weighed(shop, scales).items()):
        drift = _drift(rows, scales[serial])
        if drift is not None and drift.alarm_at is not None:
            found.append(f"{serial}: {drift.words}")
    return tuple(found)


def packages_to_weigh(order: WorkOrder) -> tuple[Package, ...]:
    """The packages of a work order whose empty weight is known, largest first: those tell soonest."""
    numbers = order.facts.get("packages") or {}
    rows = Package.objects.filter(stock_number__in=numbers, tare_g__isnull=False)
    return tuple(rows.order_by("-volume_ml", "stock_number"))


def _weighed(shop: Shop, scales: Mapping[str, Tool]) -> dict[str, list[tuple[Weighed, Weighing]]]:
    """By serial, the packages weighed since the last check, oldest first."""
    since = {serial: _midnight_after(tool.checked_on, shop) for serial, tool in scales.items()}
    events = list(
        BayEvent.objects.filter(shop=shop, what="package_g", instrument__in=since)
        .exclude(words="")
        .select_related("work_order")
        .order_by("received_at", "pk")
    )
    if not events:
        return {}
    numbers = {event.words for event in events}
    packages = {
        row.stock_number: row
        for row in Package.objects.filter(stock_number__in=numbers, tare_g__isnull=False).select_related("product")
    }
    found: dict[str, list[tuple[Weighed, Weighing]]] = {}
    for event in events:
        begun, package = since[event.instrument], packages.get(event.words)
        if package is None or event.value is None or (begun is not None and event.received_at < begun):
            continue
        net = event.value - (package.tare_g or 0)
        row = Weighed(event.received_at, event.work_order.number, package.stock_number, event.value, net)
        weighing = Weighing(str(row.order), net, package.volume_ml, package.product.density_15_g_m3 / 1000)
        found.setdefault(event.instrument, []).append((row, weighing))
    return found


def _midnight_after(checked_on: date | None, shop: Shop) -> datetime | None:
    """A check counts from the day after it on: what was weighed that day may have been before."""
    if checked_on is None:
        return None
    return datetime.combine(checked_on + timedelta(days=1), time(), ZoneInfo(shop.time_zone))


def _drift(rows: Sequence[tuple[Weighed, Weighing]], tool: Tool) -> Drift | None:
    try:
        return watch([weighing for _, weighing in rows], scale_error_g=tool.error)
    except errors.CalcError:
        return None
