"""Wrong odometer readings: each kind found in a series, named, and its odds said. Source: common practice, no source.

How many are found, and how many right ones are doubted, is measured on simulated series in test_how_sure.py.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from math import exp, log, pi

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopserv.calc import errors, readings
from shopserv.calc.readings import Typed, Verdict, verdicts

FIRST = date(2026, 1, 1)
LINE = [(0, 10_000), (100, 13_000), (200, 16_050), (300, 19_000), (400, 22_100)]
RIGHT = ("right", None)


def judged(*pairs: tuple[int, int], unit: str = "mi", digits: int = 6, sure: tuple[int, ...] = ()) -> list[Verdict]:
    typed = [
        Typed(FIRST + timedelta(days=day), Fraction(figure), is_sure=i in sure) for i, (day, figure) in enumerate(pairs)
    ]
    return list(verdicts(typed, unit, digits=digits))


def kinds(found: list[Verdict]) -> list[tuple[str, int | None]]:
    return [(one.kind, one.meant) for one in found]


def with_figure(place: int, figure: int) -> list[tuple[int, int]]:
    return [(day, figure if i == place else right) for i, (day, right) in enumerate(LINE)]


def test_a_series_of_right_readings_is_certain():
    assert judged(*LINE) == [Verdict("right", None, 1.0, 1.0)] * 5


@pytest.mark.parametrize(
    ("typed", "kind", "meant", "odds"),
    [
        (61_050, "two digits exchanged", 16_050, 0.9875),
        (16_050 * 10, "one digit wrong", 16_050, 0.0),
        (160_050, "a digit twice", 16_050, 0.9981),
        (25_830, "other unit", 16_050, 0.9556),
        (412, "trip meter", None, 0.9973),
    ],
)
def test_one_wrong_reading_is_named_with_what_was_meant(typed, kind, meant, odds):
    found = judged(*with_figure(2, typed))

    assert [one.is_doubted for one in found] == [False, False, True, False, False]
    if odds:
        assert kinds(found)[2] == (kind, meant)
        assert found[2].odds == pytest.approx(odds, abs=1e-4)
    assert found[2].right < 1e-6


def test_a_digit_missing_is_weighed_against_a_trip_meter():
    short, far = judged(*with_figure(2, 1605))[2], judged((0, 70_000), (100, 73_000), (200, 7_605), (300, 79_000))[2]

    assert (short.kind, round(short.odds, 4)) == ("trip meter", 0.5318)
    assert far.kind == "a digit missing"
    assert 75_500 < far.meant < 76_900


def test_miles_on_an_instrument_that_shows_kilometers():
    found = judged((0, 16_000), (100, 21_000), (200, 16_156), (300, 31_000), unit="km")

    assert kinds(found) == [RIGHT, RIGHT, ("other unit", 26_001), RIGHT]


def test_a_lower_last_reading_alone_can_be_many_things():
    found = judged(*with_figure(4, 12_100))[4]

    assert found.is_doubted
    assert found.odds < 0.5


def test_the_last_reading_in_the_other_unit_is_more_likely_wrong_than_right():
    found = judged(*with_figure(4, 35_566))[4]

    assert (found.kind, found.meant) == ("other unit", 22_100)
    assert (found.odds, found.right) == pytest.approx((0.5144, 0.4742), abs=1e-4)
    assert found.is_doubted


@pytest.mark.parametrize(
    ("later", "kind", "digits"),
    [
        ([(500, 2_900), (600, 6_000), (700, 9_100)], "instrument replaced", 6),
        ([(500, 12_500), (600, 15_600), (700, 18_700)], "set back", 6),
    ],
)
def test_where_all_later_ones_follow_the_count_begins_anew(later, kind, digits):
    found = judged(*LINE, *later, digits=digits)

    assert [one.kind for one in found] == ["right"] * 5 + [kind, "right", "right"]
    assert found[5].meant is None
    assert found[5].is_doubted


def test_five_digits_roll_over():
    found = judged((0, 93_000), (100, 96_000), (200, 99_000), (300, 2_050), (400, 5_000), digits=5)

    assert [one.kind for one in found] == ["right", "right", "right", "instrument rolled over", "right"]
    assert found[3].odds == pytest.approx(0.5538, abs=1e-4)  # or the instrument was replaced: the series cannot tell


def test_what_a_person_has_looked_at_again_is_right_and_the_others_are_judged_by_it():
    found = judged(*with_figure(2, 61_050), sure=(2,))

    assert found[2] == Verdict("right", None, 1.0, 1.0)
    assert found[3].is_doubted


def test_the_trip_meter_between_two_readings_of_a_van():
    # trap T-8 of the demonstration: 412 between 85,422 and 90,427
    assert kinds(judged((0, 85_422), (45, 412), (91, 90_427))) == [RIGHT, ("trip meter", None), RIGHT]


def test_distances_of_other_instruments_are_added():
    typed = [
        Typed(FIRST, Fraction(90_000)),
        Typed(FIRST + timedelta(days=100), Fraction(100), before=Fraction(93_000)),
        Typed(FIRST + timedelta(days=200), Fraction(3_200), before=Fraction(93_000)),
    ]

    assert {one.kind for one in verdicts(typed, "mi")} == {"right"}


def test_a_wrong_figure_on_a_second_instrument_is_mended_by_its_own_digits():
    typed = [
        Typed(FIRST + timedelta(days=day), Fraction(figure), before=Fraction(50_000))
        for day, figure in ((0, 10_000), (100, 13_000), (200, 61_050), (300, 19_000), (400, 22_100))
    ]

    assert kinds(list(verdicts(typed, "mi")))[2] == ("two digits exchanged", 16_050)


def test_the_readings_around_a_wrong_one_are_certain():
    found = judged(*with_figure(2, 61_050))

    assert [one for i, one in enumerate(found) if i != 2] == [Verdict("right", None, 1.0, 1.0)] * 4


def test_the_readings_around_a_break_are_certain():
    found = judged(*LINE, (500, 2_900), (600, 6_000), (700, 9_100))

    assert [one for i, one in enumerate(found) if i != 5] == [Verdict("right", None, 1.0, 1.0)] * 7


def test_the_rate_in_kilometers_has_its_limits_in_kilometers():
    per = float(readings.KM_PER_MI)

    for slope in (1.0, 40.0, 600.0):
        in_mi = readings._rate([0, 10], [0, 10 * slope], 1.0)
        assert readings._rate(
            [0, 10], [0, 10 * slope * per * (1 + 1e-12 * (1 if slope < 40 else -1))], per
        ) == pytest.approx(in_mi * per)
    assert readings._rate([0, 10], [0, 9.99 * per], per) == pytest.approx(30.713855 * per, rel=1e-6)
    assert readings._rate([0, 10], [0, 6001 * per], per) == pytest.approx(30.713855 * per, rel=1e-6)


def test_verdicts_stand_in_the_order_of_what_was_asked():
    pairs = with_figure(2, 61_050)

    assert judged(*pairs[::-1]) == judged(*pairs)[::-1]


def test_of_a_long_series_the_newest_sixty_are_judged():
    pairs = [(day * 30, 5_000 + day * 900) for day in range(61)]
    old, newer = ([(d, 400_000 if i == place else f) for i, (d, f) in enumerate(pairs)] for place in (0, 1))

    assert not any(one.is_doubted for one in judged(*old))
    assert [i for i, one in enumerate(judged(*newer)) if one.is_doubted] == [1]


def test_few_readings_say_little():
    assert judged() == []
    assert judged((0, 5)) == [Verdict("right", None, 1.0, 1.0)]
    low, high = judged((0, 50_000), (100, 20_000)), judged((0, 20_000), (100, 90_000))
    assert [one.is_doubted for one in low] == [one.is_doubted for one in high] == [False, True]
    assert (low[1].kind, high[1].kind) == ("set back", "unknown")


def test_a_first_reading_beside_all_others_is_doubted():
    found = judged(*with_figure(0, 1_000))

    assert [one.is_doubted for one in found] == [True, False, False, False, False]
    high = judged(*with_figure(0, 100_000))
    assert kinds(high)[0] == ("a digit twice", 10_000)
    assert [one.is_doubted for one in high] == [True, False, False, False, False]


@pytest.mark.parametrize(
    ("typed", "unit", "digits", "error"),
    [
        ([], "m", 6, errors.UnknownUnit),
        ([], "mi", 0, errors.OutOfRange),
        ([Typed(FIRST, Fraction(-1))], "mi", 6, errors.OutOfRange),
    ],
)
def test_what_makes_no_sense_is_refused(typed, unit, digits, error):
    with pytest.raises(error):
        verdicts(typed, unit, digits=digits)


def test_one_digit_and_a_figure_of_nothing_are_among_what_is_taken():
    assert verdicts([Typed(FIRST, Fraction(0))], "km", digits=1) == (Verdict("right", None, 1.0, 1.0),)


def test_a_doubt_begins_where_wrong_is_as_likely_as_right():
    assert not Verdict("other unit", 5, 0.5, 0.5).is_doubted
    assert Verdict("other unit", 5, 0.51, 0.49).is_doubted


def series(rate: float = 30.0, per: float = 1.0) -> readings._Series:
    return readings._Series([], [], [], per, 6, rate)


def test_a_stretch_is_normal_about_the_rate_with_a_flat_tail():
    # 100 days at 30: 3,000 mi; variance (0.45 x 3,000)^2 + 150^2 + 60 x 3,000 = 2,025,000
    sd, tail = 2_025_000**0.5, 0.03 / (12 * 3000 + 2500)

    assert series().step(100, 3000) == pytest.approx(log(0.97 / (sd * (2 * pi) ** 0.5) + tail))
    assert series().step(100, 4423) == pytest.approx(
        log(0.97 * exp(-0.5 * (1423 / sd) ** 2) / (sd * (2 * pi) ** 0.5) + tail)
    )
    assert series().step(100, 38_500) == pytest.approx(log(tail), abs=1e-3)
    assert series().step(100, 38_501) < -300
    assert series().step(100, -2) > -10.5
    assert series().step(100, -2.1) == readings.IMPOSSIBLE


def test_a_stretch_in_kilometers_is_as_likely_for_each_mile():
    per = float(readings.KM_PER_MI)

    assert series(30 * per, per).step(100, 4000 * per) == pytest.approx(series().step(100, 4000) - log(per))


@pytest.mark.parametrize(
    ("days", "at", "expected"),
    [
        ([0, 10], [0, 400], (2 * log(30.713855) + log(40)) / 3),
        ([0, 10], [0, 10], (2 * log(30.713855) + log(1)) / 3),
        ([0, 10], [0, 9], log(30.713855)),
        ([0, 10], [0, 6000], (2 * log(30.713855) + log(600)) / 3),
        ([0, 10], [0, 6001], log(30.713855)),
        ([0, 0], [0, 60], log(30.713855)),
        ([0, 10, 20, 30], [0, 400, 1000, 1200], (2 * log(30.713855) + 3 * log(40)) / 5),
    ],
)
def test_the_rate_is_the_median_of_slopes_that_can_be_true_held_to_the_average(days, at, expected):
    assert log(readings._rate(days, at, 1.0)) == pytest.approx(expected, rel=1e-6)


def test_every_slip_is_tried():
    tried = set(readings._candidates(Typed(FIRST, Fraction(1102)), series()))

    # 1102: places 1-3, 1-4, 2-3, 2-4, 3-4; the first two are alike
    swapped = [figure for kind, figure in tried if kind == "two digits exchanged"]
    assert sorted(swapped) == [112, 1012, 1120, 1201, 2101] or sorted(swapped) == [1012, 1120, 1201, 2101, 112]
    assert ("a digit twice", 102) in tried
    assert {figure for kind, figure in tried if kind == "a digit twice"} == {102}
    assert ("other unit", 685) in tried
    assert ("other unit", 1773) in tried
    assert len({figure for kind, figure in tried if kind == "one digit wrong"}) == 36
    assert {11_023, 91_102, 11_002} <= {figure for kind, figure in tried if kind == "a digit missing"}
    assert not any(
        kind == "a digit missing" for kind, _ in readings._candidates(Typed(FIRST, Fraction(110_234)), series())
    )


steps = st.lists(st.tuples(st.integers(0, 300), st.integers(0, 60_000)), max_size=8)


@settings(max_examples=60)
@given(steps, st.sampled_from(["mi", "km"]))
def test_odds_are_shares_and_right_is_one_of_them(pairs, unit):
    for one in judged(*pairs, unit=unit):
        assert 0 <= one.right <= 1
        assert 0 < one.odds <= 1
        assert one.right <= one.odds + 1e-12
        assert (one.kind == "right") == (one.right == one.odds)


@settings(max_examples=40)
@given(st.integers(5, 150), st.lists(st.integers(20, 200), min_size=3, max_size=8))
def test_an_even_series_of_four_or_more_is_never_doubted(rate, gaps):
    day, pairs = 0, [(0, 5_000)]
    for gap in gaps:
        day += gap
        pairs.append((day, 5_000 + day * rate))

    assert not any(one.is_doubted for one in judged(*pairs))


def test_two_ways_to_one_figure_are_added():
    assert readings._sum_log(log(0.3), log(0.1)) == pytest.approx(log(0.4))
    assert readings._sum_log(log(0.1), log(0.3)) == pytest.approx(log(0.4))


def test_a_trip_meter_shows_less_than_two_thousand_miles():
    below, at = (judged((0, 85_000), (45, figure), (91, 90_000))[1] for figure in (1_999, 2_000))

    assert below.kind == "trip meter"
    assert at.kind != "trip meter"


def test_a_wrong_reading_before_a_break_is_not_judged_by_what_begins_anew():
    wrong = judged(*LINE[:4], (400, 222_100), (500, 2_900), (600, 6_000), (700, 9_100))

    assert [i for i, one in enumerate(wrong) if one.is_doubted] == [4, 5]
    assert (wrong[4].kind, wrong[4].meant) == ("a digit twice", 22_100)
    assert wrong[5].kind == "instrument replaced"
