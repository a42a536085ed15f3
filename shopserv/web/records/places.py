"""Climate places: those on file, the reference data to choose from, and the shop's own figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from shopserv.common import formats
from shopserv.common.errors import Refusal, Stale
from shopserv.reminders.services.places import correct_place
from shopserv.shop import climates
from shopserv.shop.actors import Actor
from shopserv.shop.models import ClimatePlace
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, says_what_was_asked
from shopserv.web.records import severity_rows
from shopserv.web.records.severity_forms import PlaceForm, place_choices

ACTS = ("add", "choose")


class ShopPlaceForm(PageForm):
    """The place that vehicles first seen here get."""

    place = forms.ChoiceField(label=gettext_lazy("Vehicles first seen here are at home in"))

    def __init__(self, *args: Any, choices: list[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = choices  # type: ignore[attr-defined]


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def places(request: HttpRequest) -> HttpResponse:
    """The places, their yearly means and sources; the owner adds one and chooses the shop's own."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    Asked(request)
    on_file = list(climates.places_of(actor))
    both = _forms(request, actor, on_file)
    status = 200
    if request.method == "POST":
        status = 422
        form = both.get(request.POST.get("act", ""))
        if form is not None and form.is_valid():
            try:
                said = _DONE[request.POST["act"]](actor, form)
            except Refusal as refusal:
                form.refuse(refusal)
                status = refusal.status
                if isinstance(refusal, Stale):
                    form.data = {**request.POST.dict(), "edition": actor.house.edition}
            else:
                messages.success(request, said)
                return HttpResponseRedirect(reverse("records:places"))
    first = actor.house.units_first
    context = {
        "rows": [_row(place, first) for place in on_file],
        "forms": both,
        "may_add": actor.may("house rules"),
        "is_refused": any(form.is_bound and form.errors for form in both.values()),
        "of_shop": actor.house.climate,
        "reference": climates.reference_places(),
    }
    return render(request, "records/places.html", context, status=status)


def _forms(request: HttpRequest, actor: Actor, on_file: Sequence[ClimatePlace]) -> dict[str, Any]:
    act = request.POST.get("act", "") if request.method == "POST" else ""
    data = {name: request.POST if act == name else None for name in ACTS}
    shop = actor.house
    return {
        "add": PlaceForm(
            data["add"],
            first=shop.units_first,
            own=[(place.code, place.name) for place in on_file if place.kind == "own"],
        ),
        "choose": ShopPlaceForm(
            data["choose"],
            choices=place_choices(on_file, climates.reference_places()),
            initial={"edition": shop.edition, "place": shop.climate.code if shop.climate else ""},
        ),
    }


def _row(place: ClimatePlace, first: str) -> dict[str, Any]:
    row = {
        "place": place,
        "height": severity_rows.height(place.altitude_m, first),
        "source": ", ".join(part for part in (place.source, place.period) if part),
        "fault": climates.fault_of(place),
    }
    if row["fault"]:
        return row
    air = climates.year_of(place)
    return row | {
        "mean": severity_rows.degrees(air.mean_c, first),
        "coldest": severity_rows.degrees(air.coldest_c, first),
        "warmest": severity_rows.degrees(air.warmest_c, first),
        "humidity": formats.percent(air.humidity_ppm),
        "factor": f"{air.moisture:.3f}",
    }


def _add(actor: Actor, form: Any) -> str:
    said = form.cleaned_data
    facts = {
        "name": said["name"],
        "altitude_m": form.altitude_m,
        "months": form.months(),
        "source": said["source"],
        "period": said["period"],
        "confirmed": form.confirmed,
    }
    if said["corrects"]:
        place = correct_place(said["corrects"], actor=actor, **facts)
        return _("%(place)s is corrected from today on.") % {"place": place}
    return _("%(place)s is on file.") % {"place": climates.add_place(actor=actor, **facts)}


def _choose(actor: Actor, form: Any) -> str:
    said = form.cleaned_data
    shop = climates.choose_for_shop(said["place"], actor=actor, edition=said["edition"] or 0)
    return _("Vehicles first seen here are at home in %(place)s.") % {"place": shop.climate}


_DONE: dict[str, Callable[[Actor, Any], str]] = {"add": _add, "choose": _choose}
