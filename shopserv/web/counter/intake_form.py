"""The intake slip as a form: questions in the order of talk, everything typed kept."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shopserv.common import clock
from shopserv.jobs.findings import QUESTIONS
from shopserv.jobs.services.visits import Answer, Intake, NewCustomer, Permission, Seen
from shopserv.registry.models import Customer, Vehicle
from shopserv.registry.services.vehicles import NewVehicle
from shopserv.web.fields import MoneyField, OdometerField, PhoneField, TimeField
from shopserv.web.replaced import ReplacedForm

YES_NO = [("yes", _("yes")), ("no", _("no")), ("unknown", _("not known"))]
ASKED = {  # a question that is put the other way round: its words, and what a yes of the slip is called
    "never_changed": (
        _("Has the fluid ever been changed?"),
        [("no", _("yes")), ("yes", _("no, never")), ("unknown", _("not known"))],
    ),
}
WHY_LOWER = [
    ("mistyped before", _("an earlier reading was mistyped")),
    ("mistyped now", _("this one is mistyped: I mend it")),
    ("replaced", _("the instrument was replaced")),
    ("cannot tell", _("nobody can tell: keep it, do not count it")),
]
FUEL = [("", "–"), *((str(n), f"{n}/8") for n in range(9))]


class IntakeForm(ReplacedForm):
    """One page from the plate to the promised time. `vehicle` on file, or a new one from its VIN."""

    vin = forms.CharField(label=_("VIN"), max_length=40, required=False)
    vin_none = forms.BooleanField(label=_("no VIN: own number"), required=False)
    vin_kept_because = forms.CharField(label=_("The plate really reads so, because"), max_length=200, required=False)
    other_record = forms.BooleanField(label=_("it is another vehicle than the one a sign away"), required=False)
    plate = forms.CharField(label=_("Plate"), max_length=16, required=False)
    year = forms.IntegerField(label=_("Year"), min_value=1900, max_value=2100, required=False)
    make = forms.CharField(label=_("Make"), max_length=60, required=False)
    model = forms.CharField(label=_("Model"), max_length=60, required=False)
    build_month = forms.RegexField(
        r"^\d{4}-(0[1-9]|1[0-2])$",
        label=_("Built (year-month)"),
        required=False,
        error_messages={"invalid": _("Built: write year and month as 2021-07, or leave it empty.")},
    )
    owner = forms.CharField(label=_("Owner's name"), max_length=120, required=False)
    phone = PhoneField(label=_("Phone"), required=False)
    email = forms.EmailField(label=_("E-mail"), required=False)

    odometer = OdometerField(label=_("Odometer"), required=False)
    is_estimate = forms.BooleanField(label=_("cannot be read: an estimate"), required=False)
    why_lower = forms.ChoiceField(
        label=_("Why it is lower"), choices=WHY_LOWER, required=False, widget=forms.RadioSelect
    )
    is_jump_confirmed = forms.BooleanField(label=_("the figure is right"), required=False)

    complaint = forms.CharField(
        label=_("In the customer's own words"),
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    old_parts_wanted = forms.BooleanField(label=_("wants the old parts back"), required=False)
    arrival = forms.ChoiceField(
        label=_("Came"),
        choices=[("driven", _("driven")), ("towed in", _("towed in"))],
        required=False,
        widget=forms.RadioSelect,
    )
    body_damage = forms.CharField(label=_("Damage seen on the walk round"), max_length=300, required=False)
    fuel_eighths = forms.ChoiceField(label=_("Fuel"), choices=FUEL, required=False)
    key_tag = forms.CharField(label=_("Key tag"), max_length=20, required=False)
    parking_place = forms.CharField(label=_("Stands at"), max_length=40, required=False)
    inspect_ok = forms.BooleanField(label=_("may be lifted, driven and inspected"), required=False)
    inspect_price = MoneyField(label=_("Price of the inspection (empty: free)"), required=False)
    messages_status = forms.BooleanField(label=_("messages about the job"), required=False)
    messages_reminder = forms.BooleanField(label=_("a reminder when the fluid is due"), required=False)
    purchase_order_number = forms.CharField(label=_("Purchase order"), max_length=40, required=False)
    promised = TimeField(label=_("Promised today for"), required=False)

    def __init__(
        self, *args: Any, vehicle: Vehicle | None, customer: Customer | None, unit: str = "mi", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.vehicle, self.customer = vehicle, customer
        self.fields["odometer"].keep_unit(unit)  # type: ignore[attr-defined]
        for question in QUESTIONS:
            words, choices = ASKED.get(question.name, (question.words, YES_NO))
            self.fields[question.name] = forms.ChoiceField(
                label=words,
                choices=choices,
                widget=forms.RadioSelect,
                error_messages={"required": _("%(words)s Answer yes, no or not known.") % {"words": words}},
            )
            self.fields[f"{question.name}_words"] = forms.CharField(
                label=_("in their words"), max_length=300, required=False
            )
        self.fields["vin"].widget.attrs |= {"autocapitalize": "characters", "spellcheck": "false", **_ask_vin()}

    @property
    def questions(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """The six questions, each with the field for the customer's words."""
        return [(self[question.name], self[f"{question.name}_words"]) for question in QUESTIONS]

    def clean_why_lower(self) -> str:
        """A slip of this moment is mended, not explained."""
        why: str = self.cleaned_data["why_lower"]
        if why == "mistyped now":
            raise forms.ValidationError(
                _("Odometer: mend the figure above, then send again."), code="odometer.went_back"
            )
        return why

    def intake(self, seen: Seen | None = None) -> Intake:
        """What the deed takes."""
        said = self.cleaned_data
        reading = said["odometer"]
        return Intake(
            vehicle=self.vehicle,
            new_vehicle=None if self.vehicle else self._new_vehicle(),
            customer=self.customer if not said["owner"] else None,
            new_customer=self._new_customer(),
            odometer=reading.figure if reading else None,
            odometer_unit=reading.unit if reading else "mi",
            odometer_as_typed=str(self.data.get("odometer", ""))[:40],
            why_lower=said["why_lower"],
            **self.instruments(),
            is_jump_confirmed=said["is_jump_confirmed"],
            is_estimate=said["is_estimate"],
            complaint=said["complaint"],
            answers={q.name: self._answer(q.name) for q in QUESTIONS},
            arrival=said["arrival"] or "driven",
            fuel_eighths=int(said["fuel_eighths"]) if said["fuel_eighths"] else None,
            body_damage=said["body_damage"],
            key_tag=said["key_tag"],
            parking_place=said["parking_place"],
            inspect_ok=said["inspect_ok"],
            inspect_cents=said["inspect_price"] or 0,
            old_parts_wanted=said["old_parts_wanted"],
            purchase_order_number=said["purchase_order_number"],
            permissions=self._permissions(),
            promised_at=self._promised(),
            seen=seen,
        )

    def _answer(self, name: str) -> Answer:
        word = self.cleaned_data[name]
        return Answer(None if word == "unknown" else word == "yes", self.cleaned_data[f"{name}_words"])

    def _new_vehicle(self) -> NewVehicle:
        said = self.cleaned_data
        facts = {name: said[name] for name in ("year", "make", "model", "build_month") if said[name]}
        return NewVehicle(
            vin=said["vin"],
            vin_none=said["vin_none"],
            vin_kept_because=said["vin_kept_because"],
            other_record=said["other_record"],
            plate=said["plate"],
            facts=facts | {"distance_unit": said["odometer"].unit if said["odometer"] else "mi"},
        )

    def _new_customer(self) -> NewCustomer | None:
        said = self.cleaned_data
        if not said["owner"]:
            return None
        return NewCustomer(
            name=said["owner"], phone=said["phone"].as_typed if said["phone"] else "", email=said["email"]
        )

    def _permissions(self) -> tuple[Permission, ...]:
        """Only for a customer who is new here; those on file are changed on their own page."""
        said = self.cleaned_data
        if not said["owner"]:
            return ()
        kinds = [kind for kind, given in (("e-mail", said["email"]), ("phone", said["phone"])) if given]
        asked = {"status": said["messages_status"], "reminder": said["messages_reminder"]}
        return tuple(
            Permission(kind, purpose, given) for kind in kinds[:1] for purpose, given in asked.items() if given
        )

    def _promised(self) -> datetime | None:
        at = self.cleaned_data["promised"]
        if at is None:
            return None
        zone = timezone.get_current_timezone()
        return datetime.combine(clock.now().astimezone(zone).date(), at, tzinfo=zone)


def _ask_vin() -> dict[str, str]:
    """Year and maker proposed as soon as the VIN is typed; without a script they stay to be typed."""
    return {
        "hx-get": reverse("counter:intake"),
        "hx-trigger": "change",
        "hx-include": "[name=make], [name=year]",
        "hx-select": "#from-vin",
        "hx-target": "#from-vin",
        "hx-swap": "outerHTML",
    }
