"""What the working of a fluid course shows: the laws of its stages, and what is taken as exact."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from shopserv.calc.rest import Stream
from shopserv.jobs.workings import course
from shopserv.web import mathematics

pytestmark = pytest.mark.once


@pytest.mark.parametrize(("fall", "poured"), [(900, 600), (-300, 1_200)])
def test_a_stage_that_pours_while_it_pumps_shows_its_own_law(fall, poured):
    """The law as it is shown against the stream as it is reckoned, half way through the stage."""
    stream = Stream(0.8, 3_400, fall, poured)
    half = float(stream.pumped) / 2
    shown = 0.8 * ((3_400 - fall * half / float(stream.pumped)) / 3_400) ** (poured / fall)

    assert stream.old_at(half) == pytest.approx(shown, rel=1e-12)
    pours = {"kind": "pumped", "stages": [{"op": "pump", "add_ml": poured}]}
    plain = {"kind": "pumped", "stages": [{"op": "pump", "add_ml": 0}, {"op": "add", "volume_ml": 900}]}
    assert course.formulas_of(pours) == course.STIRRED + course.POURED_MEANWHILE
    assert course.formulas_of(plain) == course.STIRRED
    assert course.formulas_of({"kind": "drains", "stages": pours["stages"]}) == course.DRAINS


def test_the_law_of_what_is_poured_meanwhile_can_be_set_as_mathematics():
    for latex in course.POURED_MEANWHILE:
        assert "<math" in str(mathematics.formula(latex))


def test_a_fill_without_a_band_is_said_to_be_taken_as_exact():
    def taken(**fill):
        return " ".join(course._assumed(SimpleNamespace(course=fill, fraction_low_ppm=1)))

    assert "the fill is taken as exact" in taken(fill_ml=7_400)
    assert "the fill is taken as exact" not in taken(fill_ml=7_400, low={"fill_ml": 7_000})
    assert "the fill is taken as exact" not in taken()
