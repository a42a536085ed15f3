"""The typeface is ours to ship: small, with our letters, its figures in columns, its license beside it."""

from __future__ import annotations

from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from shopserv.papers import letters

pytestmark = pytest.mark.once

FOLDER = Path(__file__).parents[2] / "static" / "fonts"
WEIGHTS = ["300", "400", "600", "300-italic", "400-italic", "600-italic"]


@pytest.fixture(params=WEIGHTS)
def path(request):
    return FOLDER / f"shopserv-sans-{request.param}.woff2"


def test_each_weight_stays_under_30_kb(path):
    assert path.stat().st_size < 30_000


def test_all_figures_are_equally_wide(path):
    font = TTFont(path)
    letters = font.getBestCmap()

    assert len({font["hmtx"][letters[ord(figure)]][0] for figure in "0123456789"}) == 1


def test_every_letter_of_our_pages_is_there(path):
    letters = TTFont(path).getBestCmap()
    wanted = "AZaz09 ñáéíóúü¿¡ °·×±−–—′″½¼¾$€§ ≤≥≈→←“”‘’…"

    assert [letter for letter in wanted if ord(letter) not in letters] == []


def test_the_reserved_name_is_not_used_and_the_copyright_is_kept(path):
    # SIL Open Font License 1.1, conditions 2 and 3
    names = TTFont(path)["name"]

    assert [names.getDebugName(key) for key in (1, 4, 16) if "Source" in (names.getDebugName(key) or "")] == []
    assert "Reserved Font Name" in names.getDebugName(0)
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FOLDER / "OFL.txt").read_text("utf-8")


def test_the_further_face_has_the_scripts_that_names_are_written_in_and_stays_small():
    path = FOLDER / "shopserv-sans-further.woff2"
    drawn = TTFont(path).getBestCmap()

    assert path.stat().st_size < 100_000
    assert [letter for letter in "ΑΩαωЖжאבשبسمԱႠ -" if ord(letter) not in drawn] == []


def test_the_list_of_letters_is_what_every_weight_or_the_further_face_can_set():
    whole = [set(TTFont(FOLDER / f"shopserv-sans-{weight}.woff2").getBestCmap()) for weight in WEIGHTS]
    further = set(TTFont(FOLDER / "shopserv-sans-further.woff2").getBestCmap())

    assert letters._known() == set.intersection(*whole) | further
