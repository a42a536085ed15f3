"""Pages for what went wrong, in our own words, each with the number of the request."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import is_valid_path

from shopserv.web import addresses


def _page(request: HttpRequest, status: int) -> HttpResponse:
    return render(request, f"{status}.html", {"reference": getattr(request, "request_id", "")}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400."""
    return _page(request, 400)


def not_yours(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403: one's own shop, but not one's role."""
    return _page(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404, the same for what is not there and for what belongs to another shop."""
    return _page(request, 404)


def our_fault(request: HttpRequest) -> HttpResponse:
    """500."""
    return _page(request, 500)


def not_in_this_way(request: HttpRequest, refused: HttpResponse) -> HttpResponse:
    """405 with words and a way back to the page whose button leads here."""
    name = request.resolver_match.view_name if request.resolver_match else ""
    is_by_link = addresses.right_for(name, "GET") == addresses.LINK
    context = {
        "layout": "customer/base.html" if is_by_link else "base.html",
        "back": _page_above(request.path),
        "is_by_link": is_by_link,
        "reference": getattr(request, "request_id", ""),
    }
    response = render(request, "405.html", context, status=405)
    for header in ("Allow", "Cache-Control", "X-Robots-Tag"):
        if header in refused.headers:
            response.headers[header] = refused.headers[header]
    return response


def _page_above(path: str) -> str:
    """The nearest address above `path` that is one of ours."""
    parts = path.strip("/").split("/")
    for length in range(len(parts) - 1, 0, -1):
        above = f"/{'/'.join(parts[:length])}/"
        if is_valid_path(above):
            return above
    return "/"


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its token: left open over night, most likely; what was typed can be sent again."""
    typed = {name: request.POST.getlist(name) for name in request.POST if name not in ("csrfmiddlewaretoken", "phrase")}
    return render(request, "csrf.html", {"typed": typed, "path": request.get_full_path()}, status=403)
