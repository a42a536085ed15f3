"""Stored forecasts computed again from the inputs that were kept with them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from shopserv import calc
from shopserv.common.fields import canonical, sha256
from shopserv.common.recomputed import Again
from shopserv.reminders import remake
from shopserv.reminders.models import Forecast
from shopserv.reminders.services.forecasts import DATED, figures_of
from shopserv.shop.actors import Actor

SUMS = ("interval", "credit", "age_after_last_job", "counted_from", "rate_a_day", "moisture", "heat")


def recomputed(actor: Actor) -> Iterator[Again]:
    """Every stored forecast, older ones too; for the clock, which stands in no shop."""
    actor.must("tick")
    for row in Forecast.objects.select_related("vehicle").order_by("pk").iterator(chunk_size=500):
        yield of_forecast(row)


def of_forecast(row: Forecast) -> Again:
    """One forecast: days, rates, what is left, and the sums behind them."""
    name = f"forecast of {row.vehicle} made {row.made_at:%Y-%m-%d}"
    stored: dict[str, Any] = {"inputs_hash": row.inputs_hash}
    computed: dict[str, Any] = {"inputs_hash": sha256(canonical(row.working.get("inputs", {})))}
    if row.calc_version != calc.VERSION:
        why = f"made by calculation {row.calc_version}; this is calculation {calc.VERSION}"
        return Again(name, stored, computed, {"days and rates": why})
    try:
        found = remake.made_again(row)
    except remake.CannotRemake as cause:
        return Again(name, stored, computed, {"days and rates": str(cause)})
    inputs = row.working.get("inputs", {})
    today = date.fromisoformat(row.working.get("today", f"{row.made_at:%Y-%m-%d}"))
    stored |= {figure: _plain(getattr(row, figure)) for figure in DATED}
    made = figures_of(found, inputs.get("distance_unit", "mi"), today)
    computed |= {figure: _plain(value) for figure, value in made.items()}
    if found is not None:
        stored |= {figure: row.working[figure] for figure in SUMS}
        computed |= {figure: found.working[figure] for figure in SUMS}
    return Again(name, stored, computed)


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, date) else value
