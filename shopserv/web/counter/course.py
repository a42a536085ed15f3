"""The Fluid course page: order and liters of the stages of one option, what other orders give, and taking one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from shopserv.calc.course_bands import Band
from shopserv.common import formats, fresh
from shopserv.common.drawing import tube_row, tube_scale
from shopserv.common.errors import Refusal
from shopserv.jobs.courses import Course
from shopserv.jobs.selectors.fluid_course import CourseOfOption, course_of_option, over_the_line
from shopserv.jobs.services.take_course import take_course
from shopserv.shop.actors import Actor
from shopserv.web.counter.columns import lines_words, order_words
from shopserv.web.counter.course_form import AMOUNT_OF, OPS, CourseForm
from shopserv.web.counter.course_words import breach_words, drain_words, level_words, over_words, points
from shopserv.web.forms import form_page
from shopserv.web.once import acts_once

TEMPLATE = "counter/course.html"
HABIT, BEST, ORDER = "habit", "best", "order "


@require_http_methods(["GET", "POST"])
@acts_once
def course(request: HttpRequest, number: str, letter: str) -> HttpResponse:
    """The course of one option; a POST changes what is looked at, or takes what is shown."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    is_doubted = request.POST.get("doubt") == "on"
    found = course_of_option(actor, number, letter, is_doubted=is_doubted)
    form = _form(request.POST if request.method == "POST" else None, actor, found)
    if request.method != "POST":
        return render(request, TEMPLATE, _context(actor, found, form))
    if not form.is_valid():
        return form_page(request, TEMPLATE, _context(actor, found, form))
    act, _space, which = request.POST.get("do", "").partition(" ")
    found = course_of_option(actor, number, letter, stages=form.stages(), is_doubted=is_doubted)
    chosen = _chosen(found, which) if act in ("take", "look") else form.after(request.POST.get("do", ""))
    if act == "take":
        return _take(request, actor, found, form, chosen)
    found = course_of_option(actor, number, letter, stages=chosen, is_doubted=is_doubted)
    shown = _form(None, actor, found, initial={"doubt": is_doubted, "edition": form.cleaned_data["edition"]})
    return render(request, TEMPLATE, _context(actor, found, shown), status=422 if found.page.fault else 200)


def _take(
    request: HttpRequest,
    actor: Actor,
    found: CourseOfOption,
    form: CourseForm,
    chosen: Sequence[Mapping[str, Any]] | None,
) -> HttpResponse:
    try:
        _refuse_over(found, chosen)
        take_course(found.version, found.option.letter, chosen, actor=actor, edition=form.cleaned_data["edition"])
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, TEMPLATE, _context(actor, found, form), refusal)
    return redirect("counter:quote", found.version.quote.number)


def _refuse_over(found: CourseOfOption, chosen: Sequence[Mapping[str, Any]] | None) -> None:
    """Refuse another order that stands over a limit: it is shown with its caution and not offered.

    raises   Refusal course.too_high
    """
    for name, other in found.page.others:
        if isinstance(other, Course) and other.stages is chosen:
            over = over_the_line(other, found.page.dips_ml)
            if over:
                words = over_words(over, found.version.quote.shop.units_first)
                raise Refusal(f"{name[:1].upper()}{name[1:]}. {words}", code="course.too_high")


def _chosen(found: CourseOfOption, which: str) -> Sequence[Mapping[str, Any]] | None:
    """The stages that a button names: none for the default course; what is typed where it names nothing known."""
    if which == HABIT:
        return None
    if which == BEST and found.page.best.course:
        return found.page.best.course.stages
    for name, other in found.page.others:
        if which == ORDER + name and isinstance(other, Course):
            return other.stages
    return found.stages


