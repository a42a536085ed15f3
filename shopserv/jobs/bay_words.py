"""The sentences and cautions of the bay sheet. The vehicle maker's procedure and local codes come first. No tables.

source   common practice, no source; from 60 °C burns within seconds: from memory
"""

from __future__ import annotations

from collections.abc import Iterable

HOT = "Hot fluid burns skin, from 60 °C (140 °F) within seconds: eye cover, long gloves, sleeves down."
UNDER = "Nobody under the vehicle while it moves; locks in before anybody goes under."
UNDER_PIT = "Nobody in the pit or before the vehicle while it moves; chocks set before anybody goes under."
SHAFTS = "Turning shafts and fans: hands, hair and cloth away, no loose sleeve."
SWEEP = "The wheels turn: from the driver's seat, service brake held, wheels clear of everything."
SWEEP_DOWN = (
    "The wheels stand and would drive: chocks set, service brake held from the driver's seat, nobody before, behind "
    "or under the vehicle."
)
KEY = "Stop-start off; the key stays away from the vehicle while somebody is under it."
FIRE = "Fluid on a hot exhaust burns: shield it and wipe; extinguisher at hand."
EXHAUST = "Exhaust led outside while the engine runs indoors."
AIR = "Air in the line is late: stop at once. The pump must never run dry."
COOLANT = "Pink, milky or with drops of water: stop, press “coolant found”, drain nothing."
COLLECT = "Used oil is collected, never poured away; protect the skin."
MAKER = "The vehicle maker's procedure and local codes come first; " + (
    "where this sheet differs, follow them and tell the office."
)
FOOT = (HOT, UNDER, SHAFTS, EXHAUST, FIRE, COLLECT, MAKER)

WHEN_STOPPED = (
    "Engine off, key out, drain and fill plugs closed by hand, pan under the vehicle.",
    "Press hold or “coolant found” and say what was seen; call the office.",
    "What came out stays in its own marked vessel until it is decided.",
    "Coolant suspected or confirmed: nobody goes on with the fluid; the vehicle is not to be driven.",
)

PLUGS = {"fill": "fill plug", "drain": "drain plug", "level": "level plug", "pan": "pan screws"}

LEVEL_BY = {
    "overflow tube": "Engine running, level plug out. Nothing runs: add until it runs. A stream: wait for the drip.",
    "standpipe in drain": "Engine running, plug out of the standpipe. Nothing runs: add until it runs. "
    "A stream: wait for the drip.",
    "side plug": "Fill at the side plug until a film runs from its lower edge.",
    "dipstick": "Engine idling in park: wipe, dip twice, read the lower figure; add a little at a time, to the mark.",
    "by volume": "Pour what came out and what the sheet says; then check by the vehicle maker's way.",
}
NO_LEVEL = "The unit sheet gives no way to set the level: ask the office for the vehicle maker's procedure."
SIGNS = {
    "overflow tube": "drip at the overflow",
    "standpipe in drain": "drip at the standpipe",
    "side plug": "film at the lower edge of the plug",
    "dipstick": "mark on the dipstick",
    "by volume": "liters poured",
}
# What the sign itself is good to, in mL; the overflow is the figure of the worked example, the rest (a dipstick dipped
# twice: a sixth of the way from mark to mark) common practice, no source.
READING_ML = {"overflow tube": 40, "standpipe in drain": 40, "side plug": 60, "dipstick": 100, "by volume": 300}

CLOSE_OUT = {
    "leftovers": "leftovers weighed or read, and marked",
    "hold_open_out": "hold-open pin is out",
    "lines_home": "both cooler lines home",
    "clips": "clips seated",
    "pull_test": "lines hold the pull test",
    "plugs": "plugs torqued and paint-marked, new washers",
    "pan": "pan screws torqued in order",
    "cap_locked": "dipstick in, cap on and locked",
    "leak_idle": "no leak at idle",
    "adaptation": "adaptation or counter reset done, customer was told",
    "road_test": "road test done",
    "leak_again": "no leak after the road test",
}


def level_key(method: str) -> str:
    """The kind of level method that a sheet's words name, or ""."""
    return next((key for key in LEVEL_BY if method.startswith(key)), "")


def by_bay(cautions: Iterable[str], *, is_pit: bool, wheels_are_down: bool) -> tuple[str, ...]:
    """Cautions as they hold where the vehicle stands: nothing is locked over a pit, no wheel hangs on its runways."""
    other = ({UNDER: UNDER_PIT} if is_pit else {}) | ({SWEEP: SWEEP_DOWN} if wheels_are_down else {})
    return tuple(other.get(said, said) for said in cautions)
