"""What a bay sheet shows of one step: the big figure with its keys, tube, scale, what the sheet says, the log."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from fractions import Fraction
from typing import Any

from django.forms import BoundField
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from shopserv.calc import measures
from shopserv.calc.balance import COVERAGE
from shopserv.calc.bench import FlowProof, LevelBudget
from shopserv.common import drawing, formats
from shopserv.jobs.bay_events import WARM_C, latest
from shopserv.jobs.bay_readings import KEYS, WHATS
from shopserv.jobs.models import BayEvent, BayStep
from shopserv.jobs.selectors.bay import BaySheet
from shopserv.web.bay.figures import Typed, beside, from_base, key_words, parted, plain, steps_of
from shopserv.web.bay.forms import FigureField, StepForm

LOG_LINES = 7
SCALE_WIDTH = 680  # pixels between the ends of drawing.scale
FINEST = 20  # graduations that a window takes at most before each is worth ten times as much
STEP_WORDS = {
    "ahead": later("ahead"),
    "now": later("now"),
    "done": later("done"),
    "skipped": later("skipped"),
    "redone": later("done again"),
}


@dataclass(frozen=True, slots=True)
class Key:
    """One of the four keys: what it adds, as script and as form have it."""

    step: str
    value: str
    words: str
    label: str


@dataclass(frozen=True, slots=True)
class Figure:
    """One reading on the page."""

    what: str
    field: BoundField
    unit: str
    beside: str
    note: str
    size: int
    expected: str = ""
    start: str = ""
    keys: tuple[Key, ...] = ()
    least: str = ""
    other_per: str = ""
    other_from: str = ""
    other_unit: str = ""
    notch_per: str = ""
    scale: Any = None
    window: str = ""
    scale_words: str = ""


def figure(form: StepForm, what: str, *, is_big: bool = False) -> Figure:
    """A reading of the form, with keys and scale where it is the big one."""
    field, row = form[what], form.needs[what]
    unit = row["unit"]
    said = field.value()
    expected = "" if what in form.read or said else form.expected(what)
    base = _base(form, what)
    words = parted(unit)[1]
    common: dict[str, Any] = {
        "what": what,
        "field": field,
        "unit": words,
        "beside": "" if base is None else beside(what, base, unit),
        "note": _("expected %(figure)s, not read yet") % {"figure": expected} if expected else
                "" if what in form.read or said else _("not read yet"),
        "size": max(3, len(str(said or expected))),
        "expected": expected,
        "start": plain(row["start"], unit),
    }  # fmt: skip
    if not is_big:
        return Figure(**common)
    keys = tuple(
        Key(plain(step, unit), f"{what}:{step}", key_words(step, unit), f"{key_words(step, unit)} {words}")
        for step in steps_of(row)
    )
    least = "" if row["what"].startswith("tilt") or WHATS[what] == "temperature" else "0"
    return Figure(**common, keys=keys, least=least, **_other(words), **_scale(row, None if expected else base))


def _other(word: str) -> dict[str, Any]:
    """How a script turns the figure into the other system: (figure less `from`) times `per`, one decimal."""
    per = {
        "qt": (str(float(measures.convert(1, "qt", "L"))), "0", "L"),
        "L": (str(float(measures.convert(1, "L", "qt"))), "0", "qt"),
        "°F": (str(5 / 9), "32", "°C"),
        "°C": ("1.8", str(-32 / 1.8), "°F"),
    }.get(word)
    return dict(zip(("other_per", "other_from", "other_unit"), per, strict=True)) if per else {}


def _base(form: StepForm, what: str) -> int | None:
    """The base value of what stands in the field; none where it cannot be read."""
    row = form.needs[what]
    if not form.is_bound:
        if what in form.read:
            return form.read[what]
        return round(KEYS[row["unit"]].exact(row["start"])) if form.expected(what) else None
    said = form.cleaned_data.get(what) if hasattr(form, "cleaned_data") else None
    return round(KEYS[said.unit].exact(said.value)) if isinstance(said, Typed) else None


def _scale(row: Mapping[str, Any], base: int | None) -> dict[str, Any]:
    """The graduated line with the window, where the step has both ends of one."""
    unit = row["unit"]
    if row["low_base"] is None or row["high_base"] is None:
        return {}
    low, high = (from_base(edge, unit) for edge in (row["low_base"], row["high_base"]))
    if low >= high:
        return {}
    small = 1
    while high - low > FINEST * small:
        small *= 10
    left = (low - (high - low)) // (10 * small) * 10 * small
    right = -(-(high + (high - low)) // (10 * small)) * 10 * small
    if WHATS[row["what"]] not in ("temperature", "angle"):
        left = max(left, 0)
    now = None if base is None else from_base(base, unit)
    drawn = drawing.scale(now, low=left, high=right, window=(low, high), small=small)
    marks = tuple((x, end, _said(int(label), unit) if label else "") for x, end, label in drawn.graduations)
    word = parted(unit)[1]
    window = _("the sheet says %(low)s to %(high)s %(unit)s") % {
        "low": _said(low, unit),
        "high": _said(high, unit),
        "unit": word,
    }
    read = "" if now is None else _("%(now)s %(unit)s, ") % {"now": plain(now, unit), "unit": word}
    return {
        "scale": replace(drawn, graduations=marks),
        "window": window,
        "scale_words": f"{read}{window}",
        "notch_per": f"{SCALE_WIDTH / (right - left) * parted(unit)[0]:.3f}",
    }


def _said(value: int, unit: str) -> str:
    """A figure in words: a true minus, no zero behind the point."""
    return plain(value, unit).removesuffix(".0").replace("-", "−")


def level_tube(
    level_ml: int, limits: Mapping[str, Any], within_ml: int = 0, units_first: str = "us"
) -> tuple[Any, str]:
    """The tube of the level now, and what it says."""
    scale = drawing.tube_scale(
        [level_ml], pickup_below_full_ml=limits.get("pickup_ml"), dips_above_full_ml=limits.get("dips_ml")
    )
    return drawing.level_tube(level_ml, scale, within_ml=within_ml, units_first=units_first), _(
        "level now: %(level)s"
    ) % {"level": level_words(level_ml, units_first)}


def level_words(level_ml: int, units_first: str = "us") -> str:
    """ "0.9 qt (0.9 L) below full", "full"."""
    if abs(level_ml) < 50:
        return _("full")
    amount = formats.volume(abs(level_ml), units_first)
    return (_("%(amount)s below full") if level_ml < 0 else _("%(amount)s above full")) % {"amount": amount}


@dataclass(frozen=True, slots=True)
class LogRow:
    """One press in the margin."""

    at: datetime
    words: str
    counts: bool


def log_rows(events: Iterable[BayEvent], counting: Iterable[int]) -> list[LogRow]:
    """The newest presses, oldest first; one that was done again does not count any more."""
    rows, still = list(events), set(counting)
    return [LogRow(row.received_at, event_words(row), row.pk in still) for row in rows[-LOG_LINES:]]


def event_words(event: BayEvent) -> str:
    """ "step 9, out 1.4 qt", "step 3 done", "step 4 skipped: no scan tool"."""
    step = _("step %(n)s") % {"n": event.step.order} if event.step else ""
    name = READINGS.get(event.what)
    if name:
        figure = event.as_typed.replace(" ", "\N{NO-BREAK SPACE}")  # the margin is narrow
        return f"{step} {name} {figure}".strip()
    said = EVENTS.get(event.what, event.what.replace("_", " "))
    why = f": {event.words}" if event.words and event.what != "done" else ""
    return f"{step} {said}{why}".strip()


READINGS = {
    "out_ml": later("out"),
    "in_ml": later("in"),
    "left_ml": later("left over"),
    "out_g": later("out"),
    "in_g": later("in"),
    "left_g": later("left over"),
    "flow_g": later("weighed"),
    "package_g": later("full package"),
    "temp_mdegc": later("fluid"),
    "ambient_mdegc": later("air"),
    "tilt_fore_aft": later("tilt fore-aft"),
    "tilt_side": later("tilt to the side"),
    "dwell_s": later("dwell"),
    "odometer": later("odometer"),
    "engine_stop": later("engine stop:"),
}
EVENTS = {
    "done": later("done"),
    "skipped": later("skipped"),
    "redo": later("done again"),
    "outside": later("outside, on hold"),
    "coolant": later("coolant found"),
    "finding": later("finding"),
    "hold": later("on hold"),
}
KNOWN_HERE = {  # limits of a step that are shown as text, in this order
    "engine": later("engine"),
    "stop_sign": later("stop"),
    "out": later("out"),
    "into": later("in"),
    "level_after": later("level after it"),
    "window": later("window"),
    "sign": later("sign"),
    "plug_closed_with": later("plug goes in with the engine"),
    "fill": later("the whole unit holds, not to pour"),
}
NOT_SHOWN = ("method", "op", "sump", "bay", "kind", "switch_off")


def limit_rows(step: BayStep, level_after_ml: int | None = None) -> list[tuple[str, str]]:
    """What the sheet says at this step, in words; base values stay inside.

    level_after_ml   by what was measured before; none: as planned
    """
    limits: Mapping[str, Any] = step.limits
    if level_after_ml is not None:
        said = _("%(level)s by what was measured") % {"level": level_words(level_after_ml, step.shop.units_first)}
        limits = {**limits, "level_after": said}
    in_the_sentence = ("sign", "plug_closed_with") if step.code == "level" else ()
    rows = [
        (str(words), str(limits[name]))
        for name, words in KNOWN_HERE.items()
        if limits.get(name) and name not in in_the_sentence
    ]
    if least := limits.get("minimum_ml_min"):
        rows.append((_("flow at least, a minute"), formats.volume(least, step.shop.units_first)))
    rows += [
        (name.replace("_", " "), _day(value) if name == "inspection" else str(value))
        for name, value in limits.items()
        if isinstance(value, str) and value and name not in KNOWN_HERE and name not in NOT_SHOWN
    ]
    return rows


def _day(text: str) -> str:
    """A day as it is written in a shop; what is no day stays as it is."""
    try:
        return formats.day(date.fromisoformat(text))
    except ValueError:
        return text


def step_words(step: BayStep) -> str:
    """ "flow proof", with its state where it is not the one that is up."""
    name = step.code.replace("_", " ")
    return name if step.state == "now" else f"{name}, {STEP_WORDS[step.state]}"


def was_read(step: BayStep, read: Mapping[str, int]) -> list[dict[str, str]]:
    """The readings of a step that is not up."""
    rows = []
    for row in step.needs:
        if row["what"] in read:
            base = read[row["what"]]
            figure_text = KEYS[row["unit"]].words(from_base(base, row["unit"]))
            rows.append(
                {"words": row["words"], "figure": figure_text, "beside": beside(row["what"], base, row["unit"])}
            )
    return rows


def figures_of(form: StepForm, up: str) -> tuple[Figure | None, list[Figure], list[BoundField]]:
    """(the big figure, the other readings, the choices) of a step's form."""
    names = [name for name, field in form.fields.items() if isinstance(field, FigureField)]
    choices = [form[name] for name in form.needs if name not in names]
    if not names:
        return None, [], choices
    wrong: Sequence[str] = [name for name in names if form.is_bound and name in form.errors]
    unread = [name for name in names if name not in form.read and not form[name].value()]
    first = next(iter(wrong), up if up in names else next(iter(unread or names)))
    return figure(form, first, is_big=True), [figure(form, name) for name in names if name != first], choices


