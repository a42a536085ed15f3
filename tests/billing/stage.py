"""What the tests of billing set up: work that is through the bay, without walking through the bay."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from shopserv.common import clock
from shopserv.jobs.models import LevelRecord, MassBalance, Option, Visit, WorkOrder
from shopserv.jobs.services import authorize
from tests.jobs import stage


def agreed(cast: Any, number: str = "V-01", letter: str = "C", **consent: Any) -> WorkOrder:
    """A yes to one option, counted; the work order is written up."""
    option = stage.option(stage.offered(cast, number), letter)
    return authorize.authorize(option, actor=cast.tobin, consent=stage.by_telephone(option, **consent))


def through(
    cast: Any, order: WorkOrder, state: str = "second look done", *, in_ml: int = 10_000, **changed: Any
) -> WorkOrder:
    """The work order as it comes out of the bay: level set, closed out, looked at."""
    now = clock.now()
    WorkOrder.objects.filter(pk=order.pk).update(
        **{
            "state": state,
            "technician": cast.odo.staff,
            "rules": {"look_asked": True},
            "level_set_at": now,
            "closed_out_at": now,
            "odometer_out": 63_184,
            **changed,
        }
    )
    Visit.objects.filter(pk=order.visit_id).update(state="in work")
    level(cast, order)
    balance(order, in_ml)
    order.refresh_from_db()
    return order


def level(cast: Any, order: WorkOrder) -> LevelRecord:
    return LevelRecord.objects.create(
        shop=order.shop,
        work_order=order,
        attempt=1,
        temp_mdegc=42_000,
        temp_source="scan tool",
        tilt_fore_aft_tenths_deg=1,
        tilt_side_tenths_deg=2,
        engine="running",
        sweep_done=True,
        sign="drip seen",
        cooler_full=True,
        budget_ml_tenths=630,
        passes=True,
        by=cast.odo.staff,
        at=clock.now() - timedelta(minutes=20),
    )


def balance(order: WorkOrder, in_ml: int = 10_000) -> MassBalance:
    return MassBalance.objects.create(
        shop=order.shop,
        work_order=order,
        out_ml=in_ml,
        in_ml=in_ml,
        at_mdegc=15_000,
        difference_ml_tenths=0,
        band_ml_tenths=1_800,
        is_inside=True,
        verdict="inside the band",
        at=clock.now(),
    )


def option_of(order: WorkOrder) -> Option:
    return order.authorizations.get(state="counted").option
