"""The rows of the bay sheet and its paper: built at clearing, and anew behind what is done where the work changes."""

from __future__ import annotations

from typing import Any

from django.db.models import Max

from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import FluidProduct
from shopserv.catalog.sheets import Value
from shopserv.common import clock
from shopserv.jobs import bay_readings
from shopserv.jobs.bay_events import level_now
from shopserv.jobs.bay_stages import Place, Step
from shopserv.jobs.bay_steps import build, close_out_items
from shopserv.jobs.courses import METHODS
from shopserv.jobs.models import BayStep, WorkOrder
from shopserv.jobs.snapshots.procedure import procedure_paper
from shopserv.papers.filing import file_paper
from shopserv.papers.models import Paper
from shopserv.shop.models import Bay, HouseRules, Shop

STORED_LEVEL = ("pit", "four-post lift")
PROCEDURE = "procedure sheet"
ONCE_ONLY = ("lift", "odometer_in", "run", "fluid_look", "leak_look", "cap_open", "fill_plug_first", "scan")


def house_part(order: WorkOrder, rules: HouseRules, values: dict[str, Value]) -> dict[str, Any]:
    """The house rules that a work order keeps from clearing on."""
    method = order.facts.get("method", "")
    exchange = method in METHODS and METHODS[method].is_exchange
    return {
        "house_rules_version": rules.version,
        "second_look": rules.second_look,
        "is_exchange": exchange,
        "look_asked": rules.second_look == "all" or (rules.second_look == "exchanges" and exchange),
        "course_numbers": dict(rules.course_numbers),
        "names_electric_pump": "electric_pump" in values and values["electric_pump"].text == "yes",
        "built_for": built_for(order),
    }


def built_for(order: WorkOrder) -> list[Any]:
    """Which option the steps were built for."""
    return [order.facts.get("version"), order.facts.get("option"), order.facts.get("method", "")]


def values_for(order: WorkOrder) -> dict[str, Value]:
    """The values of the sheet version that was agreed on; none where the unit is not known."""
    unit, version = order.facts.get("unit"), order.facts.get("sheet_version")
    return catalog.values_of(catalog.sheet_version(unit, version)) if unit and version else {}


def sumps_for(order: WorkOrder) -> list[dict[str, Any]]:
    """The sumps of the sheet version that was agreed on, where there is more than one."""
    unit, version = order.facts.get("unit"), order.facts.get("sheet_version")
    return list(catalog.sheet_version(unit, version).sumps) if unit and version else []


def place_of(order: WorkOrder, bay: Bay | None, course_numbers: dict[str, Any]) -> Place:
    """Where and with what house numbers the work is done."""
    shop: Shop = order.shop
    reading = order.visit.odometer
    fluids = order.facts.get("fluids") or ()
    product = FluidProduct.objects.filter(code=fluids[0]["code"]).first() if fluids else None
    stored = bay is not None and bay.kind in STORED_LEVEL and bay.fore_aft_tenths_deg is not None
    assert bay is None or not stored or bay.side_tenths_deg is not None
    return Place(
        units_first=shop.units_first,
        idle_rise_mk=shop.idle_rise_mk,
        stop_margin_ml=course_numbers.get("stop_margin_ml", 300),
        allowance_ml=course_numbers.get("level_allowance_ml", 300),
        bay=bay.name if bay else "",
        bay_kind=bay.kind if bay else "",
        rated_load_kg=bay.rated_load_kg if bay else None,
        inspection_due_on=bay.inspection_due_on.isoformat() if bay and bay.inspection_due_on else "",
        stored_tilt=(bay.fore_aft_tenths_deg or 0, bay.side_tenths_deg or 0) if bay and stored else None,
        odometer=reading.figure if reading else None,
        odometer_unit=reading.unit if reading else order.visit.vehicle.distance_unit,
        density_15_g_m3=product.density_15_g_m3 if product else None,
    )


def built(order: WorkOrder, bay: Bay | None, rules: dict[str, Any], values: dict[str, Value]) -> tuple[Step, ...]:
    """The steps as they would be now."""
    return build(order.facts, values, place_of(order, bay, rules["course_numbers"]), sumps_for(order))


