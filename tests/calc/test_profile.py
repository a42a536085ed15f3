"""Load profiles: shares of use and their sump temperatures.

Sources: arithmetic; temperatures of the kinds of use are common practice, no source. What always holds is tried with
many cases: a milder use never wears more.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import errors, intervals, profile

F = Fraction
DAY = [("city", F("0.7"), 80), ("highway", F("0.2"), 95), ("towing", F("0.1"), 108)]
SHARES = st.fractions(min_value=0, max_value=1, max_denominator=1000)
DEGREES = st.integers(40, 130)
BINS = st.lists(st.tuples(st.integers(1, 50), DEGREES), min_size=1, max_size=5).map(
    lambda rows: [(F(weight, sum(w for w, _ in rows)), at) for weight, at in rows]
)


def test_a_profile_is_its_bins():
    found = profile.loads(DAY)

    assert found[0] == profile.Load("city", F("0.7"), F(80))
    assert profile.bins_of(found) == ((F("0.7"), F(80)), (F("0.2"), F(95)), (F("0.1"), F(108)))
    assert f"{intervals.thermal_factor(profile.bins_of(found)):.3f}" == "1.853"


def test_what_takes_no_time_is_no_bin():
    assert profile.bins_of(profile.loads([("city", 1, 80), ("hill", 0, 95)])) == ((F(1), F(80)),)


@pytest.mark.parametrize(
    ("shares", "error", "words"),
    [
        ([("race", 1, 80)], errors.UnknownChoice, "'race' is not a kind of use of its own"),
        ([("city", F("0.5"), 80), ("city", F("0.5"), 90)], errors.UnknownChoice, "'city' is not"),
        ([("city", F("1.001"), 80)], errors.OutOfRange, "The share of city"),
        ([("city", F("-0.001"), 80)], errors.OutOfRange, "The share of city"),
        ([("city", 1, F("-45.1"))], errors.OutOfRange, "The temperature of the sump in °C"),
        ([("city", 1, F("180.1"))], errors.OutOfRange, "The temperature of the sump in °C"),
        ([("city", F("0.9"), 80)], errors.SharesDoNotSumToOne, "sum to 90 %; they must sum to 100 %"),
        ([], errors.SharesDoNotSumToOne, "sum to 0 %"),
    ],
)
def test_a_profile_that_cannot_be_is_refused(shares, error, words):
    with pytest.raises(error, match=words):
        profile.loads(shares)


def test_the_bounds_themselves_are_taken():
    assert profile.loads([("city", F("0.5"), -45), ("hill", F("0.499999"), 180)])[1].celsius == 180
    with pytest.raises(errors.SharesDoNotSumToOne):
        profile.loads([("city", F("0.5"), -45), ("hill", F("0.4999989"), 180)])


def test_another_share_of_towing_leaves_the_others_their_proportions():
    found = profile.with_towing(profile.loads(DAY), F("0.4"))

    assert [(one.kind, one.share) for one in found] == [("city", F(7, 15)), ("highway", F(2, 15)), ("towing", F("0.4"))]
    assert found[2].celsius == 108
    assert sum(one.share for one in found) == 1


def test_towing_that_was_never_told_of_is_as_hot_as_assumed():
    found = profile.with_towing(profile.loads([("city", 1, 80)]), F("0.25"))

    assert found == (profile.Load("city", F("0.75"), F(80)), profile.Load("towing", F("0.25"), F(108)))


def test_what_only_tows_cannot_tow_less():
    only = profile.loads([("towing", 1, 100)])

    assert profile.with_towing(only, 1) == only
    with pytest.raises(errors.OutOfRange, match="All of the time is towing"):
        profile.with_towing(only, F("0.5"))
    with pytest.raises(errors.OutOfRange, match="The share of towing"):
        profile.with_towing(only, F("1.01"))


def test_all_of_the_time_towing_leaves_nothing_else():
    found = profile.with_towing(profile.loads([("city", F("0.5"), 80), ("towing", F("0.5"), 100)]), 1)

    assert [one.share for one in found] == [0, 1]
    kept = profile.loads([("city", 0, 80), ("towing", 1, 100)])
    assert profile.with_towing(kept, 1) == kept


def test_a_share_at_a_temperature_is_taken_from_all_the_others():
    assert profile.with_share([(1, 80)], F("0.1"), 108) == ((F("0.9"), F(80)), (F("0.1"), F(108)))
    assert profile.with_share([(1, 80)], 0, 108) == ((F(1), F(80)),)
    assert profile.with_share([(1, 80)], 1, 108) == ((F(1), F(108)),)
    for share in (F("-0.1"), F("1.1")):
        with pytest.raises(errors.OutOfRange, match="The share of the time"):
            profile.with_share([(1, 80)], share, 108)
    with pytest.raises(errors.OutOfRange, match="sump"):
        profile.with_share([(1, 80)], F("0.1"), 181)


def test_the_rise_over_the_air_is_what_grows():
    assert profile.hotter([(1, 80)], 20, F("1.2")) == ((F(1), F(92)),)
    assert profile.hotter([(1, 80)], 20, F("0.8")) == ((F(1), F(68)),)
    assert profile.hotter([(1, 80)], 20, 0) == ((F(1), F(20)),)
    assert profile.hotter([(1, 10), (0, 20)], 20, 2) == ((F(1), F(10)), (F(0), F(20)))
    with pytest.raises(errors.OutOfRange, match="below zero"):
        profile.hotter([(1, 80)], 20, F("-0.1"))


@given(BINS, SHARES, SHARES, st.integers(108, 150))
def test_less_towing_never_wears_more(bins, one, other, hot):
    low, high = sorted((one, other))
    factors = [intervals.thermal_factor(profile.with_share(bins, share, 150)) for share in (low, high)]

    assert factors[0] <= factors[1] * (1 + 1e-12)
    assert intervals.adjusted_distance(60_000, 1, factors[0]) >= intervals.adjusted_distance(60_000, 1, factors[1])


@given(BINS, st.integers(-20, 35), st.fractions(0, 1), st.fractions(1, 2))
def test_a_smaller_rise_over_the_air_never_wears_more(bins, air, less, more):
    cool, warm = (intervals.thermal_factor(profile.hotter(bins, air, times)) for times in (less, more))

    assert cool <= intervals.thermal_factor(bins) * (1 + 1e-12)
    assert intervals.thermal_factor(bins) <= warm * (1 + 1e-12)


def test_every_kind_of_use_has_a_temperature_of_its_own_and_the_highway_adds_no_wear():
    assert tuple(profile.ASSUMED_C) == profile.KINDS
    assert profile.ASSUMED_C["highway"] < intervals.REFERENCE_C < profile.ASSUMED_C["highway"] + 1
