"""After a drain as much is poured as came out in that round: the step that pours follows what was measured."""

from __future__ import annotations

from collections.abc import Sequence

from shopserv.jobs.bay_drain import against_full, pour_measured
from shopserv.jobs.bay_events import totals
from shopserv.jobs.bay_stages import Bench
from shopserv.jobs.models import BayEvent, BayStep


def pour_what_came(drain: BayStep, events: Sequence[BayEvent]) -> None:
    """Let the step that pours after a drain or a pan ask for what came out, once all of the round is out.

    Where the course ends the round higher or lower than it began, that much more or less is poured.
    """
    if drain.limits.get("op") != "drain":
        return
    sump = drain.limits.get("sump", "")
    every = list(drain.work_order.steps.order_by("order"))
    moving = [one for one in every if "op" in one.limits and one.limits.get("sump", "") in ("", sump)]
    at = next(place for place, one in enumerate(moving) if one.pk == drain.pk)
    first = last = at
    while first > 0 and moving[first - 1].limits["op"] == "drain":
        first -= 1
    while last + 1 < len(moving) and moving[last + 1].limits["op"] == "drain":
        last += 1
    pour = moving[last + 1] if last + 1 < len(moving) else None
    if pour is None or pour.state not in ("ahead", "now") or not {"into", "margin_ml"} <= pour.limits.keys():
        return
    if moving[last].pk != drain.pk and moving[last].state in ("ahead", "now"):
        return  # of the round more is to come
    out = {one.pk for one in moving[first : last + 1]}
    if first == 0:  # what the flow proof took before counts to it where it counts by itself
        out |= {one.pk for one in every if one.limits.get("counts_apart")}
    came = totals([event for event in events if event.step_id in out])[1]
    began = moving[first - 1].limits["level_after_ml"] if first and not sump else 0
    words = Bench({}, {}, drain.shop.units_first, pour.limits["margin_ml"])
    low = began - came
    stands = {**moving[last].limits, "level_after_ml": low, "level_after": against_full(words, low)}
    BayStep.objects.filter(pk=moving[last].pk).update(limits=stands)
    text, limits, needs = pour_measured(words, pour.text, pour.limits, pour.needs, began, came)
    BayStep.objects.filter(pk=pour.pk).update(text=text, limits=limits, needs=needs)