def keep(order: WorkOrder, steps: tuple[Step, ...], after: int = 0) -> None:
    """Keep the steps as rows behind the order `after`."""
    BayStep.objects.bulk_create(
        BayStep(
            shop=order.shop,
            work_order=order,
            order=after + place,
            code=step.code,
            text=step.text,
            cautions=list(step.cautions),
            needs=[dict(row) for row in step.needs],
            limits=step.limits,
            is_fluid=step.is_fluid,
            may_skip=step.may_skip,
        )
        for place, step in enumerate(steps, start=1)
    )


def level_anew(order: WorkOrder) -> int:
    """Put the steps from the locks to the odometer behind what was done, to be done once more; how many.

    What was read stays with its steps; of those that nobody has touched nothing is left.
    """
    order.steps.filter(state="ahead").delete()
    order.steps.filter(state="now", events__isnull=True).delete()
    order.steps.filter(state="now").update(state="skipped", skip_reason="taken back into the bay")
    every = built(order, order.bay, order.rules, values_for(order))
    first = next(place for place, step in enumerate(every) if step.code == "levelness")
    # A cap that was locked again after the level has to be opened for the next.
    again = (*(step for step in every[:first] if step.code == "cap_open"), *every[first:])
    keep(order, again, order.steps.aggregate(last=Max("order"))["last"] or 0)
    return len(again)


def file_procedure(order: WorkOrder) -> int:
    """File the procedure sheet as the steps stand now, as a further version; which."""
    version = Paper.objects.filter(kind=PROCEDURE, number=order.number).count() + 1
    paper = procedure_paper(order, at=clock.now())
    file_paper(PROCEDURE, order.shop, order.number, version, paper, visit_number=order.visit.number)
    return version


def items_of(steps: tuple[Step, ...]) -> list[list[str]]:
    """The close-out items as they are kept with the rules."""
    return [[code, words] for code, words in close_out_items(steps)]


def build_anew(order: WorkOrder) -> dict[str, Any]:
    """Put the steps of the option that counts now behind what was done; the fluid that is out goes back in first.

    returns   the rules to keep
    """
    values = values_for(order)
    method = order.facts.get("method", "")
    exchange = method in METHODS and METHODS[method].is_exchange
    asked = order.rules["second_look"] == "all" or (order.rules["second_look"] == "exchanges" and exchange)
    rules = {**order.rules, "is_exchange": exchange, "built_for": built_for(order)}
    rules["look_asked"] = asked or bool(order.rules.get("look_asked"))
    # Events stay with their steps; what nobody has touched goes.
    order.steps.filter(state="ahead").delete()
    order.steps.filter(state="now", events__isnull=True).delete()
    order.steps.filter(state="now").update(state="skipped", skip_reason="another option was agreed")
    done = set(order.steps.filter(state__in=("done", "redone")).values_list("code", flat=True))
    every = built(order, order.bay, rules, values)
    steps = tuple(step for step in every if not (step.code in ONCE_ONLY and step.code in done))
    level = level_now(list(order.events.order_by("pk")))
    if level < 0 and any(step.is_fluid for step in steps):
        first = next(place for place, step in enumerate(steps) if step.is_fluid or step.code == "lines_open")
        steps = (*steps[:first], _give_back(-level, order.shop.units_first), *steps[first:])
    rules["close_out_items"] = items_of(every)
    keep(order, steps, order.steps.aggregate(last=Max("order"))["last"] or 0)
    return rules


def _give_back(ml: int, units_first: str) -> Step:
    amount = bay_readings.volume(ml, units_first)
    asked = bay_readings.need("in_ml", "poured in", units_first=units_first, start=ml, low=0)
    return Step(
        "add",
        f"Before the new course: pour back the {amount} that is out already, engine off.",
        needs=(asked,),
        limits={"op": "add", "engine": "off", "level_after_ml": 0, "level_after": "full", "in_ml": ml},
        is_fluid=True,
    )
