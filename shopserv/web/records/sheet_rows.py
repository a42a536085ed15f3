"""The values of a unit sheet as HTML: figure, where it comes from, or what waits for it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction

from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shopserv.catalog.models import SheetValue
from shopserv.catalog.sheets import MAY_BE_NOT_FITTED, WHAT
from shopserv.common import formats

SECTIONS = (  # words in the margin, and what stands beside them, in the order of the work
    (
        gettext_lazy("fills"),
        (
            "total_fill_ml", "drain_ml", "pan_ml", "converter_ml", "cooler_ml", "sump_ml", "pickup_below_full_ml",
            "dips_above_full_ml", "may_run_between_drains",
        ),
    ),
    (
        gettext_lazy("level"),
        (
            "level_method", "level_low_mdegc", "level_high_mdegc", "level_engine", "level_plug_closed_with",
            "selector_dwell_s", "tilt_limit_mdeg", "level_band_ml", "sump_area_cm2", "offset_fore_aft_mm",
            "offset_side_mm",
        ),
    ),
    (gettext_lazy("torques"), ("torque_fill_mnm", "torque_drain_mnm", "torque_level_mnm", "torque_pan_mnm")),
    (
        gettext_lazy("cooler"),
        (
            "thermostat_place", "thermostat_opens_mdegc", "thermostat_hold_open", "cooler_min_flow_ml_min",
            "cooler_flows_out_by",
        ),
    ),
    (gettext_lazy("parts"), ("filter", "electric_pump", "adaptation")),
    (gettext_lazy("interval"), ("interval_m", "interval_months")),
)  # fmt: skip

_Say = Callable[[int, str], str]
_FIGURES: dict[str, _Say] = {
    "mL": formats.volume,
    "mdegc": formats.temperature,
    "mnm": formats.torque,
    "mm": lambda n, first: f"{formats.number(n)} mm",
    "cm2": lambda n, first: f"{formats.number(n)} cm²",
    "mdeg": lambda n, first: f"{formats.trimmed(Fraction(n, 1000))}°",
    "s": lambda n, first: f"{formats.number(n)} s",
    "mL/min": lambda n, first: f"{formats.number(Fraction(n, 1000), 1)} L/min",
    "m": formats.distance,
    "months": lambda n, first: _("%(n)s months") % {"n": formats.number(n)},
}


def sections_html(rows: Mapping[str, SheetValue], units_first: str) -> SafeString:
    """Every value that a sheet may have, by section; what is not known is said, with what waits for it."""
    parts = [
        value_row(what, rows.get(what), units_first, title if at == 0 else "")
        for title, whats in SECTIONS
        for at, what in enumerate(whats)
    ]
    return format_html_join("", "{}", ((part,) for part in parts))


def value_row(what: str, row: SheetValue | None, units_first: str, title: object) -> SafeString:
    """One line: what, figure, source with grade and day."""
    return format_html(
        '<tr data-line="{}"{}><td class="when soft">{}</td><th scope="row">{}</th><td>{}</td>'
        '<td class="soft">{}</td></tr>',
        what,
        SafeString(' class="section-begins"') if title else "",
        title,
        WHAT[what].words[:1].upper() + WHAT[what].words[1:],
        figure_html(what, row, units_first),
        source_words(row) if row else "",
    )


def figure_html(what: str, row: SheetValue | None, units_first: str) -> SafeString | str:
    """The figure or band, "not fitted" for a plug that the unit does not have, "not known" with what waits for it."""
    if row is None:
        blocks = WHAT[what].blocks
        waits = format_html('<span class="second-line">{} {}</span>', _("waits for it:"), blocks) if blocks else ""
        return format_html("<b>{}</b>{}", _("not known"), waits)
    if row.low is None or row.high is None:
        return _("not fitted") if what in MAY_BE_NOT_FITTED else row.text
    say = _FIGURES[WHAT[what].kind]
    if row.low == row.high:
        return say(row.low, units_first)
    band = _("%(low)s to %(high)s") % {"low": say(row.low, units_first), "high": say(row.high, units_first)}
    return format_html('{}<span class="second-line">{}</span>', band, _("a band: measured or read differently"))


def source_words(row: SheetValue) -> str:
    """Where a value comes from, how good that is, who entered it and when."""
    grade = f", {row.source_grade}" if row.source_grade and row.source_grade != row.source else ""
    on = formats.day(timezone.localtime(row.at).date())
    who = _("%(who)s, %(on)s") % {"who": row.by.name, "on": on} if row.by else on
    return f"{row.source}{grade}. {who}"
