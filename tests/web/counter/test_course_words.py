"""The words of the Fluid course page, both units of the shop."""

from __future__ import annotations

from fractions import Fraction

import pytest

from shopserv.calc.course_bands import Band, Breach
from shopserv.web.counter.course_words import breach_words, level_words, points


@pytest.mark.parametrize(
    ("level", "us", "metric"),
    [
        (0, "full", "full"),
        (-1300, "1.4 qt below full", "1.3 L below full"),
        (440, "0.5 qt above full", "0.4 L above full"),
        (Band(-500, 0, 580), "0.5 qt below to 0.6 qt above full", "0.5 L below to 0.6 L above full"),
        (Band(-1600, -1300, -700), "0.7 qt to 1.7 qt below full", "0.7 L to 1.6 L below full"),
        (Band(0, 300, 500), "0.0 qt to 0.5 qt above full", "0.0 L to 0.5 L above full"),
        (Band(-500, -500, -500), "0.5 qt below full", "0.5 L below full"),
    ],
)
def test_a_level_against_full(level, us, metric):
    assert (level_words(level, "us"), level_words(level, "metric")) == (us, metric)


@pytest.mark.parametrize(
    ("line", "cause", "words"),
    [
        ("pickup", {}, "reaches 12 mL under the pickup: the pump would draw air"),
        ("dips", {}, "stands 12 mL above the line where turning parts dip: the fluid foams"),
        ("minimum", {"capacity_ml": 7200}, "ends 12 mL under the low mark, if the unit holds 7.6 qt (7.2 L)"),
        ("minimum", {"sump_ml": 3500}, "ends 12 mL under the low mark, if the sump holds 3.7 qt (3.5 L)"),
        ("minimum", {"drained": Fraction(4, 5)}, "ends 12 mL under the low mark, if the drain lets out 20 % less"),
        (
            "minimum",
            {"pickup_ml": Fraction(-1500), "drained": Fraction(6, 5)},
            "ends 12 mL under the low mark, if the pump draws air already 1.6 qt (1.5 L) below full and the drain lets "
            "out 20 % more",
        ),
    ],
)
def test_a_line_that_a_stage_may_cross(line, cause, words):
    assert breach_words(Breach(3, line, Fraction(12), cause), "us") == words


def test_points():
    assert points(25_232) == "2.5 points"
