"""What is taken where nothing is said, and the words of what is shown: each as the calculation promises it."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from shopserv.calc import authorization, band_working, exchange, fleet_arrays, identify, oil, places, records, stages


def test_without_a_tax_said_the_base_before_tax_is_the_total():
    rule = authorization.ToleranceRule("percent", Fraction(1, 10), base="before_tax")

    assert authorization.base_of(rule, Decimal("442.95")) == Decimal("442.95")


def test_the_width_of_the_band_is_made_of_a_factor_and_powers():
    symbols = [symbol for symbol, _ in band_working.FIGURES.values()]

    assert band_working.FIGURES["factor"] == ("k", "factor")
    assert len(set(symbols)) == len(symbols)


def test_a_unit_may_hold_a_fifth_more_or_less_than_thought_unless_said_otherwise():
    low, high = exchange.fresh_fraction_band(Fraction("7.4"), 10, "stirred")

    assert low == pytest.approx(1 - math.exp(-10 / (7.4 * 1.2)), rel=1e-12)
    assert high == pytest.approx(1 - math.exp(-10 / (7.4 * 0.8)), rel=1e-12)


def test_new_fluid_has_no_age_unless_said_otherwise():
    assert exchange.fluid_age_after(Fraction(1, 4), 1000) == 750


def test_a_look_errs_never_costs_nothing_and_shows_always_unless_said_otherwise():
    look = identify.Question(
        "pan", "pan", ("6", "8"), {"A": {"6": Fraction(1)}, "B": {"6": Fraction(1, 2), "8": Fraction(1, 2)}}
    )

    assert (look.error, look.effort, look.unseen) == (0, 0, 0)
    assert [look.says(unit, answer) for unit, answer in (("A", "6"), ("A", "8"), ("B", "6"), ("C", "6"))] == [
        "fits",
        "speaks against",
        "may be",
        "may be",
    ]


def test_no_day_is_before_the_first():
    assert date.min.toordinal() > fleet_arrays.NO_DAY


def test_oil_of_which_no_density_is_said_has_850():
    # API MPMS 11.1 (2004), lubricating oils at 15 °C: alpha = 0.6278 / density
    step = 0.6278 / 850 * 45

    assert oil.oil_volume_at(1000, 15, 60) == pytest.approx(1000 * math.exp(step * (1 + 0.8 * step)), rel=1e-12)
    assert oil.oil_volume_correction(60) == pytest.approx(math.exp(-step * (1 + 0.8 * step)), rel=1e-12)


def test_a_place_without_a_rule_is_unknown_and_to_be_looked_up():
    found = places.rule_of("nowhere", {})

    assert (found.place, found.caution) == ("unknown", "look up before use")
    assert found.read in places.READ
    assert places.most_billed(found, Decimal("442.95")) == Decimal("442.95")


def test_without_a_tax_said_the_most_that_may_be_billed_has_none():
    percent = authorization.ToleranceRule("percent", Fraction(1, 10), base="before_tax")

    assert places.most_billed(replace(places.UNKNOWN, rule=percent), Decimal(100)) == 110
    assert places.most_billed(replace(places.UNKNOWN, rule=percent), Decimal(100), Decimal(10)) == 99


def test_used_oil_is_judged_by_the_rule_of_who_generates_it_unless_said_otherwise():
    # 40 CFR 279.10(b)(1)(ii): more than 1,000 ppm
    assert not records.used_oil_presumption(Fraction(1000, 10**6))
    assert records.used_oil_presumption(Fraction(1001, 10**6))


def test_what_pours_while_it_pumps_stops_at_the_pickup_unless_said_otherwise():
    assert stages.Batches(2, 2900) == stages.Batches(2, 2900, 0)
    assert stages.Pump() == stages.Pump(0, 0)
