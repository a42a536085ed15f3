"""Check words: two plain words that stand for a frozen version, read out on the telephone and printed on the page."""

from __future__ import annotations

from functools import cache
from pathlib import Path

BITS = 11  # a word: 2,048 of them


@cache
def words() -> tuple[str, ...]:
    """The fixed list, our own: 2,048 plain words, none a name, no two of them alike to the ear. Never change it."""
    return tuple((Path(__file__).parent / "check_words.txt").read_text().split())


def check_words(version_hash: str) -> str:
    """The two words of a SHA-256 in hexadecimal: its first 22 bits, 11 a word.

    check   "000000..." gives the first word twice, "fffffc..." the last twice
    """
    first = int(version_hash[:6], 16) >> 2
    listed = words()
    return f"{listed[first >> BITS]} {listed[first & (2**BITS - 1)]}"


def agree(said: str, version_hash: str) -> bool:
    """Whether the words that were said are those of the version, whatever their case and spacing."""
    return said.casefold().split() == check_words(version_hash).split()
