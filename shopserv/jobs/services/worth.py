"""The work value of a due vehicle: what its recommended option costs by today's price list. A read for forecasts."""

from __future__ import annotations

from shopserv.common.errors import Refusal
from shopserv.jobs.courses import CannotPlan
from shopserv.jobs.services import plans
from shopserv.registry.models import Vehicle
from shopserv.reminders.worth import Worth
from shopserv.shop.actors import Actor


def value_of(actor: Actor, vehicle: Vehicle) -> Worth | None:
    """The price before tax of the option that the plan recommends at the actor's shop; none if none has a price."""
    try:
        plan = plans.plan_for(actor, vehicle)
    except (Refusal, CannotPlan):
        return None
    option = next((option for option in plan.options if option.letter == plan.recommended), None)
    if option is None or not option.method:
        return None
    lines = tuple(
        (option.title if line.text == option.method else line.text, line.price_cents or 0)
        for line in option.priced.lines
    )
    return Worth(option.priced.net_cents, option.method, lines)
