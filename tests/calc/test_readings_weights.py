"""The odds of a doubted reading, worked anew: plain products of shares and densities in place of logarithms, slips by
arithmetic on places in place of text, chains by trying all. Source: common practice, no source (the shares themselves).
"""

from __future__ import annotations

import random
from datetime import date, timedelta
from fractions import Fraction
from itertools import combinations, pairwise
from math import e, exp, log, pi, sqrt
from statistics import median

import pytest

from shopserv.calc import readings
from shopserv.calc.bands import AVERAGE_A_DAY
from shopserv.calc.readings import Typed, verdicts

FIRST = date(2026, 1, 1)
KM = 1.609344
RATE = AVERAGE_A_DAY


def density(days, far, rate, per=1.0):
    mean = rate * days
    sd = sqrt((0.45 * mean) ** 2 + (150 * per) ** 2 + 60 * per * mean)
    most = 12 * mean + 2500 * per
    if far < -2 * per:
        return exp(-1000)
    return 0.97 * exp(-(((far - mean) / sd) ** 2) / 2) / (sd * sqrt(2 * pi)) + (0.03 / most if far <= most else 0)


def slips(shown, digits):
    """(kind, figure meant, share of that slip)."""
    size = len(str(shown))
    for low in range(size):
        mine = shown // 10**low % 10
        for high in range(low + 1, size):
            other = shown // 10**high % 10
            if mine != other:
                meant = shown + (other - mine) * (10**low - 10**high)
                yield "two digits exchanged", meant, 0.006 / (size * (size - 1) / 2)
        if low + 1 < size and mine == shown // 10 ** (low + 1) % 10:
            yield "a digit twice", shown // 10 ** (low + 1) * 10**low + shown % 10**low, 0.004
        for digit in range(10):
            if digit != mine:
                yield "one digit wrong", shown + (digit - mine) * 10**low, 0.006 / (9 * size)
    if size < digits:
        for low in range(size + 1):
            for digit in range(10):
                meant = shown // 10**low * 10 ** (low + 1) + digit * 10**low + shown % 10**low
                yield "a digit missing", meant, 0.004 / (10 * (size + 1))
    yield "other unit", round(shown / KM), 0.006 / 2
    yield "other unit", round(shown * KM), 0.006 / 2


def worked(pairs, i, before, after, *, per=1.0, digits=6, rate=RATE):
    """Kind, figure meant, its odds and those of right, from the reading's neighbors by their places."""
    day, shown = pairs[i]

    def fits(at):
        one = density(day - pairs[before][0], at - pairs[before][1], rate, per) if before is not None else 1
        return one * (density(pairs[after][0] - day, pairs[after][1] - at, rate, per) if after is not None else 1)

    apart = 1.0
    if before is not None and after is not None:
        apart = density(pairs[after][0] - pairs[before][0], pairs[after][1] - pairs[before][1], rate, per)
    weights = {("right", None): 0.967 * fits(shown), ("unknown", None): 0.004 / 1e6 * apart}
    if shown < 2000 * per:
        weights["trip meter", None] = 0.003 / (2000 * per) * apart
    for kind, meant, share in slips(shown, digits):
        weights[kind, meant] = weights.get((kind, meant), 0) + share * fits(meant)
    if before is not None and after is None:
        then, at = pairs[before]
        weights["instrument replaced", None] = 0.004 * density(day - then, shown, rate, per)
        weights["instrument rolled over", None] = 0.004 * density(day - then, shown + 10**digits - at, rate, per)
        if shown < at:
            weights["set back", None] = 0.0015 / at
    kind, meant = max(weights, key=weights.get)
    total = sum(weights.values())
    return kind, meant, weights[kind, meant] / total, weights["right", None] / total


def judged(pairs, unit="mi", digits=6):
    typed = [Typed(FIRST + timedelta(days=day), Fraction(figure)) for day, figure in pairs]
    return verdicts(typed, unit, digits=digits)


def rate_of(pairs, per=1.0):
    slopes = [log((b - a) / (after - before)) for (before, a), (after, b) in pairwise(pairs)]
    return exp((2 * log(AVERAGE_A_DAY * per) + len(slopes) * median(slopes)) / (2 + len(slopes)))


LOW = [(0, 100), (10, 410), (20, 700)]  # a new vehicle
HIGH = [(0, 50_000), (100, 53_100), (200, 56_300)]


