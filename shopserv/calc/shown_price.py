"""A price taken apart so that it can be read: mark-up slice by slice, and what one package of a price comes to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from shopserv.calc.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Slice:
    """A part of a cost and what is put on it.

    above_cents   where the slice begins
    cost_cents    how much of the cost lies in it
    markup_ppm    in millionths
    added         in cents, not rounded
    """

    above_cents: int
    cost_cents: int
    markup_ppm: int
    added: Fraction


def slices(cost_cents: int, bands: Sequence[tuple[int, int]]) -> tuple[Slice, ...]:
    """The mark-up of `pricing.marked_up_cents` by its slices: cost and all that is added is the price, once rounded.

    bands    of (above in cents, mark-up in millionths), strictly rising
    returns  in order; a slice that the cost does not reach is left out
    source   common practice, no source
    check    160/110/80 % above 0/5/20: 38.50 is 5.00, 15.00 and 18.50, with 8.00, 16.50 and 14.80 on them
    """
    found, high = [], cost_cents
    for above, markup in reversed(bands):
        if high > above:
            found.append(Slice(above, high - above, markup, Fraction((high - above) * markup, 1_000_000)))
            high = above
    return tuple(reversed(found))


@dataclass(frozen=True, slots=True)
class Each:
    """A price as so many pieces at so much each.

    cents   of one piece, by the order of what was asked
    rest    what the whole price is more, in cents: less than one for each piece
    """

    cents: tuple[int, ...]
    rest: int


def each(price_cents: int, counts: Sequence[int], weights: Sequence[int]) -> Each:
    """What one piece of a price comes to, in proportion to the weight of one, cut down to the cent.

    counts    how many of each kind, above 0
    weights   of one piece of each kind, 0 or more, not all 0
    raises    OutOfRange
    source    proportion; common practice, no source
    check     130.01 for 2 of weight 3 and 1 of weight 4: 39.00 and 52.00 each, 0.01 over
    """
    whole = sum(count * weight for count, weight in zip(counts, weights, strict=True))
    if price_cents < 0 or whole <= 0 or min(counts) <= 0 or min(weights) < 0:
        raise OutOfRange("A price of pieces needs pieces, and none below zero.")
    cents = tuple(price_cents * weight // whole for weight in weights)
    return Each(cents, price_cents - sum(count * one for count, one in zip(counts, cents, strict=True)))
