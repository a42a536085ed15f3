"""The reference checks: every quantity of the calculation by name, and a file of checks run over them.

source   the contract of the reference checks, version 1
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from shopserv.calc import figures_money, figures_physics
from shopserv.calc.errors import CalcError, MissingInput, OutOfRange, UnknownChoice, UnknownQuantity
from shopserv.calc.figures_agree import (
    ORDERS,
    agrees,
    as_value,
    bounded,
    constant,
    equal_to,
    greater_than,
    in_order,
    shown,
)
from shopserv.calc.figures_values import Given

CONTRACT = 1
REGISTRY: dict[str, Callable[[Given], Any]] = {**figures_physics.EVALUATORS, **figures_money.EVALUATORS}


@dataclass(frozen=True, slots=True)
class Failure:
    """One check that failed: its id, what was expected, what came."""

    id: str
    expected: str
    got: str

    def __str__(self) -> str:
        return " ".join(f"{self.id}: expected {self.expected}, got {self.got}".split())


@dataclass(frozen=True, slots=True)
class Report:
    """What came of a file of checks."""

    total: int
    failures: tuple[Failure, ...]

    @property
    def agreed(self) -> int:
        """How many checks agree."""
        return self.total - len(self.failures)

    def lines(self) -> list[str]:
        """One line a failure, then how many agree."""
        return [*map(str, self.failures), f"{self.agreed} of {self.total} agree"]


class BadDocument(ValueError):
    """A file that holds no checks of this contract."""


def evaluate(quantity: str, given: Mapping[str, Any]) -> Any:
    """A quantity from its inputs.

    given     inputs by name: value strings, integers, booleans, texts, dates, lists and objects of these
    returns   Value, Decimal of money, int, bool, str, date, dict of counts, or a list of these
    raises    UnknownQuantity, and the named errors of the quantity
    """
    evaluator = REGISTRY.get(quantity) if isinstance(quantity, str) else None
    if evaluator is None:
        raise UnknownQuantity(f"{quantity!r} is no quantity that is calculated here.")
    try:
        return evaluator(Given(given))
    except OverflowError as cause:
        raise OutOfRange(f"The inputs of {quantity} are beyond all that is calculated here.") from cause


def load(text: str | bytes) -> dict[str, Any]:
    """A document of checks from its JSON.

    raises   BadDocument if it is no valid JSON, of another contract, or without a list of checks
    """
    try:
        document = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as cause:
        raise BadDocument(f"This is no valid JSON: {cause}") from cause
    if not isinstance(document, dict) or type(document.get("contract")) is not int or document["contract"] != CONTRACT:
        raise BadDocument(f"This file is not of contract {CONTRACT}.")
    if not isinstance(document.get("checks"), list):
        raise BadDocument("This file has no list of checks.")
    return document


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is no JSON number")


def run_checks(document: Mapping[str, Any]) -> Report:
    """Run every check of a document; none is skipped, and none stops the run.

    document   see load
    """
    found = [failure for check in document["checks"] if (failure := _failure(check)) is not None]
    return Report(len(document["checks"]), tuple(found))


def _failure(check: Any) -> Failure | None:
    if not isinstance(check, Mapping):
        return Failure("?", "a check", _plain(check))
    name = str(check.get("id", "?"))
    try:
        expected, got, is_fine = _property(check) if "property" in check else _value(check)
    except Exception as fault:  # whatever it is, the other checks must still run
        return Failure(name, _expectation(check), f"{type(fault).__name__}: {fault}")
    return None if is_fine else Failure(name, expected, got)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _expectation(check: Mapping[str, Any]) -> str:
    return str(check["property"]) if "property" in check else _plain(check.get("expect"))


def _value(check: Mapping[str, Any]) -> tuple[str, str, bool]:
    """Expected, got, and whether they agree."""
    if "expect" not in check:
        raise MissingInput("The check has neither expect nor property.")
    expect = check["expect"]
    wanted = expect["error"] if isinstance(expect, Mapping) and _is_error(expect) else None
    try:
        result = as_value(evaluate(check.get("quantity", ""), check.get("given", {})))
    except CalcError as error:
        return _plain(expect), f"{error.name}: {error}", error.name == wanted
    if wanted is not None:
        return _plain(expect), shown(result), False
    return _plain(expect), shown(result, expect), _agrees(result, expect, check.get("tolerance"))


def _is_error(expect: Mapping[str, Any]) -> bool:
    """Whether an object names an error; a package may be called so too, but then it has a count."""
    return expect.keys() == {"error"} and isinstance(expect["error"], str)


def _agrees(result: Any, expect: Any, tolerance: Any) -> bool:
    try:
        return agrees(result, expect, tolerance)
    except CalcError:  # an expectation of another kind than the result
        return False


def _property(check: Mapping[str, Any]) -> tuple[str, str, bool]:
    name, quantity, given = check["property"], check.get("quantity", ""), check.get("given", {})
    if name in ("greater_than", "equal_to"):
        result = as_value(evaluate(quantity, given))
        than = as_value(evaluate(check["than"]["quantity"], check["than"].get("given", {})))
        is_fine = (
            greater_than(result, than) if name == "greater_than" else equal_to(result, than, check.get("tolerance"))
        )
        return f"{name} {shown(than)}", shown(result), is_fine
    if name not in (*ORDERS, "constant", "bounded"):
        raise UnknownChoice(f"{name!r} is no property.")
    if not isinstance(check.get("over"), list) or not check["over"]:
        raise MissingInput("over must name the values that vary.")
    results = [as_value(evaluate(quantity, varied(given, check["vary"], value))) for value in check["over"]]
    if name in ORDERS:
        return name, shown(results), in_order(results, name)
    if name == "constant":
        return name, shown(results), constant(results)
    return f"bounded {_plain(check.get('bounds'))}", shown(results), bounded(results, check.get("bounds"))


def varied(given: Mapping[str, Any], path: str, value: Any) -> dict[str, Any]:
    """The inputs with one of them replaced.

    path   name of the input, with dots to reach inside an object (or a list, by place)
    """
    changed: dict[str, Any] = copy.deepcopy(dict(given))
    place: Any = changed
    *way, last = path.split(".")
    for step in way:
        place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
    if isinstance(place, list):
        place[int(last)] = value
    else:
        place[last] = value
    return changed