@pytest.mark.parametrize(
    ("pairs", "i", "before", "after", "digits", "is_in_chain"),
    [
        ([*LOW, (30, 1900)], 3, 2, None, 6, True),  # high, among all that it can be
        ([*LOW, (30, 2200)], 3, 2, None, 6, True),
        ([*LOW, (30, 2200)], 3, 2, None, 4, True),  # no digit can be missing
        ([*LOW, (30, 2200)], 3, 2, None, 5, True),
        ([*LOW, (30, 9)], 3, 2, None, 6, False),
        ([*LOW, (30, 90)], 3, 2, None, 6, False),
        ([*LOW, (30, 690)], 3, 2, None, 6, False),
        ([*LOW, (30, 697)], 3, 2, None, 6, False),
        ([*HIGH, (300, 95_600)], 3, 2, None, 6, True),
        ([*HIGH, (300, 39_600)], 3, 2, None, 6, False),
        ([*HIGH, (300, 55_960)], 3, 2, None, 5, False),
        ([*HIGH, (300, 1_500)], 3, 2, None, 5, False),
        ([*HIGH, (300, 5_590)], 3, 2, None, 6, False),
        ([*HIGH, (300, 590)], 3, 2, None, 6, False),
        ([*HIGH, (300, 9_600)], 3, 2, None, 5, False),
        ([*HIGH[:2], (150, 5_440), HIGH[2]], 2, 1, 3, 6, False),
        ([*HIGH[:2], (150, 1_440), HIGH[2]], 2, 1, 3, 6, False),
        ([*HIGH[:2], (150, 87_700), HIGH[2]], 2, 1, 3, 6, False),
        ([*HIGH[:2], (150, 34_000), HIGH[2]], 2, 1, 3, 6, False),
        ([*HIGH[:2], (150, 554_700), HIGH[2]], 2, 1, 3, 6, False),
        ([(0, 200), *[(day + 150, at) for day, at in HIGH]], 0, None, 1, 6, True),
        ([(0, 5_200), *[(day + 150, at) for day, at in HIGH]], 0, None, 1, 6, True),
        ([(0, 64_000), *[(day + 150, at) for day, at in HIGH]], 0, None, 1, 6, False),
    ],
)
def test_the_odds_are_those_of_plain_products(pairs, i, before, after, digits, is_in_chain):
    """The rate is of those in the chain; the flat tail can hold a high one there, which is weighed all the same."""
    found = judged(pairs, digits=digits)[i]

    rate = rate_of(pairs if is_in_chain else pairs[:i] + pairs[i + 1 :])
    kind, meant, odds, right = worked(pairs, i, before, after, digits=digits, rate=rate)
    assert (found.kind, found.meant) == (kind, meant)
    assert (found.odds, found.right) == pytest.approx((odds, right), rel=1e-9, abs=1e-300)
    assert right < 0.95  # else nothing was weighed


@pytest.mark.parametrize("shown", [1_900, 3_218, 3_219, 57_000, 140_000])
def test_the_odds_in_kilometers_are_those_of_plain_products(shown):
    pairs = [(0, 80_000), (100, 85_000), (200, 90_000), (300, shown)]

    found = judged(pairs, "km")[3]

    expected = worked(pairs, 3, 2, None, per=KM, rate=rate_of(pairs if shown == 140_000 else pairs[:3], KM))
    assert (found.kind, found.meant) == expected[:2]
    assert (found.odds, found.right) == pytest.approx(expected[2:], rel=1e-9, abs=1e-300)


@pytest.mark.parametrize(("unit", "per"), [("mi", 1.0), ("km", KM)])
def test_a_first_reading_of_a_trip_meter_against_the_flat_tail(unit, per):
    """59,588 mi in 200 days at the average: right by 0.967 x 0.03 / (12 mean + 2,500); a trip meter 0.003 / 2,000."""
    step = round(100 * RATE * per)
    pairs = [(0, 412), *[(200 + 100 * n, round(60_000 * per) + n * step) for n in range(4)]]

    first = judged(pairs, unit)[0]

    assert first.kind == "trip meter"
    by_hand = (0.003 / 2000) / (0.967 * 0.03 / (12 * 200 * RATE + 2500))
    assert first.odds / first.right == pytest.approx(by_hand, rel=1e-3)


def test_what_was_before_a_break_can_be_a_break_itself():
    """The reading of 12,000 has none after it that tells of it: 2,900 begins anew."""
    line = [(0, 10_000), (100, 13_000), (200, 16_050), (300, 19_000)]
    pairs = [*line, (400, 12_000), (500, 2_900), (600, 6_000), (700, 9_100)]

    found = judged(pairs)[4]

    slopes = [log(a / 100) for a in (3000, 3050, 2950, 3100)]  # of those that stand and begin nothing
    rate = exp((2 * log(RATE) + 4 * median(slopes)) / 6)
    expected = worked(pairs, 4, 3, None, rate=rate)
    assert (found.kind, found.meant) == expected[:2]
    assert (found.odds, found.right) == pytest.approx(expected[2:], rel=1e-9)


def series_of(*pairs, rate=30.0, per=1.0):
    typed = [Typed(FIRST + timedelta(days=day), Fraction(figure)) for day, figure in pairs]
    return readings._Series(typed, [float(d) for d, _ in pairs], [float(f) for _, f in pairs], per, 6, rate)


def worth(pairs, chain, starts, rate):
    """The logarithm of a chain's weight; `starts` begin a count."""
    value = (len(pairs) - len(chain)) * log(0.033 / 1e6)
    for i, j in pairwise(chain):
        (before, a), (after, b) = pairs[i], pairs[j]
        value += log(0.015 / 1e6 if j in starts else density(after - before, b - a, rate) + 1e-300)
    return value


