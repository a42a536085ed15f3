"""The due-soon strip: who should come when, and reminders planned for the lines that are marked."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_GET, require_POST

from shopserv.common import clock, formats
from shopserv.common.drawing.bars import Weeks, week_bars, weeks_around
from shopserv.common.errors import Refusal
from shopserv.reminders.selectors import MOST, DuePage, due_by_day, due_page
from shopserv.reminders.services import letters
from shopserv.reminders.services.letters import Planned
from shopserv.shop.actors import Actor
from shopserv.web.forms import new_key
from shopserv.web.office.due_rows import rows_html
from shopserv.web.once import acts_once
from shopserv.web.query import Asked, after_text, says_what_was_asked

KNOWN = ("weeks", "shop", "owner", "due_from", "due_to", "after")
WEEKS, FEWEST, MOST_WEEKS = 12, 1, 52
SHOPS = {"own": gettext_lazy("own"), "both": gettext_lazy("all")}
OWNERS = {"all": gettext_lazy("all"), "fleets": gettext_lazy("fleets"), "people": gettext_lazy("people")}
WEEK_CHOICES = {"6": gettext_lazy("six"), "12": gettext_lazy("twelve"), "26": gettext_lazy("twenty-six")}
FLEET = {"all": None, "fleets": True, "people": False}
NAMED = 8  # lines left out that are named one by one


@require_GET
@says_what_was_asked
def due_soon(request: HttpRequest) -> HttpResponse:
    """Vehicles by likely due date."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    asked = Asked(request, *KNOWN)
    today = clock.today(actor.house.time_zone)
    try:
        since = asked.day("due_from", today, ahead=True, label=_("due from"))
        until = asked.day("due_to", today, ahead=True, label=_("due to"))
    except Refusal as unread:
        return _page(request, actor, asked, None, unread)
    refusal = _upside_down(since, until)
    return _page(request, actor, asked, None if refusal else (since, until), refusal)


@require_POST
@acts_once
def plan_reminders(request: HttpRequest) -> HttpResponse:
    """Plan one reminder for each marked line, or stop what is planned for it; what was left out is said why."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    numbers = request.POST.getlist("vehicle")
    try:
        if request.POST.get("act") == "stop":
            count = len(letters.stop_marked(numbers, actor=actor))
            sentences = [
                ngettext("%(count)d reminder stopped.", "%(count)d reminders stopped.", count) % {"count": count}
            ]
        else:
            sentences = said(letters.plan(numbers, actor=actor))
    except Refusal as refusal:
        return _page(request, actor, Asked(request, *KNOWN), (None, None), refusal, frozenset(numbers))
    for sentence in sentences:
        messages.success(request, sentence)
    return HttpResponseRedirect(reverse("office:due_soon"))


def said(planned: Planned) -> list[str]:
    """What came of planning, in sentences."""
    count = len(planned.reminders)
    first = ngettext("%(count)d reminder planned.", "%(count)d reminders planned.", count) % {"count": count}
    if days := [one.send_on for one in planned.reminders]:
        first += " " + _("To be sent: %(days)s.") % {"days": formats.day_band(min(days), max(days))}
    said = [first]
    said += [
        _("%(number)s left out: %(why)s.") % {"number": one.number, "why": one.why} for one in planned.left_out[:NAMED]
    ]
    if (more := len(planned.left_out) - NAMED) > 0:
        said.append(_("%(count)d more left out.") % {"count": more})
    return said


def _upside_down(since: date | None, until: date | None) -> Refusal | None:
    if since is None or until is None or since <= until:
        return None
    return Refusal(
        _("due to: %(until)s lies before due from, %(since)s. Give the earlier day first.")
        % {"until": formats.day(until), "since": formats.day(since)},
        code="query.range",
        field="due_to",
        status=400,
    )


def _page(
    request: HttpRequest,
    actor: Actor,
    asked: Asked,
    days: tuple[date | None, date | None] | None,
    refusal: Refusal | None = None,
    marked: frozenset[str] = frozenset(),
) -> HttpResponse:
    today = clock.today(actor.house.time_zone)
    count = asked.whole("weeks", FEWEST, MOST_WEEKS, WEEKS)
    may_all = actor.may("see cost")
    all_shops = may_all and asked.one_of("shop", tuple(SHOPS), "both") == "both"
    fleet = FLEET[asked.one_of("owner", tuple(OWNERS), "all")]
    since, until = days or (None, None)
    weeks = weeks_around(today)
    horizon = until or today + timedelta(weeks=count)
    found = due_page(
        actor, today=today, weeks=count, since=since, until=until, all_shops=all_shops, fleet=fleet, after=asked.after()
    )
    last = max(horizon, weeks.first + timedelta(weeks=weeks.count) - timedelta(days=1))
    by_day = due_by_day(actor, first=weeks.first, last=last, all_shops=all_shops, fleet=fleet)
    context = {
        "rows": rows_html(found.rows, weeks, shop=actor.house.code, marked=marked),
        "found": found,
        "weeks": weeks,
        "bars": week_bars(weeks, _by_week(by_day, weeks)),
        "horizon": horizon,
        **_counts(found, by_day, today, since, horizon),
        "choices": _choices(asked, count, may_all),
        "next": _with(asked, after=after_text(found.after)) if found.after else "",
        "typed": asked.values,
        "refusal": refusal,
        "key": new_key(),
        "form_url": reverse("office:plan_reminders"),
    }
    return render(request, "office/due_soon.html", context, status=refusal.status if refusal else 200)


def _by_week(by_day: dict[date, int], weeks: Weeks) -> list[int]:
    counts = [0] * weeks.count
    for day, count in by_day.items():
        at = (day - weeks.first).days // 7
        if 0 <= at < weeks.count:
            counts[at] += count
    return counts


def _counts(found: DuePage, by_day: dict[date, int], today: date, since: date | None, horizon: date) -> dict[str, Any]:
    """How many lines are past due, and how many are yet to come up to the horizon; capped counts say "more than"."""
    if found.counted > MOST:
        return {"more_than": MOST}
    ahead = sum(count for day, count in by_day.items() if max(today, since or today) <= day <= horizon)
    return {"past": found.counted - ahead, "ahead": ahead}


def _choices(asked: Asked, count: int, may_all: bool) -> list[tuple[str, list[tuple[str, str, bool]]]]:
    """The filters in the head: name, and for each word the address and whether it stands now."""
    rows = [
        (_("owner"), "owner", OWNERS, asked.text("owner", "all")),
        (_("weeks"), "weeks", WEEK_CHOICES, str(count)),
    ]
    if may_all:
        rows.insert(0, (_("shop"), "shop", SHOPS, asked.text("shop", "both")))
    return [
        (label, [(str(words), _with(asked, **{name: value}), value == now) for value, words in options.items()])
        for label, name, options, now in rows
    ]


def _with(asked: Asked, **changed: str) -> str:
    """The address of this page with a filter changed; a changed filter begins at the first line again."""
    kept = {name: value for name, value in asked.values.items() if name != "after" and value}
    return f"{reverse('office:due_soon')}?{urlencode({**kept, **changed})}"
