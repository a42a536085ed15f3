"""What the work that is due is worth by the price list: stored with the forecast, never computed for a list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from shopserv.reminders.services.facts import Facts


@dataclass(frozen=True, slots=True)
class Worth:
    """The price of what is due before tax, and the method it is the price of."""

    cents: int
    method: str


def values_of(all_facts: Sequence[Facts], *, on: date) -> dict[int, Worth]:
    """The work value of each vehicle by its row; a vehicle whose work cannot be priced is not in the answer."""
    return {}
