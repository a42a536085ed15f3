"""The bay line: what comes next here."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from shopserv.common.templatetags.look import NOTHING, clock_html, grade
from shopserv.jobs.selectors.bay import LineRow, bay_line
from shopserv.jobs.selectors.bay_room import bays_now
from shopserv.web.forms import PageForm
from shopserv.web.query import Asked, says_what_was_asked


@require_GET
@says_what_was_asked
def line(request: HttpRequest) -> HttpResponse:
    """The open jobs in promised order; the main act opens the one in the bay, else the next that is cleared."""
    Asked(request)
    rows = bay_line(request.actor)  # type: ignore[attr-defined]
    context = {
        "rows": format_html_join("", "{}", ((line_row(row),) for row in rows)),
        "is_empty": not rows,
        "taken": bays_now(request.actor),  # type: ignore[attr-defined]
        "here": sum(row.state in ("in the bay", "on hold", "level set") for row in rows),
        "cleared": sum(row.state == "cleared" for row in rows),
        "mine": next((row for row in rows if row.is_mine and row.state in ("in the bay", "level set")), None),
        "following": next((row for row in rows if row.may_start), None),
        "form": PageForm(),
    }
    return render(request, "bay/line.html", context)


def line_row(row: LineRow) -> SafeString:
    """One line as HTML: promised, vehicle and unit, what is to be done, where it stands, and the way there."""
    at = clock_html(timezone.localtime(row.promised_at)) if row.promised_at else NOTHING
    where = ", ".join(part for part in (row.bay, row.technician) if part)
    return format_html(
        '<tr><td class="when">{}</td>'
        '<td><span class="vehicle-number">{}</span> {}<span class="second-line">{}</span></td>'
        '<td>{}<span class="second-line">{}</span></td><td>{}<span class="second-line">{}</span></td>'
        '<td><a class="touch touch-small" href="{}">{}</a></td></tr>',
        at,
        row.vehicle_number,
        row.vehicle,
        row.unit,
        row.title or row.method,
        _on_the_bench(row),
        _standing(row),
        where or _("nobody yet"),
        reverse("bay:sheet", args=[row.number]),
        row.number,
    )


def _on_the_bench(row: LineRow) -> str:
    packages: Sequence[str] = [f"{count} × {number}" for number, count in row.packages]
    return ", ".join(part for part in (row.fluids, *packages) if part)


def _standing(row: LineRow) -> SafeString:
    if row.state == "on hold":
        return format_html("{} {}", grade(row.hold_grade or "watch"), row.hold_reason)
    if row.step:
        place = _("step %(n)s of %(count)s") % {"n": row.step, "count": row.steps}
        return format_html("<b>{}</b> {}", place, row.step_text)
    if row.look == "asked for":
        return format_html("{}", _("waits for the second look"))
    return format_html("{}", row.state)
