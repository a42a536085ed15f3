"""The sum behind a band repeats the band, step by step."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from itertools import pairwise
from math import exp, floor, log

import pytest

from shopserv.calc import band_working as band_working_module
from shopserv.calc.band_working import band_working
from shopserv.calc.bands import AVERAGE_A_DAY, FIT, KM_PER_MI, LONGEST_PAST, outlook
from shopserv.calc.mileage import Reading

FIRST = date(2026, 1, 1)
READINGS = [Reading(FIRST + timedelta(days=day), Fraction(far)) for day, far in ((0, 1000), (90, 4000), (200, 7000))]


WAVE = [Fraction(far) for far in (0, 3900, 7500, 8400, 9300, 13_200)]  # more in one half of the year
YEARLY = [Reading(FIRST + timedelta(days=91 * place), far) for place, far in enumerate(WAVE)]


@pytest.mark.parametrize(("readings", "span", "run"), [(READINGS, 200, 6000), (YEARLY, 455, 13_200)])
@pytest.mark.parametrize("left", [600, 3000, 15_000])
def test_the_formulas_give_the_edges_again(readings, span, run, left):
    said = band_working(readings, Fraction(left), "mi", Fraction(28))
    given = {one.symbol: one.value for one in said.given}
    step = {one.words: one.value for one in said.steps}

    assert (given["T"], given["L"], given["n"], given["l"]) == (span, run, len(readings), left)
    known = step["unevenness, own and usual weighed"] / given[r"\sigma"] ** 2
    weight = span / (span + known)
    drawn = exp(weight * log((run + 1) / span) + (1 - weight) * log(given["r_a"]))
    days = left / 28
    phi = step["unevenness, own and usual weighed"]
    over, under = max(1, days / given["H_1"]), min(1, days / given["H_1"])
    share = step["share of the unevenness that goes with the time of the year"]
    assert (share > 0.5) == (readings is YEARLY)
    widths = [
        given[f"k_{side}"]
        * (phi / given[r"\phi_0"]) ** (given[f"u_{side}"] + given[f"y_{side}"] * log(over))
        * min(1, phi / given[r"\phi_0"]) ** given[f"v_{side}"]
        * (1 - weight) ** given[f"z_{side}"]
        * (1 + 1 / (given["n"] - 1)) ** given[f"f_{side}"]
        * (28 / drawn) ** given[f"d_{side}"]
        * (days / given["H_1"]) ** given[f"h_{side}"]
        * under ** given[f"i_{side}"]
        * max(1, days / given["H_2"]) ** given[f"j_{side}"]
        * (exp(given[f"c_{side}"]) * over ** given[f"g_{side}"] * under ** given[f"m_{side}"]) ** share
        for side in "ba"
    ]
    assert step["own distance a day"] == run / span
    assert (step["weight of its own driving"], step["distance a day drawn towards the average"]) == pytest.approx(
        (weight, drawn)
    )
    assert said.value == floor(days + 0.5)
    assert [step["width to the early edge"], step["width to the late edge"]] == pytest.approx(widths)
    assert said.low == floor(days * exp(-widths[0]) + 0.5)
    assert said.high == floor(days * exp(widths[1]) + 0.5)
    # the formulas of the unevenness
    per, stretches = (run + 1) / span, [(b.on - a.on, b.distance - a.distance) for a, b in pairwise(readings)]
    usual, m, p = given["U_0"] / per, len(stretches), given["p"]
    own = sum(float(far - Fraction(run, span) * d.days) ** 2 / (d.days * per**2) for d, far in stretches) / m
    assert phi == pytest.approx((usual**p * (own + given["g"] * usual) ** m) ** (1 / (p + m)))
    last = readings[-1].on
    assert step["early edge"] == last + timedelta(days=round(said.low))
    assert step["late edge"] == last + timedelta(days=round(said.high))
    assert step["days from the last reading to the likely day"] == said.value
    assert given["r_a"] == AVERAGE_A_DAY


def test_in_kilometers_the_average_is_in_kilometers():
    said = band_working([READINGS[0]], Fraction(3000), "km", Fraction(45))
    given = {one.symbol: one for one in said.given}

    assert given["r_a"].value == pytest.approx(AVERAGE_A_DAY * float(KM_PER_MI))
    assert given["r_a"].unit == "km/day"
    assert said.steps[0].words == "unevenness, own and usual weighed"  # one reading: no own rate
    assert said.value == floor(outlook([READINGS[0]], Fraction(3000), "km", Fraction(45)).days + 0.5) == 67
    assert given["U_0"].value == pytest.approx(FIT.usual_mi * 1.609344)


def test_no_more_past_counts_than_was_tried():
    long = [READINGS[0], Reading(FIRST + timedelta(days=3000), Fraction(90_000))]

    assert {one.symbol: one.value for one in band_working(long, Fraction(1), "mi", Fraction(30)).given}[
        "T"
    ] == LONGEST_PAST


def test_it_is_kept_as_plain_values():
    kept = band_working(READINGS, Fraction(3000), "mi", Fraction(28)).as_dict()

    assert kept["inputs"][6]["value"] == FIT.spread
    assert kept["steps"][-1]["value"] > kept["steps"][-2]["value"]


def test_each_figure_of_the_fit_stands_with_its_words_for_both_edges():
    given = band_working(READINGS, Fraction(3000), "mi", Fraction(28)).given

    for symbol, edge, side in (("b", "early edge", FIT.below), ("a", "late edge", FIT.above)):
        of_side = [one for one in given if one.words.endswith(edge)]
        assert [one.symbol for one in of_side] == [f"{letter}_{symbol}" for letter in "kuvyzfhijcmgd"]
        assert [(one.words, one.value) for one in of_side] == [
            (f"factor, {edge}", side.factor),
            (f"power of the unevenness, {edge}", side.uneven),
            (f"power of the unevenness once more, where it is low, {edge}", side.even),
            (f"power of the unevenness once more, for the days ahead where they are not few, {edge}", side.uneven_far),
            (f"power of the weight of the average, {edge}", side.unknown),
            (f"power of what few readings leave open, {edge}", side.few),
            (f"power of the days ahead, {edge}", side.ahead),
            (f"power of the days ahead once more, where they are few, {edge}", side.short),
            (f"power of the days ahead once more, where they are many, {edge}", side.long),
            (f"power of the share of the season, {edge}", side.season),
            (f"power of the share of the season once more, where the days ahead are few, {edge}", side.season_short),
            (f"power of the share of the season once more, where the days ahead are not few, {edge}", side.season_far),
            (f"power of the distance a day over the one drawn towards the average, {edge}", side.drawn),
        ]  # fmt: skip


def test_no_width_is_above_the_cap_and_the_formula_says_so():
    uneven = [Reading(FIRST + timedelta(days=day), Fraction(far)) for day, far in ((0, 0), (10, 9000), (400, 9010))]
    said = band_working(uneven, Fraction(30_000), "mi", Fraction(2))
    step = {one.words: one.value for one in said.steps}

    assert step["width to the late edge"] == 3.0
    assert sum(r"s = \min\left(3,\; k" in one for one in said.formulas) == 1


@pytest.mark.parametrize(("left", "is_far"), [(20_000, False), (200_000, True)])
def test_a_late_edge_of_more_than_ten_years_is_told_as_that(left, is_far):
    found = outlook(READINGS, Fraction(left), "mi", Fraction(28))
    said = band_working(READINGS, Fraction(left), "mi", Fraction(28))

    assert (found.late_days > 3652) == is_far == (said.high is None)
    assert (said.steps[-1].value == "more than ten years after the last reading") == is_far
    assert said.low == floor(found.early_days + 0.5)


@pytest.mark.parametrize(("days", "is_far"), [(3652.0, False), (3652.1, True)])
def test_ten_years_are_told_by_their_day(monkeypatch, days, is_far):
    monkeypatch.setattr(
        band_working_module, "outlook", lambda *_: replace(outlook(READINGS, Fraction(9), "mi"), late_days=days)
    )

    assert (band_working(READINGS, Fraction(9), "mi", Fraction(28)).high is None) == is_far
