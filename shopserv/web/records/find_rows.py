"""The lines of a search as HTML: one function a row."""

from __future__ import annotations

from collections.abc import Sequence

from django.urls import reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopserv.common import clock, formats
from shopserv.common.templatetags.look import clock_html, grade
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors.open_file import Found

NOTHING = SafeString('<span class="nothing">–</span>')


def rows_html(found: Sequence[Found], *, names: bool, may_take_in: bool) -> SafeString:
    """All matches, the exact ones first; those one sign away follow under a rule and are never merged."""
    parts: list[SafeString] = []
    for one in found:
        if one.match.is_near and not any("near-begins" in part for part in parts):
            parts.append(_near_line(5 + names + may_take_in))
        parts.append(match_row(one, names=names, may_take_in=may_take_in))
    return format_html_join("", "{}", ((part,) for part in parts))


def _near_line(columns: int) -> SafeString:
    return format_html(
        '<tr class="near-begins"><td class="when"></td><th scope="rowgroup" colspan="{}">{}</th></tr>',
        columns - 1,
        _("One sign away. Compare before you open it."),
    )


def match_row(one: Found, *, names: bool, may_take_in: bool) -> SafeString:
    """One vehicle: last seen, number, what it is with its VIN, plate, owner, by what it was found, grade."""
    match = one.match
    seen = formats.short_day(one.last_on, timezone.localtime(clock.now()).date()) if one.last_on else NOTHING
    doubt = format_html('<span class="second-line">{}</span>', _("a second record, not merged yet"))
    return format_html(
        '<tr data-line="{}"><td class="when">{}</td><td><a class="plain vehicle-number" href="{}" data-open>{}</a></td>'
        '<td>{}<span class="second-line">{}</span>{}</td><td>{}</td>{}<td class="soft">{}</td><td>{}</td>{}</tr>',
        match.number,
        seen,
        reverse("records:vehicle", args=[match.number]),
        match.number,
        match.words,
        match.vin or _("no VIN"),
        doubt if match.is_disputed else "",
        match.plate or NOTHING,
        format_html("<td>{}</td>", match.keeper or NOTHING) if names else "",
        match.by,
        grade(one.grade) if one.grade else NOTHING,
        _take_in(match.number) if may_take_in else "",
    )


def _take_in(number: str) -> SafeString:
    return format_html(
        '<td class="right"><a href="{}?vehicle={}" aria-label="{}">{}</a></td>',
        reverse("counter:intake"),
        number,
        _("take in %(number)s") % {"number": number},
        _("take in"),
    )


def expected_html(visits: Sequence[Visit], *, names: bool) -> SafeString:
    """The vehicles expected today, by their hour."""
    return format_html_join(
        "",
        '<tr data-line="{}"><td class="when">{}</td><td><a class="plain vehicle-number" href="{}" data-open>{}</a></td>'
        "<td>{}</td><td>{}</td></tr>",
        (
            (
                visit.number,
                clock_html(timezone.localtime(visit.expected_at)),
                reverse("records:vehicle", args=[visit.vehicle.number]),
                visit.vehicle.number,
                visit.vehicle.words,
                visit.customer.name if names else "",
            )
            for visit in visits
        ),
    )
