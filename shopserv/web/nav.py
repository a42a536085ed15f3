"""What stands in the head of every staff page."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shopserv.common import clock
from shopserv.shop.actors import Actor
from shopserv.shop.models import Staff
from shopserv.web import addresses
from shopserv.web.people import places_of

WAYS = [  # in the order of the head; the first that a person may open is where the day begins
    (_("Bay line"), "bay:line"),
    (_("Counter desk"), "counter:desk"),
    (_("Open file"), "records:find"),
    (_("Due soon"), "office:due_soon"),
    (_("Fluid ahead"), "records:fluid_ahead"),
    (_("Second looks"), "bay:looks"),
    (_("Sold and needed"), "office:sold_needed"),
    (_("Instruments"), "records:instruments"),
    (_("Trail"), "office:trail"),
    (_("Help"), "help"),
]
FIRST_FOR = {"owner": "office:due_soon", "writer": "counter:desk", "technician": "bay:line", "parts": "records:find"}


def may_open(actor: Actor, name: str) -> bool:
    """Whether the address is the actor's to open."""
    right = addresses.right_for(name, "GET")
    if right in (addresses.PUBLIC, addresses.SIGNED_IN):
        return True
    return right is not None and right != addresses.LINK and actor.may(right)


def first_page(actor: Actor) -> str | None:
    """The address that the actor's day begins with; None without a role."""
    return next((reverse(name) for role, name in FIRST_FOR.items() if role in actor.roles), None)


def page(request: HttpRequest) -> dict[str, Any]:
    """`nav`, `today`, `now_local` and `places` for the head of staff pages; nothing for others."""
    actor = getattr(request, "actor", None)
    if actor is None or actor.staff is None or actor.shop is None:
        return {}
    here = request.resolver_match.view_name if request.resolver_match else ""
    ways = [
        {"label": label, "url": url, "is_current": name == here}
        for label, name in WAYS
        if may_open(actor, name) and (url := _url(name))
    ]
    person = actor.staff
    assert isinstance(person, Staff)
    now = timezone.localtime(clock.now())
    return {"nav": ways, "today": now.date(), "now_local": now, "places": list(places_of(person)), "actor": actor}


def _url(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:  # a page that a later issue brings
        return ""
