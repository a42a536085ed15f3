"""The forms of a logbook: a reading, a plate, an owner."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopserv.registry.models import Customer
from shopserv.registry.normal import plate_form
from shopserv.web.fields import DayField, OdometerField
from shopserv.web.forms import PageForm
from shopserv.web.replaced import WENT_BACK, ReplacedForm

WHY_CHOICES = [
    ("mistyped before", _("an earlier reading was mistyped: this one counts")),
    ("mistyped now", _("this one is mistyped: I mend it above")),
    ("replaced", _("the instrument was replaced")),
    ("cannot tell", _("nobody can tell: keep it, do not count it")),
]
SOURCES = [
    ("", "–"),
    ("customer", _("the owner told it")),
    ("fleet file", _("the fleet's file")),
    ("certificate", _("a certificate or a paper")),
    ("estimate", _("it cannot be read: an estimate, not counted")),
]


class ReadingForm(ReplacedForm):
    """What somebody read off the odometer, when, and why it is lower if it is."""

    odometer = OdometerField(label=_("Odometer"))
    source = forms.ChoiceField(label=_("Who read it"), choices=SOURCES)
    on = DayField(label=_("On (empty: today)"), required=False)
    why_lower = forms.ChoiceField(
        label=_("Why it is lower"), choices=WHY_CHOICES, required=False, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, unit: str, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["odometer"].keep_unit(unit)  # type: ignore[attr-defined]
        self.fields["on"].not_after(today)  # type: ignore[attr-defined]

    def clean_why_lower(self) -> str:
        """A slip of this moment is mended, not explained."""
        why: str = self.cleaned_data["why_lower"]
        if why == "mistyped now":
            raise forms.ValidationError(_("Mend the figure above, then send it again."), code=WENT_BACK)
        return why

    def reading(self) -> dict[str, Any]:
        """What the deed takes."""
        said = self.cleaned_data
        return {
            "figure": said["odometer"].figure,
            "unit": said["odometer"].unit,
            "source": said["source"],
            "as_typed": str(self.data.get("odometer", "")).strip()[:40],
            "on": said["on"],
            "why_lower": said["why_lower"],
            **self.instruments(),
            "is_jump_confirmed": "odometer.jump" in self.confirmed,
        }


class PlateForm(PageForm):
    """Another plate from a day on."""

    plate = forms.CharField(label=_("Plate (empty: none)"), max_length=16, required=False)
    place = forms.CharField(label=_("Issued in"), max_length=20, required=False)
    since = DayField(label=_("From (empty: today)"), required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["since"].not_after(today)  # type: ignore[attr-defined]
        self.fields["plate"].widget.attrs |= {"autocapitalize": "characters", "spellcheck": "false"}

    def clean_plate(self) -> str:
        """A plate has letters A to Z or digits, or it could never be found."""
        plate: str = self.cleaned_data["plate"]
        if plate and not plate_form(plate):
            raise forms.ValidationError(
                _("“%(plate)s” has no letter A to Z and no digit. Type it as it is read."), params={"plate": plate}
            )
        return plate


class OwnerForm(PageForm):
    """Another owner from a day on: one on file, or not known."""

    owner = forms.CharField(label=_("Owner: number or whole name"), max_length=120, required=False)
    not_known = forms.BooleanField(label=_("it is not known whose it is now"), required=False)
    owner_since = DayField(label=_("From (empty: today)"), required=False)

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["owner_since"].not_after(today)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Somebody or nobody, not both and not neither."""
        said = super().clean() or {}
        if "owner" not in self.errors and bool(said.get("owner")) == bool(said.get("not_known")):
            words = _("Type whose it is, or tick that it is not known; not both.")
            self.add_error("owner", words)
        return said

    def choose(self, found: list[Customer]) -> Customer | None:
        """The one customer that was meant; none, with what is wrong at the field, where it is none or several."""
        typed: Mapping[str, str] = {"typed": self.cleaned_data["owner"], "numbers": ", ".join(c.number for c in found)}
        if len(found) == 1:
            return found[0]
        if found:
            words = _("Several customers are called “%(typed)s”: %(numbers)s. Type the number.")
        else:
            words = _(
                "Nobody on file is called “%(typed)s”. Type the number, or take the vehicle in with its new owner."
            )
        self.add_error("owner", forms.ValidationError(words, params=dict(typed)))
        return None
