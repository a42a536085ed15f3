"""Forms of deeds in the bay that carry a name: the level, the close-out, the second look."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.utils.translation import gettext_lazy as _

from shopserv.jobs.bay_bench import Tool
from shopserv.jobs.bay_readings import KEYS, need
from shopserv.jobs.selectors.bay import BaySheet
from shopserv.jobs.selectors.looks import LookItem, LookSheet
from shopserv.jobs.services.bay import Press, Setting
from shopserv.logbook.services import WHY_LOWER
from shopserv.web.bay.figures import Typed, from_base, plain
from shopserv.web.bay.forms import Answering, FigureField, of_people, why_jump_field
from shopserv.web.forms import NOT_CHOSEN, PageForm
from shopserv.web.replaced import FIELDS, WENT_BACK, ReplacedForm

ENGINE = [("running", _("running")), ("off", _("off"))]
SOURCES = [
    ("thermometer", _("thermometer")),
    ("scan tool", _("scan tool")),
    ("dipstick probe", _("dipstick probe")),
]
NOT_SEEN = "none"
WHY_HERE = [(why, words) for why, words in WHY_LOWER.items() if why != "mistyped now"]  # that one is read again
SEEN = [("1", _("as it should be")), ("0", _("not as it should be")), (NOT_SEEN, _("could not see"))]


class PinField(forms.CharField):
    """The PIN of whoever answers for the deed; never shown again."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("label", _("PIN"))
        kwargs["error_messages"] = {"required": _("Whose deed is it? Type the PIN.")}
        attrs = {"inputmode": "numeric", "autocomplete": "off"}
        super().__init__(max_length=8, widget=forms.PasswordInput(attrs=attrs), **kwargs)


