"""The sum behind a band repeats the band, step by step."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from math import exp, log

import pytest

from shopserv.calc.band_working import band_working
from shopserv.calc.bands import AVERAGE_A_DAY, FIT, KM_PER_MI, LONGEST_PAST, outlook
from shopserv.calc.mileage import Reading

FIRST = date(2026, 1, 1)
READINGS = [Reading(FIRST + timedelta(days=day), Fraction(far)) for day, far in ((0, 1000), (90, 4000), (200, 7000))]


def test_the_formulas_give_the_edges_again():
    said = band_working(READINGS, Fraction(3000), "mi")
    given = {one.symbol: one.value for one in said.given}
    step = {one.words: one.value for one in said.steps}

    assert (given["T"], given["L"], given["n"], given["l"]) == (200, 6000, 3, 3000)
    known = step["unevenness, own and usual weighed"] / given[r"\sigma"] ** 2
    weight = 200 / (200 + known)
    rate = exp(weight * log(6001 / 200) + (1 - weight) * log(given["r_a"]))
    days = 3000 / rate
    phi = step["unevenness, own and usual weighed"]
    width = (phi * (1 / days + given["p"] / (200 + known))) ** (given["q"] / 2)
    assert step["own distance a day"] == 30
    assert (step["weight of its own driving"], step["distance a day"]) == pytest.approx((weight, rate))
    assert (said.value, step["width"]) == pytest.approx((days, width))
    assert (said.low, said.high) == pytest.approx((days * exp(-given["b"] * width), days * exp(given["a"] * width)))
    last = READINGS[-1].on
    assert step["early edge"] == last + timedelta(days=round(said.low))
    assert step["late edge"] == last + timedelta(days=round(said.high))
    assert step["days from the last reading"] == said.value
    assert given["r_a"] == AVERAGE_A_DAY


def test_in_kilometers_the_average_is_in_kilometers():
    said = band_working([READINGS[0]], Fraction(3000), "km")
    given = {one.symbol: one for one in said.given}

    assert given["r_a"].value == pytest.approx(AVERAGE_A_DAY * float(KM_PER_MI))
    assert given["r_a"].unit == "km/day"
    assert said.steps[0].words == "unevenness, own and usual weighed"  # one reading: no own rate
    assert said.value == outlook([READINGS[0]], Fraction(3000), "km").days


def test_no_more_past_counts_than_was_tried():
    long = [READINGS[0], Reading(FIRST + timedelta(days=3000), Fraction(90_000))]

    assert {one.symbol: one.value for one in band_working(long, Fraction(1), "mi").given}["T"] == LONGEST_PAST


def test_it_is_kept_as_plain_values():
    kept = band_working(READINGS, Fraction(3000), "mi").as_dict()

    assert kept["inputs"][5]["value"] == FIT.spread
    assert kept["steps"][-1]["value"] > kept["steps"][-2]["value"]
