"""The page of a bay sheet, put together from what the selector gives."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as later

from shopserv.calc.balance import COVERAGE
from shopserv.common import clock, formats
from shopserv.common.errors import Refusal
from shopserv.jobs.bay_readings import AMOUNTS, outside
from shopserv.jobs.bay_words import WHEN_STOPPED
from shopserv.jobs.findings import DECISION, STOP
from shopserv.jobs.models import BayStep, SecondLook
from shopserv.jobs.selectors.bay import TO_THE_LEVEL, BaySheet
from shopserv.web.bay import shown
from shopserv.web.bay.cooling import cooling_words
from shopserv.web.bay.forms import RolledOutForm, StepForm
from shopserv.web.forms import PageForm

OWN_PAGE = ("level",)
HOT = ("bay.hot", "bay.hot_drain")
DONE_WORDS = {
    "start_engine": later("Engine runs"),
    "fill_plug_first": later("It opens: done"),
    "flow_proof": later("Weighed"),
    "leak_look": later("Looked"),
    "fluid_look": later("As it should be"),
    "leak_idle": later("No leak"),
    "leak_again": later("No leak"),
}


def shown_step(bay: BaySheet, asked: int) -> BayStep:
    """The step asked for, else the one that is up, else the first that lies ahead, else the last."""
    if asked:
        return bay.step(asked)
    return bay.up or next((step for step in bay.steps if step.state == "ahead"), bay.steps[-1])


def read_at(bay: BaySheet, step: BayStep) -> Mapping[str, int]:
    """The newest readings of a step."""
    return bay.figures.get(step.pk, {})


def may_redo(bay: BaySheet, step: BayStep) -> bool:
    """Whether a step that was done may be done again now."""
    still = bay.order.state in ("in the bay", "level set") and bay.order.closed_out_at is None
    return bay.may_press and still and step.state in ("done", "redone") and step.code not in OWN_PAGE


def said_no(bay: BaySheet) -> SecondLook | None:
    """The newest second look where it said no and the job is still closed out."""
    last = bay.looks[-1] if bay.looks else None
    return last if last is not None and last.state == "no" and bay.order.closed_out_at is not None else None


def head(bay: BaySheet, step: BayStep) -> dict[str, Any]:
    """What stands in head and margin of every page of one job."""
    order = bay.order
    since = order.in_bay_at
    minutes = 0 if since is None else int((clock.now() - since).total_seconds() // 60)
    in_bay = "" if since is None else _("In the bay since %(at)s, %(long)s.") % {
        "at": formats.clock_time(timezone.localtime(since), order.shop.units_first),
        "long": formats.duration(minutes),
    }  # fmt: skip
    return {
        "order": order,
        "bay": bay,
        "step": step,
        "count": len(bay.steps),
        "step_state": shown.step_words(step),
        "unit_words": _("%(unit)s, %(how)s") % {"unit": bay.unit, "how": bay.unit_known_by} if bay.unit else "",
        "elapsed": in_bay,
        "log": shown.log_rows(bay.events, bay.counting),
        "shop": order.shop,
        "when_stopped": WHEN_STOPPED,
        "owner_decides": order.state == "on hold" and order.hold_grade in (DECISION, STOP),
    }


def sheet_page(
    request: HttpRequest,
    bay: BaySheet,
    step: BayStep,
    form: StepForm,
    *,
    up: str = "",
    again: bool = False,
    refusal: Refusal | None = None,
    status: int = 200,
) -> HttpResponse:
    """One step of a bay sheet; with what was refused, everything typed kept."""
    step = bay.step(step.order)
    context = {**head(bay, step), **_acts(bay, step, again=again, is_bound=form.is_bound), **_middle(bay, step)}
    if context["may_act"]:
        context["big"], context["others"], context["choices"] = shown.figures_of(form, up)
        context["form"] = form
    place = [bay.order.number, step.order]
    context["press_url"] = reverse("bay:redo" if again else "bay:press", args=place)
    context["done_url"] = reverse("bay:redo" if again else "bay:finish", args=place)
    is_hot = refusal is not None and refusal.code in HOT  # the reading that was refused comes first once more
    if context["may_act"] and not again and (is_hot or not form.is_bound):
        unread = (one for one in context["others"] if one.what not in form.read and not one.field.value())
        context["following"] = next(unread, None)
    if context["may_act"] and context["big"]:  # said once, at the figure
        context["is_at_figure"] = set(form.errors) == {context["big"].what}
    if step.code == "level" and context["may_act"]:  # figures first; how it was set, and the PIN, on the page behind
        context["done_url"] = context["press_url"]
        context["main_words"] = _("%(sign)s: go on") % {
            "sign": (step.limits.get("sign") or _("level sign")).capitalize()
        }
    return render(request, "bay/sheet.html", context, status=refusal.status if refusal else status)


def refused(request: HttpRequest, bay: BaySheet, refusal: Refusal) -> HttpResponse:
    """The step that is up, with why an act was not done."""
    step = shown_step(bay, 0)
    context = {
        **head(bay, step),
        **_acts(bay, step),
        **_middle(bay, step),
        "refused": refusal.message,
        "may_act": False,
    }
    if refusal.code == "bay.rolled_out" and bay.order.state == "cleared":
        context["roll_out"] = RolledOutForm()
    return render(request, "bay/sheet.html", context, status=refusal.status)


def _acts(bay: BaySheet, step: BayStep, *, again: bool = False, is_bound: bool = False) -> dict[str, Any]:
    """What may be done now: one main act, and the others."""
    order, is_up = bay.order, step.state == "now"
    works = bay.may_press and order.state in ("in the bay", "level set")
    acts: dict[str, Any] = {
        "may_act": bay.may_press and ((works and is_up) or again or is_bound),
        "before": step.order - 1 if step.order > 1 else 0,
        "after": step.order + 1 if step.order < len(bay.steps) and not is_up else 0,
        "may_skip": works and is_up and step.may_skip,
        "may_redo": may_redo(bay, step) and not again,
        "main_words": _("Done again") if again else str(DONE_WORDS.get(step.code, _("Done"))),
        "may_stop": bay.may_press and order.state in ("in the bay", "on hold", "level set"),
        "may_recheck": bay.may_press and order.state == "level set",
        "look_url": reverse("bay:look", args=[order.number]) if _may_look_now(bay) else "",
    }
    return acts | _main_act(bay, step, acts["may_act"])


def _main_act(bay: BaySheet, step: BayStep, may_act: bool) -> dict[str, Any]:
    order = bay.order
    at_sheet = reverse("bay:sheet", args=[order.number])
    if order.state == "cleared" and (bay.may_press or order.technician_id is None):
        return {"main_form": PageForm(), "main_act": "start", "main_words": _("Into the bay")}
    if order.state == "on hold" and bay.may_press and order.hold_grade == "watch" and bay.coolant is None:
        return {"main_form": PageForm(), "main_act": "resume", "main_words": _("Mended: go on")}
    if step.state != "now" and bay.up is not None and not may_act:
        return {"main_url": at_sheet, "main_words": _("Step %(n)s is up") % {"n": bay.up.order}}
    if bay.up is None and order.state in ("level set", "second look done"):
        return {"main_url": reverse("bay:close_out", args=[order.number]), "main_words": _("Close-out")}
    return {}


def _may_look_now(bay: BaySheet) -> bool:
    """From level set on, while it runs, the second person may look."""
    return bay.order.state == "level set" and bay.order.closed_out_at is None and bay.look_asked


def _middle(bay: BaySheet, step: BayStep) -> dict[str, Any]:
    """Tube, balance, clock, budget and the figures of the sheet, each where the step needs it."""
    units = bay.order.shop.units_first
    found: dict[str, Any] = {
        "was_read": shown.was_read(step, read_at(bay, step)),
        "limits": shown.limit_rows(step, _level_after(bay, step)),
    }
    is_open = _is_open(bay, step)
    if step.is_fluid and not is_open and (bay.pickup_ml is not None or bay.dips_ml is not None):
        marks = {"pickup_ml": bay.pickup_ml, "dips_ml": bay.dips_ml}
        now = bay.balance_now  # both brought to one temperature, as the difference beside it
        level, within = (round(now.difference_ml), round(COVERAGE * now.band_ml)) if now else (bay.level_ml, 0)
        found["tube"], found["tube_words"] = shown.level_tube(level, marks, within, units)
    if step.is_fluid or step.code in TO_THE_LEVEL:
        found["alarms"] = bay.alarms
    if step.limits.get("op") in ("add", "pump") and bay.may_press and bay.order.state in ("in the bay", "level set"):
        found["may_weigh"] = bool(bay.order.facts.get("packages")) and any(one.kind == "scale" for one in bay.tools)
    if (step.is_fluid or step.code in TO_THE_LEVEL) and bay.balance_now:
        found["balance"] = shown.balance_words(bay, units, is_open)
    if step.code in TO_THE_LEVEL and bay.cooling and bay.order.level_set_at is None:
        found["cool_down"] = cooling_words(bay.cooling, units)
    if bay.flow and (step.code in ("flow_proof", "lines_back") or step.limits.get("op") == "pump"):
        found["flow"] = shown.flow_words(bay.flow, _stop_margin_ml(bay), units) | {"sums": shown.sums_url(bay)}
    if step.code == "level" and bay.budget_now:
        found["budget"] = shown.budget_rows(bay.budget_now, units, _in_window(bay, step)) | {
            "sums": shown.sums_url(bay)
        }
    return found


def _in_window(bay: BaySheet, step: BayStep) -> bool:
    """Whether the temperature read at the level lies in its window; where the sheet names none, any does."""
    row = next((one for one in step.needs if one["what"] == "temp_mdegc"), None)
    read = read_at(bay, step).get("temp_mdegc")
    return row is None or read is None or not outside(row, read, bay.order.shop.units_first)


def _is_open(bay: BaySheet, step: BayStep) -> bool:
    """Whether a stage has one of its amounts and not yet the others: then in and out do not say where it stands."""
    asked = [row["what"] for row in step.needs if row["what"] in AMOUNTS]
    read = [what for what in asked if what in read_at(bay, step)]
    return step.state == "now" and bool(read) and len(read) < len(asked)


def _level_after(bay: BaySheet, step: BayStep) -> int | None:
    """The level after a stage from what was measured so far, as the balance has it; none: as the course plans it."""
    op, now = step.limits.get("op"), bay.balance_now
    amounts = {row["what"] for row in step.needs} & set(AMOUNTS)
    if op not in ("add", "pump") or step.state != "now" or step.limits.get("sump") or now is None:
        return None
    if amounts & set(read_at(bay, step)):  # of this stage something is in that sum
        return None
    return round(now.difference_ml) + (step.limits.get("in_ml") or 0) - (step.limits.get("out_ml") or 0)


def _stop_margin_ml(bay: BaySheet) -> int:
    return next((step.limits["stop_margin_ml"] for step in bay.steps if step.code == "flow_proof"), 0)
