"""Papers of the actor's shop."""

from __future__ import annotations

from django.db.models import QuerySet

from shopserv.papers.models import Paper
from shopserv.shop.actors import Actor


def papers_of_visit(actor: Actor, visit_number: str) -> QuerySet[Paper]:
    """The papers of one visit of the actor's shop, oldest first."""
    actor.must("papers")
    return Paper.objects.filter(shop=actor.house, visit_number=visit_number).order_by("issued_at", "pk")
