"""What a customer may answer on a link."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopserv.jobs.selectors.quotes import Choice, Decision
from shopserv.jobs.services.authorize import Consent
from shopserv.web.forms import PageForm

OLD_PARTS = [("keep", _("keep them for me")), ("no", _("not needed"))]


class AnswerForm(PageForm):
    """One option with one's name, and whether the old parts are wanted. Nothing is chosen beforehand."""

    option = forms.ChoiceField(
        label=_("Option"),
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose one of the options, or “None of these for now” below."),
            "invalid_choice": _("There is no such option here. Choose one of those that are listed."),
        },
    )
    person = forms.CharField(
        label=_("Your name"),
        max_length=120,
        error_messages={
            "required": _("Type your name, so that we know whose yes it is."),
            "max_length": _("The name is too long: at most %(limit_value)d letters."),
        },
    )
    old_parts = forms.ChoiceField(label=_("Old parts"), choices=OLD_PARTS, required=False, widget=forms.RadioSelect)
    purchase_order_number = forms.CharField(label=_("Purchase order number"), max_length=40, required=False)
    version_hash = forms.CharField(
        widget=forms.HiddenInput,
        max_length=64,
        error_messages={"required": _("The page was sent without its version. Open the link again.")},
    )

    def __init__(self, *args: Any, decision: Decision, **kwargs: Any) -> None:
        wanted = "keep" if decision.old_parts_wanted else ""
        super().__init__(*args, initial={"version_hash": decision.version_hash, "old_parts": wanted}, **kwargs)
        self.decision = decision
        self.fields["option"].choices = [(one.letter, one.title) for one in decision.choices]  # type: ignore[attr-defined]
        self.fields["person"].widget.attrs |= {"autocomplete": "name"}
        if not decision.purchase_order_needed:
            del self.fields["purchase_order_number"]

    @property
    def chosen(self) -> Choice:
        """The option that a valid form names."""
        letter = self.cleaned_data["option"]
        return next(one for one in self.decision.choices if one.letter == letter)

    def consent(self, peer_address: str, capacity: str) -> Consent:
        """The yes as the deed takes it; its amount is the one that stands on the option of this version."""
        said = self.cleaned_data
        return Consent(
            person=said["person"],
            way="page",
            amount_cents=self.chosen.agreed_cents,
            capacity=capacity,
            version_hash=said["version_hash"],
            purchase_order_number=said.get("purchase_order_number", ""),
            old_parts_wanted=said["old_parts"] == "keep" or (not said["old_parts"] and self.decision.old_parts_wanted),
            peer_address=peer_address,
        )
