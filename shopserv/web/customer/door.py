"""How the holder of a link comes in: the token is looked up, and the answer tells no one else where it was."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any
from zoneinfo import ZoneInfo

from django.core.cache import cache
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from shopserv.shop.actors import link_actor
from shopserv.shop.links import LinkGone, link_by_token
from shopserv.web.people import from_where

MISSES_A_MINUTE = 20  # unknown tokens from one address


def by_link(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Let `view` run for the holder of the link in the path, in the time of the shop that gave it.

    404 for a token that was never made, 410 with the shop's telephone number for one that is over, 429 for an address
    that keeps guessing. Nothing is kept by browsers on the way, and no search engine lists it.
    """

    @wraps(view)
    def inner(request: HttpRequest, token: str, **kwargs: Any) -> HttpResponse:
        response = _closed(request) or _opened(request, view, token, **kwargs)
        response.headers["Cache-Control"] = "no-store"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        return response

    return inner


def _opened(request: HttpRequest, view: Callable[..., HttpResponse], token: str, **kwargs: Any) -> HttpResponse:
    try:
        link = link_by_token(token)
    except LinkGone as gone:
        return render(request, "customer/gone.html", {"shop": gone.link.shop}, status=gone.status)
    except Http404:
        _count_miss(request)
        return render(request, "customer/unknown.html", status=404)
    request.actor = link_actor(  # type: ignore[attr-defined]
        link,
        from_where=from_where(request),
        request_id=getattr(request, "request_id", ""),
    )
    try:
        with timezone.override(ZoneInfo(link.shop.time_zone)):
            return view(request, token=token, **kwargs)
    except Http404:  # a link that opens something else
        return render(request, "customer/unknown.html", status=404)


def _closed(request: HttpRequest) -> HttpResponse | None:
    if cache.get(_key(request), 0) < MISSES_A_MINUTE:
        return None
    response = render(request, "429.html", status=429)
    response.headers["Retry-After"] = "60"
    return response


def _count_miss(request: HttpRequest) -> None:
    key = _key(request)
    cache.add(key, 0, timeout=60)
    try:
        cache.incr(key)
    except ValueError:  # the minute was over between the two lines
        cache.set(key, 1, timeout=60)


def _key(request: HttpRequest) -> str:
    return f"link-misses-{from_where(request)}"
