"""Signing in, and the actor behind a request, in one query for person, grants and shops."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest

from shopserv.common import clock
from shopserv.shop.actors import Actor
from shopserv.shop.models import RoleGrant, Shop, Staff


class StaffBackend(ModelBackend):
    """Django's sign-in, with the person's grants and shops fetched along."""

    def get_user(self, user_id: Any) -> Staff | None:
        """The person with this key, `grants_held` filled; None for one who has left."""
        rows = list(
            RoleGrant.objects.filter(staff_id=user_id)
            .select_related("staff", "shop__business")
            .order_by("from_on", "pk")
        )
        person = rows[0].staff if rows else Staff.objects.filter(pk=user_id).first()
        if person is None or not person.is_active:
            return None
        person.grants_held = rows  # type: ignore[attr-defined]
        return person


def places_of(person: Staff) -> dict[Shop, frozenset[str]]:
    """The shops where `person` has a role today, each with roles and grants."""
    newest: dict[tuple[Shop, str], bool] = {}
    rows = getattr(person, "grants_held", None)
    if rows is None:
        rows = RoleGrant.objects.filter(staff=person).select_related("shop__business").order_by("from_on", "pk")
    for row in rows:
        if row.from_on <= clock.today(row.shop.time_zone):
            newest[(row.shop, row.grant)] = row.given
    found: dict[Shop, set[str]] = {}
    for (shop, grant), given in newest.items():
        if given:
            found.setdefault(shop, set()).add(grant)
    return {shop: frozenset(grants) for shop, grants in found.items()}


def actor_of(request: HttpRequest) -> Actor:
    """The signed-in person at the shop chosen in the session, or at the first of their shops."""
    person = request.user
    assert isinstance(person, Staff)
    places = places_of(person)
    chosen = request.session.get("shop")
    shop = next((s for s in places if s.code == chosen), next(iter(places), None))
    return Actor(
        shop=shop,
        roles=places[shop] if shop else frozenset(),
        staff=person,
        from_where=from_where(request),
        request_id=request.request_id,  # type: ignore[attr-defined]
    )


def from_where(request: HttpRequest) -> str:
    """The network address that a request came from; behind the proxy of the house the one that the proxy saw."""
    told = str(request.META.get("HTTP_X_FORWARDED_FOR", "")) if settings.BEHIND_PROXY else ""
    return (told.rpartition(",")[2].strip() or str(request.META.get("REMOTE_ADDR", "")))[:80]
