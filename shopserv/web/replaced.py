"""A replaced odometer in a form: what the old one stood at, what the new one began at, and since when."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.logbook import selectors as logbook
from shopserv.registry.models import Vehicle
from shopserv.reminders.selectors import forecast_of
from shopserv.shop.actors import Actor
from shopserv.web.fields import DayField, WholeField
from shopserv.web.forms import PageForm

WENT_BACK = "odometer.went_back"
FIELDS = ("old_figure", "old_is_estimate", "first_figure", "replaced_on")


class ReplacedForm(PageForm):
    """The questions of a lower reading, put once it was refused; a form that has `odometer` and `why_lower`."""

    old_figure = WholeField(kind="odometer", label=gettext_lazy("The old instrument stood at"), required=False)
    old_is_estimate = forms.BooleanField(label=gettext_lazy("nobody read it: an estimate"), required=False)
    first_figure = WholeField(kind="odometer", label=gettext_lazy("The new instrument began at"), required=False)
    replaced_on = DayField(label=gettext_lazy("Replaced on (empty: today)"), required=False)

    @property
    def asks_why(self) -> bool:
        """Whether the question why it is lower stands open."""
        return bool(self.data.get("why_lower")) or self.has_error("odometer", WENT_BACK) or self.has_error("why_lower")

    @property
    def of_instruments(self) -> list[forms.BoundField]:
        """The fields about the two instruments."""
        return [self[name] for name in FIELDS]

    def clean(self) -> dict[str, Any]:
        """A new instrument says where it began, and where the old one ended: the miles between would be lost."""
        said = super().clean() or {}
        if said.get("why_lower") == "replaced":
            needs = {
                "old_figure": _("What did the old instrument stand at? An estimate is better than nothing: tick it."),
                "first_figure": _("Where did the new instrument begin? Type 0 if it was new."),
            }
            for name, words in needs.items():
                if said.get(name) is None and name not in self.errors:
                    self.add_error(name, words)
        return said

    def propose(self, actor: Actor, vehicle: Vehicle, today: date) -> None:
        """Fill in what the old instrument likely stood at by the forecast, marked as an estimate."""
        last, forecast = logbook.last_counted(vehicle), forecast_of(actor, vehicle)
        if last is None or forecast is None or not forecast.rate_m_day or "old_figure" in self.data:
            return
        run = forecast.rate_m_day * max((today - last.read_on).days, 0) / float(logbook.METERS[last.unit])
        data: Any = self.data
        self.data = data = data.copy()
        data["old_figure"], data["old_is_estimate"] = str(round(last.figure + run)), "on"

    def instruments(self) -> dict[str, Any]:
        """What the deed takes."""
        said = self.cleaned_data
        is_replaced = said["why_lower"] == "replaced"
        return {
            "first_figure": said["first_figure"] or 0,
            "old_figure": said["old_figure"] if is_replaced else None,
            "old_is_estimate": said["old_is_estimate"],
            "replaced_on": said["replaced_on"],
        }
