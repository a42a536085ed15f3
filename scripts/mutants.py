"""Small faults set into a module of the calculation, one at a time: each gives one mutant that a test should find.

Left alone: annotations, docstrings, the words for a person (of an error, a source, a step of a working), `assert` that
only tells the type checker, and what stands under TYPE_CHECKING. A mutant that no test can find because it changes no
result stands with its reason in tests/calc/mutants.json.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass

COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
    ast.LShift: ast.RShift,
    ast.RShift: ast.LShift,
}
NAMES = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "floor": "ceil",
    "ceil": "floor",
    "pairwise": "list",
    "round_half_up": "cut_down",
    "cut_down": "round_half_up",
}
NO_FAULT = -1  # the number of the module as it is
LEFT_ALONE = {"annotation", "returns", "type_params"}
# names of things that the arithmetic asks for by words; every other text with a blank in it is for a person to read
NAMES_OF_THINGS = {"temperature difference", "particle count", "hourly rate", "Used Oil"}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One fault: its number in the module, its line, what it does, and the function it is in ("" for none)."""

    number: int
    line: int
    what: str
    function: str


def mutants(source: str) -> list[Mutant]:
    """All mutants of a module, in the order in which they stand."""
    tree = ast.parse(source)
    return [
        Mutant(number, getattr(node, "lineno", 0), what, function)
        for number, (node, what, _, function) in enumerate(_faults(tree))
    ]


def mutated(source: str, number: int) -> ast.Module:
    """The module with that one fault in it."""
    tree = ast.parse(source)
    if number == NO_FAULT:
        return tree
    for place, (_, _, change, _) in enumerate(_faults(tree)):
        if place == number:
            change()
            return ast.fix_missing_locations(tree)
    raise IndexError(f"there is no mutant {number}")


Fault = tuple[ast.AST, str, Callable[[], None], str]


def _faults(node: ast.AST, names: str = "", function: str = "") -> Iterator[Fault]:
    """Faults at and under a node; the tree stays as it is until one of them is called.

    names      of the classes and functions around, with dots
    function   the outermost function whose body this is; defaults and decorators belong to the module
    """
    for field, value in list(ast.iter_fields(node)):
        if field in LEFT_ALONE:
            continue
        inside = function or (names if isinstance(node, ast.FunctionDef) and field == "body" else "")
        for place, child in enumerate(value if isinstance(value, list) else [value]):
            if not isinstance(child, ast.AST) or _is_left_alone(child):
                continue
            for what, new in _changes(child):
                yield child, what, _putting(node, field, place if isinstance(value, list) else None, new), inside
            deeper = names
            if isinstance(child, ast.FunctionDef | ast.ClassDef):
                deeper = f"{names}.{child.name}".strip(".")
            yield from _faults(child, deeper, inside)


def _putting(node: ast.AST, field: str, place: int | None, new: ast.AST) -> Callable[[], None]:
    def put() -> None:
        if place is None:
            setattr(node, field, new)
        else:
            getattr(node, field)[place] = new

    return put


def _is_left_alone(node: ast.AST) -> bool:
    match node:
        case ast.Raise() | ast.Assert() | ast.Import() | ast.ImportFrom():
            return True
        case ast.Expr(value=ast.Constant()):  # a docstring
            return True
        case ast.If(test=ast.Name(id="TYPE_CHECKING")):
            return True
        case ast.Call(func=ast.Name(id="dataclass")):
            return True
        case ast.keyword(arg="strict"):  # what a caller must keep, not what a value must be
            return True
        case ast.Constant(value=str() as words) if " " in words and not words[0].isdigit():
            return words not in NAMES_OF_THINGS
        case ast.Assign(targets=[ast.Name(id=name)]) if name in ("__all__", "__slots__"):
            return True
    return False


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """What a node could be by mistake; the new node shares the children of the old."""
    match node:
        case ast.Compare(left=left, ops=ops, comparators=right):
            for i, op in enumerate(ops):
                new = COMPARISONS[type(op)]
                yield (
                    f"{type(op).__name__} -> {new.__name__}",
                    ast.copy_location(ast.Compare(left, [*ops[:i], new(), *ops[i + 1 :]], right), node),
                )
        case ast.BinOp(left=left, op=op, right=right) if type(op) in OPERATORS:
            if isinstance(op, ast.Mod) and isinstance(left, ast.Constant | ast.JoinedStr):
                return
            new_op = OPERATORS[type(op)]
            yield (
                f"{type(op).__name__} -> {new_op.__name__}",
                ast.copy_location(ast.BinOp(left, new_op(), right), node),
            )
        case ast.AugAssign(target=target, op=op, value=value) if type(op) in OPERATORS:
            new_op = OPERATORS[type(op)]
            yield (
                f"{type(op).__name__}= -> {new_op.__name__}=",
                ast.copy_location(ast.AugAssign(target, new_op(), value), node),
            )
        case ast.UnaryOp(op=ast.USub() | ast.Not(), operand=operand):
            yield f"no {type(node.op).__name__}", operand
        case ast.BoolOp(op=op, values=values):
            other = ast.Or() if isinstance(op, ast.And) else ast.And()
            yield f"{type(op).__name__} -> {type(other).__name__}", ast.copy_location(ast.BoolOp(other, values), node)
        case ast.Constant(value=value):
            yield from _other_constant(node, value)
        case ast.Name(id=name) if name in NAMES and isinstance(node.ctx, ast.Load):
            yield f"{name} -> {NAMES[name]}", ast.copy_location(ast.Name(NAMES[name], ast.Load()), node)
        case ast.Attribute(value=value, attr=name) if name in NAMES and isinstance(node.ctx, ast.Load):
            yield f"{name} -> {NAMES[name]}", ast.copy_location(ast.Attribute(value, NAMES[name], ast.Load()), node)
        case ast.If(test=test) | ast.While(test=test) if not isinstance(test, ast.Compare):
            other_way = copy.copy(node)
            other_way.test = ast.copy_location(ast.UnaryOp(ast.Not(), test), test)
            yield "condition turned round", other_way
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield "branches exchanged", ast.copy_location(ast.IfExp(test, orelse, body), node)
        case ast.Return(value=value) if value is not None and not _is_none(value):
            yield "returns None", ast.copy_location(ast.Return(ast.Constant(None)), node)
        case ast.Expr(value=ast.Call()):
            yield "call left out", ast.copy_location(ast.Pass(), node)
        case ast.Break():
            yield "break -> continue", ast.copy_location(ast.Continue(), node)
        case ast.Continue():
            yield "continue -> break", ast.copy_location(ast.Break(), node)


def _is_none(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _other_constant(node: ast.Constant, value: object) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(value, bool):
        new: str | int | float = not value
    elif isinstance(value, int | float):
        new = value + 1
    elif isinstance(value, str) and value:
        new = f"XX{value}"
    else:
        return
    yield f"{value!r} -> {new!r}"[:80], ast.copy_location(ast.Constant(new), node)
