"""The instruments of a shop: which there are, and when each was last checked."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from shopserv.common import clock
from shopserv.common.errors import Refusal, StateRefusal
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Instrument


def instruments_of(actor: Actor) -> QuerySet[Instrument]:
    """The instruments of the actor's shop, by kind and serial."""
    actor.must("instruments")
    return Instrument.objects.filter(shop=actor.house).order_by("kind", "serial")


def instrument_for(actor: Actor, serial: str) -> Instrument:
    """One of them by its serial; Http404 for any other."""
    return get_object_or_404(instruments_of(actor), serial=serial)


@transaction.atomic
def note_check(
    instrument: Instrument, *, actor: Actor, checked_on: date, next_check_on: date, was_on: date | None
) -> Instrument:
    """Note that an instrument was checked; a scale's drift watch begins anew with that day.

    was_on   the last check as the page showed it
    raises   Refusal instrument.ahead, instrument.before, instrument.next; StateRefusal where another noted a check
             meanwhile
    """
    actor.must("instruments")
    get_object_or_404(instruments_of(actor), pk=instrument.pk)
    if checked_on > clock.today(actor.house.time_zone):
        raise Refusal(
            "That day lies ahead. Note a check once it was made.", code="instrument.ahead", field="checked_on"
        )
    if was_on is not None and checked_on < was_on:
        raise Refusal(
            f"{instrument} was checked on {was_on:%b %-d, %Y}; {checked_on:%b %-d, %Y} is before that.",
            code="instrument.before",
            field="checked_on",
        )
    if next_check_on <= checked_on:
        raise Refusal("The next check comes after this one.", code="instrument.next", field="next_check_on")
    rows = Instrument.objects.filter(pk=instrument.pk, checked_on=was_on)
    if not rows.update(checked_on=checked_on, next_check_on=next_check_on):
        raise StateRefusal(f"Somebody noted a check of {instrument} in between. Look again.", code="instrument.checked")
    trail.write(actor, "instrument checked", instrument, checked_on=checked_on.isoformat())
    instrument.refresh_from_db()
    return instrument
