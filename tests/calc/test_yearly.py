"""The share of a yearly wave in uneven driving: against least squares of numpy, and what must hold always."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.calc import yearly

OWN, FLOOR = 20.0, 0.5
UNEVEN = [(80.0, 1500.0), (120.0, 2900.0), (60.0, 800.0), (200.0, 4600.0), (95.0, 1100.0)]


def by_least_squares(stretches: list[tuple[float, float]], own: float, floor: float) -> float:
    """The same by numpy: the wave averaged over each day, two rows more that hold it down, R squared adjusted."""
    days, far = np.array(stretches).T
    ends = days.cumsum()
    fine = [end - one * (np.arange(4000) + 0.5) / 4000 for one, end in zip(days, ends, strict=True)]
    root, turn = np.sqrt(days), 2 * np.pi / 365.25
    waves = np.array([[np.cos(turn * at).mean(), np.sin(turn * at).mean()] for at in fine]) * root[:, None]
    off = (far - max(far.sum(), 0) / ends[-1] * days) / own / root
    held = np.vstack([waves, 2 * np.eye(2)])  # 2 squared is 4
    wave, *_ = np.linalg.lstsq(held, np.append(off, [0, 0]), rcond=None)
    taken = (waves.T @ off) @ wave
    count = len(days)
    squared = taken / (off @ off + count * floor)
    return max(0.0, 1 - (1 - squared) * (count - 1) / (count - 3))


def quarters(*waves: float, days: float = 91.3125, rate: float = 30.0) -> list[tuple[float, float]]:
    return [(days, days * rate * (1 + wave)) for wave in waves]


@pytest.mark.parametrize(
    "stretches",
    [
        quarters(0.5, 0.4, -0.5, -0.4, 0.45, 0.5, -0.4, -0.5),
        quarters(0.3, 0.1, -0.4, 0.0),
        quarters(0.5, -0.3, -0.6, 0.4, 0.6, days=70.0),
        [(40.0, 900.0), (300.0, 2000.0), (20.0, -50.0), (150.0, 5000.0), (90.0, 10.0), (75.0, 4000.0)],
    ],
)
@pytest.mark.parametrize("floor", [1e-6, 0.5])
def test_it_is_that_of_least_squares(stretches, floor):
    expected = by_least_squares(stretches, OWN, floor)

    assert yearly.share(stretches, OWN, floor) == pytest.approx(expected, abs=1e-6)


def test_a_wave_of_half_the_rate_over_two_years_is_nearly_all():
    wave = np.sin(np.pi / 4) / (np.pi / 4) * np.sin(2 * np.pi * (np.arange(8) + 0.5) / 4) / 2
    found = yearly.share(quarters(*wave), 30.0, 1e-6)

    assert (
        found
        == pytest.approx(by_least_squares(quarters(*wave), 30.0, 1e-6), abs=1e-6)
        == pytest.approx(0.9813, abs=1e-4)
    )


def test_what_does_not_come_again_with_the_year_is_none_of_it():
    assert yearly.share(quarters(0.4, -0.4, 0.4, -0.4, 0.4, -0.4, 0.4, -0.4), OWN, FLOOR) == 0
    assert yearly.share(UNEVEN, OWN, FLOOR) == by_least_squares(UNEVEN, OWN, FLOOR) == 0


def test_three_stretches_say_nothing_of_a_wave_and_four_do():
    wave = quarters(0.5, 0.4, -0.5, -0.4)

    assert yearly.LEAST == 4
    assert yearly.share(wave[:3], OWN, 1e-6) == 0
    assert yearly.share(wave, OWN, 1e-6) > 0.9


def test_stretches_of_whole_years_show_no_wave():
    assert yearly.share(quarters(0.5, -0.5, 0.3, -0.2, 0.1, days=365.25), OWN, FLOOR) == 0


def test_a_total_below_zero_counts_as_none():
    sinking = [(90.0, -900.0), (90.0, 300.0), (90.0, -500.0), (90.0, 200.0), (90.0, -100.0)]

    assert yearly.share(sinking, OWN, 1e-3) == pytest.approx(by_least_squares(sinking, OWN, 1e-3), abs=1e-6)


def test_a_total_of_nothing_is_nothing_and_not_a_mile():
    back_and_forth = [(90.0, 0.5), (90.0, 0.4), (90.0, -0.5), (90.0, -0.4)]
    expected = by_least_squares(back_and_forth, 0.01, 1e-3)

    assert yearly.share(back_and_forth, 0.01, 1e-3) == pytest.approx(expected, abs=1e-6)
    assert 0.9 < expected < 1


@given(
    st.lists(st.tuples(st.integers(1, 700), st.integers(-3000, 30_000)), min_size=0, max_size=14),
    st.floats(0.01, 500),
    st.floats(1e-4, 1e4),
)
def test_it_is_a_share(stretches, own, floor):
    found = yearly.share([(float(days), float(far)) for days, far in stretches], own, floor)

    assert 0 <= found <= 1


@given(st.integers(1, 300), st.lists(st.integers(1, 400), min_size=4, max_size=12))
def test_a_line_shows_none(rate, gaps):
    assert yearly.share([(float(days), float(days * rate)) for days in gaps], float(rate), 1e-3) == 0