def _form(data: Any, actor: Actor, found: CourseOfOption, initial: dict[str, Any] | None = None) -> CourseForm:
    return CourseForm(
        data,
        stages=found.stages,
        units_first=actor.house.units_first,
        margin_ml=found.page.stop_margin_ml,
        sheet_ml=found.page.spans_ml,
        initial={"edition": found.version.edition, **(initial or {})},
    )


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage of the strip."""

    number: int
    words: str
    op: str
    amount: forms.BoundField
    hidden: tuple[forms.BoundField, ...]
    level: str
    warnings: tuple[str, ...]
    errors: tuple[str, ...]

    @property
    def has_amount(self) -> bool:
        """Whether the stage moves an amount that can be typed."""
        return bool(AMOUNT_OF.get(self.op, ""))


@dataclass(frozen=True, slots=True)
class OtherRow:
    """Another order: its name, its stages in short, its share or why it cannot run, and what its button says.

    caution   where it stands over a limit: then it is not offered
    """

    name: str
    order: str
    share: str
    new: str
    which: str
    reason: str = ""
    caution: str = ""


def _context(actor: Actor, found: CourseOfOption, form: CourseForm) -> dict[str, Any]:
    page, first = found.page, actor.house.units_first
    high, doubt, best = page.high, page.doubt, page.best.course
    levels: Sequence[Band] = doubt.levels_ml if doubt else ()
    drawn = [int(band.likely) for band in levels] or list(high.levels_ml if high else ())
    scale = tube_scale(
        [*drawn, *(int(end) for band in levels for end in (band.low, band.high))],
        pickup_below_full_ml=page.pickup_ml,
        dips_above_full_ml=page.dips_ml,
        stop_margin_ml=page.stop_margin_ml if any(stage["op"] == "pump" for stage in found.stages) else 0,
    )
    tubes = tube_row(
        drawn,
        scale,
        engine=[stage["op"] in ("pump", "mix") for stage in found.stages],
        bands=[(int(band.low), int(band.high)) for band in levels],
        room=270,
        pitch=26,
        units_first=first,
    )
    return {
        "found": found,
        "page": page,
        "quote": found.version.quote,
        "version": found.version,
        "option": found.option,
        "form": form,
        "first": first,
        "scale": scale,
        "lines_words": lines_words(scale, first),
        "tubes": tubes if drawn and not form.errors else None,
        "rows": _rows(found, form, first),
        "others": _others(found, first),
        "share": fresh.figure(*(found.share_ppm or (None, None))),
        "covers": fresh.covers(found.over, is_doubted=page.is_doubted) if found.share_ppm else "",
        "new": formats.volume_band(page.low.new_ml, page.high.new_ml, first) if page.low and page.high else "",
        "best_share": fresh.figure(best.fraction_low_ppm, best.fraction_high_ppm) if best else "",
        "best_order": order_words(best.as_dict(), first) if best else "",
        "gain": points(abs(page.best.gain_ppm)),
        "doubt": _doubt_of(best, page.best.gain_ppm),
        "saved": formats.volume(page.best.saved_ml, first) if page.best.saved_ml else "",
        "drain": drain_words(found.drain),
        "best_drain": drain_words(found.best_drain),
        "loss": points(page.loss_points * 1000) if page.loss_points else "",
        "ops": OPS,
    }


def _doubt_of(best: Course | None, gain_ppm: int) -> str:
    """How wide the share of the best order is, where its gain is no more than that: "8.3 points"; else ""."""
    if best is None or best.fraction_low_ppm is None or best.fraction_high_ppm is None:
        return ""
    wide = best.fraction_high_ppm - best.fraction_low_ppm
    return points(wide) if wide > gain_ppm else ""


def _rows(found: CourseOfOption, form: CourseForm, first: str) -> list[StageRow]:
    doubt, high = found.page.doubt, found.page.high
    count = sum(name.startswith("op_") for name in form.fields)
    rows = []
    for n in range(1, count + 1):
        op = str(form[f"op_{n}"].value())
        level = ""
        if doubt and not form.errors and n <= len(doubt.levels_ml):
            level = level_words(doubt.levels_ml[n - 1], first)
        elif high and not form.errors and n <= len(high.levels_ml):
            level = level_words(high.levels_ml[n - 1], first)
        rows.append(
            StageRow(
                number=n,
                words=str(dict(OPS).get(op, op)),
                op=op,
                amount=form[f"amount_{n}"],
                hidden=(form[f"op_{n}"], form[f"ml_{n}"]),
                level=level,
                warnings=tuple(breach_words(one, first) for one in (doubt.breaches if doubt else ()) if one.stage == n),
                errors=() if f"amount_{n}" in form.doubts else tuple(map(str, form[f"amount_{n}"].errors)),
            )
        )
    return rows


def _others(found: CourseOfOption, first: str) -> list[OtherRow]:
    """The other orders, the default course among them, the best lower share first."""
    page, rows = found.page, []
    habit = [dict(row) for row in page.habit.stages] if page.habit else []
    listed: list[tuple[str, Course | str, str]] = [
        (name, other, ORDER + name)
        for name, other in page.others
        if not isinstance(other, Course) or [dict(row) for row in other.stages] != habit
    ]
    if page.habit and habit != [dict(row) for row in found.stages]:
        listed.append((_("the house's course of this method"), page.habit, HABIT))
    listed.sort(key=lambda row: -(row[1].fraction_low_ppm or 0) if isinstance(row[1], Course) else 1)
    for name, other, which in listed:
        if isinstance(other, Course):
            share = fresh.figure(other.fraction_low_ppm, other.fraction_high_ppm)
            new = formats.volume(other.new_ml, first)
            over = over_the_line(other, page.dips_ml)
            caution = over_words(over, first) if over else ""
            rows.append(OtherRow(name, order_words(other.as_dict(), first), share, new, which, caution=caution))
        else:
            rows.append(OtherRow(name, "", "", "", "", other))
    return rows
