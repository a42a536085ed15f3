"""Pages for what went wrong, in our own words, each with the number of the request."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


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


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its token: left open over night, most likely; what was typed can be sent again."""
    typed = {name: request.POST.getlist(name) for name in request.POST if name not in ("csrfmiddlewaretoken", "phrase")}
    return render(request, "csrf.html", {"typed": typed, "path": request.get_full_path()}, status=403)
