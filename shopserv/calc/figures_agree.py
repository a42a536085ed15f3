"""When a result agrees with what a reference check expects."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Any

from shopserv.calc import measures
from shopserv.calc.errors import CalcError, DimensionMismatch
from shopserv.calc.figures_values import MONEY, Value, parse, split

ROUNDING = Fraction(1, 10**12)  # of binary floating point, for one unit plus the size
SAME = Fraction(1, 10**9)  # relative, for `constant` and `equal_to`


def as_value(result: Any) -> Any:
    """A result with amounts as values of money, dates as texts; lists likewise."""
    if isinstance(result, Decimal):
        return Value(Fraction(result), "money", "USD")
    if isinstance(result, date):
        return result.isoformat()
    if isinstance(result, list | tuple):
        return [as_value(one) for one in result]
    return result


def _unit(name: str, dimension: str) -> measures.Unit:
    """The unit of an expectation; for a difference, degC and degF stand for their step."""
    if dimension == "temperature difference" and name in measures.DIFFERENCES:
        return measures.DIFFERENCES[name]
    return measures.unit(name, dimension)


def _read(text: object, dimension: str) -> tuple[Fraction, measures.Unit]:
    """Number and unit of a value string of this dimension, whatever its size."""
    if dimension in MONEY:
        value = parse(text, dimension)  # refuses parts of a cent
        return value.exact, measures.unit(value.unit, dimension)
    figure, name = split(text)
    return Fraction(figure), _unit(name, dimension)


def agrees(result: Any, expect: Any, tolerance: Any = None) -> bool:
    """Whether a result (see as_value) is what is expected, within the tolerance or exactly.

    raises   CalcError for an expectation or a tolerance that cannot be read in the dimension of the result
    """
    if isinstance(result, list):
        if not isinstance(expect, list) or len(expect) != len(result):
            return False
        return all(agrees(one, other, tolerance) for one, other in zip(result, expect, strict=True))
    if isinstance(result, Value):
        return _values_agree(result, expect, tolerance)
    if type(result) is int and type(expect) is int and tolerance is not None:
        return abs(result - expect) <= _allowed(tolerance, Fraction(expect), "number", measures.UNITS[""]["number"])
    return _same(result, expect)


def _same(result: Any, expect: Any) -> bool:
    """Equal and of one kind: 1 is not true, and neither is it "1"."""
    if type(result) is not type(expect):
        return False
    if isinstance(result, Mapping):
        return result.keys() == expect.keys() and all(_same(result[key], expect[key]) for key in result)
    return bool(result == expect)


def _values_agree(result: Value, expect: Any, tolerance: Any) -> bool:
    if type(expect) is int and result.dimension == "number":
        expect = str(expect)
    expected, unit = _read(expect, result.dimension)
    got = measures.from_base(result.magnitude, unit)
    if tolerance is not None:
        return abs(got - expected) <= _allowed(tolerance, expected, result.dimension, unit)
    if result.dimension in MONEY:
        return got == expected
    return abs(got - expected) <= ROUNDING * (1 + abs(expected))


def _allowed(tolerance: Any, expected: Fraction, dimension: str, unit: measures.Unit) -> Fraction:
    """How far off a result may be, in the unit of the expectation."""
    if not isinstance(tolerance, Mapping) or len(tolerance) != 1 or not tolerance.keys() <= {"abs", "rel"}:
        raise CalcError(f"{tolerance!r} is no tolerance; it may be an abs or a rel.")
    if "rel" in tolerance:
        return parse(tolerance["rel"], "number").exact * abs(expected)
    size, name = split(tolerance["abs"])
    if not name:  # a bare number is in the unit of the expectation
        return Fraction(size)
    of = _unit(name, "temperature difference" if dimension == "temperature" else dimension)
    return Fraction(size) * of.factor / unit.factor


def shown(result: Any, expect: Any = None) -> str:
    """A result on one line, in the unit of the expectation where there is one."""
    if isinstance(result, list):
        likes = expect if isinstance(expect, list) and len(expect) == len(result) else [None] * len(result)
        return f"[{', '.join(shown(one, like) for one, like in zip(result, likes, strict=True))}]"
    if not isinstance(result, Value):
        return repr(result)
    unit = _unit_to_show(result, expect)
    figure = measures.from_base(result.magnitude, unit)
    if result.dimension in MONEY:
        return f"{Decimal(figure.numerator) / figure.denominator:.2f} {unit.name}"
    return f"{_digits(figure)} {unit.name}".strip()


def _digits(figure: Fraction) -> str:
    try:
        return f"{float(figure):.15g}"
    except OverflowError:
        return str(figure)


def _unit_to_show(result: Value, expect: Any) -> measures.Unit:
    try:
        return _read(expect, result.dimension)[1]
    except CalcError:
        units = (units[result.dimension] for units in measures.UNITS.values() if result.dimension in units)
        return next(unit for unit in units if unit.factor == 1)


# Properties


def _compare(one: Any, other: Any, test: Callable[[Any, Any], bool]) -> bool:
    """Whether the test holds between two results of one kind; lists member by member."""
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(_compare(a, b, test) for a, b in zip(one, other, strict=True))
    if isinstance(one, Value) and isinstance(other, Value):
        if one.dimension != other.dimension:
            raise DimensionMismatch(f"A {one.dimension} cannot be compared with a {other.dimension}.")
        return test(one.exact, other.exact)
    if type(one) is not type(other):
        raise DimensionMismatch(f"{shown(one)} and {shown(other)} cannot be compared.")
    return test(one, other)


def _nearly(one: Any, other: Any) -> bool:
    if isinstance(one, int | Fraction) and not isinstance(one, bool):
        return bool(abs(one - other) <= SAME * max(abs(one), abs(other)))
    return _same(one, other)


ORDERS: dict[str, Callable[[Any, Any], bool]] = {
    "increasing": lambda before, after: after > before,
    "decreasing": lambda before, after: after < before,
    "non_decreasing": lambda before, after: after >= before,
    "non_increasing": lambda before, after: after <= before,
}


def in_order(results: Sequence[Any], order: str) -> bool:
    """Whether each result stands to the one before as the property says."""
    return all(_compare(before, after, ORDERS[order]) for before, after in pairwise(results))


def constant(results: Sequence[Any]) -> bool:
    """Whether all results are equal within 1e-9 relative."""
    return all(_compare(one, other, _nearly) for i, one in enumerate(results) for other in results[i + 1 :])


def bounded(results: Sequence[Any], bounds: Any) -> bool:
    """Whether every result lies in [low, high], both ends allowed."""
    if not isinstance(bounds, list) or len(bounds) != 2:
        raise CalcError(f"{bounds!r} are no bounds; it takes a low and a high one.")
    return all(_lies_in(one, *bounds) for one in results)


def _lies_in(result: Any, low: Any, high: Any) -> bool:
    if isinstance(result, list):
        return all(_lies_in(one, low, high) for one in result)
    if isinstance(result, Value):
        ends = []
        for end in (low, high):
            size, unit = _read(str(end) if type(end) is int else end, result.dimension)
            ends.append(measures.to_base(size, unit))
        return bool(ends[0] <= result.exact <= ends[1])
    if type(result) is int:
        ends = [Fraction(end) if type(end) is int else parse(end, "number").exact for end in (low, high)]
        return bool(ends[0] <= result <= ends[1])
    return _compare(low, result, lambda a, b: a <= b) and _compare(result, high, lambda a, b: a <= b)


def greater_than(result: Any, other: Any) -> bool:
    """Whether the result is strictly above the other."""
    return _compare(other, result, ORDERS["increasing"])


def equal_to(result: Any, other: Any, tolerance: Any = None) -> bool:
    """Whether both are equal within 1e-9 relative, or within the tolerance."""
    if tolerance is None:
        return _compare(result, other, _nearly)
    return _compare(result, other, lambda one, two: _within(one, two, tolerance, _dimension(result)))


def _dimension(result: Any) -> str:
    while isinstance(result, list) and result:
        result = result[0]
    return result.dimension if isinstance(result, Value) else "number"


def _within(one: Any, two: Any, tolerance: Any, dimension: str) -> bool:
    if isinstance(one, bool) or not isinstance(one, int | Fraction):
        return _same(one, two)
    base = measures.Unit("", dimension, Fraction(1))
    return bool(abs(one - two) <= _allowed(tolerance, Fraction(two), dimension, base))
