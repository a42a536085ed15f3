"""What stands behind the "?" of an address: known names alone, each in its range, or a sentence that names it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from datetime import date
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from shopserv.common import parsing
from shopserv.common.errors import Refusal

LARGEST_KEY = 2**63 - 1
ORDER = "mdy"  # of the shop's country
After = tuple[date, int]


class Asked:
    """The query string of a request, read name by name; whatever cannot be meant is refused with 400."""

    def __init__(self, request: HttpRequest, *known: str) -> None:
        self.values: Mapping[str, str] = request.GET.dict()
        for name, typed in self.values.items():
            if "\x00" in typed and name in known:
                raise self.out_of_range(name, _("a text without control characters"))
            if name not in known:
                raise Refusal(
                    _("“%(name)s” is not known here. Known are: %(known)s.")
                    % {"name": name[:40], "known": ", ".join(sorted(known)) or _("none")},
                    code="query.unknown",
                    field=name[:40],
                    status=400,
                )

    def text(self, name: str, default: str = "") -> str:
        """As it was typed."""
        return self.values.get(name, default)

    def whole(self, name: str, low: int, high: int, default: int) -> int:
        """A whole number from `low` to `high`."""
        typed = self.values.get(name, "")
        if not typed:
            return default
        if not re.fullmatch(r"[0-9]{1,6}", typed) or not low <= int(typed) <= high:
            raise self.out_of_range(name, _("a whole number from %(low)s to %(high)s") % {"low": low, "high": high})
        return int(typed)

    def one_of(self, name: str, words: Collection[str], default: str) -> str:
        """One of a few words."""
        typed = self.values.get(name, "")
        if typed and typed not in words:
            raise self.out_of_range(name, ", ".join(words))
        return typed or default

    def day(self, name: str, today: date, *, ahead: bool, label: str = "") -> date | None:
        """A day as people write it here, month before day; none where it is empty.

        today, ahead   of a day without a year the next, or the last, is meant
        label          what the field is called on its page
        """
        typed = self.values.get(name, "")
        if not typed.strip():
            return None
        try:
            return parsing.near_day(typed, today, ahead=ahead, order=ORDER)
        except parsing.FieldError as error:
            message = f"{label or name}: {error.message}"
            raise Refusal(message, code="query.range", field=name, status=400) from error

    def after(self, name: str = "after") -> After | None:
        """The key of the last line of the page before: day and row."""
        typed = self.values.get(name, "")
        found = re.fullmatch(r"([0-9]{4}-[0-9]{2}-[0-9]{2})\.([0-9]{1,19})", typed)
        if not typed:
            return None
        try:
            if found and int(found[2]) <= LARGEST_KEY:
                return date.fromisoformat(found[1]), int(found[2])
        except ValueError:
            pass
        raise self.out_of_range(name, _("the end of the page before, as its link says it"))

    def key(self, name: str) -> int | None:
        """A row's key, 1 or more."""
        typed = self.values.get(name, "")
        if not typed:
            return None
        if not re.fullmatch(r"[1-9][0-9]{0,18}", typed) or int(typed) > LARGEST_KEY:
            raise self.out_of_range(name, _("the end of the page before, as its link says it"))
        return int(typed)

    def out_of_range(self, name: str, range_words: str) -> Refusal:
        """The refusal of what was typed for `name`."""
        return Refusal(
            _("%(name)s: “%(typed)s” is not %(range)s.")
            % {"name": name, "typed": self.values.get(name, "")[:40], "range": range_words},
            code="query.range",
            field=name,
            status=400,
        )


def after_text(after: After | None) -> str:
    """The key of the next page as it stands in its link."""
    return f"{after[0].isoformat()}.{after[1]}" if after else ""


def says_what_was_asked(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Answer a query string that cannot be meant with its sentence, status 400."""

    @wraps(view)
    def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return view(request, *args, **kwargs)
        except Refusal as refusal:
            if refusal.status != 400:
                raise
            return render(request, "refused.html", {"refusal": refusal}, status=400)

    return inner
