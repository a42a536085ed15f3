"""Typed texts: what is taken out of every one of them before anything reads it."""

from __future__ import annotations

# LRE, RLE, PDF, LRO, RLO and LRI, RLI, FSI, PDI of UAX #9: they turn what is printed after them around
TURNING = dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A)])


def without_turning(typed: str) -> str:
    """`typed` without the signs that embed, override or isolate a direction of writing.

    They have no shape of their own and reach beyond the field: a name could turn the amount after it around. The
    letters of a script that runs from right to left order themselves without them.
    """
    return typed.translate(TURNING)
