"""What a deed says when it will not be done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import PermissionDenied


class Refusal(Exception):
    """What the shop's rules forbid, in words for the person who asked; shown as it is.

    code      part of the interface, e.g. "odometer.went_back"
    field     the form field it belongs to, or ""
    confirmable   the same request passes when it says so with `confirm`
    tick_words    what is ticked to say so; empty: that it is right as typed
    status    of the page that shows it: 422 something to mend, 409 somebody or something was faster
    """

    status = 422

    def __init__(
        self,
        message: str,
        *,
        code: str = "refused",
        field: str = "",
        confirmable: bool = False,
        tick_words: str = "",
        status: int | None = None,
    ) -> None:
        super().__init__(message)
        self.message, self.code, self.field = message, code, field
        self.confirmable, self.tick_words = confirmable, tick_words
        if status is not None:
            self.status = status


class StateRefusal(Refusal):
    """A move that the present state does not know; somebody was faster or the page is old."""

    status = 409


class Stale(Refusal):
    """Somebody saved the record in between. Both sides are given, so that nothing typed is lost.

    theirs    field -> what stands now
    who, when_text   the other writer and the time, for the sentence
    """

    status = 409

    def __init__(self, message: str, *, theirs: Mapping[str, Any] | None = None) -> None:
        super().__init__(message, code="version.stale")
        self.theirs = dict(theirs or {})


class NotYours(PermissionDenied):
    """Something of one's own shop that the role may not do (403)."""
