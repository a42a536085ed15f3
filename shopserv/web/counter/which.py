"""Which transmission is it? The candidates, the one look that parts them best, what was seen, and noting the unit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_http_methods

from shopserv.calc import identify
from shopserv.common import formats
from shopserv.common.drawing.bars import ShareBar, share_bar
from shopserv.common.errors import Refusal
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors import visits
from shopserv.registry.services import looks
from shopserv.registry.which import Next, Said, Which, which_unit
from shopserv.shop.actors import Actor
from shopserv.web import workings
from shopserv.web.forms import PageForm, form_page
from shopserv.web.once import acts_once
from shopserv.web.query import says_what_was_asked

MILLION = 1_000_000
SAYS = {
    identify.FITS: gettext_lazy("fits"),
    identify.MAY_BE: gettext_lazy("may be"),
    identify.AGAINST: gettext_lazy("speaks against"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One candidate: its share of the weight as figure and bar, what fits it and what speaks against it."""

    code: str
    name: str
    tag: str
    share: str
    bar: ShareBar
    known: str
    fits: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """One question that may be put: its answers as buttons, what it would leave of the expected loss."""

    code: str
    words: str
    how: str
    minutes: int
    answers: tuple[tuple[str, str], ...]
    is_tag: bool
    loss: str


class LookForm(PageForm):
    """An answer, an answer taken back, or the unit noted. `answer` is the button that was pressed."""

    act = forms.CharField(max_length=20)
    question = forms.CharField(max_length=40, required=False)
    answer = forms.CharField(max_length=60, required=False)
    tag = forms.CharField(label=gettext_lazy("Tag number"), max_length=60, required=False)
    sighting = forms.IntegerField(required=False, min_value=1, max_value=2**31)
    unit = forms.CharField(max_length=20, required=False)
    grade = forms.CharField(max_length=20, required=False)


@require_http_methods(["GET", "POST"])
@says_what_was_asked
@acts_once
def which(request: HttpRequest, number: str) -> HttpResponse:
    """The page, and its acts: `look`, `take back`, `note`."""
    actor: Actor = request.actor  # type: ignore[attr-defined]
    visit = visits.visit_for(actor, number)
    if request.method != "POST":
        if workings.wants_json(request):
            found = which_unit(actor, visit.vehicle)
            sums = {"loss": found.ranking.working} if found.ranking else {}
            return workings.as_json(f"{visit.vehicle.number}, which unit", sums)
        return render(request, "counter/which.html", _context(actor, visit, LookForm()))
    form = LookForm(request.POST)
    if not form.is_valid():
        return form_page(request, "counter/which.html", _context(actor, visit, form))
    try:
        said = _done(visit, actor, form)
    except Refusal as refusal:
        form.refuse(refusal)
        return form_page(request, "counter/which.html", _context(actor, visit, form), refusal)
    messages.success(request, said)
    return redirect("counter:visit" if form.cleaned_data["act"] == "note" else "counter:which", number)


def _done(visit: Visit, actor: Actor, form: LookForm) -> str:
    said, vehicle = form.cleaned_data, visit.vehicle
    match said["act"]:
        case "look":
            answer = said["tag"] if said["answer"] == "tag" else said["answer"]
            if said["answer"] == "tag" and not answer:
                raise Refusal(_("Type what the tag reads, or press “cannot see”."), code="look.answer", field="tag")
            row = looks.note(vehicle, actor=actor, question=said["question"], answer=answer, visit=visit.number)
            return _("Noted: %(look)s") % {"look": row}
        case "take back":
            row = looks.take_back(vehicle, actor=actor, pk=said["sighting"] or 0)
            return _("Taken back: %(look)s It stays on the record.") % {"look": row}
        case "note":
            identified = looks.conclude(vehicle, actor=actor, unit=said["unit"], grade=said["grade"])
            return _("Noted: %(unit)s, %(grade)s.") % {"unit": identified.unit, "grade": _(identified.grade)}
    raise Refusal(_("There is no such act."), code="act.unknown")


