"""The ground of every form: typed text is kept, each fault names field, cause and mend, the once-key travels along."""

from __future__ import annotations

import secrets
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _

from shopserv.common.errors import Refusal
from shopserv.common.parsing import UnitDoubt
from shopserv.papers.letters import first_unset
from shopserv.web.fields import TypedField

NOT_TYPED = _("Nothing was typed. Type it, or go back without it.")
NOT_CHOSEN = _("Nothing was chosen. Choose one, or go back without it.")

NO_FILE = _("No file was chosen. Choose a file, or go back without it.")

NOT_SET = _("“%(sign)s” cannot be printed on our papers. Write it in other letters, or leave the sign out.")


class PageForm(forms.Form):
    """A form with its once-key, the edition of what it changes, and what was confirmed.

    Fields that are parsed by `common.parsing` show its sentence; a Refusal of a deed is put at its field.
    """

    once = forms.CharField(widget=forms.HiddenInput, required=False, max_length=300)
    edition = forms.IntegerField(widget=forms.HiddenInput, required=False)
    confirm = forms.MultipleChoiceField(required=False, choices=(), widget=forms.MultipleHiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_required_attribute = False
        self.key = (self.data.get("once") if self.is_bound else "") or new_key()
        self.confirmable: list[Refusal] = []
        self.doubts: dict[str, UnitDoubt] = {}  # by field: a figure without unit that was asked for it
        self.confirmed = set(self.data.getlist("confirm")) if hasattr(self.data, "getlist") else set()
        del self.fields["confirm"]
        for field in self.fields.values():
            if field.error_messages.get("required") == forms.Field.default_error_messages["required"]:
                is_chosen = isinstance(field, forms.ChoiceField | forms.BooleanField)
                words = NO_FILE if isinstance(field, forms.FileField) else NOT_CHOSEN if is_chosen else NOT_TYPED
                field.error_messages["required"] = words

    def _clean_fields(self) -> None:
        """Every typed text may come to stand on a paper: refuse the sign that would be an empty box there."""
        super()._clean_fields()  # type: ignore[misc]
        self._ask_units()
        for name, value in list(self.cleaned_data.items()):
            if isinstance(value, str) and not self.fields[name].widget.is_hidden and (sign := first_unset(value)):
                self.add_error(name, forms.ValidationError(NOT_SET % {"sign": sign}, code="text.sign"))

    def _ask_units(self) -> None:
        """Ask for the unit of a figure that makes sense only in another; an answer is read with it."""
        for name, field in self.fields.items():
            if not isinstance(field, TypedField):
                continue
            text = str(self.data.get(self.add_prefix(name), "")).strip()
            doubt = field.doubt(text) if text and not self.stands_as_shown(name, text) else None
            if doubt is None:
                continue
            self.doubts[name] = doubt
            self.errors.pop(name, None)
            if (answer := self.unit_answered(name)) in doubt.units:
                self.cleaned_data[name] = field.parser(f"{doubt.figure} {answer}", **field.how)
            else:
                self.add_error(name, forms.ValidationError(doubt.said, code="unit.asked"))

    def unit_answered(self, name: str) -> str:
        """The unit that was chosen for a figure that was asked."""
        return str(self.data.get(f"{self.add_prefix(name)}_unit", ""))

    def stands_as_shown(self, name: str, text: str) -> bool:
        """Whether a figure stands as the page showed it: it was asked when it was typed."""
        return text == str(self.get_initial_for_field(self.fields[name], name) or "")

    def refuse(self, refusal: Refusal) -> None:
        """Show what a deed said at the field it belongs to; offer the tick box where it can be confirmed."""
        field = refusal.field if refusal.field in self.fields else None
        self.add_error(field, forms.ValidationError(self._beside(field, refusal.message), code=refusal.code))
        if refusal.confirmable:
            self.confirmable.append(refusal)

    def _beside(self, field: str | None, message: str) -> str:
        """The message as it stands beside the name of its field, which it need not say again."""
        head, colon, rest = message.partition(": ")
        label = str(self.fields[field].label or "") if field else ""
        if not colon or head.lower() != label.lower().partition(", ")[0]:
            return message
        return rest[:1].upper() + rest[1:]


def new_key() -> str:
    """A fresh once-key for a form."""
    return secrets.token_urlsafe(18)


def form_page(
    request: HttpRequest, template: str, context: dict[str, Any], refusal: Refusal | None = None
) -> HttpResponse:
    """The page of a form again, everything typed kept: 422 for something to mend, or the status of the refusal."""
    return render(request, template, context, status=refusal.status if refusal else 422)
