"""Figures as people read them: money, measures, dates and times, the unit of the shop first.

Whole numbers come in, in the unit that the name says; text comes out. A minus is "−", a thousand has a comma. Spaces
before units are plain, so that a text can be searched and sent; pages keep figures together by their style sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.conf.locale import LANG_INFO
from django.utils import timezone
from django.utils.dateformat import format as by_letters
from django.utils.translation import get_language_info, pgettext
from django.utils.translation import gettext as _

from shopserv.calc import measures
from shopserv.calc.money import Number, round_half_up

SIGNS = {"USD": "$"}
NEARLY_ALL_PPM = 995_000  # what would be printed as 100 % although a model never reaches it
NOT_KNOWN = "–"


def number(value: Number, places: int = 0) -> str:
    """`value` with so many decimals, halves away from zero: "1,078", "−36.0"."""
    rounded = round_half_up(value, places)
    return f"{'−' if rounded < 0 else ''}{abs(rounded):,f}"


def lasts(thousandths: int, *, is_months: bool) -> str:
    """What the money buys, without its unit: whole distance, counted down; months to a tenth of one."""
    return number(Decimal(thousandths) / 1000, 1) if is_months else number(thousandths // 1000)


def trimmed(value: Number, places: int = 1) -> str:
    """As `number`, without zeros after the point: "22", "21.5"."""
    text = number(value, places)
    return text.rstrip("0").rstrip(".") if "." in text else text


def money(cents: int, currency: str = "USD") -> str:
    """An amount with its sign: "$442.95", "−$12.00", "EUR 9.00"."""
    sign = SIGNS.get(currency, f"{currency} ")
    return f"{'−' if cents < 0 else ''}{sign}{abs(Decimal(cents)) / 100:,.2f}"


def money_band(low_cents: int, high_cents: int, currency: str = "USD") -> str:
    """Two amounts as a band, one where they are the same: "$19.10 to $15.28"."""
    return _band(money(low_cents, currency), money(high_cents, currency))


def quarts(volume_ml: Number, places: int = 1) -> str:
    """ "10.6 qt" of a volume in mL."""
    return f"{number(measures.ml_to_qt(_exact(volume_ml)), places)} qt"


def liters(volume_ml: Number, places: int = 1) -> str:
    """ "10.0 L" of a volume in mL."""
    return f"{number(measures.ml_to_l(_exact(volume_ml)), places)} L"


def volume(volume_ml: Number, units_first: str = "us", places: int = 1) -> str:
    """A volume in mL, the shop's unit first: "10.6 qt (10.0 L)" or "10.0 L (10.6 qt)"."""
    return _both(quarts(volume_ml, places), liters(volume_ml, places), units_first)


def volume_band(low_ml: Number, high_ml: Number, units_first: str = "us", places: int = 1) -> str:
    """Two volumes in mL as a band: "7.6 to 9.1 qt (7.2 to 8.6 L)"."""
    if low_ml == high_ml:
        return volume(low_ml, units_first, places)
    us, metric = (_unit_band(of(low_ml, places), of(high_ml, places)) for of in (quarts, liters))
    return _both(us, metric, units_first)


def milliliters(volume_ml: Number) -> str:
    """ "63 mL": differences and budgets stay in what is kept."""
    return f"{number(_exact(volume_ml))} mL"


