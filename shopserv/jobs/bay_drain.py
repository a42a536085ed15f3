"""A drain or a pan removal as steps of the bay sheet: plug, pan, magnet, filter, what goes back in. No tables."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from shopserv.jobs import bay_readings as readings
from shopserv.jobs import bay_words as words
from shopserv.jobs.bay_stages import DRAIN_SPREAD, Bench, Step

HOT_MDEGC = 60_000  # a line is opened at most so warm, a drain only with gear on; common practice, no source
PROOF_G, PROOF_ML = 500, 600  # what a flow proof brings, where nobody has weighed it; common practice, no source
FULL_PAN = "A full pan is heavy and hot: lower one corner first and let it run into the drip tray; then the others."


def drain_measured(
    bench: Bench, text: str, limits: Mapping[str, Any], needs: Sequence[Mapping[str, Any]], taken_ml: int
) -> tuple[str, dict[str, Any], list[dict[str, Any]]]:
    """A first drain of which the flow proof has taken so much: (text, limits, needs).

    taken_ml   what was weighed, instead of what was expected of the proof or weighed before
    """
    less = taken_ml - limits.get("already_ml", PROOF_ML)
    out = max(0, limits["out_ml"] - less)
    amount = bench.shown_volume(out)
    expected = [
        _holding(row)
        | readings.need(
            row["what"],
            row["words"],
            units_first=bench.units_first,
            start=out,
            low=max(0, row["low_base"] - less),
            high=max(0, row["high_base"] - less),
        )
        if row["what"] in readings.AMOUNTS
        else dict(row)
        for row in needs
    ]
    new = {**limits, "out_ml": out, "out": amount, "already_ml": taken_ml}
    return text.replace(f"about {limits['out']}", f"about {amount}"), new, expected


BY_WHAT_CAME = " By what came out."


def pour_measured(
    bench: Bench, text: str, limits: Mapping[str, Any], needs: Sequence[Mapping[str, Any]], began_ml: int, came_ml: int
) -> tuple[str, dict[str, Any], list[dict[str, Any]]]:
    """What is poured after a drain by what was measured of it: (text, limits, needs).

    began_ml   where the level stood before the round, against full; the level after the pour stays as planned
    came_ml    what came out in this round
    source     common practice, no source: as much goes in as came out
    """
    pour = max(0, came_ml + limits["level_after_ml"] - began_ml)
    amount, spread = bench.poured(pour), bench.stop_margin_ml
    said = text.removesuffix(BY_WHAT_CAME).replace(f"pour {limits['into']} of", f"pour {amount} of")
    expected = [bench.need(row["what"], row["words"], pour, spread) for row in needs]
    new = {**limits, "in_ml": pour, "into": amount, "by_what_came_out": bench.poured(came_ml)}
    return said + BY_WHAT_CAME, new, expected


def warmth(units_first: str) -> dict[str, Any]:
    """How warm the fluid is before it is let out: what is too hot is not opened, or only with gear on."""
    return readings.need("temp_mdegc", "fluid temperature before it is opened", units_first=units_first, start=40_000,
                         expects=(10_000, readings.HOTTEST_MDEGC))  # fmt: skip


def _hot(bench: Bench) -> dict[str, Any]:
    limit = bench.shown_temp(HOT_MDEGC)
    return {"opened at": f"at most {limit}, hotter with gear on", "hot_mdegc": HOT_MDEGC}


def named(said: str, sump: str) -> str:
    """The words of a reading with the sump it belongs to."""
    return f"{said}, {sump} sump" if sump else said


def _out(bench: Bench, said: str, expected: int, spread: int, sump: str = "") -> dict[str, Any]:
    """What a drain lets out, with what sump and unit hold as far as known: more than the unit holds cannot come."""
    holds = (bench.sump_fill_ml(sump) if sump else None) or bench.fill_ml
    # What stands above full comes out as well, and what is expected always may.
    highest = expected + spread
    below = None if sump else bench.low("sump_ml")
    found = {"holds_base": holds and max(holds, highest), "sump_base": below and max(below, highest)}
    return {**bench.need("out_ml", said, expected, spread), **{name: ml for name, ml in found.items() if ml}}


def _holding(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: row[name] for name in ("holds_base", "sump_base") if name in row}


def drain_steps(
    bench: Bench, stage: Mapping[str, Any], label: str, before: int, level: int, already_ml: int = 0
) -> Iterator[Step]:
    """The steps of a stage that drains.

    already_ml   of it is out by the flow proof
    """
    if bench.is_pan:
        yield from _pan(bench, stage, label, before - level - already_ml, level, already_ml)
    else:
        yield from _by_plug(bench, stage, label, before - level - already_ml, level)


def _by_plug(bench: Bench, stage: Mapping[str, Any], label: str, out: int, level: int) -> Iterator[Step]:
    amount, sump = bench.shown_volume(out), stage.get("sump", "")
    drain = f"the drain plug of the {sump} sump, {bench.fluid_of(sump)}" if sump else "the drain"
    yield Step(
        "drain",
        f"{label}: open {drain}, about {amount} comes out. Weigh or read what came.",
        (words.HOT, words.COOLANT, words.COLLECT),
        needs=(
            warmth(bench.units_first),
            _out(bench, named("out", sump), out, int(out * DRAIN_SPREAD), sump),
        ),
        limits=shown(bench, stage, level, "off", "until it drips", out_ml=out, out=amount, **_hot(bench)),
        is_fluid=True,
    )
    yield _plug_back(bench, sump)


def _plug_back(bench: Bench, sump: str = "") -> Step:
    where = f"{sump} sump: " if sump else ""
    if bench.text("level_method").startswith("standpipe"):
        said = f"{where}standpipe back in before any filling, its plug with a new washer"
    else:
        said = f"{where}drain plug in with a new washer"
    return Step(
        "drain_plug",
        f"{said[0].upper()}{said[1:]}: {bench.torque('drain')}.",
        limits={"drain plug": bench.torque("drain"), "sump": sump},
    )


def _pan(bench: Bench, stage: Mapping[str, Any], label: str, out: int, level: int, already_ml: int) -> Iterator[Step]:
    by_plug = _out_by_plug(bench, out)
    if by_plug:
        amount = bench.shown_volume(by_plug)
        yield Step(
            "drain",
            f"{label}: first the drain plug, about {amount} comes out. Weigh or read what came.",
            (words.HOT, words.COOLANT, words.COLLECT),
            needs=(
                warmth(bench.units_first),
                _out(bench, "out by the plug", by_plug, int(by_plug * DRAIN_SPREAD)),
            ),
            limits={
                "op": "drain",
                "engine": "off",
                "stop_sign": "until it drips",
                "out_ml": by_plug,
                "out": amount,
                **_hot(bench),
            },
            is_fluid=True,
        )
    rest = out - by_plug
    after = " after the flow proof" if already_ml else ""
    amount = bench.shown_volume(rest)
    before: tuple[dict[str, Any], ...] = () if by_plug else (warmth(bench.units_first),)
    if by_plug:
        said = f"pan off. After the plug drain it still holds about {amount}: lower it level."
        warned = [words.HOT, words.COOLANT, words.COLLECT]
    elif bench.is_fitted("drain") is False:
        said = f"pan off. There is no drain plug: the pan comes down full, about {amount} in it{after}."
        warned = [FULL_PAN, words.HOT, words.COOLANT, words.COLLECT]
    else:
        said = f"pan off, about {amount} comes out. Is there a drain plug, drain there first; else it comes down full."
        warned = [FULL_PAN, words.HOT, words.COOLANT, words.COLLECT]
    yield Step(
        "drain_pan",
        f"{label}: {said}",
        tuple(warned),
        # What is off by the plug is off for the whole of it.
        needs=(*before, _out(bench, "out with the pan", rest, int(out * DRAIN_SPREAD))),
        limits=shown(
            bench, stage, level, "off", "until it drips", out_ml=rest, out=amount, **({} if by_plug else _hot(bench))
        ),
        is_fluid=True,
    )
    yield from _pan_work(bench)
    if by_plug:
        yield _plug_back(bench)


def _out_by_plug(bench: Bench, out: int) -> int:
    """What comes by the plug before the pan is taken off; 0: no plug, or the sheet does not say."""
    drained = bench.low("drain_ml") or 0
    pan = bench.low("pan_ml") or out
    if not bench.is_fitted("drain") or not 0 < drained < pan:
        return 0
    return max(0, drained - (pan - out))


def _pan_work(bench: Bench) -> Iterator[Step]:
    serviceable = bench.text("filter")
    yield Step(
        "magnet",
        "Look at the magnet and into the pan, then clean both.",
        ("Fine gray paste is wear. Flakes, needles or brass: photo, press finding, stop.",),
    )
    yield Step(
        "filter",
        f"New filter, old seal out of its bore: {serviceable or 'the sheet does not say whether it can be changed'}.",
        ("An old seal left in the bore lets the pump draw air.", words.HOT),
        limits={"filter": serviceable or "not known"},
    )
    yield Step(
        "pan_on",
        f"Pan flat, new gasket, no sealer unless the sheet says so; screws evenly, crosswise: {bench.torque('pan')}.",
        limits={"pan screws": bench.torque("pan")},
    )


def shown(bench: Bench, stage: Mapping[str, Any], level: int, engine: str, stop: str, **more: Any) -> dict[str, Any]:
    """What a stage shows and is checked with."""
    return {
        "op": stage["op"],
        "sump": stage.get("sump", ""),
        "engine": engine,
        "stop_sign": stop,
        "level_after_ml": level,
        "margin_ml": bench.stop_margin_ml,
        "pickup_ml": bench.low("pickup_below_full_ml"),
        "dips_ml": bench.low("dips_above_full_ml"),
        "level_after": against_full(bench, level),
        **more,
    }


def against_full(bench: Bench, level: int) -> str:
    """A level in words."""
    if level == 0:
        return "full"
    return f"{bench.to_hundredths(abs(level))} {'below' if level < 0 else 'above'} full"