def _context(actor: Actor, visit: Visit, form: LookForm) -> dict[str, object]:
    found = which_unit(actor, visit.vehicle)
    context: dict[str, object] = {"visit": visit, "form": form, "which": found}
    if found.ranking is None or found.rule is None:
        return context
    asks = [_look(one) for one in found.next]
    return context | {
        "verdict": _verdict(found),
        "on_file": _on_file(found),
        "lines": [_line(found, at) for at in range(len(found.candidates))],
        "best": asks[0] if asks else None,
        "others": asks[1:],
        "loss": _dollars(found.ranking.loss),
        "taken": _name(found, found.ranking.taken),
        "evidence": [(one, _effects(one, found)) for one in found.evidence],
        "typed_for": form["question"].value() or "",
        "sums": workings.shown({"loss": found.ranking.working}),
    }


def _verdict(found: Which) -> tuple[str, str]:
    """(grade in words, sentence): where it stands."""
    assert found.ranking is not None
    assert found.rule is not None
    said = {
        "unit": found.lead.unit.name,
        "share": formats.percent(_ppm(found.lead.weight)),
        "needed": formats.percent(found.rule.confidence_ppm),
    }
    match found.ranking.verdict:
        case identify.NONE_FITS:
            return "stop", _("No transmission on the list fits all of it: something speaks against each.") % said
        case identify.AGAINST_LEAD:
            return "stop", _("%(unit)s weighs most, and something speaks against it. Look again at that.") % said
        case identify.DECIDED if found.grade != "assumed":
            return "as it should be", _("%(unit)s, %(share)s: decided, and nothing speaks against it.") % said
        case identify.DECIDED if not found.next:
            return "watch", _(
                "%(unit)s, %(share)s by lists and file alone: no other is listed that a look would part from it. "
                "Its tag makes it more than assumed; note below how it is known."
            ) % said
        case identify.DECIDED:
            return "watch", _("%(unit)s, %(share)s by lists and file alone. One look at the vehicle decides.") % said
    return "watch", _("Not decided: %(unit)s has %(share)s, and %(needed)s are asked for.") % said


def _line(found: Which, at: int) -> Line:
    one = found.candidates[at]
    ppm = _ppm(one.weight)
    code = one.unit.code
    is_sure = at == 0 and found.grade in ("by evidence", "read from tag")
    return Line(
        code=code,
        name=one.unit.name,
        tag=one.unit.tag_pattern,
        share=formats.percent(ppm, 0 if 10_000 <= ppm <= 990_000 or ppm in (0, MILLION) else 2),
        bar=share_bar(ppm) if is_sure else share_bar(0, ppm),
        known=_known(one.known),
        fits=tuple(row.words for row in found.evidence if row.says[code] == identify.FITS),
        against=tuple(row.words for row in found.evidence if row.says[code] == identify.AGAINST),
    )


def _on_file(found: Which) -> str:
    """What the file says now, and that it says otherwise than what was seen."""
    now = found.on_file
    if now is None:
        return _("Nothing is noted yet.")
    said = {"unit": now.unit.name, "grade": _(now.state if now.state == "disputed" else now.grade)}
    if now.unit_id == found.lead.unit.pk:
        return _("Noted now: %(unit)s, %(grade)s.") % said
    return _("Noted now: %(unit)s, %(grade)s. That is not what is found here.") % said


def _known(count: int) -> str:
    if not count:
        return _("not identified here yet in this model")
    said = ngettext("identified here in one of this model", "identified here in %(n)s of this model", count)
    return said % {"n": count}


def _look(one: Next) -> Look:
    asked = one.asked
    return Look(
        code=asked.question.code,
        words=asked.question.words,
        how=asked.look.how,
        minutes=asked.look.minutes,
        answers=asked.answers,
        is_tag=asked.look.reads == "tag",
        loss=_dollars(one.after.loss),
    )


def _effects(one: Said, found: Which) -> str:
    """What a piece of evidence says of each candidate, in words."""
    parts = []
    for kind in (identify.FITS, identify.AGAINST, identify.MAY_BE):
        names = [_name(found, code) for code, says in one.says.items() if says == kind]
        if names:
            parts.append(f"{SAYS[kind]} {', '.join(names)}")
    return "; ".join(parts)


def _name(found: Which, code: str) -> str:
    return next(one.unit.name for one in found.candidates if one.unit.code == code)


def _ppm(share: Fraction) -> int:
    return round(share * MILLION)


def _dollars(cents: Fraction) -> str:
    return formats.money(round(cents))
