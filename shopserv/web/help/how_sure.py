"""How sure the due days are: what scripts/calibrate_forecast.py found on simulated vehicles, as it was stored."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

WORDS: dict[str, str | Promise] = {
    "steady commuter": _("driven on working days, much the same"),
    "weekend vehicle": _("driven at weekends, little between"),
    "seasonal": _("more in one half of the year"),
    "holiday trips": _("little, and a few long trips"),
    "change of use half way": _("another use since half of its readings"),
    "fleet van": _("a fleet's van, routes that change"),
    "nearly parked": _("nearly parked"),
    "few and uneven readings": _("two to four readings, uneven"),
    "some wrong readings": _("one reading in twelve wrong, left out where found"),
    "one reading": _("one reading: the average counts"),
    "digit missing": _("a digit missing"),
    "digit twice": _("a digit typed twice"),
    "other unit": _("miles and kilometers mixed up"),
    "trip meter": _("the trip meter"),
    "two digits exchanged": _("two digits exchanged"),
}


@dataclass(frozen=True, slots=True)
class Row:
    """One group of cases: how many, in how many of a hundred the true day lay in the band, and before it."""

    words: str | Promise
    cases: int
    held: float
    before: float
    wide: float


@dataclass(frozen=True, slots=True)
class Fault:
    """A kind of wrong reading: how many, in how many of a hundred it was doubted, and what was meant was named."""

    words: str | Promise
    wrong: int
    found: float
    mended: float


@dataclass(frozen=True, slots=True)
class HowSure:
    """The whole table; shares of a hundred. contract: of the band of the pair slopes alone."""

    cases: int
    held: float
    contract: float
    shapes: tuple[Row, ...]
    ahead: tuple[Row, ...]
    readings: tuple[Row, ...]
    faults: tuple[Fault, ...]
    found: float
    right: int
    doubted: int


@cache
def how_sure() -> HowSure:
    """What was found, from the file that the script wrote."""
    read = json.loads((Path(settings.BASE_DIR) / "fixtures" / "how_sure.json").read_text("utf-8"))
    kinds = read["faults"]["kinds"]
    return HowSure(
        cases=read["cases"],
        held=_of_hundred(read["held"], read["cases"]),
        contract=_of_hundred(read["contract_held"], read["contract_cases"]),
        shapes=_rows(read["shapes"]),
        ahead=_rows(read["days ahead"]),
        readings=_rows(read["readings"]),
        faults=tuple(
            Fault(
                WORDS[name],
                row["wrong"],
                _of_hundred(row["found"], row["wrong"]),
                _of_hundred(row["mended"], row["wrong"]),
            )
            for name, row in kinds.items()
        ),
        found=_of_hundred(sum(row["found"] for row in kinds.values()), sum(row["wrong"] for row in kinds.values())),
        right=read["faults"]["right"],
        doubted=read["faults"]["doubted"],
    )


def _rows(rows: Mapping[str, Mapping[str, Any]]) -> tuple[Row, ...]:
    return tuple(
        Row(
            WORDS.get(name, name),
            row["cases"],
            _of_hundred(row["held"], row["cases"]),
            _of_hundred(row["early"], row["cases"]),
            row["late_over_early"],
        )
        for name, row in rows.items()
    )


def _of_hundred(part: int, whole: int) -> float:
    return round(100 * part / whole, 1)
