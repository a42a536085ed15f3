"""What the work that is due is worth: stored with the forecast, told by who can price it, never computed for a list."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Worth:
    """The price of what is due before tax, the method it is the price of, and its lines: (words, cents).

    lines   in the order of the quote; empty: kept by a program that kept less
    """

    cents: int
    method: str
    lines: tuple[tuple[str, int], ...] = ()
