"""An own place corrected: the vehicles at home there take its new figures, and their forecasts are made anew."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from django.db import transaction
from django.db.models import F

from shopserv.common import clock
from shopserv.registry.models import Vehicle
from shopserv.reminders.services import forecasts
from shopserv.shop import climates
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace


@transaction.atomic
def correct_place(
    corrects: str,
    *,
    actor: Actor,
    name: str,
    altitude_m: int,
    months: Sequence[climates.Month],
    source: str,
    period: str = "",
    confirmed: Collection[str] = (),
) -> ClimatePlace:
    """Correct an own place from today on, and move the vehicles at home there to its new row.

    The arguments and refusals are those of `climates.add_place`.
    """
    place = climates.add_place(
        actor=actor,
        name=name,
        altitude_m=altitude_m,
        months=months,
        source=source,
        period=period,
        corrects=corrects,
        confirmed=confirmed,
    )
    at_home = Vehicle.objects.filter(home_climate__code=corrects)
    at_home.exclude(home_climate=place).update(home_climate=place, edition=F("edition") + 1)
    living = at_home.exclude(state__in=["merged", "scrapped"]).select_related("home_climate").order_by("pk")
    forecasts.renew_many(list(living), on=clock.today(actor.house.time_zone))
    return place
