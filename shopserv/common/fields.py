"""Column types that carry a rule of the house."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.db import models

LARGEST_CENTS = 999_999_999  # 9,999,999.99


class CentsField(models.BigIntegerField):
    """Money as whole cents of the business's currency."""


class EditionField(models.PositiveIntegerField):
    """Counts the saves of an editable record, by which a stale write is noticed."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("default", 1)
        super().__init__(*args, **kwargs)


def canonical(data: Any) -> str:
    """`data` as JSON with sorted keys and no blanks: the same text for the same facts, whatever the engine."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False, default=str)


def sha256(text: str | bytes) -> str:
    """The SHA-256 of a text (as UTF-8) or of bytes, in hexadecimal."""
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()
