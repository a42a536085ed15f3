"""The forms at the door."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from shopserv.shop.models import Staff
from shopserv.web.people import places_of

LONGEST_PHRASE = 256  # refused before it is hashed


class SignInForm(forms.Form):
    """Sign-in and pass phrase."""

    sign_in = forms.CharField(label=_("Sign-in"), max_length=120)
    phrase = forms.CharField(
        label=_("Pass phrase"), max_length=LONGEST_PHRASE, strip=False, widget=forms.PasswordInput(render_value=False)
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.use_required_attribute = False
        self.fields["sign_in"].widget.attrs |= {"autocomplete": "username", "autofocus": True}
        self.fields["phrase"].widget.attrs |= {"autocomplete": "current-password"}

    def refuse_pair(self) -> None:
        """Say that the two do not belong together, the same words for an unknown name."""
        self.add_error("phrase", _("Sign-in and pass phrase do not belong together. Type the pass phrase again."))


class ShopForm(forms.Form):
    """Which of one's shops."""

    shop = forms.ChoiceField()

    def __init__(self, *args: Any, person: Staff | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["shop"].choices = [(s.code, s.short_name) for s in places_of(person)] if person else []  # type: ignore[attr-defined]
