"""The owner's reading of the trail: who did what when, on which thing, refusals too."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from shopserv.common import clock, formats
from shopserv.common.errors import Refusal
from shopserv.common.templatetags.look import clock_html
from shopserv.shop import selectors
from shopserv.shop.actors import Actor
from shopserv.shop.models import Shop, TrailEntry
from shopserv.web.query import Asked, says_what_was_asked

KNOWN = ("of", "on", "who", "thing", "only", "before", "check")
OF = {"shop": gettext_lazy("this shop"), "house": gettext_lazy("the whole house")}
ONLY = {"all": gettext_lazy("all"), "refused": gettext_lazy("refused alone")}
CENTS = ("_cents", "totals")  # names of values in cents
TOLD, LONGEST = 4, 60  # values of an entry that are told, and letters of one


@require_GET
@says_what_was_asked
def trail(request: HttpRequest) -> HttpResponse:
    """The trail, newest first."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    asked = Asked(request, *KNOWN)
    refusal, on = None, None
    try:
        on = asked.day("on", clock.today(actor.house.time_zone), ahead=False, label=_("day"))
    except Refusal as unread:
        refusal = unread
    whole_house = asked.one_of("of", tuple(OF), "shop") == "house"
    found = selectors.trail_page(
        actor,
        whole_house=whole_house,
        on=on,
        who=asked.text("who").strip()[:120],
        thing=asked.text("thing").strip()[:160],
        refused=asked.one_of("only", tuple(ONLY), "all") == "refused",
        before=asked.key("before"),
    )
    is_checked = asked.one_of("check", ("whole",), "") == "whole"
    context = {
        "rows": "" if refusal else rows_html(found, actor.house, asked.values),
        "refusal": refusal,
        "people": _people(selectors.trail_people(actor), asked.text("who")),
        "typed": asked.values,
        "choices": _choices(asked),
        "next": _with(asked.values, before=str(found.before)) if found.before and not refusal else "",
        "check": _with(asked.values, check="whole"),
        "chain": selectors.chain(actor) if is_checked else None,
        "broken": sorted(found.broken),
        "is_filtered": any(asked.text(name) for name in ("on", "who", "thing", "only")),
        "all_url": reverse("office:trail"),
    }
    return render(request, "office/trail.html", context, status=refusal.status if refusal else 200)


def rows_html(found: selectors.TrailPage, shop: Shop, typed: Mapping[str, str]) -> SafeString:
    """The entries with a line for each day; the time is that of the shop."""
    today, parts, last = clock.today(shop.time_zone), [], None
    for entry in found.rows:
        at = timezone.localtime(entry.at)
        if at.date() != last:
            parts.append(_day_line(at.date(), today))
            last = at.date()
        parts.append(entry_row(entry, at, shop, typed, is_broken=entry.pk in found.broken))
    return format_html_join("", "{}", ((part,) for part in parts))


def _day_line(on: date, today: date) -> SafeString:
    return format_html(
        '<tr class="day-line"><td class="when">{}</td><td colspan="4"></td></tr>', formats.short_day(on, today)
    )


def entry_row(entry: TrailEntry, at: datetime, shop: Shop, typed: Mapping[str, str], *, is_broken: bool) -> SafeString:
    """One entry: time, who, what, on which thing, what changed."""
    is_refused = selectors.is_refused(entry)
    return format_html(
        '<tr data-line="{}"><td class="when">{}</td><td>{}</td><td>{}{}</td><td class="thing">{}</td>'
        '<td class="changes">{}</td></tr>',
        entry.pk,
        clock_html(at, shop),
        _narrower(typed, "who", entry.who),
        format_html("<b>{}</b>", entry.what) if is_refused else entry.what,
        format_html(" <b>{}</b>", _("changed after it was sealed")) if is_broken else "",
        _narrower(typed, "thing", entry.subject),
        changes_of(entry.before, entry.after),
    )


def _narrower(typed: Mapping[str, str], name: str, value: str) -> SafeString:
    """A word that narrows the page to itself."""
    return format_html('<a class="plain" href="{}">{}</a>', _with(typed, **{name: value}), value)


def changes_of(before: Mapping[str, Any], after: Mapping[str, Any]) -> SafeString:
    """What an entry says was changed, the first values in short; all of it in full behind its word."""
    names = [*before, *(name for name in after if name not in before)]
    whole = {name: _change(name, before, after) for name in names}
    told = _said({name: _short(words) for name, words in list(whole.items())[:TOLD]})
    if len(names) <= TOLD and all(len(words) <= LONGEST for words in whole.values()):
        return told
    return format_html("<details><summary>{}</summary>{}</details>", told, _said(whole))


def _said(changes: Mapping[str, str]) -> SafeString:
    return format_html_join("; ", "{}: {}", ((_plain(name), words) for name, words in changes.items()))


def _change(name: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    if name in before and name in after:
        return f"{_words(name, before[name])} → {_words(name, after[name])}"
    if name in before:
        return _("%(value)s before") % {"value": _words(name, before[name])}
    return _words(name, after[name])


def _plain(name: str) -> str:
    return name.removesuffix("_cents").replace("_", " ")


def _short(words: str) -> str:
    return words if len(words) <= LONGEST else f"{words[: LONGEST - 1]}…"


def _words(name: str, value: Any) -> str:
    """A value as text; cents as money."""
    if name.endswith(CENTS) and isinstance(value, int):
        return formats.money(value)
    if value in (None, "", [], {}):
        return formats.NOT_KNOWN
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, dict):
        return ", ".join(f"{_plain(str(key))} {_words(name, one)}" for key, one in value.items())
    if isinstance(value, list):
        return ", ".join(_words(name, one) for one in value)
    return str(value)


def _people(names: Sequence[str], now: str) -> list[tuple[str, bool]]:
    """Who may be asked for: the staff, the clock, and whoever is asked for already."""
    every = [*names, "clock", *([now] if now and now not in (*names, "clock") else [])]
    return [(name, name == now) for name in every]


def _choices(asked: Asked) -> list[tuple[str, list[tuple[str, str, bool]]]]:
    rows = [(_("of"), "of", OF, asked.text("of", "shop")), (_("entries"), "only", ONLY, asked.text("only", "all"))]
    return [
        (
            label,
            [
                (str(words), _with(asked.values, **{name: value}), value == (now or next(iter(options))))
                for value, words in options.items()
            ],
        )
        for label, name, options, now in rows
    ]


def _with(typed: Mapping[str, str], **changed: str) -> str:
    """The address of this page with a filter changed; it begins at the newest entry again."""
    kept = {name: value for name, value in typed.items() if name not in ("before", "check") and value}
    return f"{reverse('office:trail')}?{urlencode({**kept, **changed})}"
