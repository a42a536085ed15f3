"""A late edge of decades ahead is no day; up to ten years it is one."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from shopserv.web.records.life import band_words

TODAY = date(2026, 11, 24)


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (60, ""),
        (3652, "Between: Jan 23, 2027 to Nov 23, 2036."),
        (3653, "Not before Jan 23, 2027; its late edge lies more than ten years ahead."),
    ],
)
def test_a_late_edge_beyond_ten_years_is_told_as_that(days, said):
    assert band_words(TODAY + timedelta(days=60), TODAY + timedelta(days=days), TODAY) == said
