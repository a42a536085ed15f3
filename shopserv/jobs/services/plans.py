"""The fluid plan of a vehicle: what may be done, what it costs, what it buys, and which one we recommend. A read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date
from fractions import Fraction
from typing import Any

from shopserv.calc.money import half_up
from shopserv.catalog import selectors as catalog
from shopserv.catalog.models import FluidProduct, LaborOperation, Unit, UnitSheet
from shopserv.catalog.price_list import PriceList
from shopserv.common import clock, lasting
from shopserv.common.errors import Refusal
from shopserv.jobs import bay_parts, bought, courses, sums
from shopserv.jobs.findings import PARTIAL, Standing, asks_for_partial_first, bars_fluid
from shopserv.jobs.models import Authorization, Visit
from shopserv.jobs.selectors import house_terms
from shopserv.jobs.selectors import visits as visit_selectors
from shopserv.jobs.services import drain_labor, past_fluid
from shopserv.jobs.services.methods import sheet_facts, why_barred
from shopserv.jobs.services.plan_data import (
    BarredMethod,
    Edits,
    ExtraLine,
    OptionEdit,
    Plan,
    PlannedOption,
    edit_as_dict,
    extra_as_dict,
)
from shopserv.registry import selectors as registry
from shopserv.registry import which
from shopserv.registry.models import Customer, Identification, Vehicle
from shopserv.shop.actors import Actor

MOST_OPTIONS = 4
LETTERS = "ABCD"
KINDS = ("work", "diagnosis", "teardown", "addition")
DIAGNOSIS = "diagnosis, first hour"


def plan_for(
    actor: Actor,
    vehicle: Vehicle,
    *,
    visit: Visit | None = None,
    customer: Customer | None = None,
    edits: Edits | None = None,
    adds_to: Authorization | None = None,
) -> Plan:
    """Plan up to four options for a vehicle at the actor's shop on its terms of today.

    visit      whose findings count, with those that stand on the vehicle; without one, those of the vehicle alone
    customer   who pays; none: the owner on file
    adds_to    the counted authorization, when only more work is added to what was agreed
    raises     Refusal plan.too_many, plan.kind, plan.method
    """
    actor.must("write quote")
    day = clock.today(actor.house.time_zone)
    customer = customer or (visit.customer if visit else registry.keeper_on(vehicle, day))
    edits = edits or Edits()
    found = visit_selectors.standing(visit) if visit else visit_selectors.standing_on(vehicle)
    identified = registry.identification_of(vehicle)
    unit = identified.unit if identified and identified.state == "counted" else None
    sheet = catalog.sheet_in_force(unit, day) if unit else None
    rules = house_terms.terms_on(actor.house, customer, day)
    place = _Place(
        vehicle=vehicle,
        unit=unit,
        sheet=sheet,
        found=found,
        day=day,
        terms=house_terms.priced_terms(rules, adds_to),
        customer=customer,
        facts=sheet_facts(sheet) if sheet else courses.SheetFacts(),
        house=courses.HouseNumbers(**rules["course_numbers"]),
        ages=bought.ages_of(vehicle, on=day),
        prices=PriceList(unit, sheet, day, vehicle.build_month),
    )
    allowed, barred = _allowed(place) if sheet else ([], [])
    _refuse_nonsense(edits.options, adds_to)
    if edits.options:
        wanted = edits.options
        options = tuple(_option(place, letter, edit, barred) for letter, edit in zip(LETTERS, wanted, strict=False))
    else:
        options = _proposed(place, allowed) if adds_to is None else ()
        if not options and adds_to is None and bars_fluid(found):
            options = _diagnosis_first(place)
        wanted = tuple(OptionEdit(method=option.method, kind=option.kind) for option in options)
    letter, why = _recommend(options, place.ages, found)
    warnings = _warnings(place, actor, identified, rules)
    doubt = dict(warnings).get("quote.unlikely_unit", "")
    chosen = edits.recommended if edits.recommended in {option.letter for option in options} else ""
    return Plan(
        vehicle=vehicle,
        visit=visit,
        customer=customer,
        day=day,
        unit=unit or (identified.unit if identified else None),
        how_known=_how(identified),
        sheet=sheet,
        options=options,
        barred=tuple(barred),
        findings=found,
        recommended=chosen or letter,
        why=edits.why or (why if chosen in ("", letter) else ""),
        note=edits.note,
        rules=rules,
        warnings=(*warnings, *_to_ask(options)),
        missing=_missing(identified, sheet, options, barred),
        only_as_band=bool(identified and identified.grade == "assumed"),
        adds_to=adds_to,
        inputs={
            **_inputs(place, wanted, barred),
            **({"doubt": doubt} if doubt else {}),  # as it stood when the version was written
            "by_person": {"recommended": bool(chosen), "why": bool(edits.why)},
        },
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """What every option of one plan shares."""

    vehicle: Vehicle
    unit: Unit | None
    sheet: UnitSheet | None
    found: tuple[Standing, ...]
    day: date
    terms: dict[str, Any]
    customer: Customer | None
    facts: courses.SheetFacts
    house: courses.HouseNumbers
    ages: bought.Ages | None
    prices: PriceList


def _how(identified: Identification | None) -> str:
    if identified is None:
        return ""
    return "disputed" if identified.state == "disputed" else identified.grade


def _missing(
    identified: Identification | None,
    sheet: UnitSheet | None,
    options: Sequence[PlannedOption],
    barred: Sequence[BarredMethod],
) -> str:
    if options:
        return ""
    if identified is None:
        return "Which transmission it has is not known. Identify it first."
    if identified.state == "disputed":
        return f"The transmission is in doubt ({identified.unit}). The shop owner settles it first."
    if sheet is None:
        return f"No unit sheet of {identified.unit} is in force."
    return "No method can be offered: " + "; ".join(f"{row.words}: {row.reason}" for row in barred)


def _warnings(
    place: _Place, actor: Actor, identified: Identification | None, rules: Mapping[str, Any]
) -> list[tuple[str, str]]:
    found = []
    if rules["tax"]["ended"]:
        found.append(("quote.exemption_ended", rules["tax"]["ended"]))
    if identified and identified.grade == "assumed":
        found.append(
            ("quote.assumed", f"{identified.unit} is only assumed: a price band, and no fluid leaves the shelf.")
        )
    is_superseded = bool(identified and registry.is_superseded(identified, place.vehicle.build_month))
    if doubt := which.doubted(actor, place.vehicle):
        found.append(("quote.unlikely_unit", f"{doubt.words}. These prices are not firm: look at the vehicle first."))
    if identified and is_superseded:
        unit = identified.unit
        found.append(
            (
                "quote.superseded",
                f"Built {place.vehicle.build_month}: {unit.successor} follows {unit} from {unit.successor_from_build}. "
                "Read the tag.",
            )
        )
    if past := past_fluid.warning(place.vehicle, place.day):
        found.append(("quote.past_fluid", past))
    if place.customer and place.customer.purchase_order_needed:
        found.append(("quote.purchase_order", f"{place.customer.name} needs a purchase order number on every paper."))
    return found


def _to_ask(options: Sequence[PlannedOption]) -> list[tuple[str, str]]:
    """Seals that are not on the parts list, and labor that is not on the price list."""
    found = [
        ("quote.not_listed", f"Option {option.letter} ({option.title}): not listed: {what}.")
        for option in options
        for what in option.inputs["not_listed"]
    ]
    return found + [
        (
            "quote.drain_labor",
            f"Option {option.letter} ({option.title}): not on the price list: {what}. What does it take?",
        )
        for option in options
        for what in option.inputs["asked"]
    ]


def _refuse_nonsense(wanted: Sequence[OptionEdit], adds_to: Authorization | None) -> None:
    if len(wanted) > MOST_OPTIONS:
        raise Refusal(f"{len(wanted)} options: at most four stand side by side.", code="plan.too_many")
    for edit in wanted:
        if edit.kind not in KINDS or (edit.kind == "addition") != (adds_to is not None):
            raise Refusal(f"An option of kind “{edit.kind}” does not belong here.", code="plan.kind", field="kind")
        if edit.kind == "work" and edit.method not in courses.METHODS:
            raise Refusal(f"There is no method “{edit.method}”.", code="plan.method", field="method")


def _allowed(place: _Place) -> tuple[list[str], list[BarredMethod]]:
    """The methods that may be offered, and those that may not with the reason, in the order of the closed list."""
    allowed, barred = [], []
    for method, template in courses.METHODS.items():
        reason = why_barred(place.sheet, method, place.found, place.facts, place.house)
        if not reason and place.unit and place.prices.labor(method) is None:
            reason = "not in the price list of this unit"
        if reason:
            barred.append(BarredMethod(method, template.words, reason))
        else:
            allowed.append(method)
    return allowed, barred


def _proposed(place: _Place, allowed: Sequence[str]) -> tuple[PlannedOption, ...]:
    """The cheapest method and those that replace most, four in all, in order of their totals."""
    options = [_option(place, "", OptionEdit(method=method), []) for method in allowed]
    options.sort(key=lambda option: option.priced.total_cents)
    if len(options) > MOST_OPTIONS:
        most = sorted(options[1:], key=lambda option: option.fraction_ppm or (0, 0), reverse=True)
        kept = [options[0], *most[: MOST_OPTIONS - 1]]
        options = [option for option in options if option in kept]
    # Edits follow this order, so that a later version begins in the same one.
    return tuple(replace(option, letter=letter) for letter, option in zip(LETTERS, options, strict=False))


def _diagnosis_first(place: _Place) -> tuple[PlannedOption, ...]:
    """The diagnosis where a finding bars every fluid method; none where the price list has no such operation."""
    try:
        return (_option(place, LETTERS[0], OptionEdit(kind="diagnosis"), []),)
    except Refusal:
        return ()


def _option(place: _Place, letter: str, edit: OptionEdit, barred: Sequence[BarredMethod]) -> PlannedOption:
    faults: list[tuple[str, str]] = []
    course = low = None
    fluids: list[dict[str, Any]] = []
    if edit.kind == "work":
        faults += [("method", f"{row.words}: {row.reason}") for row in barred if row.method == edit.method]
        try:
            low, course = _courses(place, edit)
            fluids = _fluids(place, low, course)
        except courses.CannotPlan as cause:
            faults.append(("course", str(cause)))
    listed_tenths = _listed_tenths(place, edit)
    tenths = edit.tenths if edit.tenths is not None else listed_tenths
    opened = _opened(place, edit)
    drain = _drain_operation(place, opened)
    parts = _parts(place, edit)
    inputs = {
        "terms": place.terms,
        "labor": {"tenths": tenths, "text": _labor_text(edit), "kind": _labor_kind(edit)},
        "fluids": fluids,
        "parts": parts,
        "not_listed": _not_listed(edit, opened, parts),
        "extras": [
            *(_extra(place, line) for line in edit.extras),
            *(_listed(place, line, drain.tenths) for line in drain_labor.line_of(edit, opened, drain) if drain),
        ],
        "asked": drain_labor.asked(edit, opened, drain, listed_tenths),
        "prices": dict(edit.prices),
    }
    if edit.kind == "addition" and not tenths:
        inputs["labor"] = {"tenths": None}
    priced = sums.price(inputs)
    faults += _faults(edit, tenths, priced)
    option = PlannedOption(
        letter=letter,
        kind=edit.kind,
        method=edit.method,
        title=edit.title or _title(edit),
        course=course,
        low_course=low,
        priced=priced,
        inputs=inputs,
        bought=None,
        not_included=edit.not_included or (courses.left_out(edit.method) if edit.method else ""),
        tenths=tenths or 0,
        faults=tuple(faults),
    )
    if option.fraction_ppm is None or place.ages is None:
        return option
    return replace(option, bought=bought.bought_by(place.ages, priced.total_cents, option.fraction_ppm))


def _extra(place: _Place, line: ExtraLine) -> dict[str, Any]:
    """A written line; a further operation of the price list with the time and the rate of the day."""
    row = extra_as_dict(line)
    if line.kind != "labor" or not line.number:
        return row
    return _listed(place, line, place.prices.operation(line.number).tenths)


def _listed(place: _Place, line: ExtraLine, tenths: int) -> dict[str, Any]:
    row = extra_as_dict(line)
    cost = half_up(place.terms["hour_cost_cents"] * tenths, 10)
    sold = place.terms["sold_cents"]
    return {**row, "quantity_thousandths": tenths * 100, "unit": "h", "unit_price_cents": sold, "cost_cents": cost}


def _labor_kind(edit: OptionEdit) -> str:
    return "diagnosis" if edit.kind in ("diagnosis", "teardown") else "labor"


def _labor_text(edit: OptionEdit) -> str:
    if edit.kind == "work":
        return edit.method
    return edit.title or (DIAGNOSIS if edit.kind == "diagnosis" else edit.kind)


def _title(edit: OptionEdit) -> str:
    if edit.kind == "work":
        return courses.METHODS[edit.method].words
    return {"diagnosis": "diagnosis", "teardown": "opening for diagnosis", "addition": "added work"}[edit.kind]


def _courses(place: _Place, edit: OptionEdit) -> tuple[courses.Course, courses.Course]:
    made = []
    for fill in courses.fills(place.facts):
        if edit.stages is None:
            made.append(courses.default_course(edit.method, place.facts, place.house, fill))
        else:
            made.append(courses.edited_course(edit.method, edit.stages, place.facts, place.house, fill))
            if why := courses.why_not_taken(made[-1], place.facts, place.house):
                raise courses.CannotPlan(why)
    return made[0], made[-1]


def _listed_tenths(place: _Place, edit: OptionEdit) -> int | None:
    if edit.kind == "work" and place.unit:
        listed = place.prices.labor(edit.method)
        return listed.tenths if listed else None
    if edit.kind == "diagnosis":
        return place.prices.operation(DIAGNOSIS).tenths
    return None


def _fluids(place: _Place, low: courses.Course, high: courses.Course) -> list[dict[str, Any]]:
    assert place.sheet is not None
    needs = high.new_by_sump or {"": high.new_ml}
    lows = low.new_by_sump or {"": low.new_ml}
    rows: dict[str, dict[str, Any]] = {}
    for sump, need in needs.items():
        product = _product(place, sump)
        row = {
            "code": product.code,
            "name": product.name,
            "need_ml": need,
            "low_need_ml": lows[sump],
            "sump": sump,
            "packages": [
                {"number": p.stock_number, "word": p.word, "volume_ml": p.volume_ml, "cost_cents": p.cost_cents}
                for p in place.prices.packages(product)
            ],
        }
        same = rows.get(product.code)
        if same:
            row["need_ml"], row["low_need_ml"] = same["need_ml"] + need, same["low_need_ml"] + lows[sump]
        rows[product.code] = row
    return list(rows.values())


def _product(place: _Place, sump: str) -> FluidProduct:
    asked, product = place.prices.fluid(sump)
    if product is None:
        raise courses.CannotPlan(f"no fluid on the list meets {asked or 'what the sheet asks'}")
    return product


def _parts(place: _Place, edit: OptionEdit) -> list[dict[str, Any]]:
    if edit.kind != "work" or place.unit is None:
        return []
    # Seals after the parts that carry the job, as a person would name them: the dearest first.
    used = {part.number: part for part in place.prices.parts(edit.method)}
    if _opened(place, edit) == "drain plug":
        plug = place.prices.parts("single drain") or place.prices.parts("repeated drain")
        used |= {part.number: part for part in plug}
    listed = sorted(used.values(), key=lambda part: (-part.cost_cents, part.number))
    return [
        {
            "number": part.number,
            "name": part.name,
            "condition": part.condition,
            "quantity": part.per_job,
            "cost_cents": part.cost_cents,
            "core_cents": part.core_cents,
        }
        for part in listed
        if part.number not in edit.without
    ]


def _opened(place: _Place, edit: OptionEdit) -> str:
    """What the course of an option opens that its method does not: a drain plug takes its seal, both their labor."""
    return drain_labor.opened_besides(edit.method, edit.stages, place.facts) if edit.kind == "work" else ""


def _drain_operation(place: _Place, opened: str) -> LaborOperation | None:
    return drain_labor.operation_of(place.prices, opened)


def _not_listed(edit: OptionEdit, opened: str, parts: Sequence[Mapping[str, Any]]) -> list[str]:
    """What is opened and takes a new seal that none of the parts is: a person asks for it before offering.

    source   common practice, no source: which part is a plug's seal is told by its name, as the bay sheet does
    """
    if edit.kind != "work" or any(bay_parts.steps_of(part, ("drain_plug",)) for part in parts):
        return []
    first = courses.METHODS[edit.method].first
    if first == "drain_ml" or opened == "drain plug":
        return ["drain plug seal"]
    return ["plug washers"] if first == "pan_ml" or opened == "pan" else []


def _faults(edit: OptionEdit, tenths: int | None, priced: sums.Priced) -> list[tuple[str, str]]:
    """Rows that an offer refuses: a blank price, zero tenths."""
    found = []
    if edit.kind == "work" and not tenths:
        found.append(("labor", "labor has no tenths of an hour"))
    for line in priced.lines:
        if line.price_cents is None:
            found.append((sums.key_of(line), f"“{line.text}” has no price"))
    if not priced.lines:
        found.append(("lines", "nothing is listed"))
    return found


def _recommend(
    options: Sequence[PlannedOption], ages: bought.Ages | None, found: Sequence[Standing]
) -> tuple[str, str]:
    """The option that costs least for each day that it lasts, with what overlaps it; else what replaces most.

    Where the fluid was never changed, and the shop owner has not decided otherwise: one partial change first.
    """
    sound = [option for option in options if not option.faults]
    if asks_for_partial_first(found) and any(option.fraction_ppm for option in sound):
        partial = next((option for option in sound if option.method == PARTIAL), None)
        return (partial.letter, "The fluid was never changed: a single partial change first.") if partial else ("", "")
    timed = [o for o in sound if o.bought and o.bought["a_day_exact"]]
    if timed and ages:
        best = min(timed, key=lambda option: Fraction(option.bought["a_day_exact"]))  # type: ignore[index]
        return best.letter, _why_best(best, [o for o in timed if o is not best and _is_near(ages, o, best)])
    shares = [option for option in sound if option.fraction_ppm]
    if not shares:
        return (sound[0].letter, "") if len(sound) == 1 else ("", "")
    best = max(shares, key=lambda option: (option.fraction_ppm or (0, 0), -option.priced.total_cents))
    return best.letter, "Leaves the largest share of new fluid."


def _is_near(ages: bought.Ages, one: PlannedOption, best: PlannedOption) -> bool:
    ours, theirs = best.fraction_ppm, one.fraction_ppm
    if ours is None or theirs is None:
        return False
    return bought.overlap(ages, (one.priced.total_cents, theirs), (best.priced.total_cents, ours))


def _why_best(best: PlannedOption, near: Sequence[PlannedOption]) -> str:
    """Why it is recommended, and that the estimate does not part it from others where it does not."""
    assert best.bought is not None
    price = lasting.price(best.bought)
    if not near:
        return f"Lowest price for the time it lasts: {lasting.figure(best.bought)}, {price}, by estimate."
    letters = [option.letter for option in sorted([best, *near], key=lambda option: option.letter)]
    overlapping = f"{', '.join(letters[:-1])} and {letters[-1]}"
    return (
        f"No clear winner by this estimate: {overlapping} overlap. "
        f"Of them, {best.letter} costs least for the time that its lower share gives: {price}."
    )


def _inputs(place: _Place, wanted: Sequence[OptionEdit], barred: Sequence[BarredMethod]) -> dict[str, Any]:
    facts = place.facts
    return {
        "unit": place.unit.code if place.unit else "",
        "sheet_version": place.sheet.version if place.sheet else None,
        "options": [edit_as_dict(edit) for edit in wanted],
        "barred": [row.method for row in barred],
        "operations": [[row.operation, row.tenths] for row in place.prices.further()],
        "layout": {  # what the drawing of a course needs of the sheet, frozen with it
            "sump_ml": facts.sump_ml,
            "pickup_below_full_ml": facts.pickup_below_full_ml,
            "dips_above_full_ml": facts.dips_above_full_ml,
            "stop_margin_ml": place.house.stop_margin_ml,
        },
        "sheet": asdict(facts),  # what every course was made from, and its sum can be made from again
        "ages": place.ages.as_dict() if place.ages else None,
    }
