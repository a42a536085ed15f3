"""What the presses of a work order say together: what counts, the latest reading, what is in and what is out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from shopserv.calc import oil
from shopserv.calc.balance import Amount
from shopserv.jobs.models import BayEvent

REDO = "redo"
USED_DENSITY_15 = 862  # kg/m³ of what comes out, its make rarely known; common practice, no source
SHELF_C = 20  # new fluid as it stands on the shelf; common practice, no source
WARM_C = 40  # of fluid nobody has read; common practice, no source


def counted(events: Iterable[BayEvent]) -> list[BayEvent]:
    """The events that count, in their order: of a step that was redone only those since.

    Of one vessel (step, what is read, words) the newest reading stands: a key pressed twice corrects, another vessel
    has other words.
    """
    rows = sorted(events, key=lambda event: event.pk)
    since = {event.step_id: event.pk for event in rows if event.what == REDO}
    rows = [event for event in rows if event.pk > since.get(event.step_id, 0)]
    newest = {_vessel(event): event.pk for event in rows}
    return [event for event in rows if event.value is None or newest[_vessel(event)] == event.pk]


def _vessel(event: BayEvent) -> tuple[int | None, str, str]:
    if event.what == "package_g":  # each a package of its own
        return event.step_id, event.what, str(event.pk)
    return event.step_id, event.what, event.words


def latest(events: Iterable[BayEvent], what: str, step_pk: int | None = None) -> BayEvent | None:
    """The newest reading of `what`, of one step if it is named; none where it was not read."""
    found = None
    for event in counted(events):
        if event.what == what and step_pk in (None, event.step_id):
            found = event
    return found


def is_apart(event: BayEvent) -> bool:
    """Whether an event is a flow proof whose fluid is no part of the first stage, which drains elsewhere."""
    return event.what == "flow_g" and event.step is not None and bool(event.step.limits.get("counts_apart"))


def amounts(events: Iterable[BayEvent]) -> list[Amount]:
    """Every vessel that was weighed or read; where one step has both for one way, the weight stands.

    The flow proof is out by itself where its step says so. A leftover counts only where its own package was counted in
    as a whole, by the same words: what was poured stage by stage never held it.
    A volume that came out has the temperature read at its step, else the last one read before it.
    """
    rows = counted(events)
    whole = {event.words for event in rows if event.what.startswith("in_") and event.words}
    weighed = {(event.step_id, event.what.split("_")[0]) for event in rows if event.what.endswith("_g")}
    found, warmth = [], {}
    last: Fraction | None = None
    for event in rows:
        if event.what == "temp_mdegc" and event.value is not None:
            last = warmth[event.step_id] = Fraction(event.value, 1000)
    last = None
    for event in rows:
        way, _, unit = event.what.partition("_")
        if event.what == "temp_mdegc" and event.value is not None:
            last = Fraction(event.value, 1000)
        if is_apart(event) and event.value is not None:
            found.append(Amount("out", "flow proof", mass_g=event.value))
        if way not in ("in", "out", "left") or event.value is None or (way == "left" and event.words not in whole):
            continue
        words = event.words or (event.step.code.replace("_", " ") if event.step else way)
        if unit == "g":
            found.append(Amount(way, words, mass_g=event.value))
        elif unit == "ml" and (event.step_id, way) not in weighed:
            celsius = warmth.get(event.step_id, last) if way == "out" else Fraction(SHELF_C)
            found.append(Amount(way, words, volume_ml=event.value, at_c=celsius))
    return found


def left_over_ml(events: Iterable[BayEvent]) -> int | None:
    """What was left over as it was read, counted in the balance or not; a weight as volume at 40 °C; none: not read."""
    rows = [event for event in counted(events) if event.what in ("left_ml", "left_g") and event.value is not None]
    if not rows:
        return None
    read = [Amount("left", "", **{"mass_g" if row.what == "left_g" else "volume_ml": row.value}) for row in rows]
    return round(sum(_volume(amount) for amount in read))


def totals(events: Sequence[BayEvent]) -> tuple[int, int]:
    """(in, out) so far in mL, leftovers taken off; a weight as volume at 40 °C."""
    put_in = out = 0.0
    for amount in amounts(events):
        ml = _volume(amount)
        if amount.way == "out":
            out += ml
        else:
            put_in += ml if amount.way == "in" else -ml
    return round(put_in), round(out)


def level_now(events: Sequence[BayEvent]) -> int:
    """Where the level stands against where it stood before, in mL: in less out so far."""
    put_in, out = totals(events)
    return put_in - out


def _volume(amount: Amount) -> float:
    if amount.mass_g is None:
        return float(amount.volume_ml or 0)
    density = USED_DENSITY_15 if amount.way == "out" else 850
    return oil.weighed_volume(Fraction(amount.mass_g) / 1000, density, WARM_C) * 1000
