"""What the engine must be able to do before the shop's records are put into it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Error
from django.db import connections


def engine_keeps_what_it_was_given(databases: Sequence[str] | None = None, **_: Any) -> list[CheckMessage]:
    """Refuse an SQLite file on which the write-ahead log cannot work, or that does not wait for the disk."""
    found: list[CheckMessage] = []
    for alias in databases or ():
        connection = connections[alias]
        if connection.vendor != "sqlite":
            continue
        with connection.cursor() as cursor:
            journal = cursor.execute("PRAGMA journal_mode").fetchone()[0]
            synchronous = cursor.execute("PRAGMA synchronous").fetchone()[0]
        if journal != "wal":
            hint = "Put the file on a disk of this machine; it does not work on a network file system."
            found.append(Error(f"The database keeps its log as {journal!r}, not as WAL.", hint=hint, id="common.E001"))
        if synchronous != 2:  # FULL; NORMAL loses the last commits when the power fails
            found.append(Error("The database does not wait for the disk (synchronous is not FULL).", id="common.E002"))
    return found
