"""Figures, times and grades in templates. `{% load look %}`.

Where a filter takes a shop, it may be a `Shop`, or "us" or "metric" as a kept paper has it; without it: US units first.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from shopserv.common import formats, fresh

register = template.Library()

GRADES = {  # words on record -> symbol, class, words on screen
    "as it should be": ("ring", "ok", _("as it should be")),
    "watch": ("half-ring", "watch", _("watch")),
    "needs your decision": ("lozenge", "decision", _("needs your decision")),
    "stop": ("barred-square", "stop", _("stop")),
}
NOTHING = format_html('<span class="nothing">{}</span>', formats.NOT_KNOWN)


def units_first(shop: Any) -> str:
    """ "us" or "metric" of a shop, of a kept word, or of nothing."""
    return getattr(shop, "units_first", shop) or "us"


@register.simple_tag
def grade(words: str) -> SafeString:
    """The grade with its shape and its words; the graver, the more ink."""
    symbol, name, on_screen = GRADES[words]
    return format_html(
        '<span class="grade grade-{}"><svg aria-hidden="true"><use href="#{}" /></svg>{}</span>',
        name,
        symbol,
        on_screen,
    )


@register.simple_tag
def computed(text: str, url: str = "") -> SafeString:
    """A computed figure, slanted; with `url` the mark that opens its sum."""
    figure = format_html('<span class="computed">{}</span>', text)
    if not url:
        return figure
    return format_html('{}<a class="shows-sum" href="{}" title="{}">=</a>', figure, url, _("show the sum"))


@register.inclusion_tag("parts/unit_doubt.html")
def unit_doubt(field: Any, form_id: str = "") -> dict[str, Any]:
    """The question for the unit of a figure, where the form asks it."""
    doubt = getattr(field.form, "doubts", {}).get(field.name)
    if doubt is None:
        return {}
    return {"doubt": doubt, "name": field.html_name, "answer": field.form.unit_answered(field.name), "form_id": form_id}


@register.filter
def big_figure(text: str) -> SafeString:
    """A figure of the bay, 30 mm high, its point closed up."""
    whole, point, rest = str(text).partition(".")
    if not point:
        return format_html("{}", whole)
    return format_html('{}<span class="point">{}</span>{}', whole, point, rest)


@register.filter(name="clock", expects_localtime=True)
def clock_html(at: datetime | None, shop: Any = None) -> SafeString:
    """A time: light face before noon, bold after, AM or PM written small. For sentences use `clock_text`."""
    if at is None:
        return NOTHING
    part = "morning" if at.hour < 12 else "afternoon"
    time_text, _space, half = formats.clock_time(at, units_first(shop)).partition(" ")
    small = format_html("<small>{}</small>", half) if half else ""
    return format_html(
        '<time class="time {}" datetime="{}">{}{}</time>', part, at.isoformat(timespec="minutes"), time_text, small
    )


@register.filter(expects_localtime=True)
def clock_text(at: datetime | None, shop: Any = None) -> str:
    """ "10:42 AM", in a sentence."""
    return formats.clock_time(at, units_first(shop)) if at else formats.NOT_KNOWN


@register.filter(expects_localtime=True)
def moment(at: datetime | None, shop: Any = None) -> str:
    """ "Nov 24, 2026, 10:42 AM"."""
    return formats.moment(at, units_first(shop)) if at else formats.NOT_KNOWN


@register.filter(expects_localtime=True)
def day(on: date | datetime | None, today: date | None = None) -> str:
    """ "Nov 24, 2026"; with `today` given, the year only where it is another."""
    if on is None:
        return formats.NOT_KNOWN
    on = _as_date(on)
    return formats.short_day(on, today) if today else formats.day(on)


@register.filter
def month(on: date | None) -> str:
    """ "Oct 2028"."""
    return formats.month(on) if on else formats.NOT_KNOWN


@register.filter
def until_day(low: date | None, high: date | None) -> str:
    """ "Oct 24, 2028 to Mar 24, 2029" of two days."""
    return formats.day_band(low, high) if low and high else formats.NOT_KNOWN


@register.filter
def money(cents: int | None, currency: str = "USD") -> str:
    """ "$442.95" of whole cents."""
    return formats.NOT_KNOWN if cents is None else formats.money(cents, currency)


@register.filter
def volume(volume_ml: int | None, shop: Any = None) -> str:
    """ "10.6 qt (10.0 L)" of mL."""
    return formats.NOT_KNOWN if volume_ml is None else formats.volume(volume_ml, units_first(shop))


@register.filter
def volume_short(volume_ml: int | None, shop: Any = None) -> str:
    """ "10.6 qt" of mL, in the shop's unit alone."""
    if volume_ml is None:
        return formats.NOT_KNOWN
    return formats.quarts(volume_ml) if units_first(shop) == "us" else formats.liters(volume_ml)


@register.filter
def milliliters(volume_ml: int | None) -> str:
    """ "63 mL"."""
    return formats.NOT_KNOWN if volume_ml is None else formats.milliliters(volume_ml)


@register.filter
def temperature(temperature_mdegc: int | None, shop: Any = None) -> str:
    """ "107.6 °F (42.0 °C)" of thousandths of a °C."""
    return formats.NOT_KNOWN if temperature_mdegc is None else formats.temperature(temperature_mdegc, units_first(shop))


@register.filter
def torque(torque_mnm: int | None, shop: Any = None) -> str:
    """ "16.2 lb·ft (22 N·m)" of thousandths of a N·m."""
    return formats.NOT_KNOWN if torque_mnm is None else formats.torque(torque_mnm, units_first(shop))


@register.filter
def odometer(figure: int | None, unit: str = "mi") -> str:
    """ "63,180 mi" of a reading as its instrument shows it."""
    return formats.NOT_KNOWN if figure is None else formats.odometer(figure, unit)


@register.filter
def distance(distance_m: int | None, shop: Any = None) -> str:
    """ "50,679 mi" of meters."""
    return formats.NOT_KNOWN if distance_m is None else formats.distance(distance_m, units_first(shop))


@register.filter
def percent(ppm: int | None, places: int = 0) -> str:
    """ "6.25 %" of parts per million."""
    return formats.NOT_KNOWN if ppm is None else formats.percent(ppm, places)


@register.filter
def share(low_ppm: int | None, high_ppm: int | None = None) -> str:
    """ "86 to 94 %", "nearly all" of parts per million."""
    return formats.NOT_KNOWN if low_ppm is None else formats.share(low_ppm, high_ppm)


@register.filter
def covers(over: Any) -> str:
    """ "from stirred to plug flow, fill anywhere in its band" of what a share runs over."""
    return fresh.covers(over)


@register.filter
def hours(tenths: int | None) -> str:
    """ "1.8 h" of tenths of an hour."""
    return formats.NOT_KNOWN if tenths is None else formats.hours(tenths)


@register.filter
def consent_way(way: str) -> str:
    """How a yes was said: "by telephone"."""
    return formats.consent_way(way)


@register.filter
def figure(value: Any, places: int = 0) -> str:
    """A bare figure with so many decimals: "1,078", "−36.0"."""
    return formats.NOT_KNOWN if value is None else formats.number(value, places)


def _as_date(on: date | datetime) -> date:
    if not isinstance(on, datetime):
        return on
    return timezone.localtime(on).date() if timezone.is_aware(on) else on.date()
