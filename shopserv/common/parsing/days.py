"""Typed dates, times of a shop's day, zones and timestamps of programs."""

from __future__ import annotations

import calendar
import re
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.utils.translation import gettext as _

from shopserv.common import formats
from shopserv.common.parsing import numbers
from shopserv.common.parsing.numbers import FieldError

FIRST_YEAR, LAST_YEAR = 1900, 2100
MONTHS = {name.lower(): n for n in range(1, 13) for name in (calendar.month_name[n], calendar.month_abbr[n])}
_SLASHED = re.compile(r"(\d{1,2})[/.-](\d{1,2})[/.-](\d{2}|\d{4})")
_WORDED = re.compile(r"([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})|(\d{1,2})\.? ([A-Za-z]{3,9})\.?,? (\d{4})")


def day(typed: str, *, order: str = "", latest: date | None = None) -> date:
    """A calendar day: 2026-11-24, Nov 24, 2026, 24 Nov 2026, or 11/24/2026 where only one order makes sense.

    order    "mdy" or "dmy" where the shop has set it
    latest   the present day in the shop's own zone, where the day must not lie ahead
    raises   FieldError date.missing, .format, .ambiguous, .invalid, .range, .future
    """
    year, month, day_of_month = _parts(numbers.clean(typed), order)
    if not FIRST_YEAR <= year <= LAST_YEAR:
        words = _("Dates between %(first)s and %(last)s are possible. Type the year with four digits.")
        raise FieldError("date.range", words % {"first": FIRST_YEAR, "last": LAST_YEAR})
    on = _on(year, month, day_of_month)
    if latest and on > latest:
        words = _("%(day)s lies ahead. Type today, %(today)s, or a day before.")
        raise FieldError("date.future", words % {"day": formats.day(on), "today": formats.day(latest)})
    return on


def near_day(typed: str, today: date, *, ahead: bool, order: str = "") -> date:
    """A calendar day as `day` reads it, or one without its year: Nov 24, 24 Nov, 11/24.

    ahead    without a year the next such day, today included, is meant; else the last one
    raises   FieldError as `day`
    """
    text = numbers.clean(typed)
    joined = "/" if re.fullmatch(r"\d{1,2}/\d{1,2}", text) else " "
    if joined == " " and not re.fullmatch(r"[A-Za-z]{3,9}\.? \d{1,2}|\d{1,2}\.? [A-Za-z]{3,9}\.?", text):
        return day(text, order=order)
    for year in _years(today, ahead=ahead):
        try:
            on = day(f"{text}{joined}{year}", order=order)
        except FieldError as error:
            if error.code == "date.invalid":  # Feb 29 is not in every year
                continue
            break
        if on >= today if ahead else on <= today:
            return on
    name = re.sub(r"[^A-Za-z]", "", text).lower()
    return day(text if name and name not in MONTHS else f"{text}{joined}{today.year}", order=order)


def _years(today: date, *, ahead: bool) -> range:
    far = 8  # years between two that have Feb 29, at most
    return range(today.year, today.year + far + 1) if ahead else range(today.year, today.year - far - 1, -1)


def _parts(text: str, order: str) -> tuple[int, int, int]:
    if not text:
        raise FieldError("date.missing", _("Nothing was typed. A date is needed, such as Nov 24, 2026."))
    if found := re.fullmatch(r"(\d{4,5})-(\d{1,2})-(\d{1,2})", text):
        return int(found[1]), int(found[2]), int(found[3])
    if (found := _WORDED.fullmatch(text)) and (name := (found[1] or found[5]).lower()) in MONTHS:
        return int(found[3] or found[6]), MONTHS[name], int(found[2] or found[4])
    if found := _SLASHED.fullmatch(text):
        year = int(found[3]) + (2000 if len(found[3]) == 2 else 0)
        return (year, *_ordered(int(found[1]), int(found[2]), year, order))
    words = _("“%(typed)s” is not a date. Type it as Nov 24, 2026 or 2026-11-24.")
    raise FieldError("date.format", words % {"typed": text[: numbers.LONGEST]})