def every_chain(pairs):
    for size in range(1, len(pairs) + 1):
        for chain in combinations(range(len(pairs)), size):
            for breaks in range(3):
                yield from ((chain, {chain[0], *later}) for later in combinations(chain[1:], breaks))


def test_the_chain_is_the_likeliest_of_all():
    rng, broken, left_out = random.Random(61_050), 0, 0
    for _ in range(40):
        at, pairs = 20_000, []
        for n in range(6):
            at += rng.choice((500, 3_000, 6_000))
            at = rng.choice((at, at, at, at, 300))
            pairs.append((100 * n, rng.choice((at, at, at, at * 3, at // 2))))

        found = readings._chain(series_of(*pairs))

        most = max(worth(pairs, chain, starts, 30.0) for chain, starts in every_chain(pairs))
        assert worth(pairs, *found, 30.0) == pytest.approx(most, rel=1e-12), pairs
        broken += len(found[1]) > 1
        left_out += len(found[0]) < 6
    assert broken > 10
    assert left_out > 20


def test_a_break_is_weighed_against_a_stretch_of_the_flat_tail():
    """0.03 / (360 days + 2,500 mi) falls below 10 x 0.0015 in a million between 5,548 and 5,549 days."""
    for days, starts in ((5_548, [0]), (5_549, [0, 2])):
        far = series_of((0, 0), (10, 300), (10 + days, 1_500_300), (20 + days, 1_500_600))

        assert readings._chain(far) == ([0, 1, 2, 3], starts)


def test_a_stretch_is_looked_at_below_a_share_of_e_to_the_minus_5_of_the_likeliest():
    body, tail = 0.97 / sqrt(2_025_000 * 2 * pi), 0.03 / 38_500  # 100 days at 30 a day
    far = 3000 + sqrt(-2 * 2_025_000 * log(((body + tail) * e**-5 - tail) / body))

    assert far == pytest.approx(7740.5, abs=0.5)
    assert readings._is_usual(series_of((0, 0), (100, far - 0.01)), 0, 1)
    assert not readings._is_usual(series_of((0, 0), (100, far + 0.01)), 0, 1)


def test_rounding_is_two_miles_in_kilometers_too():
    in_km = series_of(rate=30 * KM, per=KM)

    assert in_km.step(100, -3.2) > -20
    assert in_km.step(100, -3.3) == readings.IMPOSSIBLE


def test_two_instruments_on_one_day_stand_by_the_distance_run():
    old, new = Typed(FIRST, Fraction(99_990)), Typed(FIRST, Fraction(5), before=Fraction(100_000))

    for typed in ([old, new], [new, old]):
        assert [one.right for one in verdicts(typed, "mi")] == [1.0, 1.0]


def test_what_a_set_back_is_worth():
    equal, lower, least = (
        readings._breaks(series_of((0, before), (10, at)), 0, 1)
        for before, at in ((500, 500), (500, 499), (Fraction(1, 2), 0))
    )

    assert ("set back", None) not in equal
    assert lower["set back", None] == pytest.approx(log(0.0015 / 500))
    assert least["set back", None] == pytest.approx(log(0.0015))  # of less than a mile as of one


def test_how_many_figures_a_slip_could_be_of():
    two, five = Typed(FIRST, Fraction(42)), Typed(FIRST, Fraction(61_050))
    ways = [[readings._ways(kind, one) for one in (two, five)] for kind in readings.FAULTS if kind in WAYS]

    assert ways == [[1, 10], [30, 60], [1, 1], [18, 45], [2, 2]]


WAYS = ("two digits exchanged", "a digit missing", "a digit twice", "one digit wrong", "other unit")


def test_odds_of_what_is_all_next_to_impossible_are_odds_all_the_same():
    found = readings._likeliest({("right", None): -1000.0, ("unknown", None): -1001.0})

    assert (found.kind, found.odds, found.right) == ("right", pytest.approx(1 / (1 + 1 / e)), found.odds)


def test_what_a_person_looked_at_is_never_left_out_of_the_chain():
    """To leave out the last would weigh 0.033 in a million, to begin anew with it 0.015."""
    lower = series_of((0, 10_000), (100, 13_000), (200, 16_000), (300, 12_000))
    assert readings._chain(lower) == ([0, 1, 2], [0])

    lower.typed[3] = Typed(lower.typed[3].on, lower.typed[3].figure, is_sure=True)

    assert readings._chain(lower) == ([0, 1, 2, 3], [0, 3])


def test_an_instrument_has_six_digits_unless_said():
    pairs = [(0, 993_000), (100, 996_000), (200, 999_000), (300, 2_050), (400, 5_000)]
    typed = [Typed(FIRST + timedelta(days=day), Fraction(figure)) for day, figure in pairs]

    assert verdicts(typed, "mi")[3].kind == "instrument rolled over"
    assert verdicts(typed, "mi") == judged(pairs, digits=6) != judged(pairs, digits=7)
