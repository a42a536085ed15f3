"""The forms at the door."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from shopserv.shop.models import Staff
from shopserv.web.people import places_of

LONGEST_PHRASE = 256  # refused before it is hashed


class SignInForm(forms.Form):
    """Sign-in and pass phrase."""

    sign_in = forms.CharField(label=_("E-mail"), max_length=120, widget=forms.EmailInput)
    phrase = forms.CharField(
        label=_("Pass phrase"), max_length=LONGEST_PHRASE, strip=False, widget=forms.PasswordInput(render_value=False)
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_required_attribute = False
        self.fields["sign_in"].widget.attrs |= {
            "autocomplete": "username",
            "autocapitalize": "off",
            "spellcheck": "false",
            "autofocus": True,
        }
        self.fields["phrase"].widget.attrs |= {"autocomplete": "current-password"}

    def refuse_pair(self) -> None:
        """Say that the two do not belong together, the same words for an unknown name."""
        self.add_error("phrase", _("E-mail and pass phrase do not belong together. Type the pass phrase again."))

    def refuse_for(self, seconds: int) -> None:
        """Say how long no phrase is looked at."""
        minutes = -(-seconds // 60)
        words = ngettext(
            "There were too many wrong pass phrases, so this one was not looked at. Try again in %(n)s minute.",
            "There were too many wrong pass phrases, so this one was not looked at. Try again in %(n)s minutes.",
            minutes,
        )
        self.add_error("phrase", words % {"n": minutes})


class ShopForm(forms.Form):
    """Which of one's shops."""

    shop = forms.ChoiceField()

    def __init__(self, *args: Any, person: Staff | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shop"].choices = [(s.code, s.short_name) for s in places_of(person)] if person else []  # type: ignore[attr-defined]