def balance_words(bay: BaySheet, units_first: str, is_open: bool = False) -> dict[str, Any]:
    """In, out, how far apart, and twice the band of that.

    is_open   a stage stands with one of its amounts read: what the level is by that is not said
    """
    now = bay.balance_now
    assert now is not None
    warmth = latest(bay.events, "temp_mdegc")  # to which both are brought
    return {
        "at": formats.temperature(round(1000 * WARM_C) if warmth is None else warmth.value or 0, units_first),
        "put_in": formats.volume(Fraction(now.in_ml), units_first),
        "out": formats.volume(Fraction(now.out_ml), units_first),
        "difference": formats.volume(Fraction(now.difference_ml), units_first, 2),
        "band": formats.volume(COVERAGE * Fraction(now.band_ml), units_first, 2),
        "is_open": is_open,
        "level": level_words(round(now.difference_ml), units_first),
        "sums": sums_url(bay),
    }


def sums_url(bay: BaySheet) -> str:
    """Where the sums of a job stand."""
    return reverse("bay:sums", args=[bay.order.number])


KELVIN = re.compile(r"(\d+(?:\.\d+)?) K\b")


def in_degrees(words: str, units_first: str) -> str:
    """Words of the calculation with a difference of temperature as the instruments of the place show it."""
    return KELVIN.sub(lambda found: formats.degrees_apart(Fraction(found[1]), units_first).split(" (")[0], words)


