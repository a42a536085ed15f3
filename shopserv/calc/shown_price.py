"""A price taken apart so that it can be read: mark-up slice by slice, what one piece comes to, what one measure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from shopserv.calc.errors import OutOfRange
from shopserv.calc.money import round_half_up


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
    """A price as so many pieces of one kind at so much each.

    cents   of one piece
    rest    what the whole price is more, in cents: less than one for each piece
    """

    cents: int
    rest: int


def each(price_cents: int, count: int) -> Each:
    """What one piece of a price comes to, cut down to the cent, where all pieces are of one kind.

    Pieces of several kinds have no price of their own under a graduated mark-up of their cost together.

    raises    OutOfRange
    source    division; common practice, no source
    check     10.00 for 3: 3.33 each, 0.01 over
    """
    if price_cents < 0 or count <= 0:
        raise OutOfRange("A price of pieces needs pieces, and none below zero.")
    return Each(*divmod(price_cents, count))


def a_measure(price: Decimal, measures: Fraction) -> Decimal:
    """What one measure of a price comes to, half-up to the cent.

    measures   liters or quarts, above 0
    raises     OutOfRange
    source     division; common practice, no source
    check      122.08 for 10.408 L: 11.73 a liter
    """
    if price < 0 or measures <= 0:
        raise OutOfRange("A price a measure needs a price and a volume above zero.")
    return round_half_up(Fraction(price) / measures)
