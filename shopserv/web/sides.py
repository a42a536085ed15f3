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
    """The fields of `form` that `theirs` (of a Stale refusal: name -> what stands now) names, in its order."""
    return [
        Side(str(field.label), _text(field.value()), _text(theirs[field.name]))
        for field in form
        if field.name in theirs and not field.is_hidden
    ]


def _text(value: Any) -> str:
    return "" if value is None else str(value)
