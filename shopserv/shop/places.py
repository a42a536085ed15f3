"""The rules of places that come with the program: what the law of each lets a bill go beyond what was agreed."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from django.conf import settings

from shopserv.calc.places import PlaceRule, place_rules

FILE = "rules_of_places.json"


@cache
def known_places() -> tuple[PlaceRule, ...]:
    """Every rule of `fixtures/rules_of_places.json`, by the name of its place."""
    kept = json.loads((Path(settings.BASE_DIR) / "fixtures" / FILE).read_text("utf-8"))
    return tuple(sorted(place_rules(kept["places"]).values(), key=lambda one: one.place))