def stage_quarts(volumes_ml: Sequence[int], places: int = 2) -> list[str]:
    """Amounts of stages in quarts whose printed figures sum to the printed total.

    volumes_ml   of one direction (what goes in, or what comes out), each zero or more
    returns      as many texts, without unit; each less than one step from its exact value
    """
    step = 10**places
    exact = [measures.ml_to_qt(ml) * step for ml in volumes_ml]
    printed = [value.numerator // value.denominator for value in exact]
    missing = int(round_half_up(sum(exact, Fraction(0)), 0)) - sum(printed)
    by_remainder = sorted(range(len(exact)), key=lambda i: (printed[i] - exact[i], i))
    for i in by_remainder[:missing]:
        printed[i] += 1
    return [number(Fraction(steps, step), places) for steps in printed]


def temperature(temperature_mdegc: Number, units_first: str = "us") -> str:
    """ "107.6 °F (42.0 °C)" of thousandths of a °C, the shop's unit first."""
    exact = _exact(temperature_mdegc)
    fahrenheit = f"{number(measures.mdegc_to_f(exact), 1)} °F"
    return _both(fahrenheit, f"{number(exact / 1_000, 1)} °C", units_first)


def degrees_apart(kelvin: Number, units_first: str = "us") -> str:
    """ "1.8 °F (1 °C)" of a difference of 1 K, an error or a step; the shop's unit first, never K."""
    exact = _exact(kelvin)
    return _both(f"{trimmed(exact * 9 / 5, 2)} °F", f"{trimmed(exact, 2)} °C", units_first)


def temperature_band(low_mdegc: Number, high_mdegc: Number, units_first: str = "us") -> str:
    """ "104 to 113 °F (40 to 45 °C)" of a window in thousandths of a °C."""
    lows, highs = (
        (trimmed(measures.mdegc_to_f(_exact(t))) + " °F", trimmed(_exact(t) / 1_000) + " °C")
        for t in (low_mdegc, high_mdegc)
    )
    us, metric = (_unit_band(low, high) for low, high in zip(lows, highs, strict=True))
    return _both(us, metric, units_first)


def torque(torque_mnm: Number, units_first: str = "us") -> str:
    """ "16.2 lb·ft (22 N·m)" of thousandths of a N·m."""
    newton_meters = _exact(torque_mnm) / 1_000
    us = f"{number(measures.nm_to_lbf_ft(newton_meters), 1)} lb·ft"
    return _both(us, f"{trimmed(newton_meters)} N·m", units_first)


def odometer(figure: int, unit: str = "mi") -> str:
    """A reading in the unit of its instrument: "63,180 mi"."""
    return f"{number(figure)} {unit}"


def distance(distance_m: Number, units_first: str = "us") -> str:
    """A distance in meters, in the shop's unit alone: "50,679 mi"."""
    kilometers = _exact(distance_m) / 1_000
    if units_first == "us":
        return f"{number(measures.km_to_mi(kilometers))} mi"
    return f"{number(kilometers)} km"


def percent(ppm: Number, places: int = 0) -> str:
    """ "6.25 %" of parts per million, so many places at most and no zeros at their end."""
    return f"{trimmed(_exact(ppm) / 10_000, places) if places else number(_exact(ppm) / 10_000)} %"


def share(low_ppm: int, high_ppm: int | None = None) -> str:
    """A model's share of new fluid: "39 %", "86 to 94 %", "92 % to nearly all"; never 100 %."""
    high_ppm = low_ppm if high_ppm is None else high_ppm
    low, high = (_("nearly all") if ppm >= NEARLY_ALL_PPM else percent(ppm) for ppm in (low_ppm, high_ppm))
    return _band(low, high) if _("nearly all") in (low, high) else _unit_band(low, high)


def hours(tenths: int) -> str:
    """ "1.8 h" of tenths of an hour."""
    return f"{number(Fraction(tenths, 10), 1)} h"


def duration(minutes: int) -> str:
    """ "3 h 09 min", "45 min"."""
    whole_hours, rest = divmod(minutes, 60)
    return f"{number(whole_hours)} h {rest:02d} min" if whole_hours else f"{rest} min"


def language(code: str) -> str:
    """ "Spanish" of "es"; a code that is not known, as it is."""
    known = get_language_info(code) if code in LANG_INFO else {}
    name: str = known.get("name_translated", code)
    return name


def consent_way(way: str) -> str:
    """How a yes was said, as it stands behind the name: "by telephone"."""
    words = {
        "page": _("on the page behind the link"),
        "telephone": _("by telephone"),
        "signature": _("by signature"),
        "e-mail": _("by e-mail"),
        "after-hours drop": _("by the after-hours slip"),
        "standing agreement": _("by standing agreement"),
        "in person": _("in person"),
    }
    return words.get(way, way)


def day(on: date) -> str:
    """ "Nov 24, 2026"."""
    return by_letters(on, pgettext("date with year", "M j, Y"))


def short_day(on: date, today: date) -> str:
    """ "Nov 24", with the year only where it is another than that of `today`."""
    return day(on) if on.year != today.year else by_letters(on, pgettext("date without year", "M j"))


def month(on: date) -> str:
    """ "Oct 2028"."""
    return by_letters(on, "M Y")


def day_band(low: date, high: date) -> str:
    """ "Oct 24, 2028 to Mar 24, 2029"; the year once where it is the same."""
    if low == high or low.year != high.year:
        return _band(day(low), day(high))
    return _band(by_letters(low, pgettext("date without year", "M j")), day(high))


def clock_time(at: datetime, units_first: str = "us") -> str:
    """ "10:42 AM" in the present zone; "10:42" with 24 hours in metric shops."""
    return by_letters(_local(at), "g:i A" if units_first == "us" else "H:i")


def moment(at: datetime, units_first: str = "us") -> str:
    """ "Nov 24, 2026, 10:42 AM"."""
    return f"{day(_local(at).date())}, {clock_time(at, units_first)}"


def _local(at: datetime) -> datetime:
    return timezone.localtime(at) if timezone.is_aware(at) else at


def _exact(value: Number) -> Fraction:
    return Fraction(value)


def _both(us: str, metric: str, units_first: str) -> str:
    return f"{us} ({metric})" if units_first == "us" else f"{metric} ({us})"


def _band(low: str, high: str) -> str:
    return low if low == high else _("%(low)s to %(high)s") % {"low": low, "high": high}


def _unit_band(low: str, high: str) -> str:
    """Two figures of one unit, the unit once at the end."""
    return _band(low, high) if low == high else _band(low.rpartition(" ")[0], high)
