"""The book of the fluid's age: exchanges, top-ups and mixes with their credit; what of each fluid is still inside."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from shopserv.calc.errors import DateOrder, MissingInput, OutOfRange
from shopserv.calc.forecast import whole_months
from shopserv.calc.measures import Real, exact, within

ONE = Fraction(1)
FIRST = "first fluid"


@dataclass(frozen=True, slots=True)
class Job:
    """Something poured in: the day, the distance run by then, the share of new fluid afterwards, which fluid it was."""

    on: date
    distance: Fraction
    share: Fraction
    fluid: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """One job in the book; ages as (distance, months)."""

    job: Job
    before: tuple[Fraction, Fraction]
    after: tuple[Fraction, Fraction]


@dataclass(frozen=True, slots=True)
class Book:
    """The age of the fluid after the last job, and how it came about.

    distance, months   mean age just after it, counted on from `since` at the distance `at`
    is_assumed         the first fluid's age was not known and was taken as one interval
    """

    lines: tuple[Line, ...]
    distance: Fraction
    months: Fraction
    since: date
    at: Fraction
    is_assumed: bool

    def now(self, run: Real, today: date) -> tuple[Fraction, Fraction]:
        """Distance and months when `run` was driven in all and it is `today`; time and road never run backward."""
        return (
            self.distance + max(Fraction(0), exact(run) - self.at),
            self.months + max(0, whole_months(self.since, today)),
        )


def share_of_add(added: Real, fill: Real) -> Fraction:
    """The share of new fluid after so much was poured in for what was missing.

    added, fill   in one unit; what is added makes up for what had left, well mixed with the rest
    raises        OutOfRange for a fill not above 0, an amount below 0 or above the fill
    source        mean of a mixture
    check         0.3 L into a unit of 7.4 L: 3/74
    """
    whole = exact(fill)
    if whole <= 0:
        raise OutOfRange(f"A fill of {float(whole):g} is not above zero.")
    return within(exact(added) / whole, 0, 1, "What was added, as a share of the fill,")


def combined(shares: Sequence[Real]) -> Fraction:
    """The share of new fluid after several exchanges one upon the other.

    shares   of each, 0 to 1
    raises   OutOfRange
    check    0.392 three times: 0.7753
    """
    return ONE - _kept(shares)


def still_inside(share: Real, later: Sequence[Real]) -> Fraction:
    """How much of a fluid is still inside: its share when it was poured, less what each later job took out.

    later    shares of new fluid of the jobs since, 0 to 1
    raises   OutOfRange
    source   mean of a mixture
    check    0.900, then 0.479 new: 0.4689
    """
    return within(share, 0, 1, "The share of the fluid") * _kept(later)


def _kept(shares: Sequence[Real]) -> Fraction:
    left = ONE
    for share in shares:
        left *= ONE - within(share, 0, 1, "The share of new fluid")
    return left


def contents(fluids: Sequence[tuple[str, Real]], first: str = FIRST) -> Mapping[str, Fraction]:
    """What is in the unit by fluid after all jobs; the shares sum to 1 exactly.

    fluids   (name of the fluid or batch, share of new fluid), oldest first
    first    name of what was in before
    raises   OutOfRange
    check    0.5 of A, then 0.5 of B: a quarter first fluid, a quarter A, half B
    """
    found = {first: ONE}
    for name, share in fluids:
        new = within(share, 0, 1, "The share of new fluid")
        found = {each: part * (ONE - new) for each, part in found.items()}
        found[name] = found.get(name, Fraction(0)) + new
    return {name: part for name, part in found.items() if part}


def book(jobs: Sequence[Job], first_use: date | None, *, interval: Real, months: Real) -> Book:
    """The age of the fluid carried through every job.

    jobs               oldest first; top-ups by `share_of_add`
    first_use          of the vehicle; none: the first fluid counts as one interval old at the first job
    interval, months   the adjusted interval, for that case
    raises             MissingInput without first use and jobs, DateOrder for a job before the one before it (or before
                       first use), OutOfRange for a distance that runs backward or a share outside 0 to 1
    source             mean age of mixed fluid, (1 - share) x age before: common practice, no source
    check              V-01 of the demonstration: 19,389.12 mi and 34.048 months after its drain of 0.392
    """
    if not jobs:
        if first_use is None:
            raise MissingInput("Neither the day of first use nor a job is known: the fluid has no beginning.")
        return Book((), Fraction(0), Fraction(0), first_use, Fraction(0), is_assumed=False)
    age = (exact(interval), exact(months)) if first_use is None else (Fraction(0), Fraction(0))
    since, at = (jobs[0].on, jobs[0].distance) if first_use is None else (first_use, Fraction(0))
    lines = []
    for job in jobs:
        if job.on < since:
            raise DateOrder(f"The job of {job.on} is earlier than {since}, which stands before it.")
        if job.distance < at:
            raise OutOfRange(f"{float(job.distance):g} at the job of {job.on} is less than {float(at):g} before it.")
        kept = ONE - within(job.share, 0, 1, "The share of new fluid")
        before = (age[0] + job.distance - at, age[1] + whole_months(since, job.on))
        age, since, at = (kept * before[0], kept * before[1]), job.on, job.distance
        lines.append(Line(job, before, age))
    return Book(tuple(lines), *age, since, at, is_assumed=first_use is None)
