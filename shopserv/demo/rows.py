"""Rows that are there or become there: the one way in which the loader writes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import models

Row = TypeVar("Row", bound=models.Model)

ZONE = "America/New_York"
LONG_AGO = date(2023, 1, 1)
INVENTED = "invented for the demonstration"


@cache
def scenario() -> dict[str, Any]:
    """The whole of `fixtures/demo.json`."""
    data: dict[str, Any] = json.loads((Path(settings.BASE_DIR) / "fixtures" / "demo.json").read_text("utf-8"))
    return data


@cache
def included_work() -> dict[str, dict[str, int]]:
    """What the operations of the price list include, from `fixtures/included_work.json`."""
    kept = json.loads((Path(settings.BASE_DIR) / "fixtures" / "included_work.json").read_text("utf-8"))
    operations: dict[str, dict[str, int]] = kept["operations"]
    return operations


@dataclass(slots=True)
class Tally:
    """What a load has made new, refused and left waiting."""

    made: dict[str, int] = field(default_factory=dict)
    refused: list[str] = field(default_factory=list)

    @property
    def total(self) -> int:
        """How many rows are new."""
        return sum(self.made.values())

    def ensure(self, model: type[Row], key: Sequence[str], rows: Sequence[Row]) -> dict[tuple[Any, ...], Row]:
        """Make those of `rows` that are not there yet by `key`; all by their key. What is there is left as it is."""
        there = _by_key(model, key)
        missing = {k: row for row in rows if (k := _key_of(row, key)) not in there}
        if missing:
            model._default_manager.bulk_create(list(missing.values()), batch_size=500)
            name = str(model._meta.verbose_name_plural)
            self.made[name] = self.made.get(name, 0) + len(missing)
            there = _by_key(model, key)
        return there

    def link(self, field_of: Any, source: str, target: str, pairs: Sequence[tuple[int, int]]) -> None:
        """Make those rows of a many-to-many table that are not there yet."""
        through = field_of.through
        there = set(through.objects.values_list(f"{source}_id", f"{target}_id"))
        through.objects.bulk_create(
            through(**{f"{source}_id": left, f"{target}_id": right})
            for left, right in pairs
            if (left, right) not in there
        )


def _key_of(row: models.Model, key: Sequence[str]) -> tuple[Any, ...]:
    return tuple(getattr(row, row._meta.get_field(name).attname) for name in key)  # type: ignore[union-attr]


def _by_key(model: type[Row], key: Sequence[str]) -> dict[tuple[Any, ...], Row]:
    return {_key_of(row, key): row for row in model._default_manager.all()}


def day(text: str | None) -> date | None:
    """An ISO date, or none."""
    return date.fromisoformat(text) if text else None


def the_day(text: str) -> date:
    """An ISO date that must be there."""
    return date.fromisoformat(text)


def noon(on: date) -> datetime:
    """Noon of a day at the shops, in UTC: readings and consents of the past carry no hour."""
    return datetime.combine(on, time(12), ZoneInfo(ZONE)).astimezone(UTC)


def ppm(share: str | float) -> int:
    """A share as parts per million: "0.90" is 900,000."""
    return int(Decimal(str(share)) * 1_000_000)


def percent_ppm(percent: str) -> int:
    """A percentage as parts per million: "6.25" is 62,500."""
    return int(Decimal(percent) * 10_000)


def thousandths(value: str | float | int) -> int:
    """A figure in thousandths: 40 °C is 40,000 thousandths of a degree."""
    return int(Decimal(str(value)) * 1000)
