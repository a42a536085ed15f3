"""An issued paper as its PDF, for who may read its kind."""

from __future__ import annotations

import logging

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.cache import get_conditional_response, patch_vary_headers
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from shopserv.papers import files
from shopserv.papers.models import Paper
from shopserv.papers.render import CannotRender
from shopserv.papers.selectors import paper_for
from shopserv.shop.actors import Actor
from shopserv.web.query import Asked, says_what_was_asked

log = logging.getLogger(__name__)
RETRY_S = 60


@require_safe
@says_what_was_asked
def paper(request: HttpRequest, kind: str, number: str, version: int) -> HttpResponse:
    """One paper, shown in place; a browser that has it already is told so."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    language = Asked(request, "language").text("language")
    found = paper_for(actor, kind, number, version, language)
    try:
        response = _known(request, found) or _file(request, found)
    except (CannotRender, LookupError, files.DamagedFile, OSError) as error:
        log.error("paper %s cannot be shown: %s", found.pk, type(error).__name__)
        return _not_now(request, found, is_damaged=isinstance(error, files.DamagedFile))
    # The browser keeps it for the one who asked, and asks each time whether it may still show it.
    response.headers["ETag"] = files.etag(found)
    response.headers["Cache-Control"] = "private, no-cache"
    patch_vary_headers(response, ["Cookie"])
    return response


def _known(request: HttpRequest, found: Paper) -> HttpResponse | None:
    """304 where the browser has the file, before anything is read."""
    if not found.file_hash or "If-None-Match" not in request.headers:
        return None
    answer = get_conditional_response(request, etag=files.etag(found))
    return answer if isinstance(answer, HttpResponse) and answer.status_code == 304 else None


def _file(request: HttpRequest, found: Paper) -> HttpResponse:
    made = files.pdf_of(found)
    response = HttpResponse(made, content_type="application/pdf")
    name = f"{found.kind.replace(' ', '-')}-{found.number}-{found.version}.pdf"
    response.headers["Content-Disposition"] = f'inline; filename="{name}"'
    return response


def _not_now(request: HttpRequest, found: Paper, *, is_damaged: bool) -> HttpResponse:
    words = _("%(number)s is issued and safe, but its PDF could not be made yet. Try again in a minute.")
    if is_damaged:
        words = _("%(number)s is issued and safe, but its kept file is damaged and is not shown. Tell the shop owner.")
    context = {"paper": found, "words": words % {"number": found.number}}
    response = render(request, "records/paper_later.html", context, status=503)
    response.headers["Retry-After"] = str(RETRY_S)
    return response
