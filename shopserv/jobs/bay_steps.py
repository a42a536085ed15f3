"""The steps of the bay sheet, in their order, from what was agreed and what the unit sheet says. No tables.

WorkOrder.facts has, from jobs.services.write_up.facts_of: kind (work, diagnosis, teardown), unit (code), sheet_version,
method, fluids [{code, name, need_ml, low_need_ml, sump}], packages {stock number: count}, parts [{number, name,
quantity}], course {kind, fill_ml, stages [{op, to_ml | volume_ml | add_ml, stop_margin_ml, sump?}], levels_ml, new_ml,
too_high}, operations [text of each labor line], tenths, added [the same of each addition], earlier [what it was before
another option counted]. Diagnosis and teardown have no course: their sheet looks and writes down, and moves no fluid.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from shopserv.catalog.sheets import Value
from shopserv.jobs import bay_readings as readings
from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_course import stage_steps
from shopserv.jobs.bay_drain import HOT_MDEGC, PROOF_G, warmth
from shopserv.jobs.bay_level import to_the_level
from shopserv.jobs.bay_parts import with_parts
from shopserv.jobs.bay_stages import Bench, Place, Step

SECONDS_OF_PROOF, SECONDS_TO_STOP = 15, 5  # common practice, no source
ODOMETER_SLACK = {"mi": 5, "km": 8}  # common practice, no source


def build(
    facts: Mapping[str, Any], values: Mapping[str, Value], place: Place, sumps: Sequence[Mapping[str, Any]] = ()
) -> tuple[Step, ...]:
    """Every step of a work order in order.

    facts    of the work order, see above
    values   of its unit sheet, by what they say; what is not in it is not known
    sumps    of its unit sheet, {name, total_fill_ml, drain_ml}, where there is more than one
    source   common practice, no source
    """
    bench = Bench(facts, values, place.units_first, place.stop_margin_ml, sumps)
    steps = with_parts([*_every(bench, place)], bench)
    where = {"is_pit": place.is_pit, "wheels_are_down": place.wheels_are_down}
    return tuple(replace(step, cautions=words.by_bay(step.cautions, **where)) for step in steps)


def _every(bench: Bench, place: Place) -> Iterator[Step]:
    facts = bench.facts
    steps = [*_arrival(place), *_look(bench)]
    if facts.get("kind") != "work" or not bench.course:
        yield from (*steps, _write_down(facts), *_leaving(bench, place))
        return
    if bench.has_locked_cap:
        steps.append(_cap_open())
    steps.append(_fill_plug(bench))
    steps.append(_scan())
    if bench.is_pumped:
        steps += _lines_open(bench, place)
    steps += stage_steps(bench)
    if bench.is_pumped:
        steps += _lines_back(bench)
    steps += to_the_level(bench, place)
    steps += _after(bench)
    yield from (*steps, *_leaving(bench, place))


def close_out_items(steps: Sequence[Step]) -> tuple[tuple[str, str], ...]:
    """What a close-out confirms one by one: (code, words), as far as the steps of this work order ask for it."""
    there = {step.code for step in steps}
    asked = ["leftovers"]
    asked += ["hold_open_out"] if "hold_open_out" in there else []
    asked += ["lines_home", "clips", "pull_test"] if "lines_home" in there else []
    asked += [
        code
        for code in ("plugs", "pan_on", "cap_locked", "leak_idle", "adaptation", "road_test", "leak_again")
        if code in there
    ]
    named = ["pan" if code == "pan_on" else code for code in asked]
    return tuple((code, words.CLOSE_OUT[code]) for code in named)


def _arrival(place: Place) -> Iterator[Step]:
    load = readings.load(place.rated_load_kg, place.units_first) if place.rated_load_kg else "see the plate of the lift"
    limits = {"bay": place.bay, "kind": place.bay_kind, "rated_load": load, "inspection": place.inspection_due_on}
    if place.is_pit:
        said = "Drive over the pit: inspection in date, parking brake on, chocks set, air suspension off."
        del limits["rated_load"]
    else:
        said = "Set the vehicle on the lift: load within its rating, inspection in date, chocks set, air suspension "
        said += "off, wheels on the runways." if place.wheels_are_down else "off, wheels clear."
    yield Step("lift", said, (words.UNDER, words.KEY), limits=limits)
    if place.odometer is not None:
        high = place.odometer + ODOMETER_SLACK[place.odometer_unit]
        asked = readings.need(
            "odometer",
            "odometer in the bay",
            units_first=place.units_first,
            start=place.odometer,
            low=place.odometer,
            high=high,
            odometer_unit=place.odometer_unit,
        )
        yield Step("odometer_in", "Read the odometer again.", needs=(asked,))
    yield Step(
        "run",
        "Run the engine: lamps, noises, every selector position engages without delay.",
        (words.SWEEP, words.EXHAUST, words.KEY),
    )


def _look(bench: Bench) -> Iterator[Step]:
    yield Step(
        "fluid_look",
        "Look at a drop of the fluid: color, smell, dust, milk.",
        (words.COOLANT, words.HOT),
        limits={"new fluid": bench.fluid},
    )
    yield Step(
        "leak_look",
        "Look for leaks: pan, cooler lines, axle seals, converter housing.",
        (words.UNDER, words.SHAFTS),
    )


def _fill_plug(bench: Bench) -> Step:
    value = bench.values.get("torque_fill_mnm")
    if value is not None and not value.is_fitted:
        said = "FILL FIRST: see that the filler is free and fluid can be poured in before anything is drained."
    elif bench.sumps:
        each = " and ".join(f"{sump} sump ({bench.fluid_of(sump)})" for sump in bench.sumps)
        said = "FILL PLUGS FIRST: open the fill plug of each sump before anything is drained, "
        said += f"set it back by hand: {each}."
    else:
        said = "FILL PLUG FIRST: open the fill plug before anything is drained, and set it back by hand."
    return Step(
        "fill_plug_first",
        said,
        ("It does not open, or is damaged: hold. A drained unit that cannot be filled cannot leave the bay.",),
        limits={"fill plug": bench.torque("fill")},
    )


def _cap_open() -> Step:
    return Step(
        "cap_open",
        "Unlock the cap of the dipstick tube as the vehicle maker says, and keep lock and cap on the bench tag.",
        ("It does not unlock: hold. Without it the level cannot be read.",),
    )


def _scan() -> Step:
    return Step(
        "scan",
        "Read the stored codes before anything is cleared. Any there: press stop, “something else found”, and write "
        "each code into its words.",
        ("Codes of ratio, pressure or solenoid kind: press finding, and wait for the decision.",),
        may_skip=True,
    )


def _lines_open(bench: Bench, place: Place) -> Iterator[Step]:
    out_by = bench.text("cooler_flows_out_by")
    first = f"the {out_by}" if out_by else "the line that flows out (the sheet does not say which: find it)"
    hold = bench.text("thermostat_hold_open")
    if "held-open" in bench.method:
        yield Step(
            "hold_open_in",
            f"Hold the cooler thermostat open: {hold or 'by the vehicle maker’s way'}. It comes out before the level.",
            ("Write the pin on the bench tag: it is a close-out item.",),
            limits={"held open by": hold or "not known"},
        )
    yield Step(
        "lines_open",
        f"While it is cold, open {first} at the cooler and lead a hose into the bucket on the scale.",
        (words.HOT, "A line is never broken hot; a hot can is not carried.", words.FIRE),
        needs=(warmth(place.units_first),),
        limits={
            "flows out by": out_by or "not known",
            "line opened at": f"at most {bench.shown_temp(HOT_MDEGC)}",
            "hot_mdegc": HOT_MDEGC,
        },
    )
    opens = bench.low("thermostat_opens_mdegc")
    if "warm-open" in bench.method:
        asked = readings.need("temp_mdegc", "fluid temperature", units_first=place.units_first, start=opens, low=opens)
        yield Step(
            "warm_open",
            "Warm the fluid until the thermostat opens and the line flows.",
            (words.HOT, words.EXHAUST, "Face shield, long gloves."),
            needs=(asked,),
            limits={"opens at": bench.shown_temp(opens)},
        )
    stop = readings.need("engine_stop", "engine stop in reach", units_first=place.units_first, start=1, low=1, high=2)
    yield Step(
        "engine_stop",
        "Engine stop in reach: a remote switch, or a second person at the key.",
        ("Without one of them no pumped stage begins.",),
        needs=(stop,),
    )
    where = "The bucket stays; its fluid counts to the first stage."
    if bench.is_proof_apart:
        where = "What came counts as out by itself: the first stage drains elsewhere."
    flow = readings.need("flow_g", f"net weight of {SECONDS_OF_PROOF} s", units_first=place.units_first, start=PROOF_G,
                         low=1, step=5)  # fmt: skip
    bucket = readings.need("temp_mdegc", "temperature in the bucket", units_first=place.units_first, start=60_000)
    yield Step(
        "flow_proof",
        f"Run the engine {SECONDS_OF_PROOF} s into the weighed bucket and stop: is there flow? {where}",
        (words.AIR, words.HOT, words.SHAFTS),
        needs=(flow, bucket),
        limits={
            "seconds": SECONDS_OF_PROOF,
            "seconds_to_stop": SECONDS_TO_STOP,
            "minimum_ml_min": bench.low("cooler_min_flow_ml_min"),
            "stop_margin_ml": place.stop_margin_ml,
            **({"counts_apart": True} if bench.is_proof_apart else {}),
        },
        is_fluid=True,
    )


def _lines_back(bench: Bench) -> Iterator[Step]:
    yield Step(
        "lines_back",
        "Connect both cooler lines again, new seals where the parts list has them.",
        (words.HOT,),
    )
    yield Step("lines_home", "Both cooler lines home, clips seated: pull at each line.", (words.HOT, words.SHAFTS))
    held = bench.text("thermostat_place") not in ("", "none")
    way = "with the pin in, or the thermostat open by heat" if held else "engine idling in park"
    yield Step(
        "cooler_full",
        f"Fill the cooler circuit: {way}, until both lines are warm and flow. Stop the engine: are both joints dry?",
        (
            "A level set over an empty cooler drops later by the cooler's own volume.",
            words.SHAFTS,
            words.EXHAUST,
        ),
        limits={"cooler and lines": bench.shown_volume(bench.low("cooler_ml"))},
        is_fluid=True,
    )
    if "held-open" in bench.method:
        yield Step("hold_open_out", "Take the hold-open pin out again.", ("Hang it back on the bench tag.",))


def _after(bench: Bench) -> Iterator[Step]:
    if bench.has_locked_cap:
        yield Step("cap_locked", "Dipstick in, cap on, and lock the cap again as the vehicle maker says.", (words.HOT,))
    if bench.fitted_plugs:
        named = ", ".join(words.PLUGS[plug] for plug in bench.fitted_plugs)
        each = f" of each sump ({', '.join(bench.sumps)})" if bench.sumps else ""
        yield Step(
            "plugs",
            f"Tighten to their figures: {named}{each}. A new washer on each that was open; mark them with paint.",
            (words.UNDER, words.HOT),
            limits={words.PLUGS[plug]: bench.torque(plug) for plug in bench.fitted_plugs},
        )
    yield Step("leak_idle", "Leak check with the engine idling.", (words.SHAFTS, words.EXHAUST, words.FIRE))
    if adaptation := bench.adaptation:
        yield Step(
            "adaptation",
            f"Adaptation or counter reset, only because the sheet asks and the customer was told: {adaptation}.",
            ("Never on a worn unit “to be safe”.",),
            may_skip=True,
        )
    yield Step("road_test", "Road test: every gear, up and down, no slip, no flare.", ("Brakes first.",))
    yield Step("leak_again", "Leak check again after the road test.", (words.HOT, words.UNDER))


def _write_down(facts: Mapping[str, Any]) -> Step:
    return Step(
        "diagnosis",
        f"{str(facts.get('title', 'Diagnosis')).capitalize()}: test, and write down readings and result.",
        (words.HOT, words.UNDER, words.MAKER),
    )


def _leaving(bench: Bench, place: Place) -> Iterator[Step]:
    asked = readings.need(
        "odometer",
        "odometer out",
        units_first=place.units_first,
        start=place.odometer,
        low=place.odometer,
        odometer_unit=place.odometer_unit,
    )
    yield Step("odometer_out", "Read the odometer: what stands on the papers.", needs=(asked,))