class LevelForm(Answering):
    """How the level was set, beside what was read."""

    def __init__(self, *args: Any, limits: Mapping[str, Any], tools: Sequence[Tool], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sign = limits.get("sign") or str(_("level sign"))
        self.fields["sign_seen"] = forms.BooleanField(
            label=f"{sign[:1].upper()}{sign[1:]}, {_('seen')}", required=False
        )
        self.fields["engine"] = _radio(_("Engine while it was set"), ENGINE)
        if limits.get("plug_closed_with"):
            self.fields["plug_closed_with"] = _radio(_("Level plug went in with the engine"), ENGINE)
        self.fields["temp_source"] = _radio(_("Temperature read with"), SOURCES)
        for name, label, kinds in (
            ("thermometer", _("Which thermometer"), ("thermometer", "scan tool")),
            ("tilt_instrument", _("Which level tool"), ("level",)),
        ):
            of_kind = [tool for tool in tools if tool.kind in kinds and tool.serial]
            if len(of_kind) > 1:
                self.fields[name] = forms.ChoiceField(
                    label=label, choices=[("", _("the first")), *((tool.serial, tool.words) for tool in of_kind)],
                    required=False,
                )  # fmt: skip
        self.fields["why_jump"] = why_jump_field()
        self.fields["pin"] = PinField()

    def setting(self) -> Setting:
        """As the deed takes it."""
        others = ("once", "edition", "why_jump", "pin")
        said = {name: value for name, value in self.cleaned_data.items() if name not in others}
        return Setting(**said)


def _radio(label: Any, choices: Sequence[tuple[str, Any]]) -> forms.ChoiceField:
    missing = {"required": _("Nothing was chosen. Choose what it was.")}
    return forms.ChoiceField(label=label, choices=choices, widget=forms.RadioSelect, error_messages=missing)


class CloseOutForm(ReplacedForm):
    """Every item confirmed, leftovers read, and what was not done."""

    def __init__(self, *args: Any, bay: BaySheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.items = bay.items
        for item in self.items:
            self.fields[item.code] = forms.BooleanField(label=item.words[:1].upper() + item.words[1:], required=False)
        row = need("left_ml", str(_("left over of what was bought")), units_first=bay.order.shop.units_first)
        self.row = row
        self.fields["left_ml"] = FigureField(row, required=False)
        self.fields["why_lower"] = forms.ChoiceField(
            label=_("Why the odometer is lower"), choices=WHY_HERE, widget=forms.RadioSelect, required=False
        )
        self.fields["replaced_since"] = forms.BooleanField(
            label=_("The odometer was replaced since it was read last"), required=False
        )
        self.fields["balance_words"] = forms.CharField(
            label=_("Where in and out do not agree: what may have happened"), max_length=300, required=False
        )
        self.fields["words"] = forms.CharField(label=_("What else was not done"), max_length=300, required=False)
        self.fields["pin"] = PinField()

    def clean(self) -> dict[str, Any]:
        """A replaced odometer is asked about as one whose figure is lower."""
        if self.cleaned_data.get("replaced_since"):
            self.cleaned_data["why_lower"] = "replaced"
        return super().clean()

    @property
    def asks_why(self) -> bool:
        """Whether the question why it is lower stands open; the figure is of a step, no field is here."""
        codes = [error.code for error in self.errors.as_data().get(NON_FIELD_ERRORS, ())]
        return bool(self.data.get("why_lower")) or WENT_BACK in codes or self.has_error("why_lower")

    @property
    def opens_replaced(self) -> bool:
        """Whether the fields of the two instruments stand open."""
        return bool(self.data.get("replaced_since")) or any(name in self.errors for name in FIELDS)

    def instruments(self) -> dict[str, Any]:
        """What the logbook takes of a replaced odometer."""
        return {**super().instruments(), "is_replaced": self.cleaned_data["replaced_since"]}

    def ticks(self) -> dict[str, bool | str | None]:
        """Item -> whether it is confirmed; what is not is explained by why its step was skipped."""
        return {item.code: True if self.cleaned_data.get(item.code) else None for item in self.items}

    def presses(self) -> list[Press]:
        """Leftovers, where there are any."""
        said = self.cleaned_data.get("left_ml")
        if not isinstance(said, Typed):
            return []
        return [Press("left_ml", said.value, said.unit, f"{self.key}-left_ml"[-80:])]

    @property
    def item_fields(self) -> list[Any]:
        """The items as they stand on the page."""
        return [self[item.code] for item in self.items]


class LookForm(PageForm):
    """Own figures of the second person; the first figures are nowhere on the page."""

    def __init__(self, *args: Any, sheet: LookSheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.sheet = sheet
        for item in sheet.items:
            self.fields[item.what] = _own_field(item)
        self.fields["by"] = by_field(sheet)
        self.fields["pin"] = PinField()

    def own(self) -> dict[str, int | None]:
        """What -> base units; none: could not be seen."""
        found: dict[str, int | None] = {}
        for item in self.sheet.items:
            said = self.cleaned_data.get(item.what)
            if isinstance(said, Typed):
                found[item.what] = round(KEYS[said.unit].exact(said.value))
            else:
                found[item.what] = int(said) if said in ("0", "1") else None
        return found

    def stepped(self, what: str, by: int) -> dict[str, Any]:
        """What was typed, with one figure stepped by a key."""
        said: dict[str, Any] = {name: self.data.get(name, "") for name in self.fields if name != "pin"}
        item = next((one for one in self.sheet.items if one.what == what and one.unit), None)
        if item is not None:
            typed = self.cleaned_data.get(what)
            value = from_base(round(KEYS[typed.unit].exact(typed.value)), item.unit) if typed else 0
            said[what] = plain(value + by, item.unit)
        return said


def _own_field(item: LookItem) -> forms.Field:
    if item.kind == "seen":
        field = forms.ChoiceField(label=item.words[:1].upper() + item.words[1:], choices=SEEN, widget=forms.RadioSelect)
        field.error_messages["required"] = NOT_CHOSEN
        field.initial = None if item.own is None else str(item.own)
        return field
    row = {"what": item.what, "unit": item.unit, "words": item.words}
    shown = "" if item.own is None else plain(from_base(item.own, item.unit), item.unit)
    return FigureField(row, required=False, initial=shown)


def by_field(sheet: LookSheet) -> forms.ChoiceField:
    """Who looks: whoever is entitled, else the technician, marked as own."""
    people: Iterable[Any] = sheet.lookers or ([sheet.order.technician] if sheet.order.technician else [])
    missing = {"required": _("Who looks? Choose your name.")}
    choices = of_people(people)
    return forms.ChoiceField(label=_("Who looks"), choices=choices, widget=forms.RadioSelect, error_messages=missing)


class AnswerForm(PageForm):
    """The answer under the second person's name."""

    def __init__(self, *args: Any, sheet: LookSheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"] = forms.ChoiceField(
            label=_("What is not as it should be"),
            choices=[("", _("nothing")), *((one, one) for one in sheet.reasons)],
            widget=forms.RadioSelect,
            required=False,
        )
        self.fields["words"] = forms.CharField(label=_("More words"), max_length=200, required=False)
        self.fields["by"] = by_field(sheet)
        looker = next((one for one in sheet.lookers if one.name == sheet.given_by), None)  # who read goes on
        self.fields["by"].initial = str(looker.pk) if looker else None
        self.fields["pin"] = PinField()

    def said(self) -> str:
        """Reason and words as one."""
        parts = (self.cleaned_data.get("reason", ""), self.cleaned_data.get("words", ""))
        return ": ".join(part for part in parts if part)
