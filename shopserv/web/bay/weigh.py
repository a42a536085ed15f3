"""A full package weighed: what it is, what the scale shows. It checks the scale, and counts nothing in or out."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later
from django.views.decorators.http import require_http_methods

from shopserv.catalog.models import Package
from shopserv.common import formats
from shopserv.common.errors import Refusal
from shopserv.jobs import bay_readings as readings
from shopserv.jobs.selectors import bay as reads
from shopserv.jobs.selectors.instruments import packages_to_weigh
from shopserv.jobs.services import bay as deeds
from shopserv.shop.actors import Actor
from shopserv.web.bay import page
from shopserv.web.bay.figures import Typed
from shopserv.web.bay.forms import FigureField
from shopserv.web.forms import PageForm
from shopserv.web.once import acts_once

Choices = list[tuple[str, str]]
GROSS = readings.need("package_g", str(later("weight of the full package")), units_first="us", low=1)


class PackageForm(PageForm):
    """Which package, on which scale, and what the scale shows."""

    package = forms.ChoiceField(label=later("Package, full and unopened"), widget=forms.RadioSelect)
    scale = forms.ChoiceField(label=later("On the scale"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, packages: Choices, scales: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, found in (("package", packages), ("scale", scales)):
            self.fields[name].choices = found  # type: ignore[attr-defined]
            self.fields[name].initial = found[0][0] if len(found) == 1 else None
        self.fields["package_g"] = FigureField(GROSS)

    def gross(self) -> deeds.Press:
        """The press of what the scale shows."""
        said = self.cleaned_data["package_g"]
        assert isinstance(said, Typed)
        return deeds.Press("package_g", said.value, said.unit, self.key[:80], instrument=self.cleaned_data["scale"])


def _package(one: Package, units_first: str) -> str:
    return f"{one.word.capitalize()}, {formats.volume(one.volume_ml, units_first)}, {one.stock_number}"


@require_http_methods(["GET", "POST"])
@acts_once
def weigh(request: HttpRequest, number: str) -> HttpResponse:
    """One full package of this job on the scale."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    bay = reads.bay_sheet(actor, number)
    units = bay.order.shop.units_first
    form = PackageForm(
        request.POST if request.method == "POST" else None,
        packages=[(one.stock_number, _package(one, units)) for one in packages_to_weigh(bay.order)],
        scales=[(one.serial, one.serial) for one in bay.tools if one.kind == "scale"],
    )
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            deeds.weigh_package(
                bay.order,
                actor=actor,
                package=form.cleaned_data["package"],
                gross=form.gross(),
                is_confirmed="weigh.share" in form.confirmed,
            )
            messages.success(request, _("Weighed. It counts nothing in; it checks the scale."))
            return redirect("bay:sheet", number)
        except Refusal as said:
            form.refuse(refusal := said)
    context = {**page.head(bay, page.shown_step(bay, 0)), "form": form}
    status = refusal.status if refusal else (422 if request.method == "POST" else 200)
    return render(request, "bay/weigh.html", context, status=status)
