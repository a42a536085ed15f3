"""Findings noted, and overridden where the list allows it. Nothing found is ever taken off."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours, Refusal
from shopserv.jobs.findings import STOP, Standing, kind_of
from shopserv.jobs.models import Finding, Visit
from shopserv.jobs.selectors import visits as selectors
from shopserv.reminders.services import forecasts
from shopserv.shop import trail
from shopserv.shop.actors import Actor

LABORATORY = "laboratory"
SIGNS_OF_COOLANT = ("pink milk", "glycol strip positive", "cooler pressure loss")


@transaction.atomic
def note_finding(
    visit: Visit,
    *,
    actor: Actor,
    code: str,
    state: str = "suspected",
    signs: Sequence[str] = (),
    words: str = "",
    work_order_number: str = "",
) -> Finding:
    """Note what was found, as a further entry; coolant counts as confirmed from two signs or the laboratory on.

    state    suspected, confirmed or "not confirmed"
    signs    what was seen; for coolant those of SIGNS_OF_COOLANT or "laboratory"
    raises   Refusal finding.unknown, finding.state, finding.words, finding.only_laboratory
    """
    if not (actor.may("take in") or actor.may("bay work")):
        raise NotYours(f"finding: not for {actor.role_words or actor.name}")
    _own(actor, visit)
    kind = kind_of(code)
    if state not in ("suspected", "confirmed", "not confirmed"):
        raise Refusal(f"A finding is not “{state}”.", code="finding.state", field="state")
    before = next((one for one in selectors.standing(visit) if one.code == code), None)
    if state == "not confirmed":
        _refuse_lifting(visit, actor, code, before, signs, words)
    elif code == "K-01":
        state = _state_of_coolant(before, signs)
    row = _enter(visit, actor, code, state, signs, words, work_order_number)
    trail.write(
        actor,
        "finding noted",
        visit,
        before={"state": before.state if before else ""},
        code=code,
        kind=kind.words,
        state=state,
        signs=list(signs),
        words=words,
    )
    _renew(visit, actor)
    return row


def override_finding(visit: Visit, *, actor: Actor, code: str, words: str, shown: str = "") -> Finding:
    """Let work go on in spite of a finding, where the list says who may; the entry is kept beside the finding.

    words    why, of whoever decides
    shown    what the list demands: number of the closed diagnosis, the repair line, the customer's signature
    raises   Refusal finding.never (the try is on the trail), finding.words, finding.demands, finding.none; NotYours
    """
    kind = kind_of(code)
    _own(actor, visit)
    if not kind.override:
        trail.refused(actor, "override refused", visit, code=code, words=words)
        raise Refusal(f"{kind.words}: nobody may override this. {kind.effect}.", code="finding.never", field="code")
    return _override(visit, actor, code, words, shown)


@transaction.atomic
def _override(visit: Visit, actor: Actor, code: str, words: str, shown: str) -> Finding:
    kind = kind_of(code)
    found = next((one for one in selectors.standing(visit) if one.code == code and one.stands), None)
    if found is None:
        raise Refusal(f"“{kind.words}” does not stand on {visit}.", code="finding.none", field="code", status=409)
    if not actor.roles & set(kind.override.split()) or _is_for_owner_alone(actor, found):
        raise NotYours(f"override {code}: not for {actor.role_words or actor.name}")
    if not words.strip():
        raise Refusal("Say why the work may go on.", code="finding.words", field="words")
    if kind.demands not in ("words", "") and "owner" in actor.roles and not shown.strip():
        raise Refusal(f"{kind.words}: asks for {kind.demands}.", code="finding.demands", field="shown")
    _refuse_undiagnosed(visit, found)
    said = f"{words} ({shown})" if shown else words
    row = _enter(visit, actor, code, "overridden", (), said, "")
    trail.write(actor, "finding overridden", visit, before={"state": found.state}, code=code, words=words, shown=shown)
    _renew(visit, actor)
    return row


def _is_for_owner_alone(actor: Actor, found: Standing) -> bool:
    """A technician may go on over a weep alone."""
    return "owner" not in actor.roles and (found.code != "K-07" or found.grade == STOP)


def _own(actor: Actor, visit: Visit) -> None:
    if visit.shop_id != actor.house.pk:
        raise Http404("no such visit")


def _refuse_lifting(
    visit: Visit, actor: Actor, code: str, before: Standing | None, signs: Sequence[str], words: str
) -> None:
    if before is None:
        raise Refusal("There is nothing to lift: it was never noted.", code="finding.none", field="code")
    if code == "K-01" and before.visit and selectors.was_diagnosed(visit, before.at):
        # Found on an earlier visit, looked into since: after the repair new work may be written.
        actor.must("override finding")
    elif code == "K-01":
        if before.state == "confirmed" or LABORATORY not in signs:
            raise Refusal(
                "Coolant once confirmed stays confirmed; a suspicion is lifted by the laboratory alone.",
                code="finding.only_laboratory",
                field="state",
            )
    elif not (actor.may("bay work") or actor.may("override finding")):
        raise NotYours(f"lifting {code}: seen by a technician or the shop owner")
    else:
        _refuse_undiagnosed(visit, before)
    if not words.strip():
        raise Refusal("Say what was looked at and what was seen.", code="finding.words", field="words")


def _refuse_undiagnosed(visit: Visit, found: Standing) -> None:
    if found.asks_for_diagnosis and not selectors.was_diagnosed(visit, found.at):
        raise Refusal(
            f"{found.kind.words}: the diagnosis comes first. Write its quote, have it agreed and done; then decide.",
            code="finding.not_diagnosed",
            field="code",
            status=409,
        )


def _state_of_coolant(before: Standing | None, signs: Sequence[str]) -> str:
    if before and before.state == "confirmed":
        return "confirmed"
    seen = {*signs, *(before.signs if before and before.stands else ())}
    return "confirmed" if LABORATORY in seen or len(seen) >= 2 else "suspected"


def _enter(
    visit: Visit, actor: Actor, code: str, state: str, signs: Sequence[str], words: str, work_order_number: str
) -> Finding:
    earlier = [sign for one in selectors.standing(visit) if one.code == code and one.stands for sign in one.signs]
    kept = list(dict.fromkeys([*earlier, *signs])) if state in ("suspected", "confirmed") else list(signs)
    return Finding.objects.create(
        shop=visit.shop,
        visit=visit,
        work_order_number=work_order_number,
        code=code,
        state=state,
        signs=kept,
        words=words.strip(),
        by=actor.name,
        at=clock.now(),
    )


def _renew(visit: Visit, actor: Actor) -> None:
    """The forecast says stop as long as a finding does."""
    stop = next((one for one in selectors.standing(visit) if one.stands and one.grade == STOP), None)
    forecasts.renew(visit.vehicle, actor=actor, stop=stop.kind.words if stop else "")
