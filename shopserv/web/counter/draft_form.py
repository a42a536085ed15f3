"""The draft of a quote as a form: which methods, labor tenths, more lines, what we recommend and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from shopserv.jobs.courses import METHODS
from shopserv.jobs.models import Option, QuoteVersion
from shopserv.jobs.services.plan_data import edit_from_dict, said_by_person
from shopserv.jobs.services.quotes import Edits, ExtraLine, OptionEdit
from shopserv.registry.models import ContactPoint
from shopserv.web.fields import MoneyField
from shopserv.web.forms import PageForm

LETTERS = "ABCD"
MOST_TENTHS = 999
TENTHS_SAID = {
    "min_value": _("Labor of zero tenths cannot be offered; take the option away instead."),
    "max_value": _(
        "More than %(limit_value)s tenths of an hour is no labor of one option. Type the tenths: 18 are 1.8 h."
    ),
    "invalid": _("That is no whole number. Type the tenths of an hour: 18 are 1.8 h."),
}
WITHOUT_MINUS = _("Type what comes off without a minus: a discount line takes it off by itself.")
EXTRA_KINDS = [
    ("part", _("part")),
    ("labor", _("labor, flat")),
    ("operation", _("labor, from the price list")),
    ("sublet", _("sublet")),
    ("fee", _("fee")),
    ("discount", _("discount")),
]


class DraftForm(PageForm):
    """Up to four columns, each with method and tenths; one further line at a time; recommendation and its reason."""

    # Both are sent along as they were shown: what was left as we worked it out is worked out anew.
    recommended = forms.ChoiceField(label=_("We recommend"), required=False, show_hidden_initial=True)
    why = forms.CharField(
        label=_("because"),
        max_length=300,
        required=False,
        show_hidden_initial=True,
        help_text=_("What you leave as it stands is worked out anew with each save."),
    )
    note = forms.CharField(label=_("Words to the customer"), max_length=500, required=False)
    extra_column = forms.ChoiceField(label=_("added line to option"), required=False)
    extra_kind = forms.ChoiceField(label=_("Add a line"), choices=[("", "–"), *EXTRA_KINDS], required=False)
    extra_operation = forms.ChoiceField(
        label=_("operation"),
        required=False,
        help_text=_("What it shares with the rest of the visit is sold once: an “overlap removed” line says what."),
    )
    extra_text = forms.CharField(label=_("words of the added line"), max_length=200, required=False)
    extra_price = MoneyField(label=_("price of the added line"), required=False)
    contact = forms.ChoiceField(label=_("Make a link for"), required=False)
    below_floor_because = forms.CharField(label=_("Below the margin floor, because"), max_length=200, required=False)

    def __init__(
        self,
        *args: Any,
        version: QuoteVersion,
        options: Sequence[Option],
        methods: Sequence[str],
        contacts: Sequence[ContactPoint],
        chosen_contact: str = "",
        **kwargs: Any,
    ) -> None:
        self.version = version
        self.kept = [edit_from_dict(kept) for kept in version.inputs.get("options", [])]
        kwargs.setdefault("initial", {**_initial(version, options, self.kept), "contact": chosen_contact})
        super().__init__(*args, **kwargs)
        used = LETTERS[: len(self.kept)]
        names = [(method, METHODS[method].words) for method in methods]
        for letter in LETTERS[: min(4, len(self.kept) + 1)]:
            self.fields[f"method_{letter}"] = forms.ChoiceField(
                label=format_lazy(_("{letter}, method"), letter=letter),
                choices=[("", _("none")), *names],
                required=False,
            )
            self.fields[f"tenths_{letter}"] = forms.IntegerField(
                label=format_lazy(_("{letter}, labor, tenths"), letter=letter),
                min_value=1,
                max_value=MOST_TENTHS,
                required=False,
                error_messages=TENTHS_SAID,
            )
        columns = [("", "–"), *((letter, letter) for letter in used)]
        self.fields["recommended"].choices = columns  # type: ignore[attr-defined]
        self.fields["extra_column"].choices = columns  # type: ignore[attr-defined]
        listed = [
            (name, format_lazy(_("{name}, {hours} h"), name=name, hours=f"{tenths / 10:g}"))
            for name, tenths in version.inputs.get("operations", [])
        ]
        self.fields["extra_operation"].choices = [("", "–"), *listed]  # type: ignore[attr-defined]
        points = [(str(point.pk), f"{point.kind} {point.as_typed}") for point in contacts]
        self.fields["contact"].choices = [("", _("nobody yet")), *points]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A further line is whole or not there."""
        said = super().clean() or {}
        if said.get("extra_kind") == "discount" and self.data.get("extra_price", "").strip()[:1] in ("-", "−"):
            self.errors.pop("extra_price", None)
            self.add_error("extra_price", WITHOUT_MINUS)
        asked = {"extra_column": _("To which option?"), "extra_text": _("Which words?")}
        if said.get("extra_kind") == "operation":
            asked = {"extra_column": asked["extra_column"], "extra_operation": _("Which operation?")}
            if said.get("extra_price") is not None:
                self.add_error("extra_price", _("The price list prices it; leave this empty, or choose “labor, flat”."))
        for name, words in asked.items() if said.get("extra_kind") else ():
            if not said.get(name):
                self.add_error(name, words)
        return said

    def edits(self) -> Edits:
        """What the plan is made from."""
        columns: list[OptionEdit] = []
        letters = {"": ""}
        for index, letter in enumerate(LETTERS):
            kept = self.kept[index] if index < len(self.kept) else OptionEdit()
            edit = self._column(letter, kept)
            if edit is not None:
                letters[letter] = LETTERS[len(columns)]  # those behind a column that is taken away move up
                columns.append(edit)
        chosen, why = self._of_a_person()
        if chosen not in letters:  # the option is gone, and what was said for it with it
            chosen = why = ""
        return Edits(tuple(columns), recommended=letters[chosen], why=why, note=self.cleaned_data["note"])

    def _of_a_person(self) -> tuple[str, str]:
        """The letter and the sentence, each only if a person said it; who writes the sentence means the letter too."""
        before = said_by_person(self.version)
        said = {}
        for name in ("recommended", "why"):
            is_changed = self.cleaned_data[name] != self._as_shown(name)
            said[name] = self.cleaned_data[name] if is_changed or before[name] else ""
        return (self.cleaned_data["recommended"] if said["why"] else said["recommended"]), said["why"]

    def _as_shown(self, name: str) -> str:
        shown: str = self.data.get(self.add_initial_prefix(name), self.initial[name])
        return shown.strip()

    def _column(self, letter: str, kept: OptionEdit) -> OptionEdit | None:
        said = self.cleaned_data
        method = said.get(f"method_{letter}", "")
        if kept.kind == "work" and not method:
            return None
        tenths = said.get(f"tenths_{letter}")
        if method != kept.method:  # another method begins with its own course, labor and parts
            return OptionEdit(method=method, extras=self._extras(letter, ()))
        return replace(kept, tenths=tenths, extras=self._extras(letter, kept.extras))

    def _extras(self, letter: str, kept: tuple[ExtraLine, ...]) -> tuple[ExtraLine, ...]:
        said = self.cleaned_data
        if not said["extra_kind"] or said["extra_column"] != letter:
            return kept
        price = said["extra_price"]
        if said["extra_kind"] == "operation":
            name = said["extra_operation"]
            return (*kept, ExtraLine(kind="labor", text=name, number=name))
        if said["extra_kind"] == "discount" and price is not None:
            price = -price
        return (*kept, ExtraLine(kind=said["extra_kind"], text=said["extra_text"], unit_price_cents=price))

    @property
    def columns(self) -> list[tuple[str, forms.BoundField, forms.BoundField]]:
        """Letter, method and tenths of each column that can be filled."""
        return [
            (letter, self[f"method_{letter}"], self[f"tenths_{letter}"])
            for letter in LETTERS
            if f"method_{letter}" in self.fields
        ]


def _initial(version: QuoteVersion, made: Sequence[Option], kept: Sequence[OptionEdit]) -> dict[str, Any]:
    options = {option.letter: option for option in made}
    initial: dict[str, Any] = {"recommended": version.recommended, "why": version.why, "note": version.note}
    for letter, edit in zip(LETTERS, kept, strict=False):
        initial[f"method_{letter}"] = edit.method
        initial[f"tenths_{letter}"] = options[letter].tenths if letter in options else edit.tenths
    return initial | {"edition": version.edition}
