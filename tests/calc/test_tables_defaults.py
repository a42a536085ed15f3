"""What is taken where nothing is said, and the words of what is shown: each as the calculation promises it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from fractions import Fraction

from shopserv.calc import authorization, band_working
from shopserv.calc.mileage import Reading


def test_without_a_tax_said_the_base_before_tax_is_the_total():
    rule = authorization.ToleranceRule("percent", Fraction(1, 10), base="before_tax")

    assert authorization.base_of(rule, Decimal("442.95")) == Decimal("442.95")


def test_each_side_of_the_band_names_what_its_width_is_made_of():
    said = band_working.band_working([Reading(date(2026, 1, 1), Fraction(1000))], Fraction(3000), "mi")
    words = {one.symbol: one.words for one in said.given if one.symbol.endswith(("_b", "_a")) and one.symbol != "r_a"}

    made_of = {symbol[0]: one.partition(",")[0] for symbol, one in words.items()}
    assert len(words) == 2 * len(made_of)
    assert made_of == {
        "k": "factor",
        "u": "power of the unevenness",
        "v": "power of the unevenness once more",
        "z": "power of the weight of the average",
        "f": "power of what few readings leave open",
        "h": "power of the days ahead",
        "i": "power of the days ahead once more",
        "j": "power of the days ahead once more",
    }
