"""No input gives a figure that is none, a negative volume or a fault without a name: every quantity, fed at random.

The fine inputs of each quantity are taken apart; every leaf may become another value in or beyond its range, another
unit of its dimension, or no value at all; lists grow and shrink; each report is asked for.
"""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors, figures, measures
from shopserv.calc.figures_values import Value
from tests.calc.test_figures_errors import FINE

CHOICES = {
    "report": {
        "staged_exchange": ["levels", "new_used", "over_at_end", "removed", "fresh_stirred", "fresh_plug"],
        "adjusted_interval": ["distance", "months"],
        "due_date_distance": ["due", "early", "late"],
        "governing_clock": ["clock", "date"],
        "package_choice": ["counts", "cost", "surplus"],
        "tax_by_rate": ["total_tax", "by_rate", "total_with_tax"],
        "quote_total": ["subtotal", "discount", "taxable", "tax", "total"],
        "gross_margin": ["amount", "percent"],
        "authorization_limit": ["tolerance", "limit", "needs_consent"],
    },
    "model": ["stirred", "plug", "tanks"],
    "op": ["add", "drain", "pump", "batches", "mix"],
    "on": ["parts", "labor", "both", "container", "aboveground_tank"],
    "kind": ["none", "percent", "amount", "lesser_of", "greater_of"],
    "vehicle_class": ["light", "other"],
}
NEVER_NEGATIVE = {
    "oil_volume_correction",
    "oil_volume_at",
    "weighed_volume",
    "cool_down_time",
    "fresh_fraction_passes",
    "passes_needed",
    "fresh_fraction_exchange",
    "fresh_fraction_band",
    "exchange_volume_needed",
    "fluid_age_after",
    "water_after_exchange",
    "bucket_volume",
    "saturation_vapor_pressure",
    "relative_humidity",
    "absolute_humidity",
    "moisture_factor",
    "moisture_factor_measured",
    "thermal_factor",
    "combined_factor",
    "adjusted_interval",
    "partial_exchange_credit",
    "package_choice",
    "markup_price",
    "labor_tenths",
    "labor_charge",
    "shop_supplies",
    "document_discount",
    "payback_count",
    "diy_break_even",
}
NEVER_NEGATIVE_REPORTS = {"new_used", "removed", "fresh_stirred", "fresh_plug", "tolerance"}
NUMBERS = st.one_of(
    st.sampled_from(["0", "1", "-1", "0.5", "1e-9", "1e9", "-0", "1e300", "1e-300", "4000000", ".5", "100."]),
    st.integers(-(10**4), 10**4).map(lambda n: f"{n / 100:g}"),
)
JUNK = st.sampled_from(["", "L", "nan", "inf L", "1 quark", "1,5 L", "2026-02-30", None, True, [], {}, 7, 1.5, "EUR"])
DATES = st.dates(date(1, 1, 1), date(9999, 12, 31)).map(date.isoformat)
ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


def number_and_unit(text):
    """The unit of a value string, or None for another text."""
    figure, _, unit = text.partition(" ")
    try:
        float(figure)
    except ValueError:
        return None
    return unit


def other_leaf(draw, name, leaf, quantity):
    """Something else in place of a leaf."""
    if name in CHOICES:
        choices = CHOICES[name]
        return draw(st.sampled_from(choices[quantity] if isinstance(choices, dict) else choices))
    if isinstance(leaf, bool):
        return not leaf
    if isinstance(leaf, int):
        return draw(st.integers(-2, 210))
    if name == "vin":
        return draw(st.text(ALPHABET, min_size=15, max_size=18))
    if "date" in name or name.endswith("_due"):
        return draw(DATES)
    unit = number_and_unit(leaf) if isinstance(leaf, str) else None
    if unit is None:
        return leaf
    dimensions = measures.UNITS.get(unit, {})
    units = [u for u, has in measures.UNITS.items() if dimensions.keys() & has.keys()] or [unit]
    own = float(leaf.partition(" ")[0])
    figure = draw(st.one_of(st.integers(50, 150).map(lambda percent: f"{own * percent / 100:g}"), NUMBERS))
    if "USD" in unit:
        figure = f"{Decimal(draw(st.integers(-10_000, 900_000))) / 100}"
    return f"{figure} {draw(st.sampled_from([unit, unit, *units]))}".strip()


def other(draw, name, value, quantity):
    """The inputs with some leaves exchanged, and lists of another length."""
    if isinstance(value, dict):
        return {key: other(draw, key, one, quantity) for key, one in value.items()}
    if isinstance(value, list):
        is_kept = not value or draw(st.integers(0, 3))
        some = value if is_kept else draw(st.lists(st.sampled_from(value), max_size=4))
        return [other(draw, name, one, quantity) for one in some]
    fate = draw(st.integers(0, 24))
    if fate == 24:
        return draw(JUNK)
    return value if fate < 12 else other_leaf(draw, name, value, quantity)


def numbers_of(result):
    """All numbers of a result."""
    if isinstance(result, Value):
        return [result.magnitude]
    if isinstance(result, dict):
        return list(result.values())
    if isinstance(result, list):
        return [number for one in result for number in numbers_of(one)]
    return [result] if isinstance(result, int | float | Decimal | Fraction) else []


@pytest.mark.parametrize("quantity", sorted(figures.REGISTRY))
def test_a_quantity_answers_with_a_figure_or_a_named_error(quantity):
    answered = 0

    @settings(deadline=None, max_examples=settings.default.max_examples * 3 // 5, database=None)
    @given(st.data())
    def feed(data):
        nonlocal answered
        inputs = other(data.draw, "", FINE[quantity], quantity)
        try:
            result = figures.evaluate(quantity, inputs)
        except errors.CalcError as error:
            found = error
        else:
            found = None
        if found is not None:
            assert type(found) is not errors.CalcError, "an error needs a name"
            assert len(str(found)) > 10, "and says what is wrong"
            return
        answered += 1
        numbers = numbers_of(result)
        assert numbers or isinstance(result, str | date | list | dict)
        assert all(math.isfinite(number) for number in numbers)
        if quantity in NEVER_NEGATIVE or inputs.get("report") in NEVER_NEGATIVE_REPORTS:
            assert all(number >= 0 for number in numbers)

    feed()
    assert answered >= 3
