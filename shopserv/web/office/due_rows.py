"""The lines of the due-soon strip as HTML: one function a row, since a page has many."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction

from django.urls import NoReverseMatch, reverse
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from shopserv.common import formats
from shopserv.common.drawing.bars import DueLine, Weeks, due_line
from shopserv.common.templatetags.look import computed, grade
from shopserv.reminders.selectors import DueRow

NOTHING = SafeString('<span class="nothing">–</span>')
MINUS = "−"
FEW_MONTHS = 2000  # thousandths
DAYS_A_WEEK = timedelta(days=7)


def rows_html(rows: Sequence[DueRow], weeks: Weeks, *, shop: str, marked: frozenset[str]) -> SafeString:
    """All lines, grouped by the week of their likely day; a day that stands in the line above is a ditto mark.

    shop     code of the actor's shop: reminders are planned for its own vehicles
    marked   numbers of vehicles that are marked already
    """
    parts = []
    for at, row in enumerate(rows):
        before, after = rows[at - 1] if at else None, rows[at + 1] if at + 1 < len(rows) else None
        is_last = after is None or _week(after.stands_on, weeks) != _week(row.stands_on, weeks)
        is_ditto = before is not None and before.stands_on == row.stands_on
        parts.append(due_row(row, weeks, is_last=is_last, is_ditto=is_ditto, own=row.shop == shop, marked=marked))
    return format_html_join("", "{}", ((part,) for part in parts))


def _week(on: date, weeks: Weeks) -> int:
    return max(-1, (on - weeks.first) // DAYS_A_WEEK)


def due_row(
    row: DueRow, weeks: Weeks, *, is_last: bool, is_ditto: bool, own: bool, marked: frozenset[str]
) -> SafeString:
    """One line: likely day, vehicle, owner, its place among the weeks, clock, left, permission, value, grade, mark."""
    url, left, permission = vehicle_url(row.number), _left(row, weeks.today), _permission(row, weeks.today)
    on = _day(row, weeks.today, is_ditto)
    return format_html(
        '<tr data-line="{}"{}><td class="when">{}</td>'
        '<td class="vehicle-number">{}</td><td{}>{} <span class="on-phone">{}</span></td>'
        '<td class="strip-cell">{}</td><td class="less">{}</td><td class="number less">{}</td><td class="less">{}</td>'
        '<td class="number work-value less">{}</td><td title="{}">{} <span class="on-phone">{}</span></td>'
        '<td class="number">{}</td></tr>',
        row.number,
        SafeString(' class="group-ends"') if is_last else "",
        _with_sum(on, f"{url}due/#due") if url and row.governs else on,
        format_html('<a class="plain" href="{}" data-open>{}</a>', url, row.number) if url else row.number,
        SafeString(' class="soft"') if row.is_fleet else "",
        row.keeper or NOTHING,
        _on_phone(left),
        line_svg(row, weeks),
        _clock(row.governs),
        _with_sum(left, f"{url}due/#{row.governs}") if url and row.governs else left,
        permission,
        _worth(row, url),
        row.reason,
        grade(row.grade),
        permission,
        _mark(row, own, row.number in marked),
    )


def vehicle_url(number: str) -> str:
    """The logbook of a vehicle; empty where the house has no such page."""
    try:
        return reverse("records:vehicle", args=[number])
    except NoReverseMatch:
        return ""


def _day(row: DueRow, today: date, is_ditto: bool) -> SafeString | str:
    shown = formats.short_day(row.stands_on, today)
    if row.crossed_on:
        return format_html('<span title="{}">{}</span>', _("crossed between two readings"), shown)
    if not is_ditto:
        return shown
    return format_html('<span aria-hidden="true">″</span><span class="for-readers-only">{}</span>', shown)


def line_svg(row: DueRow, weeks: Weeks) -> SafeString:
    """Hatched from early to late, barred at the likely day; what all lines share is drawn once and used."""
    line = due_line(weeks, row.stands_on, row.early_on, row.late_on)
    return format_html(
        '<svg class="due-line" width="{}" height="18" aria-hidden="true"><use href="#weeks"/>{}</svg>',
        weeks.width,
        _drawn(line, weeks),
    )


def _drawn(line: DueLine, weeks: Weeks) -> SafeString:
    if line.past_days:
        return format_html(
            '<path class="drawn-soft" d="M1 9H{x}M6 5L1 9L6 13"/>'
            '<text class="drawn-word on-paper" x="{x}" dx="8" y="13">{words}</text>',
            x=weeks.today_x,
            words=_("past by %(days)s days") % {"days": f"{line.past_days:,}"},
        )
    if line.is_later:
        return format_html(
            '<text class="drawn-word on-paper" x="{}" dx="-6" y="13" text-anchor="end">{} →</text>',
            weeks.width,
            _("later"),
        )
    tail, band = SafeString(""), SafeString("")
    if line.tail:
        tail = format_html('<path class="drawn-soft" d="M{} 9.5H{}"/>', line.likely, line.tail)
    if line.band_width:
        band = format_html(
            '<rect class="drawn-uncertain" x="{}" y="3" width="{}" height="12"/>',
            line.band_from,
            line.band_width,
        )
    return format_html('{}{}<path class="drawn-ink-heavy" d="M{} 2V16"/>', tail, band, line.likely)


def _with_sum(shown: SafeString | str, url: str) -> SafeString:
    """A figure with the mark that opens its sum."""
    return format_html('{}<a class="shows-sum" href="{}" title="{}">=</a>', shown, url, _("show the sum"))


def _clock(governs: str) -> str:
    return {"months": _("months"), "distance": _("distance")}.get(governs, "–")


def _left(row: DueRow, today: date) -> SafeString:
    """What is left on the clock that governs, negative when past; less than two months in days."""
    if row.governs == "months" and row.months_left_thousandths is not None:
        if abs(row.months_left_thousandths) < FEW_MONTHS:
            return _figure(formats.number((row.due_on - today).days), _("d"))
        return _figure(formats.number(Fraction(row.months_left_thousandths, 1000)), _("mo"))
    if row.left_m is None:
        return NOTHING
    figure, _space, unit = formats.distance(row.left_m, "us" if row.distance_unit == "mi" else "metric").partition(" ")
    return _figure(figure, unit)


def _on_phone(left: SafeString) -> SafeString | str:
    """What is left in words; what is past stands so already on its line's day."""
    if left == NOTHING:
        return ""
    if not left.startswith(MINUS):
        return format_html("{} {}", left, _("left"))
    return format_html("{} {}", _("past by"), SafeString(left.removeprefix(MINUS)))


