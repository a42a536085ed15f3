"""The form that decides a finding, lifts it, or notes one more."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.common.errors import Refusal
from shopserv.jobs.findings import QUESTIONS
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors import decisions as reads
from shopserv.shop.actors import Actor
from shopserv.web.forms import PageForm

FIELDS = {"code": "finding", "words": "finding_words", "shown": "finding_shown"}


class FindingForm(PageForm):
    """One of the findings that stand, or a question of the slip, with the words of whoever decides."""

    finding = forms.ChoiceField(label=gettext_lazy("Finding"))
    finding_words = forms.CharField(
        label=gettext_lazy("Why, in words"),
        max_length=300,
        help_text=gettext_lazy("what was looked at and seen, or why the work may go on"),
    )
    finding_shown = forms.CharField(
        label=gettext_lazy("What the list asks for"),
        max_length=150,
        required=False,
        help_text=gettext_lazy("number of the diagnosis, the repair line, or of the signed paper"),
    )

    def __init__(self, *args: Any, decisions: Iterable[reads.Decision], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.decisions = tuple(decisions)
        stands = {one.found.code for one in self.decisions}
        choices = [(one.found.code, one.found.kind.words) for one in self.decisions]
        choices += [(q.code, f"{_('the slip')}: {q.words}") for q in QUESTIONS if q.code not in stands]
        self.fields["finding"].choices = choices  # type: ignore[attr-defined]
        self.can_decide = any(one.may_decide for one in self.decisions)
        self.can_lift = any(one.may_lift for one in self.decisions)

    def refuse(self, refusal: Refusal) -> None:
        """Put at the fields of this form what the deed calls by its own names."""
        refusal.field = FIELDS.get(refusal.field, refusal.field)
        super().refuse(refusal)


def finding_form(actor: Actor, visit: Visit, data: Any = None) -> FindingForm:
    """The form of a visit, as the actor may use it."""
    return FindingForm(data, decisions=reads.decisions_on(actor, visit))
