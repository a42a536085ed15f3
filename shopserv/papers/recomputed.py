"""Issued papers: the hash of what they show, computed again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from shopserv.common.fields import sha256
from shopserv.common.recomputed import Again
from shopserv.papers.models import Paper
from shopserv.shop.actors import Actor


def recomputed(actor: Actor) -> Iterator[Again]:
    """Every issued paper; for the clock, which stands in no shop."""
    actor.must("tick")
    rows = Paper.objects.only("kind", "number", "version", "snapshot", "snapshot_hash").order_by("pk")
    for paper in rows.iterator(chunk_size=100):
        yield Again(
            f"paper {paper} {paper.version}",
            {"snapshot_hash": paper.snapshot_hash},
            {"snapshot_hash": sha256(paper.snapshot)},
        )


def paper_of(kind: str, number: str, version: int) -> dict[str, Any] | None:
    """What an issued paper shows, as plain data; none where there is none. For computing again alone."""
    kept = Paper.objects.filter(kind=kind, number=number, version=version).values_list("snapshot", flat=True).first()
    return None if kept is None else dict(json.loads(kept))
