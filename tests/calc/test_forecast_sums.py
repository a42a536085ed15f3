"""The forecast where every figure can be worked by hand, what its working holds, and where the clocks tie."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest

from shopserv import calc
from shopserv.calc import bands, forecast
from shopserv.calc.forecast import ASSUMED_RATE, Job, Use
from shopserv.calc.mileage import Reading
from tests.calc.test_forecast import COAST, DRAIN_2023, TODAY, of_v01

DRY = (Fraction(0), Fraction(1))  # of water, and its limit: moisture 1
COOL = Use(Fraction(0), Fraction(0), ((Fraction(1), 79.0),))  # below the reference: heat 1
NEW_YEAR = date(2026, 1, 1)
RUN = [(date(2025, 1, 1), Fraction(0)), (NEW_YEAR, Fraction(1_000))]  # 1,000 mi in 365 days


def by_hand(**changes):
    """All new fluid on January 1, 2026, at 1,000 mi; 1,000 mi and 12 months to go, and so much is run in a year."""
    asked = {
        "unit": "mi",
        "base_distance": Fraction(1_000),
        "base_months": 12,
        "climate": COAST,
        "use": COOL,
        "first_use": None,
        "readings": RUN,
        "jobs": [Job(NEW_YEAR, Fraction(1_000), Fraction(1))],
        "today": TODAY,
        "measured": DRY,
    }
    return forecast.forecast(**{**asked, **changes})


def test_a_tie_of_the_clocks_goes_to_the_months():
    tie, sooner = by_hand(), by_hand(base_months=13)

    assert (tie.distance_due, tie.months_due, tie.governs) == (date(2027, 1, 1), date(2027, 1, 1), "months")
    assert (sooner.distance_due, sooner.months_due, sooner.governs) == (
        date(2027, 1, 1),
        date(2027, 2, 1),
        "distance",
    )


def test_the_working_holds_every_figure():
    working = dict(by_hand().working)

    assert working.pop("formula").startswith("due when the mean age of the fluid reaches the interval; ")
    assert working == {
        "version": calc.VERSION,
        "today": "2026-11-24",
        "unit": "mi",
        "moisture": 1.0,
        "moisture_is": "measured",
        "heat": 1.0,
        "base": ["1000", 12],
        "interval": ["1000", 12],
        "age_after_last_job": ["0", "0"],
        "counted_from": ["2026-01-01", "1000"],
        "credit": ["1000", "12"],
        "rate_a_day": ["200/73"] * 3,
        "assumptions": ["the first fluid was one interval old at the first job on record"],
    }


def test_factors_stand_in_the_working_with_six_places():
    found = of_v01(use=Use(Fraction("0.9"), Fraction(0), ((Fraction(1), 83.0),)))

    assert found.thermal == pytest.approx(2 ** (3.6 / 11.1))  # 79.4 °C doubles every 11.1 K: common practice, no source
    assert (found.working["heat"], found.working["moisture"]) == (1.252078, float(f"{found.moisture:.6f}"))
    assert found.working["moisture"] != found.moisture


def test_the_first_fluid_is_as_old_as_the_vehicle():
    found = of_v01(jobs=[])

    assert (found.age_after, found.age_after_months) == (0, 0)
    assert found.assumptions == ("the first fluid is still in",)
    assert found.working["counted_from"] == ["2019-04-02", "0"]


def test_a_vehicle_read_once_ran_from_nothing_on_its_first_day():
    """One mile in 100 days: with a mile more at the start it would not have moved."""
    first = TODAY - timedelta(days=100)

    found = of_v01(first_use=first, jobs=[], readings=[(TODAY, Fraction(1))])

    known = [Reading(first, Fraction(0)), Reading(TODAY, Fraction(1))]
    assert (found.rate_low, found.rate, found.rate_high) == bands.assumed_rates(known, Fraction(33_000), "mi")
    assert found.assumptions[-1] == ASSUMED_RATE


def test_assumed_rates_are_of_the_distance_at_which_the_credit_ends():
    found = of_v01(readings=[(TODAY, Fraction(63_180))], jobs=[DRAIN_2023, Job(TODAY, Fraction(63_180), Fraction(1))])

    known = [
        Reading(date(2019, 4, 2), Fraction(0)),
        Reading(DRAIN_2023.on, DRAIN_2023.distance),
        *[Reading(TODAY, Fraction(63_180))] * 2,
    ]
    at = Fraction(63_180 + 33_000)
    assert (found.rate_low, found.rate, found.rate_high) == bands.assumed_rates(known, at, "mi")
    assert found.rate_low != bands.assumed_rates(known, Fraction(63_180), "mi")[0]
