"""The lines of a logbook as HTML: one function a row, one sentence an entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.common import formats
from shopserv.common.templatetags.look import clock_html
from shopserv.jobs.courses import METHODS
from shopserv.jobs.findings import FINDINGS
from shopserv.jobs.selectors.entries import Entry, Log
from shopserv.shop.actors import Actor

Said = tuple[SafeString | str, SafeString | str]  # the sentence, and the paper or page behind it
SOURCES = {
    "intake": gettext_lazy("Reading at intake"),
    "bay photo": gettext_lazy("Reading photographed in the bay"),
    "customer": gettext_lazy("Reading told by the owner"),
    "fleet file": gettext_lazy("Reading from the fleet's file"),
    "certificate": gettext_lazy("Reading on a certificate"),
    "estimate": gettext_lazy("Reading estimated"),
    "service": gettext_lazy("Reading at the end of the work"),
}


@dataclass(frozen=True, slots=True)
class Page:
    """What all lines of a page share; doubted: rows of readings that are likely wrong."""

    actor: Actor
    log: Log
    now: datetime
    today: date
    first_use: date | None
    unit: str
    doubted: frozenset[int] = frozenset()


def lines_html(page: Page) -> SafeString:
    """All lines, newest first; below the last one the day of first use, where nothing earlier follows."""
    entries = page.log.entries
    parts = [line(entry, page, entries[at - 1] if at else None) for at, entry in enumerate(entries)]
    if page.log.before is None and page.first_use:
        said = _day(page.first_use, page.today)
        is_same = bool(entries) and entries[-1].day == page.first_use
        words = _("In service with its first fluid.")
        parts.append(_row("first-use", _ditto(said) if is_same else said, "0", words, ""))
    return format_html_join("", "{}", ((part,) for part in parts))


def line(entry: Entry, page: Page, above: Entry | None) -> SafeString:
    """One entry: its day or hour, the figure of the odometer, one sentence, the paper behind it."""
    sentence, paper = SAY[entry.kind](entry, page)
    return _row(
        f"{entry.kind}-{entry.pk}",
        _when(entry, page, above),
        _figure(entry, page),
        sentence,
        paper,
    )


def _row(key: str, when: object, figure: object, sentence: object, paper: object) -> SafeString:
    return format_html(
        '<tr data-line="{}"><td class="when">{}</td><td class="number">{}</td><td class="entry">{}</td>'
        '<td class="right">{}</td></tr>',
        key,
        when,
        figure,
        sentence,
        paper,
    )


def _when(entry: Entry, page: Page, above: Entry | None) -> SafeString | str:
    """The day; today the hour as well; the same day again is a ditto mark, said in words to readers."""
    is_hour = entry.at is not None and entry.day == page.today and entry.at <= page.now
    hour = clock_html(timezone.localtime(entry.at)) if is_hour else ""
    said = _day(entry.day, page.today)
    if above is None or above.day != entry.day:
        return format_html("{} {}", said, hour) if hour else said
    return _ditto(said, hour)


def _ditto(said: object, hour: object = "") -> SafeString:
    ditto = format_html('<span aria-hidden="true">{}</span>', hour or "″")
    return format_html('{}<span class="for-readers-only">{}</span>', ditto, said)


def _day(on: date, today: date) -> SafeString | str:
    return format_html("<b>{}</b>", _("today")) if on == today else formats.day(on)


def _figure(entry: Entry, page: Page) -> SafeString | str:
    if entry.figure is None:
        return ""
    shown = formats.odometer(entry.figure, entry.unit or "mi")
    figure, _space, unit = shown.partition(" ")
    text = figure if unit == page.unit else format_html('{} <span class="unit">{}</span>', figure, unit)
    if entry.kind == "reading" and (entry.b == "set aside" or entry.pk in page.doubted):
        return format_html('<span class="set-aside">({})</span>', text)
    return text


def _keeper(entry: Entry, page: Page) -> Said:
    if not page.actor.may("see people"):
        return _("The owner of this day was noted."), ""
    return (_("%(name)s is the owner.") % {"name": entry.a} if entry.a else _("The owner is not known.")), ""


def _plate(entry: Entry, page: Page) -> Said:
    if not entry.a:
        return _("Without a plate from this day."), ""
    place = f", {entry.b}" if entry.b else ""
    return _("Plate %(plate)s.") % {"plate": f"{entry.a}{place}"}, ""


def _change(entry: Entry, page: Page) -> Said:
    said = _("The odometer was replaced: the old one stood at %(old)s, the new one began at %(new)s.")
    old = formats.odometer(entry.n1 or 0, entry.b or "mi")
    new = formats.odometer(entry.figure or 0, entry.unit or "mi")
    seen = " " + _("Seen by: %(evidence)s.") % {"evidence": entry.a.rstrip(".")} if entry.a else ""
    return said % {"old": old, "new": new} + seen, ""


def _reading(entry: Entry, page: Page) -> Said:
    words = str(SOURCES.get(entry.a or "", entry.a))
    where = f", {entry.d}" if entry.d and entry.a in ("intake", "service", "bay photo") else ""
    typed = _(" Typed: %(typed)s.") % {"typed": entry.e} if _is_other(entry) else ""
    if entry.pk in page.doubted:
        return format_html("{}{}, <b>{}</b>.{}", words, where, _("doubted, see above"), typed), ""
    if entry.b != "set aside":
        return f"{words}{where}.{typed}", ""
    why = _("set aside: %(reason)s") % {"reason": entry.c}
    return format_html("{}{}, <b>{}</b>.{}", words, where, why, typed), ""


def _is_other(entry: Entry) -> bool:
    """Whether what was typed is in another unit than what is kept."""
    typed, unit = (entry.e or "").lower().rstrip("."), entry.unit or "mi"
    return typed.endswith({"mi": "km", "km": "mi"}[unit])


def _visit(entry: Entry, page: Page) -> Said:
    parts = [part for part in (entry.d, _(entry.c or "")) if part]
    quoted = format_html(": “{}”", entry.e) if entry.e else "."
    sentence = format_html("<b>{}</b>, {}{} {}", _("Visit"), ", ".join(parts), quoted, _state(entry.b))
    return sentence, _link(page, "counter:visit", "counter desk", entry.a)


def _finding(entry: Entry, page: Page) -> Said:
    kind = FINDINGS.get(entry.a or "")
    quoted = format_html(" “{}”", entry.c) if entry.c else ""
    sentence = format_html(
        "{} {}, <b>{}</b>.{}", _("Finding:"), kind.words if kind else entry.a, _(entry.b or ""), quoted
    )
    return sentence, _link(page, "counter:visit", "counter desk", entry.d)


def _identification(entry: Entry, page: Page) -> Said:
    state = "" if entry.d == "counted" else f" ({_(entry.d or '')})"
    sentence = _("Transmission identified: %(unit)s, %(grade)s, by %(who)s.%(state)s") % {
        "unit": entry.a,
        "grade": _(entry.b or ""),
        "who": entry.c,
        "state": state,
    }
    return sentence, _link(page, "records:unit", "unit sheet", entry.e)


def _quote(entry: Entry, page: Page) -> Said:
    totals = page.log.totals.get(entry.pk, [])
    figures = format_html_join(
        ", ",
        "{}",
        (
            (format_html("<b>{} {}</b>", letter, formats.money(cents)) if letter == entry.c else formats.money(cents),)
            for letter, cents in totals
        ),
    )
    version = _("version %(n)s, %(state)s") % {"n": entry.n1, "state": _(entry.b or "")}
    sentence = format_html("<b>{}</b> {}{}{}.", _("Quote"), version, ": " if totals else "", figures)
    return sentence, _link(page, "counter:quote", "see prices", entry.a)


def _authorization(entry: Entry, page: Page) -> Said:
    sentence = _("%(who)s said yes to %(letter)s, %(amount)s, %(way)s (%(state)s).") % {
        "who": entry.c,
        "letter": entry.b,
        "amount": formats.money(entry.n1 or 0),
        "way": formats.consent_way(entry.d or ""),
        "state": _(entry.e or ""),
    }
    return sentence, _link(page, "counter:quote", "see prices", entry.a)


def _work(entry: Entry, page: Page) -> Said:
    why = f": {entry.c}" if entry.c and entry.b == "on hold" else ""
    sentence = format_html("<b>{}</b> {}{}.", _("Work order"), _(entry.b or ""), why)
    if page.actor.may("counter desk"):
        return sentence, _link(page, "counter:work", "counter desk", entry.a)
    return sentence, _link(page, "bay:sheet", "bay line", entry.a)


def method_words(code: str) -> str:
    """A method in the words of the screen; one that is no longer known, as it was written."""
    return METHODS[code].words if code in METHODS else code


def _service(entry: Entry, page: Page) -> Said:
    method = method_words(entry.a or "")
    where = _("at %(shop)s") % {"shop": entry.b} if entry.b else _("elsewhere")
    first = page.actor.house.units_first
    poured = f", {formats.volume(entry.n1, first)}" if entry.n1 else ""
    mark = {"corrected": _(" Corrected later."), "corrects": _(" Corrects an earlier record.")}.get(entry.e or "", "")
    sentence = format_html(
        "<b>{}</b> {}, {}{}: {}.{}",
        method[:1].upper() + method[1:],
        where,
        entry.c,
        poured,
        _("%(share)s new") % {"share": formats.share(entry.n2 or 0, entry.n3)},
        mark,
    )
    return sentence, _link(page, "counter:work", "counter desk", entry.d)


def _reminder(entry: Entry, page: Page) -> Said:
    why = f": {entry.b}" if entry.b else ""
    return _("Reminder %(state)s%(why)s.") % {"state": _(entry.a or ""), "why": why}, ""


def _laboratory(entry: Entry, page: Page) -> Said:
    words = _(": %(water)s of %(limit)s mg/kg water in the fluid, slip %(slip)s, noted by %(who)s.") % {
        "water": formats.number(entry.n1 or 0),
        "limit": formats.number(entry.n2 or 0),
        "slip": entry.a,
        "who": entry.b,
    }
    aside = _(" Withdrawn: %(why)s") % {"why": entry.c} if entry.c else ""
    return format_html("<b>{}</b>{}{}", _("Laboratory"), words, aside), ""


def _log(entry: Entry, page: Page) -> Said:
    words = _(" %(file)s taken by %(who)s: %(rows)s lines, %(faults)s set aside.") % {
        "file": entry.a,
        "who": entry.b,
        "rows": formats.number(entry.n1 or 0),
        "faults": formats.number(entry.n2 or 0),
    }
    return format_html("<b>{}</b>{}", _("Temperature log"), words), ""


def _state(state: str | None) -> SafeString | str:
    return format_html('<span class="soft">{}</span>', _(state)) if state else ""


def _link(page: Page, name: str, right: str, number: str | None) -> SafeString | str:
    """The number as a link where the actor may follow it, else as it stands."""
    if not number:
        return ""
    if not page.actor.may(right):
        return number
    try:
        return format_html('<a href="{}" data-open>{}</a>', reverse(name, args=[number]), number)
    except NoReverseMatch:
        return number


SAY: dict[str, Callable[[Entry, Page], Said]] = {
    "keeper": _keeper,
    "plate": _plate,
    "change": _change,
    "reading": _reading,
    "visit": _visit,
    "finding": _finding,
    "identification": _identification,
    "quote": _quote,
    "authorization": _authorization,
    "work": _work,
    "service": _service,
    "reminder": _reminder,
    "laboratory": _laboratory,
    "temperature log": _log,
}
