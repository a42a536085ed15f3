"""Who may come in: sign-in and pass phrase, and the rest after wrong ones."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db import transaction

from shopserv.common import clock
from shopserv.common.fields import sha256
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import RoleGrant, Staff, TrailEntry

WRONG = "sign-in refused"
TRIES, A_PLACE = 5, 50  # wrong ones of one name from one place, and of all names from one place
WINDOW, LONGEST, APART = timedelta(minutes=15), timedelta(minutes=15), timedelta(minutes=30)

LOOKED_THROUGH = 5_000  # entries of the trail, the newest: more are not written in a quarter of an hour


def person_of(typed: str) -> Staff | None:
    """The person with this sign-in, capitals or not; none where nobody or more than one is meant."""
    found = list(Staff.objects.filter(sign_in__iexact=typed.strip())[:2])
    return found[0] if len(found) == 1 else next((one for one in found if one.sign_in == typed.strip()), None)


def rest_until(typed: str, *, from_where: str) -> datetime | None:
    """Until when no pass phrase for `typed` is looked at from this place; none where one may try.

    Five wrong ones in a row, not half an hour between two, rest the name at this place for a minute, each further one
    for twice as long, up to a quarter of an hour. Fifty of any names rest the place. Elsewhere the name is not held up.
    """
    now = clock.now()
    here = TrailEntry.objects.filter(what=WRONG, from_where=from_where)
    tries = here.filter(subject_kind="staff", subject_key=_key(typed), at__gt=now - timedelta(days=1))
    until = _rest(list(tries.order_by("-pk").values_list("at", flat=True)[: TRIES + 4]))
    newest = TrailEntry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    late = here.filter(pk__gt=newest - LOOKED_THROUGH, at__gt=now - WINDOW)
    crowd = list(late.order_by("-pk").values_list("at", flat=True)[:A_PLACE])
    if len(crowd) == A_PLACE:
        until = max(until or now, crowd[-1] + WINDOW)
    return until if until and until > now else None


def _rest(newest_first: Sequence[datetime]) -> datetime | None:
    in_a_row = 0
    for at in newest_first:
        if in_a_row and newest_first[in_a_row - 1] - at > APART:
            break
        in_a_row += 1
    if in_a_row < TRIES:
        return None
    return newest_first[0] + min(LONGEST, timedelta(minutes=2 ** (in_a_row - TRIES)))


@transaction.atomic
def note_wrong(typed: str, *, from_where: str, request_id: str = "") -> None:
    """Leave the wrong try on the trail; of a name that nobody has, only its hash."""
    person = person_of(typed)
    grant = RoleGrant.objects.filter(staff=person).select_related("shop").order_by("pk").first() if person else None
    somebody = Actor(
        shop=grant.shop if grant else None,
        roles=frozenset(),
        from_where=from_where,
        request_id=request_id,
        words="somebody at the door",
    )
    trail.write(somebody, WRONG, person or Staff(pk=_key(typed), name="a sign-in that nobody has"))


def _key(typed: str) -> str:
    person = person_of(typed)
    return str(person.pk) if person else sha256(typed.strip().casefold())[:40]
