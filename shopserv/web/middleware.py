"""Who is asking, and whether the address is theirs to open. Deny by default."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import BadRequest, PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.utils import timezone

from shopserv.common.parsing import without_turning
from shopserv.shop.actors import Actor
from shopserv.web import addresses
from shopserv.web.faults import not_in_this_way
from shopserv.web.people import actor_of

NUL = "\x00"
NOT_TYPED = ("once", "visit", "vehicle", "next")  # fields that a page fills in by itself
NOBODY = Actor(shop=None, roles=frozenset(), words="nobody")


class ActorMiddleware:
    """Set `request.actor` and `request.request_id`, refuse addresses that are not the actor's to open."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.request_id = secrets.token_hex(8)  # type: ignore[attr-defined]
        request.actor = actor_of(request) if request.user.is_authenticated else NOBODY  # type: ignore[attr-defined]
        shop = request.actor.shop  # type: ignore[attr-defined]
        if shop is None:
            response = self.get_response(request)
        else:
            with timezone.override(ZoneInfo(shop.time_zone)):
                response = self.get_response(request)
        if response.status_code == 405 and not response.content:
            response = not_in_this_way(request, response)
        if "Cache-Control" not in response.headers and not request.path.startswith("/static/"):
            response.headers["Cache-Control"] = "no-store"  # pages show people; stored papers set their own
        return response

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        """Refuse, or send to the sign-in, before any view runs."""
        _refuse_nul(request, kwargs)
        _take_turning_out(request)
        name = request.resolver_match.view_name if request.resolver_match else ""
        right = addresses.right_for(name, request.method or "GET")
        if right in (addresses.PUBLIC, addresses.LINK):
            return None
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        actor: Actor = request.actor  # type: ignore[attr-defined]
        if right == addresses.SIGNED_IN:
            return None
        if right is None or not actor.may(right):
            raise PermissionDenied(f"{name}: not for {actor.role_words}")
        return None


def _refuse_nul(request: HttpRequest, kwargs: dict[str, Any]) -> None:
    """A NUL sign names nothing, and one of the engines fails on it. What is typed into a field, its form refuses."""
    if any(NUL in str(value) for value in kwargs.values()):
        raise Http404("no number holds a NUL sign")
    asked = [value for name in request.GET for value in (name, *request.GET.getlist(name))]
    asked += [value for name in NOT_TYPED for value in request.POST.getlist(name)] if request.POST else []
    if any(NUL in value for value in asked):
        raise BadRequest("a NUL sign in the address")


def _take_turning_out(request: HttpRequest) -> None:
    """Whatever is typed anywhere loses the signs that would turn the text after it around; the page shows it so."""
    request.GET = _unturned(request.GET)  # type: ignore[assignment]
    if request.method == "POST":
        request.POST = _unturned(request.POST)  # type: ignore[assignment]


def _unturned(typed: QueryDict) -> QueryDict:
    if not any(without_turning(value) != value for name in typed for value in typed.getlist(name)):
        return typed
    clean = typed.copy()
    for name in typed:
        clean.setlist(name, [without_turning(value) for value in typed.getlist(name)])
    return clean
