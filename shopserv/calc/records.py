"""How long a record is kept, particle codes, and used oil."""

from __future__ import annotations

from datetime import date
from fractions import Fraction

from shopserv.calc.errors import BadCounts, OutOfRange, UnknownChoice
from shopserv.calc.measures import Real, exact

# ISO 4406, table 1: more than the limit before, up to and including its own, per mL
_LIMITS = (
    "0.01 0.02 0.04 0.08 0.16 0.32 0.64 1.3 2.5 5 10 20 40 80 160 320 640 1300 2500 5000 10000 20000 40000 80000 "
    "160000 320000 640000 1300000 2500000"
)
SCALE_LIMITS = tuple(Fraction(limit) for limit in _LIMITS.split())
ROLES = ("generator", "processor", "burner")
HALOGEN_LIMIT = Fraction(1_000, 10**6)
LABELS = ("container", "aboveground_tank", "underground_fill_pipe")


def retention_until(start: date, years: int) -> date:
    """The day until which a record is kept: the same day so many years later, 29 February to 28 in a common year.

    years    0 or more
    raises   OutOfRange
    source   years by place: California 3, New York 2 (15 NYCRR 82.9), Florida 1
    """
    if years < 0:
        raise OutOfRange(f"{years} years is below zero.")
    if start.year + years > date.max.year:
        raise OutOfRange(f"{years} years from {start} are beyond the calendar.")
    try:
        return start.replace(year=start.year + years)
    except ValueError:
        return date(start.year + years, 2, 28)


def iso4406_code(over_4um: Real, over_6um: Real, over_14um: Real) -> str:
    """The particle code of three counts per mL.

    raises   OutOfRange for a negative count, BadCounts if they rise with size
    source   ISO 4406, scale table
    check    2,500, 320 and 40 a milliliter: 18/15/12
    """
    counts = [exact(one) for one in (over_4um, over_6um, over_14um)]
    if any(count < 0 for count in counts):
        raise OutOfRange("A particle count cannot be below zero.")
    if not counts[0] >= counts[1] >= counts[2]:
        raise BadCounts("Each count includes the larger particles, so it cannot rise with size.")
    return "/".join(_scale_number(count) for count in counts)


def _scale_number(count: Fraction) -> str:
    return next((str(n) for n, limit in enumerate(SCALE_LIMITS) if count <= limit), ">28")


def used_oil_presumption(total_halogens: Real, role: str = "generator") -> bool:
    """Whether used oil is presumed to be hazardous waste by its halogens.

    total_halogens   share by mass
    raises           OutOfRange, UnknownChoice
    source           40 CFR 279.10(b)(1)(ii): above 1,000 ppm; 279.53(c), 279.63(c): at 1,000 ppm or more
    """
    halogens = exact(total_halogens)
    if halogens < 0:
        raise OutOfRange("A halogen content cannot be below zero.")
    if role not in ROLES:
        raise UnknownChoice(f"The role is {role!r}; it may be {', '.join(ROLES)}.")
    return halogens > HALOGEN_LIMIT if role == "generator" else halogens >= HALOGEN_LIMIT


def used_oil_label(on: str) -> str:
    """The words on a container of used oil.

    raises   UnknownChoice
    source   40 CFR 279.22(c)
    """
    if on not in LABELS:
        raise UnknownChoice(f"{on!r} has no label; it may be {', '.join(LABELS)}.")
    return "Used Oil"
