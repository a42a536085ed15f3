"""How sure the due days are: what scripts/calibrate_forecast.py found on simulated vehicles, as it was stored."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.calc.bands import AVERAGE_KM_A_YEAR
from shopserv.common import formats

WORDS: dict[str, str | Promise] = {
    "steady commuter": gettext_lazy("driven on working days, much the same"),
    "weekend vehicle": gettext_lazy("driven at weekends, little between"),
    "seasonal": gettext_lazy("more in one half of the year"),
    "holiday trips": gettext_lazy("little, and a few long trips"),
    "change of use half way": gettext_lazy("another use since half of its readings"),
    "fleet van": gettext_lazy("a fleet's van, routes that change"),
    "nearly parked": gettext_lazy("nearly parked"),
    "few and uneven readings": gettext_lazy("two to four readings, uneven"),
    "some wrong readings": gettext_lazy("one reading in twelve wrong, left out where found"),
    "one reading": gettext_lazy("one reading: the average counts"),
    "digit missing": gettext_lazy("a digit missing"),
    "digit twice": gettext_lazy("a digit typed twice"),
    "other unit": gettext_lazy("miles and kilometers mixed up"),
    "trip meter": gettext_lazy("the trip meter"),
    "two digits exchanged": gettext_lazy("two digits exchanged"),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One group of cases: how many; of a hundred true days, how many in the band, before, after it; late over early.

    again   of a hundred in the band, on the other vehicles
    """

    words: str | Promise
    cases: str
    held: str
    again: str
    before: str
    after: str
    wide: str


@dataclass(frozen=True, slots=True)
class Part:
    """All cases parted in one way: its head, and a row for each group."""

    head: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind of wrong reading: how many; of a hundred, how many were doubted and for how many the right one named."""

    words: str | Promise
    wrong: str
    found: str
    mended: str


@dataclass(frozen=True, slots=True)
class HowSure:
    """What was found; shares of a hundred.

    average    distance a year, km, as published
    again      on other vehicles, made up with other seeds
    contract   of the band of the pair slopes alone
    least, most  of all groups and both tries
    near, far    those due soonest and last after the last reading
    """

    cases: str
    held: str
    average: str
    again_cases: str
    again_held: str
    contract: str
    least: str
    most: str
    near: Row
    far: Row
    parts: tuple[Part, ...]
    faults: tuple[Fault, ...]
    found: str
    right: str
    doubted: str


def how_sure() -> HowSure:
    """What was found, from the file that the script wrote, in the figures and words of the page."""
    read = _read()
    kinds, again = read["faults"]["kinds"], read["again"]
    wrong, found = (sum(row[name] for row in kinds.values()) for name in ("wrong", "found"))
    shapes = [_row(WORDS[name], row, again["shapes"][name]) for name, row in read["shapes"].items()]
    ahead = [
        _row(_("due %(n)s days after the last reading") % {"n": n}, row, again["days ahead"][n])
        for n, row in read["days ahead"].items()
    ]
    known = [_row(_known(n), row, again["readings"][n]) for n, row in read["readings"].items()]
    shares = [
        Fraction(row["held"], row["cases"])
        for tried in (read, again)
        for kind in ("shapes", "days ahead", "readings")
        for row in tried[kind].values()
    ]
    return HowSure(
        cases=formats.number(read["cases"]),
        held=_of_hundred(read["held"], read["cases"]),
        average=formats.number(AVERAGE_KM_A_YEAR),
        again_cases=formats.number(again["cases"]),
        again_held=_of_hundred(again["held"], again["cases"]),
        least=formats.number(100 * min(shares), 1),
        most=formats.number(100 * max(shares), 1),
        contract=_of_hundred(read["contract_held"], read["contract_cases"]),
        near=ahead[0],
        far=ahead[-1],
        parts=(
            Part(_("by how it is driven and read"), tuple(shapes)),
            Part(_("the same by how far ahead it is due"), tuple(ahead)),
            Part(_("the same by how many readings are known"), tuple(known)),
        ),
        faults=tuple(
            Fault(
                WORDS[name],
                formats.number(row["wrong"]),
                _of_hundred(row["found"], row["wrong"]),
                _of_hundred(row["mended"], row["wrong"]),
            )
            for name, row in kinds.items()
        ),
        found=_of_hundred(found, wrong),
        right=formats.number(read["faults"]["right"]),
        doubted=formats.number(read["faults"]["doubted"]),
    )


@cache
def _read() -> dict[str, Any]:
    read: dict[str, Any] = json.loads((Path(settings.BASE_DIR) / "fixtures" / "how_sure.json").read_text("utf-8"))
    return read


def _known(count: str) -> str:
    return _("1 reading known") if count == "1" else _("%(n)s readings known") % {"n": count}


def _row(words: str | Promise, row: Mapping[str, Any], again: Mapping[str, Any]) -> Row:
    wide = formats.number(Fraction(str(row["late_over_early"])), 1)
    held, before = _of_hundred(row["held"], row["cases"]), _of_hundred(row["early"], row["cases"])
    other = _of_hundred(again["held"], again["cases"])
    after = _of_hundred(row["cases"] - row["held"] - row["early"], row["cases"])
    return Row(words, formats.number(row["cases"]), held, other, before, after, wide)


def _of_hundred(part: int, whole: int) -> str:
    return formats.number(Fraction(100 * part, whole), 1)