def _ordered(first: int, second: int, year: int, order: str) -> tuple[int, int]:
    """Month and day of two figures, where there is one way to read them."""
    if order == "mdy" or (not order and (second > 12 or first == second)):
        return first, second
    if order == "dmy" or first > 12:
        return second, first
    one, other = (formats.day(_on(year, month, on)) for month, on in ((first, second), (second, first)))
    words = _("Is %(one)s or %(other)s meant? Type the month as a word.") % {"one": one, "other": other}
    raise FieldError("date.ambiguous", words)


def _on(year: int, month: int, on: int) -> date:
    if not 1 <= month <= 12:
        raise FieldError("date.invalid", _("There is no month %(month)s. Type the month as a word.") % {"month": month})
    try:
        return date(year, month, on)
    except ValueError as cause:
        name = formats.by_letters(date(year, month, 1), "F")
        words = _("%(year)s has no %(month)s %(day)s. Look at the calendar and type another day.")
        raise FieldError("date.invalid", words % {"year": year, "month": name, "day": on}) from cause


def time_of_day(typed: str) -> time:
    """A time: "2:30 PM", "14:30", "2 pm".

    raises  FieldError time.missing, .format
    """
    text = numbers.clean(typed)
    if not text:
        raise FieldError("time.missing", _("Nothing was typed. A time is needed, such as 2:30 PM."))
    found = re.fullmatch(r"(\d{1,2})(?::(\d{2}))? ?([ap])\.?m\.?|(\d{1,2}):(\d{2})(?::00)?", text, re.IGNORECASE)
    if found and found[3] and 1 <= int(found[1]) <= 12:
        hour, minute = int(found[1]) % 12 + (12 if found[3].lower() == "p" else 0), int(found[2] or 0)
    elif found and found[4]:
        hour, minute = int(found[4]), int(found[5])
    else:
        hour = minute = 99
    if hour > 23 or minute > 59:
        words = _("“%(typed)s” is not a time. Type it as 2:30 PM or 14:30.")
        raise FieldError("time.format", words % {"typed": text[: numbers.LONGEST]})
    return time(hour, minute)


def moment(on: date, at: time, zone: str, *, fold: int | None = None) -> datetime:
    """The moment of a time on the wall of a shop, in UTC.

    fold    0 or 1 where the hour comes twice and the person said which
    raises  FieldError time.gap, time.fold; timezone.unknown
    """
    place = time_zone(zone)
    first, second = (datetime.combine(on, at.replace(fold=n), place) for n in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first.astimezone(UTC)
    if first.astimezone(UTC).astimezone(place).replace(fold=0) != first:
        gap = (second.utcoffset() or timedelta()) - (first.utcoffset() or timedelta())
        before, after = (datetime.combine(on, at) + step for step in (-abs(gap), abs(gap)))
        words = _("%(time)s does not exist on %(day)s: the clocks go forward. Type %(before)s or %(after)s.")
        offered = {"before": formats.clock_time(before), "after": formats.clock_time(after)}
        raise FieldError("time.gap", words % (_wall(first) | offered))
    if fold is None:
        words = _("%(time)s comes twice on %(day)s: the clocks go back. Say whether the first or the second is meant.")
        raise FieldError("time.fold", words % _wall(first))
    return (second if fold else first).astimezone(UTC)


def _wall(at: datetime) -> dict[str, str]:
    naive = at.replace(tzinfo=None)
    return {"time": formats.clock_time(naive), "day": formats.day(naive.date())}


def time_zone(name: str) -> ZoneInfo:
    """The zone of an IANA name.

    raises  FieldError timezone.unknown
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as cause:
        words = _("“%(zone)s” is not a time zone known here. Choose one from the list.")
        raise FieldError("timezone.unknown", words % {"zone": name[: numbers.LONGEST]}) from cause


def timestamp(text: str) -> datetime:
    """A timestamp of a program (RFC 3339), in UTC.

    raises  FieldError time.format, time.zone_missing
    """
    try:
        at = datetime.fromisoformat(text)
    except ValueError as cause:
        raise FieldError("time.format", _("Not a timestamp of RFC 3339, such as 2026-11-25T10:00:00-05:00.")) from cause
    if at.tzinfo is None:
        raise FieldError("time.zone_missing", _("An offset is needed (RFC 3339), such as 2026-11-25T10:00:00-05:00."))
    return at.astimezone(UTC)
