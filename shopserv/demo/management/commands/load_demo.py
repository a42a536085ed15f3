"""Load the demonstration and set its clock."""

from __future__ import annotations

import time
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from shopserv.common import clock
from shopserv.demo.load import load_all, waiting
from shopserv.demo.rows import ZONE
from shopserv.shop.models import Shop

OPENING = datetime(2026, 11, 24, 7, 30, tzinfo=ZoneInfo(ZONE))


class Command(BaseCommand):
    help = "Load the demonstration from fixtures/demo.json; loading again doubles nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        """Load, and say what came, what was refused and what waits."""
        if settings.IN_PRODUCTION:
            raise CommandError("The demonstration is loaded only where SHOPSERV_ENV=demo.")
        if not Shop.objects.exists():
            clock.set_back_to(OPENING)
        begun = time.monotonic()
        tally = load_all()
        for sentence in tally.refused:
            self.stdout.write(f"refused: {sentence}")
        for name, count in tally.made.items():
            self.stdout.write(f"{count:>6} {name}")
        self.stdout.write(f"{tally.total} new rows in {time.monotonic() - begun:.1f} s.")
        later = ", ".join(f"{name} ({count})" for name, count in waiting().items())
        self.stdout.write(f"Waiting for tables of later issues: {later}.")
