"""What time alone brings, run once a minute: versions expire, forecasts age, letters leave, the trail is sealed."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from shopserv.common import clock
from shopserv.jobs.services import quotes
from shopserv.reminders.services import forecasts, letters
from shopserv.shop import once, trail
from shopserv.shop.actors import Actor, clock_actor
from shopserv.shop.models import Shop

log = logging.getLogger(__name__)


def expire_versions(actor: Actor) -> str:
    """Let versions expire whose good-until is past."""
    return f"{quotes.expire_due(actor=actor)} quote versions expired"


def renew_forecasts(actor: Actor) -> str:
    """Make the forecasts of the day anew, once a day, when the last of the shops has begun it."""
    zones = Shop.objects.filter(is_open=True).values_list("time_zone", flat=True)
    if not zones:
        return "no shop is open"
    today = min(clock.today(zone) for zone in zones)
    with transaction.atomic():
        key = today.isoformat()
        claim = once.claim(shop=None, who=actor.key, route="renew forecasts", key=key, asked=once.request_hash(key))
        if claim.answer is not None:
            return "forecasts stand as of today"
        changed = forecasts.renew_all(actor=actor, today=today)
        once.keep_answer(claim.row, {"changed": changed})
    return f"{changed} forecasts changed"


def send_letters(actor: Actor) -> str:
    """Send the letters whose time has come."""
    sent = letters.send_due(actor=actor)
    return f"{sent.sent} letters sent, {sent.canceled} canceled, {sent.came_back} came back"


def seal_trail(actor: Actor) -> str:
    """Seal what was written on the trail."""
    return f"{trail.seal()} trail entries sealed"


STEPS: tuple[Callable[[Actor], str], ...] = (expire_versions, renew_forecasts, send_letters, seal_trail)


class Command(BaseCommand):
    help = "Do what time alone brings. A step that fails leaves the others to be done."

    def handle(self, *args: Any, **options: Any) -> None:
        """Do each step and say what it came to."""
        actor, failed = clock_actor(), []
        for step in STEPS:
            try:
                self.stdout.write(step(actor))
            except Exception as error:  # whatever it is, the next step has its own work
                log.exception("tick: %s failed with %s", step.__name__, type(error).__name__)
                failed.append(step.__name__)
        if failed:
            raise CommandError(f"not done: {', '.join(failed)}")
