"""The counter desk: what is happening now at this shop, by promised time."""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopserv.common import clock, formats
from shopserv.common.templatetags.look import clock_html, grade
from shopserv.jobs.selectors.visits import Desk, DeskRow, counter_desk

NOTHING = format_html('<span class="soft">{}</span>', "–")


@require_GET
def desk(request: HttpRequest) -> HttpResponse:
    """Vehicles expected and here, by promised time."""
    found = counter_desk(request.actor)  # type: ignore[attr-defined]
    here = [row for row in found.rows if row.came_at]
    context = {
        "rows": _rows(found),
        "here": len(here),
        "expected": len(found.rows) - len(here),
        "ours": sum(row.whose_move == "ours" for row in found.rows),
        "customers": sum(row.whose_move == "customer's" for row in found.rows),
        "longest": found.longest,
        "waited": formats.duration(int((clock.now() - found.longest.state_since).total_seconds() // 60))
        if found.longest
        else "",
    }
    return render(request, "counter/desk.html", context)


def _rows(found: Desk) -> SafeString:
    now = clock.now()
    rows, is_now_shown = [], False
    for row in found.rows:
        promised = row.promised_at or row.expected_at
        if promised and promised > now and not is_now_shown:
            rows.append(_now_line(now))
            is_now_shown = True
        rows.append(desk_row(row))
    if not is_now_shown and found.rows:
        rows.append(_now_line(now))
    return format_html_join("", "{}", ((row,) for row in rows))


def _now_line(now: datetime) -> SafeString:
    word = _("now")
    return format_html(
        '<tr class="now-line"><td class="when"><span class="now-word">{} {}</span></td><td colspan="6"></td></tr>',
        word,
        _mark(now),
    )


def desk_row(row: DeskRow) -> SafeString:
    """One line of the desk as HTML: promised, came, vehicle and owner, state, what is going on, grade, whose move."""
    since = format_html(
        '<span class="second-line">{} {}</span>', _("since"), formats.clock_time(_here(row.state_since))
    )
    return format_html(
        '<tr><td class="when">{}</td><td class="number" data-label="{}">{}</td>'
        '<td><a class="plain" href="{}"><span class="vehicle-number">{}</span></a> <span class="soft">{}</span>'
        '<span class="second-line">{}</span></td><td>{}{}</td><td>{}<span class="second-line">{}</span></td>'
        '<td>{}</td><td data-label="{}">{}</td></tr>',
        _promised(row),
        _("came"),
        _mark(row.came_at) if row.came_at else NOTHING,
        reverse("counter:visit", args=[row.number]),
        row.fleet_number or row.vehicle_number,
        row.plate,
        row.owner,
        row.state,
        since if row.came_at else "",
        "" if row.going_on == row.state else row.going_on[:1].upper() + row.going_on[1:],
        row.vehicle,
        grade(row.grade),
        _("whose move"),
        format_html("<b>{}</b>", _("ours")) if row.whose_move == "ours" else row.whose_move,
    )


def _promised(row: DeskRow) -> SafeString:
    at = row.promised_at or row.expected_at
    if at is None:
        return NOTHING
    if row.promised_from and row.promised_from != at:
        return format_html("{}–{}", formats.clock_time(_here(row.promised_from)), _mark(at))
    return _mark(at)


def _mark(moment: datetime) -> SafeString:
    return clock_html(_here(moment))


def _here(moment: datetime) -> datetime:
    return timezone.localtime(moment)
