"""Papers of the actor's shop."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from shopserv.papers.models import Paper
from shopserv.shop.actors import Actor

LARGEST_VERSION = 2**31 - 1  # what a whole number of PostgreSQL holds; none is so high


def papers_of_visit(actor: Actor, visit_number: str) -> QuerySet[Paper]:
    """The papers of one visit of the actor's shop, oldest first."""
    actor.must("papers")
    return Paper.objects.filter(shop=actor.house, visit_number=visit_number).order_by("issued_at", "pk")


READ_WITH = {  # what a kind tells beside the work itself, and the right to know it
    "quote": "see prices",
    "authorization": "see prices",
    "invoice": "see prices",
    "certificate": "see people",
    "letter": "see people",
    "procedure sheet": "papers",
}


def paper_for(actor: Actor, kind: str, number: str, version: int, language: str = "") -> Paper:
    """One paper of the actor's shop; Http404 for any other.

    language   one of several; not given: the first that was issued
    raises     NotYours where the role may not read the kind
    """
    actor.must("papers")
    rows = Paper.objects.filter(shop=actor.house, kind=kind, number=number, version=min(version, LARGEST_VERSION))
    rows = rows.filter(language=language) if language else rows
    found = rows.select_related("shop").order_by("pk").first()
    if found is None:
        raise Http404("no such paper")
    actor.must(READ_WITH[found.kind])
    return found
