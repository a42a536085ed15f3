"""The check words: own list, alike for both sides of the telephone."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopserv.jobs.check_words import agree, check_words, words

pytestmark = pytest.mark.once


def sound(word: str) -> str:
    """What is left of a word to the ear: consonants by sound, one vowel for all."""
    for letters, heard in (
        ("ph", "f"), ("gh", ""), ("kn", "n"), ("wr", "r"), ("wh", "w"), ("ck", "k"), ("qu", "kw"), ("x", "ks"),
        ("dge", "j"), ("tch", "ch"), ("sc", "s"),
    ):  # fmt: skip
        word = word.replace(letters, heard)
    word = re.sub(r"c(?=[eiy])", "s", word)
    word = word.replace("ch", "1").replace("sh", "2").replace("th", "3")
    word = word.replace("c", "k").replace("z", "s").replace("q", "k")
    first = word[0] if word[0] in "aeiouy" else ""
    word = first + re.sub(r"[aeiouy]+", "a", word[len(first) :])
    return re.sub(r"(.)\1", r"\1", word).rstrip("a")


def test_the_list_has_2048_plain_words_no_two_alike_to_the_ear():
    listed = words()

    assert len(listed) == len(set(listed)) == 2048
    assert all(re.fullmatch(r"[a-z]{3,9}", word) for word in listed)
    assert list(listed) == sorted(listed)
    assert len({sound(word) for word in listed}) == 2048


@given(st.integers(0, 2**22 - 1), st.integers(0, 2**42 - 1))
def test_the_first_22_bits_and_nothing_else_make_the_words(first, rest):
    version_hash = f"{(first << 42) | rest:016x}" + "0" * 48

    listed = words()
    assert check_words(version_hash) == f"{listed[first >> 11]} {listed[first & 2047]}"
    assert agree(f"  {listed[first >> 11].upper()}  {listed[first & 2047]} ", version_hash)


def test_other_words_do_not_agree():
    assert not agree("zebra zebra", "0" * 64)
