"""Labor of several jobs on one vehicle: work that they share is sold once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from shopserv.calc.errors import OutOfRange


@dataclass(frozen=True, slots=True)
class Operation:
    """An operation of the price list.

    tenths     of an hour it is sold for by itself
    includes   work that is part of it and that others may need too: words -> tenths, together at most `tenths`
    """

    name: str
    tenths: int
    includes: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Removed:
    """Shared work, in tenths: what it is, of which operations it is part, what was taken off."""

    work: str
    operations: tuple[str, ...]
    tenths: int


@dataclass(frozen=True, slots=True)
class Together:
    """Operations done on one vehicle in one go, in tenths of an hour.

    listed    the sum of the price list
    removed   what is done once only, by the name of the work; none that takes off nothing
    sold      listed less removed
    """

    listed: int
    removed: tuple[Removed, ...]
    sold: int

    @property
    def removed_tenths(self) -> int:
        """All that was taken off."""
        return self.listed - self.sold


def together(operations: Sequence[Operation]) -> Together:
    """The tenths of operations on one vehicle: work that several include is counted once, with its longest time.

    raises   OutOfRange for a negative time, or included work longer than its operation
    source   common practice, no source; the price list says what includes what
    check    pan drop 1.5 h and line exchange 1.8 h that both include 0.3 h of raising, warming, level: 3.0 h
    """
    for one in operations:
        if one.tenths < 0 or any(tenths < 0 for tenths in one.includes.values()):
            raise OutOfRange(f"“{one.name}” has a time below zero.")
        if sum(one.includes.values()) > one.tenths:
            raise OutOfRange(
                f"“{one.name}” is sold for {one.tenths} tenths of an hour and includes "
                f"{sum(one.includes.values())}: what it includes cannot be longer than itself."
            )
    shared: dict[str, list[Operation]] = {}
    for one in operations:
        for work in one.includes:
            shared.setdefault(work, []).append(one)
    removed = []
    for work, sharing in sorted(shared.items()):
        times = [one.includes[work] for one in sharing]
        if twice := sum(times) - max(times):
            removed.append(Removed(work, tuple(one.name for one in sharing), twice))
    listed = sum(one.tenths for one in operations)
    return Together(listed, tuple(removed), listed - sum(one.tenths for one in removed))
