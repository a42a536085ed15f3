"""What the shop learns from its own work: a median with an interval that assumes no shape, against what was printed.

Exact: the values stay as they are given, the confidence of the interval is a fraction from the binomial distribution.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import pairwise
from math import comb

from shopserv.calc import oil
from shopserv.calc.balance import Amount
from shopserv.calc.errors import MissingInput, OutOfRange
from shopserv.calc.measures import Real, exact
from shopserv.calc.working import From, Given, Step, Working

LEAST = 8  # measured values before anything is said; the shop's own rule
CONFIDENCE = Fraction(95, 100)
SHELF_C = 20  # measured fills are told at the temperature of the shelf; common practice, no source
PAUSE_MIN = 45  # between two presses: longer is a break, or another job meanwhile; common practice, no source
TOO_FEW, INSIDE, BELOW, ABOVE, UNKNOWN = "too few", "inside", "below", "above", "nothing to compare with"
SOURCE = (
    "order statistics: P(x(k) ≤ median ≤ x(n+1-k)) = 1 - 2 P(B(n, 1/2) < k); Nair, Sankhya 4 (1940), table in Dixon "
    "and Massey, Introduction to Statistical Analysis, 1969"
)


@dataclass(frozen=True, slots=True)
class Learned:
    """The middle of what was measured.

    count        how many values
    median       none without a value
    low, high    the interval that holds the true median; none where there are too few values
    rank         the interval is from the `rank`-th smallest to the `rank`-th largest value; 0: there is none
    confidence   of the interval, never below what was asked
    """

    count: int
    median: Fraction | None
    low: Fraction | None
    high: Fraction | None
    rank: int
    confidence: Fraction

    @property
    def missing(self) -> int:
        """How many values more are needed before anything is said."""
        return max(LEAST - self.count, 0)


@dataclass(frozen=True, slots=True)
class Judged:
    """What was learned beside what was printed.

    verdict   TOO_FEW; UNKNOWN where nothing is printed; INSIDE: the printed value, or some of its band, lies in the
              interval; BELOW or ABOVE: the whole of what is printed lies below or above it
    """

    learned: Learned
    printed: tuple[Fraction, Fraction] | None
    verdict: str
    working: Working

    @property
    def needs_decision(self) -> bool:
        """Whether what is printed does not agree with what was measured."""
        return self.verdict in (BELOW, ABOVE)


def outside(count: int, rank: int) -> Fraction:
    """The chance that the interval from the `rank`-th smallest to the `rank`-th largest misses the median.

    count    1 to 10,000 values of one continuous distribution
    rank     from 1 to half of them
    raises   OutOfRange
    source   see SOURCE
    check    8 values, first to last: 1/128; second to second last: 9/128
    """
    if not 1 <= count <= 10_000 or not 2 <= 2 * rank <= count + 1:
        raise OutOfRange(f"{count} values and rank {rank}: 1 to 10,000 values, ranks from 1 to their middle.")
    return Fraction(2 * sum(comb(count, k) for k in range(rank)), 2**count)


def rank_for(count: int, confidence: Fraction = CONFIDENCE) -> int:
    """The largest rank whose interval still holds the median with `confidence`; 0 where no interval does.

    raises   OutOfRange for more than 10,000 values or none below zero, or a confidence outside 0 to 1
    check    5 values: none at 95 %; 6 to 8: the first; 9 to 11: the second; 20: the sixth (table of SOURCE)
    """
    if not 0 <= count <= 10_000 or not 0 < confidence < 1:
        raise OutOfRange(f"{count} values at {confidence}: up to 10,000 values, a confidence between 0 and 1.")
    rank, term, tail, allowed = 0, 1, 1, (1 - confidence) * 2**count
    while 2 * tail <= allowed:  # the tail below the next rank; it is one half and more in the middle
        rank += 1
        term = term * (count - rank + 1) // rank
        tail += term
    return rank


def middle(values: Sequence[Real], confidence: Fraction = CONFIDENCE, least: int = LEAST) -> Learned:
    """The median of `values` and the interval around it.

    values   in any order; an interval only where there are `least` or more
    raises   OutOfRange for a value that is not finite, or a confidence outside 0 to 1
    source   see SOURCE
    check    1 to 9: 5, from 2 to 8 at 0.9609; 1 to 8: 4.5, from 1 to 8 at 0.9922
    """
    rows = sorted(exact(value) for value in values)
    count = len(rows)
    rank = rank_for(count, confidence) if count >= least else 0
    median = (rows[(count - 1) // 2] + rows[count // 2]) / 2 if rows else None
    if not rank:
        return Learned(count, median, None, None, 0, Fraction(0))
    return Learned(count, median, rows[rank - 1], rows[-rank], rank, 1 - outside(count, rank))


def against(
    values: Sequence[Real],
    printed: tuple[Real, Real] | None,
    *,
    what: str,
    unit: str,
    source: str = "",
    rule: str = "",
) -> Judged:
    """What was measured, beside the value or band that is printed.

    printed   (low, high) of the sheet, equal unless it is a band; none: the sheet does not say
    what      its name: "out by the drain plug"
    source    where the printed value comes from
    rule      how one value was measured
    raises    OutOfRange
    """
    learned = middle(values)
    band = None if printed is None else (exact(printed[0]), exact(printed[1]))
    if band is not None and band[0] > band[1]:
        raise OutOfRange(f"{what}: printed {band[0]} to {band[1]} {unit} is upside down.")
    if learned.low is None or learned.high is None:
        verdict = TOO_FEW
    elif band is None:
        verdict = UNKNOWN
    elif band[1] < learned.low:
        verdict = BELOW
    else:
        verdict = ABOVE if band[0] > learned.high else INSIDE
    return Judged(learned, band, verdict, _working(values, learned, band, what, unit, source, rule))


def ratio(needed_min: Real, sold_tenths: int) -> Fraction:
    """Needed time by sold time: 1 where a job took as long as was sold, above where it took longer (B-20).

    needed_min    minutes at work, above 0
    sold_tenths   tenths of an hour, above 0
    raises        MissingInput where no time was sold; OutOfRange for a time of 0 or less
    check         90 minutes on 15 tenths: 1; 63 minutes on 14: 3/4
    """
    if sold_tenths <= 0:
        raise MissingInput(f"{sold_tenths} tenths were sold: there is nothing to compare with.")
    minutes = exact(needed_min)
    if minutes <= 0:
        raise OutOfRange(f"{minutes} minutes at work: a job takes more than none.")
    return minutes / (6 * sold_tenths)


def fill_to_level(amounts: Sequence[Amount], density_15: Real, level_c: Real) -> Fraction:
    """What was poured from the last drain until the level stood right, in mL at 20 °C: the volume of that drain.

    What drains leaves the same rest behind, however full the unit was; so what brings it back to the mark tells the
    drained volume, and what came out does not. In counts, what ran out again or was left over is taken off.

    amounts      in, out and left since the last drain; a volume in without a temperature was read at 20 °C, one out
                 or left at `level_c`
    density_15   kg/m³ at 15 °C of the new fluid
    returns      to the tenth of a mL
    raises       OutOfRange where more was taken off than poured in, or outside the ranges of calc.oil
    source       mass kept: in less out; volumes by calc.oil
    check        2.55 kg of 850 kg/m³ and 100 mL at 20 °C less 40 mL at 40 °C: 3,071.7 mL
    """
    total = 0.0
    for one in amounts:
        if one.mass_g is not None:
            ml = oil.weighed_volume(exact(one.mass_g) / 1000, density_15, SHELF_C) * 1000
        else:
            read_at = one.at_c if one.at_c is not None else SHELF_C if one.way == "in" else level_c
            ml = oil.oil_volume_at(one.volume_ml or 0, read_at, SHELF_C, density_15)
        total += ml if one.way == "in" else -ml
    if total <= 0:
        raise OutOfRange(f"{total:.0f} mL stayed in since the last drain: more than nothing was poured.")
    return Fraction(round(total * 10), 10)


@dataclass(frozen=True, slots=True)
class Worked:
    """The time of one job, in minutes: at work, on hold, and in pauses."""

    work: Fraction
    held: Fraction
    paused: Fraction


def worked_time(
    presses: Sequence[datetime], holds: Sequence[tuple[datetime, datetime]] = (), pause_min: Real = PAUSE_MIN
) -> Worked:
    """The time from the first press to the last, without holds, and without pauses.

    presses     moments in any order, two or more; a stretch between two of them that is longer than `pause_min` after
                its holds were taken off is a pause as a whole
    holds       (from, until), in their order, none over another
    raises      MissingInput for fewer than two moments; OutOfRange for a hold that ends before it begins
    source      common practice, no source
    check       presses at 0, 10, 70 and 100 min, on hold from 20 to 60: 60 at work, 40 held, none paused
    """
    if len(presses) < 2:
        raise MissingInput("One press has no length: a job takes two or more.")
    for begun, ended in holds:
        if ended < begun:
            raise OutOfRange(f"A hold until {ended} ends before it begins, at {begun}.")
    work = held = paused = Fraction(0)
    for before, after in pairwise(sorted(presses)):
        on_hold = sum((_minutes(max(before, begun), min(after, ended)) for begun, ended in holds), Fraction(0))
        rest = _minutes(before, after) - on_hold
        held += on_hold
        if rest > exact(pause_min):
            paused += rest
        else:
            work += rest
    return Worked(work, held, paused)


def _minutes(begun: datetime, ended: datetime) -> Fraction:
    return Fraction(max((ended - begun) // timedelta(microseconds=1), 0), 60_000_000)


def _working(
    values: Sequence[Real],
    learned: Learned,
    band: tuple[Fraction, Fraction] | None,
    what: str,
    unit: str,
    source: str,
    rule: str,
) -> Working:
    given = [
        Given(f"x_{{({n})}}", f"measured, {n} of {learned.count} by size", value, unit, From.MEASURED, rule)
        for n, value in enumerate(sorted(exact(value) for value in values), 1)
    ]
    if band is not None:
        low, high = (None, None) if band[0] == band[1] else band
        given.append(Given("s", f"{what}, printed", sum(band) / 2, unit, From.UNIT_SHEET, source, low, high))
    steps = [Step("median", r"\tilde x", learned.median, unit)]
    if learned.rank:
        steps += [
            Step("rank", r"k = \max\{k : 1 - 2 P(B_{n,1/2} < k) \ge 0.95\}", learned.rank, ""),
            Step("low end", r"x_{(k)}", learned.low, unit),
            Step("high end", r"x_{(n+1-k)}", learned.high, unit),
            Step("confidence of the interval", r"1 - 2 P(B_{n,1/2} < k)", learned.confidence, ""),
        ]
    return Working(
        figure=what,
        value=learned.median,
        unit=unit,
        low=learned.low,
        high=learned.high,
        formula="middle of the measured values; the interval counts in from both ends as far as 95 % allow",
        formulas=(r"P(x_{(k)} \le m \le x_{(n+1-k)}) = 1 - 2 \sum_{i<k} \binom{n}{i} 2^{-n}",),
        given=tuple(given),
        steps=tuple(steps),
        sources=(SOURCE,),
        assumptions=("jobs are independent of each other and of one kind",),
    )