def budget_rows(budget: LevelBudget, units_first: str = "us", is_in_window: bool = True) -> dict[str, Any]:
    """The error budget as bars and figures, with the share of each item and the largest named.

    is_in_window   the fluid reads inside the window of the level; else no budget passes
    """
    most = max((item.ml for item in budget.items), default=0) or 1
    says = {True: _("passes"), False: _("does not pass"), None: _("cannot be said")}[budget.passes]
    if not is_in_window:
        says = _("the reading is not in the window: no level is set with it")
    return {
        "rows": [
            {
                "words": in_degrees(item.words, units_first),
                "bar": f"{64 * item.ml / most:.1f}",
                "figure": formats.number(Fraction(item.ml), 1),
                "share": formats.percent(Fraction(item.share) * 1_000_000),
            }
            for item in sorted(budget.items, key=lambda item: -item.ml)
        ],
        "root": formats.number(Fraction(budget.root_sum_square_ml), 1),
        "twice": formats.number(2 * Fraction(budget.root_sum_square_ml)),
        "limit": "" if budget.limit_ml is None else formats.number(Fraction(budget.limit_ml)),
        "missing": budget.missing,
        "says": says,
        "advice": budget.advice,
    }


def flow_words(flow: FlowProof, margin_ml: int, units_first: str) -> dict[str, Any]:
    """The flow of the cooler line with its band, and how much still comes until the engine stands."""
    most = Fraction(flow.margin_most_l) * 1000
    return {
        "flow": formats.volume(Fraction(flow.l_per_min) * 1000, units_first, 2),
        "band": formats.volume(2 * Fraction(flow.band_l_min) * 1000, units_first, 2),
        "runs_on": formats.volume(Fraction(flow.runs_on_l) * 1000, units_first, 2),
        "most": formats.volume(most, units_first, 2),
        "margin": formats.volume(margin_ml, units_first, 2),
        "is_tight": most > margin_ml,
    }
