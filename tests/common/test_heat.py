"""The strip of temperatures and the bars of what moves a day: where their lines stand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.common.drawing.heat import BASE, LEFT, RIGHT, heat_strip, part_of

BINS = [(0.7, 176.0, "70 %"), (0.2, 203.0, "20 %"), (0.1, 226.4, "10 %")]


def test_the_longest_share_is_the_tallest_bar_and_the_others_keep_their_measure():
    strip = heat_strip(BINS, mark=174.92)

    assert [float(bar.height) for bar in strip.bars] == pytest.approx([62, 62 * 2 / 7, 62 / 7], abs=0.06)
    assert all(float(bar.y) + float(bar.height) == pytest.approx(BASE, abs=0.11) for bar in strip.bars)
    assert [bar.words for bar in strip.bars] == ["70 %", "20 %", "10 %"]
    assert [words for _x, words in strip.graduations] == ["140", "160", "180", "200", "220", "240", "260"]
    assert float(strip.mark) < float(strip.bars[0].middle)


def test_bars_that_stand_close_are_thin_and_only_the_tallest_speaks():
    strip = heat_strip([(0.2, 80.0, "20 %"), (0.5, 82.0, "50 %"), (0.3, 84.0, "30 %")], mark=79.4)

    assert [bar.words for bar in strip.bars] == ["", "50 %", ""]
    gap = float(strip.bars[1].middle) - float(strip.bars[0].middle)
    assert float(strip.bars[0].width) == pytest.approx(gap - 2, abs=0.11)


def test_nothing_to_show_is_a_line_with_its_mark():
    strip = heat_strip([], mark=79.4)

    assert strip.bars == ()
    assert LEFT < float(strip.mark) < RIGHT


@given(st.lists(st.tuples(st.floats(0.01, 1), st.floats(-40, 180)), min_size=1, max_size=12))
def test_every_bar_stands_on_the_line(rows):
    strip = heat_strip([(share, at, "x") for share, at in rows], mark=79.4)

    for bar in strip.bars:
        assert LEFT <= float(bar.middle) <= RIGHT
        assert 0 <= float(bar.height) <= 62
        assert float(bar.width) >= 2


@pytest.mark.parametrize(("value", "most", "part"), [(5, 10, "50%"), (0, 10, "0%"), (10, 10, "100%"), (0, 0, "0%")])
def test_a_bar_is_a_part_of_the_longest(value, most, part):
    assert part_of(value, most) == part
