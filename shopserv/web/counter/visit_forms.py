"""Small forms of the visit and the work order."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopserv.catalog.models import Unit
from shopserv.common import clock, formats, parsing
from shopserv.jobs.services.authorize import WAYS
from shopserv.registry.models import Identification
from shopserv.web.fields import DayField, MoneyField, TimeField
from shopserv.web.forms import PageForm


class IdentifyForm(PageForm):
    """Which unit, and how we know."""

    unit = forms.ChoiceField(label=_("Transmission"))
    grade = forms.ChoiceField(label=_("How we know"), choices=Identification.GRADES)
    tag = forms.CharField(
        label=_("Tag number"),
        max_length=40,
        required=False,
        help_text=_("as it stands on the case, where the tag was read"),
    )
    seen = forms.CharField(
        label=_("What was seen"),
        max_length=200,
        required=False,
        help_text=_("the shape of the pan, the build month, where the tag sits"),
    )

    def __init__(self, *args: Any, units: Iterable[Unit], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(unit.code, f"{unit.name} ({unit.tag_pattern})") for unit in units]
        self.fields["unit"].choices = [("", "–"), *choices]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A tag that was read says what it reads."""
        said = super().clean() or {}
        if said.get("grade") == "read from tag" and not said.get("tag"):
            self.add_error("tag", _("Write what the tag reads, as A640-1234."))
        return said

    def evidence(self) -> list[dict[str, Any]]:
        """As the record keeps it."""
        said = self.cleaned_data
        tag = [{"what": "tag", "read": said["tag"].strip().upper()}] if said["tag"] else []
        return [*tag, {"what": said["grade"], "words": said["seen"]}]


def _usual(way: str) -> int:
    """The two ways of most days first."""
    return {"in person": 0, "telephone": 1}.get(way, 2)


class ConsentForm(PageForm):
    """A yes as the writer heard it: which option, who, how, what was read out."""

    option = forms.ChoiceField(label=_("Option"), widget=forms.RadioSelect)
    person = forms.CharField(label=_("Who said yes"), max_length=120)
    capacity = forms.ChoiceField(
        label=_("As"),
        choices=[("keeper", _("owner")), ("driver", _("driver")), ("fleet contact", _("fleet contact"))],
    )
    way = forms.ChoiceField(
        label=_("How"),
        choices=[(way, way) for way in sorted(WAYS, key=_usual) if way != "page"],
        widget=forms.RadioSelect,
    )
    contact_used = forms.CharField(label=_("Number or address used"), max_length=254, required=False)
    words_read = forms.CharField(
        label=_("Words read out"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    check_words = forms.CharField(label=_("Check words, read back"), max_length=40, required=False)
    amount = MoneyField(label=_("Amount agreed to"))
    purchase_order_number = forms.CharField(label=_("Purchase order"), max_length=40, required=False)
    old_parts_wanted = forms.BooleanField(label=_("wants the old parts back"), required=False)

    def __init__(self, *args: Any, options: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.options = {option.letter: option for option in options}
        self.fields["option"].choices = [  # type: ignore[attr-defined]
            (letter, f"{letter}  {option.title}, {formats.money(option.total_cents)}")
            for letter, option in self.options.items()
        ]

    def clean(self) -> dict[str, Any]:
        """A telephone call names the number and reads back the check words."""
        said = super().clean() or {}
        if said.get("way") == "telephone":
            for name, words in (
                ("contact_used", _("Number: which number was called, or called us?")),
                ("check_words", _("Check words: have the customer read back the two words of this version.")),
            ):
                if not said.get(name):
                    self.add_error(name, words)
        return said


class ClearForm(PageForm):
    """Which bay, and whose job."""

    bay = forms.ChoiceField(label=_("Bay"))
    technician = forms.ChoiceField(label=_("Technician"))

    def __init__(self, *args: Any, bays: Iterable[Any], people: Iterable[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bay"].choices = [(str(bay.pk), bay.name) for bay in bays]  # type: ignore[attr-defined]
        self.fields["technician"].choices = [(str(one.pk), one.name) for one in people]  # type: ignore[attr-defined]


class ActForm(PageForm):
    """An act on a work order with the words it may need."""

    words = forms.CharField(label=_("What was decided"), max_length=300, required=False)


class FitsForm(forms.Form):
    """Would this fit?"""

    more = MoneyField(label=_("Would this fit?"), required=False)


class MomentForm(PageForm):
    """A day and a time on the wall of the shop.

    zone       name of the shop's time zone
    moment     both together in UTC once the form is valid; none where no time was typed. A day left open is today
    """

    day = DayField(label=_("Day (empty: today)"), required=False)
    at = TimeField(label=_("Time"), required=False)
    moment: datetime | None = None

    def __init__(self, *args: Any, zone: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = zone

    def clean(self) -> dict[str, Any]:
        """A time that the clocks skip, or that comes twice, is refused at its field."""
        said = super().clean() or {}
        if said.get("at") is not None and "day" not in self.errors:
            try:
                self.moment = parsing.moment(said["day"] or clock.today(self.zone), said["at"], self.zone)
            except parsing.FieldError as error:
                self.add_error("at", forms.ValidationError(error.message, code=error.code))
        return said


class ExpectForm(MomentForm):
    """When a vehicle is expected, and who brings it."""

    brought_by = forms.CharField(label=_("Who brings it"), max_length=120, required=False)

    def clean(self) -> dict[str, Any]:
        """A time is said: it puts the line in its place on the desk."""
        said = super().clean() or {}
        if said.get("at") is None and "at" not in self.errors:
            self.add_error("at", _("When is it expected? Type a time, like 8:10 AM."))
        return said


class VisitActForm(MomentForm):
    """What happens around the work: a call, another promise, waiting, leaving."""

    contact_used = forms.CharField(label=_("Number or address tried"), max_length=254, required=False)
    words = forms.CharField(label=_("In words"), max_length=300, required=False)
