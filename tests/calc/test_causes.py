"""What may have happened where in and out do not agree. Weights against numerical integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shopserv.calc import errors
from shopserv.calc.causes import MORE_IN, MORE_OUT, causes_of


def said(difference, band, known=()):
    return [cause.words for cause in causes_of(difference, band, known)]


def test_what_fits_no_known_amount_is_told_in_general():
    assert said(2_000, 50, [("cooler", 450)])[0] == MORE_IN[0]
    assert said(-2_000, 50, [("cooler", -450)])[0] == MORE_OUT[0]
    assert said(430, 50, [("cooler", 450)])[0] == "cooler"
    assert said(-430, 50, [("cooler", 450)]) == [MORE_OUT[0], "cooler"]


def test_nothing_known_leaves_what_is_always_possible():
    only = causes_of(300, 40, ())[0]

    assert (only.words, only.low_ml, only.high_ml, only.left_ml, only.explains) == (MORE_IN[0], 0, 2_000, 0, True)
    assert only.weight == 1
    assert causes_of(0, 40, ())[0].words == MORE_OUT[0]
    assert causes_of(0.5, 40, ())[0].words == MORE_IN[0]
    assert [(one.low_ml, one.high_ml) for one in causes_of(-300, 40, ())] == [(-2_000, 0)]


def test_a_difference_beyond_the_reach_carries_the_reach_along():
    assert causes_of(9_000, 40, ())[0].high_ml == 9_000
    assert causes_of(-9_000, 40, ())[0].low_ml == -9_000


def test_one_amount_outweighs_a_wide_range_as_bayes_has_it():
    bottle, spill = causes_of(1_027, 70, [("bottle", 946)])

    assert (bottle.words, bottle.left_ml, bottle.explains) == ("bottle", 81, True)
    expected = stats.norm(946, 70).pdf(1_027) / (
        np.trapezoid(stats.norm(1_027, 70).pdf(np.linspace(0, 2_000, 20_001)), dx=0.1) / 2_000
    )
    assert bottle.weight / spill.weight == pytest.approx(expected, rel=1e-6)
    assert bottle.weight / spill.weight == pytest.approx(5.84, abs=0.01)
    assert bottle.weight + spill.weight == pytest.approx(1)


def test_a_narrow_range_outweighs_a_wide_one():
    found = causes_of(120, 30, [("low before", 0, 300), ("left over", 100, 140), ("other", 90, None)])

    assert [cause.words for cause in found] == ["left over", "low before", MORE_IN[0], "other"]
    assert [(cause.low_ml, cause.high_ml) for cause in found] == [(100, 140), (0, 300), (0, 2_000), (90, 2_090)]
    inside = np.trapezoid(stats.norm(120, 30).pdf(np.linspace(100, 140, 40_001)), dx=0.001)
    half = np.trapezoid(stats.norm(120, 30).pdf(np.linspace(0, 300, 30_001)), dx=0.01)
    assert found[0].weight / found[1].weight == pytest.approx(inside / 40 / (half / 300), rel=1e-6)


def test_what_is_left_counts_from_the_nearer_end():
    below, above = (causes_of(value, 10, [("range", 100, 140)]) for value in (70, 155))

    assert {cause.words: cause.left_ml for cause in below}["range"] == 30
    assert {cause.words: cause.left_ml for cause in above}["range"] == 15


def test_explaining_ends_at_twice_the_band():
    assert {c.words: c.explains for c in causes_of(120, 10, [("one", 100)])}["one"] is True
    assert {c.words: c.explains for c in causes_of(121, 10, [("one", 100)])}["one"] is False


def test_a_band_below_the_smallest_step_counts_as_that():
    assert causes_of(1.5, 0, [("one", 1)])[0].weight == causes_of(1.5, 1, [("one", 1)])[0].weight
    assert causes_of(1.5, 0, [("one", 1)])[0].explains is True
    assert causes_of(1.5, 2, [("one", 1)])[0].weight != causes_of(1.5, 1, [("one", 1)])[0].weight


def test_an_open_beginning_reaches_back_from_the_end_that_is_known():
    found = {cause.words: cause for cause in causes_of(-500, 20, [("below", None, -100), ("all", None, None)])}

    assert (found["below"].low_ml, found["below"].high_ml) == (-2_100, -100)
    assert (found["all"].low_ml, found["all"].high_ml) == (-2_000, 0)


def test_a_range_that_ends_before_it_begins_is_refused():
    with pytest.raises(errors.OutOfRange, match="left over: from 5 to 4 mL"):
        causes_of(10, 1, [("left over", 5, 4)])


@given(
    st.floats(-5_000, 5_000),
    st.floats(0, 500),
    st.lists(st.tuples(st.text(min_size=1, max_size=3), st.floats(-3_000, 3_000)), max_size=5),
)
def test_weights_are_shares_of_one_and_fall(difference, band, known):
    found = causes_of(difference, band, known)

    weights = [cause.weight for cause in found]
    assert math.fsum(weights) == pytest.approx(1)
    assert weights == sorted(weights, reverse=True)
    assert len(found) == len(known) + 1
