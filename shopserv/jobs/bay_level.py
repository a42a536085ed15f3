"""The steps that lead to the level and set it: levelness, temperature, engine, selector, sign. No tables."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from shopserv.jobs import bay_readings as readings
from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_drain import named
from shopserv.jobs.bay_stages import Bench, Place, Step

HOT_WINDOW_MDEGC = 48_000  # from here on the fluid is warmed to its window, not cooled; common practice, no source


def to_the_level(bench: Bench, place: Place) -> Iterator[Step]:
    """The steps from the locks to the drip."""
    yield _levelness(bench, place)
    yield from _temperature(bench, place)
    if not bench.is_engine_off:
        dwell = bench.low("selector_dwell_s") or 0
        asked = readings.need(
            "dwell_s", "dwell in each position", units_first=place.units_first, start=dwell, low=dwell
        )
        yield Step(
            "sweep",
            f"Selector sweep: each position {dwell} s, then park."
            if dwell
            else "Selector sweep: each position, then park.",
            (words.SWEEP, words.EXHAUST),
            needs=(asked,),
        )
    for sump in bench.sumps[:-1]:
        yield _level(bench, place, sump)
    yield _level(bench, place, bench.sumps[-1] if bench.sumps else "", is_last=True)


def _levelness(bench: Bench, place: Place) -> Step:
    limit = bench.low("tilt_limit_mdeg")
    tenths = None if limit is None else limit // 100
    stored = place.stored_tilt or (0, 0)
    asked = [
        readings.need(
            what,
            said,
            units_first=place.units_first,
            start=start,
            low=None if tenths is None else -tenths,
            high=tenths,
        )
        for what, said, start in (
            ("tilt_fore_aft", "tilt fore-aft", stored[0]),
            ("tilt_side", "tilt to the side", stored[1]),
        )
    ]
    shown = {"tilt limit": "not known" if tenths is None else f"{tenths / 10:g}°"}
    if place.stored_tilt:
        shown["stored for this bay"] = f"{stored[0] / 10:g}° fore-aft, {stored[1] / 10:g}° side"
    how = "Where it stands over the pit," if place.is_pit else "Lower the vehicle onto the locks and"
    return Step(
        "levelness",
        f"{how} measure on the vehicle how level it stands, fore-aft and to the side.",
        (words.UNDER, "A stored value serves only on a pit or four-post lift."),
        needs=tuple(asked),
        limits=shown,
    )


def _temperature(bench: Bench, place: Place) -> Iterator[Step]:
    low, high = bench.low("level_low_mdegc"), bench.low("level_high_mdegc")
    if low is None or high is None:
        return
    shown = f"{bench.shown_temp(low)} to {bench.shown_temp(high)}"

    def temp(said: str, start: int, low: int | None = None, high: int | None = None) -> dict[str, Any]:
        return readings.need("temp_mdegc", said, units_first=place.units_first, start=start, low=low, high=high)

    if bench.is_engine_off:
        # New fluid stands colder than any window; nothing but a run warms it.
        full = f"Both sumps are filled ({', '.join(bench.sumps)}): " if bench.sumps else "The fill is in: "
        yield Step(
            "warm_up",
            f"{full}run the engine as the vehicle maker says until the fluid is inside {shown}, then stop it. "
            "Hotter: wait, engine off, until it is inside.",
            (words.SWEEP, words.EXHAUST, words.HOT, "Never with a sump that is not filled."),
            needs=(temp("fluid temperature", low, low=low, high=high),),
            limits={"window": shown},
        )
        return
    if low >= HOT_WINDOW_MDEGC:
        yield Step(
            "warm_up",
            f"Warm the fluid until it is inside {shown}.",
            (words.HOT, words.EXHAUST),
            needs=(temp("fluid temperature", low, low=low, high=high),),
            limits={"window": shown},
        )
        return
    start = low - place.idle_rise_mk
    kept = {"window": shown, "low_mdegc": low, "high_mdegc": high, "start_mdegc": start}
    kept["idle_rise_mk"] = place.idle_rise_mk

    def hot(start: int) -> dict[str, Any]:
        return readings.need("temp_mdegc", "fluid temperature", units_first=place.units_first, start=start,
                             expects=(low, readings.HOTTEST_MDEGC))  # fmt: skip

    ambient = readings.need("ambient_mdegc", "air around the unit", units_first=place.units_first, start=20_000)
    yield Step(
        "cool_down_1",
        "Engine off: read the fluid temperature and the air, and go on with other work. "
        "Colder than the window: skip this and the next.",
        (words.HOT, words.KEY),
        needs=(hot(high + 30_000), ambient),
        limits=kept,
        may_skip=True,
    )
    yield Step(
        "cool_down_2",
        "After some minutes read the fluid temperature again; the sheet then says when to go on.",
        (words.HOT,),
        needs=(hot(high + 20_000),),
        limits=kept,
        may_skip=True,
    )
    yield Step(
        "start_engine",
        f"Start the engine at {bench.shown_temp(start)}, or now where the fluid is colder: it warms while it idles to "
        "the check.",
        (words.SHAFTS, words.EXHAUST, "Parking brake on."),
        limits=kept,
    )


def _level(bench: Bench, place: Place, sump: str, *, is_last: bool = False) -> Step:
    method = bench.text("level_method")
    key = words.level_key(method)
    low, high = bench.low("level_low_mdegc"), bench.low("level_high_mdegc")
    closed = bench.text("level_plug_closed_with")
    said = [f"Level, {sump} sump, {bench.fluid_of(sump)}." if sump else "", words.LEVEL_BY.get(key, words.NO_LEVEL)]
    said += {"running": ["Plug in while the engine runs, then stop."], "off": ["Plug in with the engine off."]}.get(
        closed, []
    )
    tilt = bench.low("tilt_limit_mdeg")
    asked = (
        readings.need("temp_mdegc", "fluid temperature", units_first=place.units_first, start=low, low=low, high=high),
        readings.need("in_ml", named("poured at the level", sump), units_first=place.units_first, start=0, low=0,
                      high=bench.allowance_limit(place.allowance_ml, sump)),
        readings.need("out_ml", named("run out at the level", sump), units_first=place.units_first, start=0, low=0),
    )  # fmt: skip
    return Step(
        "level" if is_last else "level_sump",
        " ".join(part for part in said if part),
        ("Parking brake on, no loose sleeve, hands clear of shafts.", words.HOT, words.FIRE),
        needs=asked,
        limits={
            "sump": sump,
            "method": method,
            "sign": words.SIGNS.get(key, ""),
            "reading_ml": words.READING_ML.get(key),
            "low_mdegc": low,
            "high_mdegc": high,
            "engine": bench.text("level_engine"),
            "is_engine_off": bench.is_engine_off,
            "plug_closed_with": closed,
            "dwell_s": bench.low("selector_dwell_s") or 0,
            "tilt_limit_tenths": None if tilt is None else tilt // 100,
            "area_cm2": bench.low("sump_area_cm2"),
            "offset_fore_aft_mm": bench.low("offset_fore_aft_mm"),
            "offset_side_mm": bench.low("offset_side_mm"),
            "band_ml": bench.low("level_band_ml"),
            "fill_ml": bench.sump_fill_ml(sump) or bench.fill_ml,
            "fill": bench.shown_fill(sump),
            "density_15_g_m3": place.density_15_g_m3,
            "cooler_ml": bench.low("cooler_ml"),
            "is_pumped": bench.is_pumped,
            "look_now": is_last,
        },
        is_fluid=True,
    )
