"""A frozen row computed again from its frozen inputs, figure by figure. No table is read here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Difference:
    """A figure that came out otherwise."""

    row: str
    figure: str
    stored: Any
    computed: Any

    def __str__(self) -> str:
        return f"{self.row}, {self.figure}: stored {self.stored}, computed {self.computed}"


@dataclass(frozen=True, slots=True)
class Again:
    """One row computed again.

    stored, computed   figure -> value; compared by `==`
    cannot             what cannot be computed again, and why in words; such figures count as neither agreeing nor not
    """

    row: str
    stored: Mapping[str, Any]
    computed: Mapping[str, Any]
    cannot: Mapping[str, str] = field(default_factory=dict)

    def differences(self) -> Iterator[Difference]:
        """Every figure that came out otherwise; one that only one side has is one."""
        for figure in sorted({*self.stored, *self.computed}):
            stored, computed = self.stored.get(figure), self.computed.get(figure)
            if stored != computed:
                yield Difference(self.row, figure, stored, computed)


@dataclass(frozen=True, slots=True)
class Report:
    """All rows computed again.

    cannot   (row, figure, why)
    """

    rows: int
    figures: int
    differences: tuple[Difference, ...]
    cannot: tuple[tuple[str, str, str], ...]

    def as_dict(self) -> dict[str, Any]:
        """The report as plain values."""
        return {
            "rows": self.rows,
            "figures": self.figures,
            "differences": [
                {"row": one.row, "figure": one.figure, "stored": one.stored, "computed": one.computed}
                for one in self.differences
            ],
            "cannot": [{"row": row, "figure": figure, "why": why} for row, figure, why in self.cannot],
        }


def report(found: Iterable[Again]) -> Report:
    """What computing again came to."""
    rows = figures = 0
    differences: list[Difference] = []
    cannot: list[tuple[str, str, str]] = []
    for again in found:
        rows += 1
        figures += len({*again.stored, *again.computed})
        differences += again.differences()
        cannot += [(again.row, figure, why) for figure, why in again.cannot.items()]
    return Report(rows, figures, tuple(differences), tuple(cannot))
