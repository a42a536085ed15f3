"""The rules of places that come with the program: what the law of each lets a bill go beyond what was agreed."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from django.conf import settings

from shopserv.calc.money import amount, cents
from shopserv.calc.places import PlaceRule, most_billed, place_rules, rule_of

FILE = "rules_of_places.json"


@cache
def known_places() -> tuple[PlaceRule, ...]:
    """Every rule of `fixtures/rules_of_places.json`, by the name of its place."""
    kept = json.loads((Path(settings.BASE_DIR) / "fixtures" / FILE).read_text("utf-8"))
    return tuple(sorted(place_rules(kept["places"]).values(), key=lambda one: one.place))


def most_on(agreed_cents: int) -> tuple[tuple[PlaceRule, int], ...]:
    """Each known rule, and that of a place nobody looked up, with the most that may be billed on a total, in cents.

    agreed_cents   without tax
    """
    unknown = rule_of("", {one.code: one for one in known_places()})
    return tuple((one, cents(most_billed(one, amount(agreed_cents)))) for one in (*known_places(), unknown))
