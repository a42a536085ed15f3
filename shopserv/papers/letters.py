"""Which letters a paper can set: those of the typefaces in the pack, and no box in place of one."""

from __future__ import annotations

import unicodedata
from functools import cache

from shopserv.papers.press import STATIC

UNSEEN = {"Cc", "Cf", "Zs", "Zl", "Zp"}  # blanks, ends of lines, signs that only join or part
VARIANTS = range(0xFE00, 0xFE10)  # say how the sign before them looks


@cache
def _known() -> frozenset[int]:
    """The letters that `scripts/cut_fonts.py` found in the typefaces."""
    lines = (STATIC / "fonts" / "letters.txt").read_text("utf-8").split()
    spans = [[int(edge, 16) for edge in line.split("-")] for line in lines]
    return frozenset(code for first, last in spans for code in range(first, last + 1))


def first_unset(text: str) -> str:
    """The first sign of `text` that no paper can show; empty where all of it can be set."""
    return next((sign for sign in unicodedata.normalize("NFC", text) if not _is_set(sign)), "")


def _is_set(sign: str) -> bool:
    return ord(sign) in _known() or unicodedata.category(sign) in UNSEEN or ord(sign) in VARIANTS
