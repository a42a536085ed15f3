"""What may be done about each finding that stands, and by whom: read by the page that decides it."""

from __future__ import annotations

from dataclasses import dataclass

from shopserv.jobs.findings import STOP, Standing
from shopserv.jobs.models import Visit
from shopserv.jobs.selectors.visits import standing, was_diagnosed
from shopserv.shop.actors import Actor

OPEN = ("expected", "here", "waiting on word", "in work", "ready", "held for payment")
NEVER_LIFTED = ("K-01", "K-05", "K-10")  # by words: the laboratory, the tag that was read, the unit sheet say it


@dataclass(frozen=True, slots=True)
class Decision:
    """A finding that stands, and what is open to the actor.

    may_decide   the work may go on in spite of it by a word of the actor
    may_lift     the actor may say that it was looked at and is not so
    by_whom      role that may decide it; "" nobody may, ever
    demands      what a decision has to show beside its words; "" nothing
    waits        a diagnosis has to be done before anybody decides or lifts it
    """

    found: Standing
    may_decide: bool
    may_lift: bool
    by_whom: str
    demands: str
    waits: bool = False


def decisions_on(actor: Actor, visit: Visit) -> tuple[Decision, ...]:
    """The findings that stand on a visit of the actor's shop, with what the actor may do about each."""
    actor.must("open file")
    if visit.shop_id != actor.house.pk:
        return ()
    is_open = visit.state in OPEN
    return tuple(_decision(actor, visit, one, is_open) for one in standing(visit) if one.stands)


def _decision(actor: Actor, visit: Visit, found: Standing, is_open: bool) -> Decision:
    kind = found.kind
    roles = set(kind.override.split())
    if found.code == "K-07" and found.grade == STOP:
        roles.discard("technician")
    asks = kind.demands if kind.demands != "words" and "owner" in actor.roles else ""
    sees = actor.may("bay work") or actor.may("override finding")
    waits = found.asks_for_diagnosis and not was_diagnosed(visit, found.at)
    is_open = is_open and not waits
    return Decision(
        found=found,
        waits=waits,
        may_decide=is_open and bool(actor.roles & roles),
        may_lift=is_open and sees and (found.code not in NEVER_LIFTED or _is_repaired(actor, visit, found)),
        by_whom="owner" if "owner" in roles else "",
        demands=asks,
    )


def _is_repaired(actor: Actor, visit: Visit, found: Standing) -> bool:
    """Coolant of an earlier visit, after a diagnosis: the one way in which words lift it."""
    is_earlier = found.code == "K-01" and found.visit != ""
    return is_earlier and actor.may("override finding") and was_diagnosed(visit, found.at)
