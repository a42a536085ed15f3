"""What can be seen on the units of the scenario, from `fixtures/looks.json`."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings

from shopserv.catalog.models import Fitment, IdentifyRule, Look, Unit, UnitFeature
from shopserv.demo.rows import INVENTED, Tally, ppm, the_day


def told() -> dict[str, Any]:
    """The whole of `fixtures/looks.json`."""
    data: dict[str, Any] = json.loads((Path(settings.BASE_DIR) / "fixtures" / "looks.json").read_text("utf-8"))
    return data


def load_looks(tally: Tally, units: dict[str, Unit]) -> None:
    """Looks, what they show on each unit, the fitments that only a look can tell apart, and the rule."""
    data = told()
    looks = tally.ensure(Look, ("code",), [_look(one) for one in data["looks"]])
    features = [
        UnitFeature(unit=units[row["unit"]], look=looks[(code,)], answer=answer, source=INVENTED)
        for row in data["features"]
        for code, answer in row.items()
        if code != "unit"
    ]
    tally.ensure(UnitFeature, ("unit", "look"), features)
    fitments = [
        Fitment(
            wmi=one["wmi"],
            make=one["make"],
            model=one["model"],
            year_from=one["years"][0],
            year_to=one["years"][1],
            wheels_driven=one["wheels_driven"],
            unit=units[one["unit"]],
            weight_ppm=ppm(one["weight"]),
        )
        for one in data["fitments"]
    ]
    tally.ensure(Fitment, ("make", "model", "year_from", "year_to", "wheels_driven", "unit"), fitments)
    rule = data["rule"]
    row = IdentifyRule(
        confidence_ppm=ppm(rule["confidence"]),
        file_error_ppm=ppm(rule["file_error"]),
        wrong_cents=rule["wrong_cents"],
        pairs=rule["pairs"],
        from_on=the_day(rule["from"]),
        source=INVENTED,
    )
    tally.ensure(IdentifyRule, ("from_on",), [row])


def _look(one: dict[str, Any]) -> Look:
    return Look(
        code=one["code"],
        words=one["words"],
        how=one["how"],
        reads=one["reads"],
        of=one.get("of", ""),
        answers=one["answers"],
        minutes=one["minutes"],
        error_ppm=ppm(one["error"]),
        unseen_ppm=ppm(one["unseen"]),
        source=INVENTED,
    )
