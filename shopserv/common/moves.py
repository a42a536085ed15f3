"""Lifecycles as tables of moves, and the one function that makes a move."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from django.db.models import F

from shopserv.common.errors import NotYours, StateRefusal


@dataclass(frozen=True, slots=True)
class Move:
    """One row of a lifecycle.

    who       roles that may, apart by blanks; "S" follows inside another deed, "clock" is time alone
    demands   what the deed has to see to before, in words (the deed checks it, the table states it)
    """

    source: str
    act: str
    target: str
    who: str
    demands: str = ""


class Mover(Protocol):
    """Whoever acts: all that a move asks of the actor."""

    @property
    def roles(self) -> frozenset[str]: ...


def targets(moves: Sequence[Move], act: str) -> set[str]:
    """The states that `act` leads to."""
    return {m.target for m in moves if m.act == act}


def move(row: Any, act: str, moves: Sequence[Move], actor: Mover, **changes: Any) -> None:
    """Move `row` by `act`, together with other `changes` of columns, if state and role allow it.

    The row is updated where key and old state still fit, which holds on both engines.

    raises  NotYours if the role may not; StateRefusal if no row answered
    """
    rows = [m for m in moves if m.act == act]
    if not rows:
        raise LookupError(f"no move {act!r}")
    allowed = [m for m in rows if "S" in m.who.split() or actor.roles & set(m.who.split())]
    if not allowed:
        raise NotYours(f"{act}: not for {', '.join(sorted(actor.roles)) or 'you'}")
    target = allowed[0].target
    values: dict[str, Any] = {"state": target, **changes}
    if any(field.name == "edition" for field in row._meta.concrete_fields):
        values["edition"] = F("edition") + 1
    sources = [m.source for m in allowed if m.target == target]
    if not type(row)._default_manager.filter(pk=row.pk, state__in=sources).update(**values):
        row.refresh_from_db()
        raise StateRefusal(f"{row}: “{act}” needs {' or '.join(sources)}; it is {row.state}.", code="state.changed")
    row.refresh_from_db()
