"""PINs for acts that carry a name on a shared tablet."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Staff, TrailEntry

TRIES, REST = 5, timedelta(minutes=5)
WRONG = "wrong PIN"


@transaction.atomic
def set_pin(staff: Staff, *, actor: Actor, pin: str) -> None:
    """Give a person a PIN of 4 to 8 digits: one's own, or anybody's by the owner.

    raises  Refusal pin.form
    """
    if actor.staff is None or actor.staff.pk != staff.pk:
        actor.must("house rules")
    if not (pin.isascii() and pin.isdigit() and 4 <= len(pin) <= 8) or len(set(pin)) == 1:
        raise Refusal("A PIN has 4 to 8 digits, not all the same.", code="pin.form", field="pin")
    Staff.objects.filter(pk=staff.pk).update(pin_hash=make_password(pin))
    staff.refresh_from_db()
    trail.write(actor, "PIN set", staff)


def check_pin(staff: Staff, pin: str, *, actor: Actor) -> None:
    """Refuse an act in the name of `staff` without the right PIN; five wrong ones rest it for five minutes.

    raises  Refusal pin.wrong, pin.rest, pin.none
    """
    if not staff.is_active or not staff.pin_hash:
        raise Refusal(f"{staff.name} has no PIN. The shop owner can set one.", code="pin.none", field="pin")
    since = clock.now() - REST
    wrong = TrailEntry.objects.filter(subject_kind="staff", subject_key=str(staff.pk), what=WRONG, at__gte=since)
    if wrong.count() >= TRIES:
        raise Refusal("Too many wrong PINs. Try again in five minutes.", code="pin.rest", field="pin")
    if not check_password(pin, staff.pin_hash):
        trail.refused(actor, WRONG, staff)
        raise Refusal(f"That is not {staff.first_name}'s PIN. Try again.", code="pin.wrong", field="pin")
