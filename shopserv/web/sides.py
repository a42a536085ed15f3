"""What two people made of one record, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms


@dataclass(frozen=True, slots=True)
class Side:
    """One field of a stale form: as typed here, and as it stands now."""

    label: str
    mine: str
    theirs: str

    @property
    def differs(self) -> bool:
        """Whether the two do not agree."""
        return self.mine != self.theirs


def sides_of(form: forms.Form, theirs: Mapping[str, Any]) -> list[Side]:
    """The fields of `form` that `theirs` (name -> what stands now) names, in its order, choices in their words."""
    return [
        Side(str(field.label), _text(field, field.value()), _text(field, theirs[field.name]))
        for field in form
        if field.name in theirs and not field.is_hidden
    ]


def _text(field: forms.BoundField, value: Any) -> str:
    if value is None:
        return ""
    if isinstance(field.field, forms.ChoiceField):
        choices: Any = field.field.choices
        words = {str(kept): str(said) for kept, said in choices if not isinstance(said, list | tuple)}
        return words.get(str(value), str(value))
    return str(value).replace("\r\n", "\n")
