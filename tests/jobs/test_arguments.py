"""Arguments of a calculation, kept and made again."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.balance import Amount
from shopserv.calc.bench import Axis
from shopserv.jobs import arguments


def test_what_was_kept_through_json_is_made_again_exactly():
    given = {
        "fill_ml": 7_400,
        "tilt": Fraction(1, 3),
        "price": Decimal("12.50"),
        "missing": None,
        "is_overdue": False,
        "axes": (Axis("fore-aft", Fraction(1, 10), None),),
        "amounts": (Amount("in", "bottle 4", mass_g=Fraction(8033, 10)),),
        "sources": {"tilt": "level L-1"},
        "known": (("the cooler is not full", -400),),
    }

    assert arguments.made(json.loads(json.dumps(arguments.kept(given)))) == given
