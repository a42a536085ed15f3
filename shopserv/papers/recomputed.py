"""Issued papers: the hash of what they show, computed again."""

from __future__ import annotations

from collections.abc import Iterator

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
