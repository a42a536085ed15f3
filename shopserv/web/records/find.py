"""Open file: one field finds a vehicle by plate, VIN or its end, name, telephone or printed number."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET
from django_htmx.http import HttpResponseClientRedirect

from shopserv.calc import vin
from shopserv.common.errors import Refusal
from shopserv.jobs.selectors import open_file
from shopserv.jobs.selectors.open_file import Found
from shopserv.registry.services.vehicles import read_vin
from shopserv.shop.actors import Actor
from shopserv.web.query import Asked, says_what_was_asked
from shopserv.web.records.find_rows import expected_html, rows_html

VIN_SIGNS = 17


@require_GET
@says_what_was_asked
def find(request: HttpRequest) -> HttpResponse:
    """What was typed may mean these vehicles; a whole VIN on file goes straight on."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    typed = Asked(request, "q").text("q")
    try:
        found = open_file.find(actor, typed) if typed.strip() else []
    except Refusal as refusal:
        return _page(request, actor, typed, [], refusal)
    straight = _whole_vin(typed, found)
    if straight:
        address = reverse("records:vehicle", args=[straight])
        return HttpResponseClientRedirect(address) if request.headers.get("HX-Request") else redirect(address)
    return _page(request, actor, typed, found)


def _whole_vin(typed: str, found: Sequence[Found]) -> str:
    """The number of the one vehicle whose whole VIN was typed; empty: there is none."""
    plain = vin.normal_form(typed)
    exact = [one.match for one in found if not one.match.is_near and one.match.vin == plain]
    return exact[0].number if len(plain) == VIN_SIGNS and len(exact) == 1 else ""


def _page(
    request: HttpRequest, actor: Actor, typed: str, found: Sequence[Found], refusal: Refusal | None = None
) -> HttpResponse:
    names, may_take_in = actor.may("see people") or actor.may("bay work"), actor.may("take in")
    begun = bool(typed.strip())
    expected = [] if begun else open_file.expected_today(actor)
    context: dict[str, Any] = {
        "typed": typed,
        "refusal": refusal,
        "begun": begun and refusal is None,
        "rows": rows_html(found, names=names, may_take_in=may_take_in),
        "first": found[0].match if found and not found[0].match.is_near else None,
        "names": names,
        "people": actor.may("see people"),
        "may_take_in": may_take_in,
        "note": _about_vin(typed, found) if begun and refusal is None else "",
        "new": _new(typed) if may_take_in else "",
        "is_vin": len(vin.normal_form(typed)) == VIN_SIGNS,
        "expected": expected_html(expected, names=actor.may("see people")),
        "is_quiet": not begun and not expected,
    }
    return render(request, "records/find.html", context, status=refusal.status if refusal else 200)


def _about_vin(typed: str, found: Sequence[Found]) -> str:
    """What is wrong with something that looks like a VIN and is none on file; empty: nothing to say."""
    plain = vin.normal_form(typed)
    if not re.fullmatch(r"(?=.*[0-9])[^\W_]{15,18}", plain) or any(not one.match.is_near for one in found):
        return ""
    for one in found:
        place = _missing(plain, one.match.vin)
        if place:
            return _("%(typed)s has 16 signs; of %(vin)s, place %(place)d (%(sign)s) is missing.") % {
                "typed": plain,
                "vin": one.match.vin,
                "place": place,
                "sign": one.match.vin[place - 1],
            }
    try:
        read_vin(plain)
    except Refusal as refusal:
        return refusal.message
    return ""


def _missing(plain: str, whole: str) -> int:
    """Which place of a whole VIN is left out in `plain`, counted from 1; 0: it is not that VIN with one left out."""
    if len(whole) != VIN_SIGNS or len(plain) != VIN_SIGNS - 1:
        return 0
    return next((at + 1 for at in range(VIN_SIGNS) if whole[:at] + whole[at + 1 :] == plain), 0)


def _new(typed: str) -> str:
    """The intake slip of a vehicle that was never here, begun with what was typed."""
    plain = vin.normal_form(typed)
    if len(plain) >= VIN_SIGNS - 1:
        known = {"vin": plain[:40]}
    else:
        known = {"plate": typed.strip()[:16]} if any(sign.isdigit() for sign in typed) else {}
    return reverse("counter:intake") + (f"?{urlencode(known)}" if known else "")
