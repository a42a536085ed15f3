"""The door of the house: signing in and out, which shop, and whether all is well."""

from __future__ import annotations

from math import ceil

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from shopserv.common import clock
from shopserv.shop import door
from shopserv.shop.actors import Actor
from shopserv.web.house.forms import ShopForm, SignInForm
from shopserv.web.nav import first_page
from shopserv.web.people import from_where


@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Sign in by name and pass phrase; back to where one wanted to go, if that is here."""
    form = SignInForm(request.POST or None)
    wanted = request.POST.get("next") or request.GET.get("next", "")
    if request.method != "POST":
        return render(request, "house/sign_in.html", {"form": form, "next": wanted})
    if not form.is_valid():
        return render(request, "house/sign_in.html", {"form": form, "next": wanted}, status=422)
    typed, here = form.cleaned_data["sign_in"], from_where(request)
    until = door.rest_until(typed, from_where=here)
    if until:
        return _too_many(request, form, wanted, ceil((until - clock.now()).total_seconds()))
    known = door.person_of(typed)
    person = authenticate(request, username=known.sign_in if known else typed, password=form.cleaned_data["phrase"])
    if person is None:
        door.note_wrong(typed, from_where=here, request_id=request.request_id)  # type: ignore[attr-defined]
        form.refuse_pair()
        return render(request, "house/sign_in.html", {"form": form, "next": wanted}, status=422)
    login(request, person)
    is_ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return redirect(wanted if is_ours else reverse("home"))


def _too_many(request: HttpRequest, form: SignInForm, wanted: str, seconds: int) -> HttpResponse:
    """No phrase is looked at for a while, the right one neither; from another place it is."""
    form.refuse_for(seconds)
    response = render(request, "house/sign_in.html", {"form": form, "next": wanted}, status=429)
    response.headers["Retry-After"] = str(seconds)
    return response


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End the sign-in on this machine."""
    logout(request)
    return redirect("sign_in")


@require_POST
def choose_shop(request: HttpRequest) -> HttpResponse:
    """Stand in another of one's shops."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    form = ShopForm(request.POST, person=actor.staff)
    if form.is_valid():
        request.session["shop"] = form.cleaned_data["shop"]
    return redirect("home")


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Go to the page that one's day begins with."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    page = first_page(actor)
    return redirect(page) if page else render(request, "house/no_role.html", status=403)


@require_GET
def healthz(request: HttpRequest) -> HttpResponse:
    """Whether this process answers; asks nothing of the database."""
    return JsonResponse({"answers": True})


@require_GET
def readyz(request: HttpRequest) -> HttpResponse:
    """Whether the shop can be served: 200, or 503 with the names of what is not ready."""
    failed = []
    try:
        executor = MigrationExecutor(connection)
        if executor.migration_plan(executor.loader.graph.leaf_nodes()):
            failed.append("migrations")
    except DatabaseError:
        failed.append("database")
    return JsonResponse({"ready": not failed, "failed": failed}, status=503 if failed else 200)


@require_GET
def security_txt(request: HttpRequest) -> HttpResponse:
    """Where to report a hole (RFC 9116)."""
    lines = [f"Contact: mailto:{settings.SECURITY_CONTACT}", "Expires: 2027-12-31T00:00:00Z", "Preferred-Languages: en"]
    return HttpResponse("\n".join(lines) + "\n", content_type="text/plain; charset=utf-8")