def _figure(figure: str, unit: str) -> SafeString:
    return format_html('{} <span class="unit">{}</span>', figure, unit)


def _permission(row: DueRow, today: date) -> SafeString | str:
    """What became of a reminder, the newest word first; else whether the owner permits any."""
    if row.planned_on:
        return _("planned %(day)s") % {"day": formats.short_day(row.planned_on, today)}
    permits = _("reminders") if row.permission else _("no reminders")
    if row.stopped_why is not None:
        said = _("stopped") if row.permission else permits
        return format_html('<span title="{}">{}</span>', _("stopped: %(why)s") % {"why": row.stopped_why}, said)
    if row.written_at:
        return _("written %(day)s") % {"day": formats.short_day(row.written_at.date(), today)}
    return permits


def _worth(row: DueRow, url: str) -> SafeString:
    if row.worth_cents is None:
        return NOTHING
    return computed(formats.money(row.worth_cents), f"{url}due/#work-value" if url else "")


def _mark(row: DueRow, own: bool, is_marked: bool) -> SafeString:
    """The box that marks a line; lines of another shop are that shop's to write to."""
    if not own:
        return format_html('<span class="soft">{}</span>', row.shop)
    return format_html(
        '<input type="checkbox" name="vehicle" value="{}" form="plan" data-cents="{}" aria-label="{}"{}>',
        row.number,
        row.worth_cents or 0,
        _("mark %(number)s") % {"number": row.number},
        SafeString(" checked") if is_marked else "",
    )
