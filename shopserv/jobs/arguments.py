"""The arguments of a calculation kept as plain values beside its answer, so that it can be made again exactly."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from shopserv.calc.balance import Amount
from shopserv.calc.bench import Axis

ROWS = {row.__name__: row for row in (Amount, Axis)}
EXACT = {"Fraction": Fraction, "Decimal": Decimal}


def kept(given: Mapping[str, Any]) -> dict[str, Any]:
    """Arguments by name as JSON: exact numbers as ["Fraction", "37/5"], rows as ["Axis", {...}]."""
    return {name: _kept(value) for name, value in given.items()}


def made(stored: Mapping[str, Any]) -> dict[str, Any]:
    """The arguments that were kept."""
    return {name: _made(value) for name, value in stored.items()}


def _kept(value: Any) -> Any:
    if isinstance(value, Fraction | Decimal):
        return [type(value).__name__, str(value)]
    if is_dataclass(value):
        return [type(value).__name__, {each.name: _kept(getattr(value, each.name)) for each in fields(value)}]
    if isinstance(value, Mapping):
        return {name: _kept(each) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return ["", [_kept(each) for each in value]]
    return value


def _made(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _made(each) for name, each in value.items()}
    if not isinstance(value, list):
        return value
    kind, inner = value
    if kind in EXACT:
        return EXACT[kind](inner)
    if kind in ROWS:
        return ROWS[kind](**_made(inner))
    return tuple(_made(each) for each in inner)
