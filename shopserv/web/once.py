"""One act for a form that is sent twice."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar

from django.db import OperationalError, transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from shopserv.common.errors import Refusal
from shopserv.shop import once, trail

View = TypeVar("View", bound=Callable[..., HttpResponse])
NOT_ASKED = ("csrfmiddlewaretoken", "once")


class _Undo(Exception):
    """Carries an answer that was no success, so that the key is given back with everything else."""

    def __init__(self, response: HttpResponse) -> None:
        super().__init__()
        self.response = response


def acts_once(view: View) -> View:
    """Let a POST act once for the key in its hidden field `once`; its repeat is sent where the first was sent.

    The key, the act and the answer are one transaction. An answer that is no redirect means that nothing was done:
    all of it is rolled back, and the key may be used again for the mended form; unless it names in `kept_at` the
    address at which what was done can be seen.
    """

    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        try:
            with transaction.atomic():
                return _act(view, request, *args, **kwargs)
        except _Undo as undo:
            trail.write_refused()
            return undo.response
        except Refusal as refusal:  # of the key itself
            name = "customer/refused.html" if kwargs.get("token") else "refused.html"
            return render(request, name, {"refusal": refusal}, status=refusal.status)
        except OperationalError as error:
            if "lock" not in str(error):
                raise
            response = render(request, "503.html", status=503)
            response.headers["Retry-After"] = "2"
            return response

    return inner  # type: ignore[return-value]


def _act(view: Callable[..., HttpResponse], request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
    asked = once.request_hash({name: request.POST.getlist(name) for name in request.POST if name not in NOT_ASKED})
    actor = request.actor  # type: ignore[attr-defined]
    token = kwargs.get("token", "")
    who = token or actor.key
    claim = once.claim(
        shop=actor.shop,
        who=once.request_hash(who)[:40],
        route=(request.path.replace(token, "-") if token else request.path)[:120],  # of tokens only hashes are kept
        key=request.POST.get("once", ""),
        asked=asked,
    )
    if claim.answer:
        return HttpResponseRedirect(claim.answer["location"])
    response = view(request, *args, **kwargs)
    kept_at = response.headers["Location"] if response.status_code in (302, 303) else getattr(response, "kept_at", "")
    if not kept_at:
        raise _Undo(response)
    once.keep_answer(claim.row, {"location": kept_at})
    return response
