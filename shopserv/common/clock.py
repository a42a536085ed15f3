"""The only clock. The demonstration sets it back to its own day and lets it tick on from there."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

from django.conf import settings
from django.utils import timezone


@cache
def _offset() -> timedelta:
    """How far the shop's clock stands from real time; nothing outside the demonstration."""
    path = getattr(settings, "CLOCK_OFFSET_FILE", None)
    if not path or not Path(path).exists():
        return timedelta(0)
    return timedelta(seconds=float(Path(path).read_text()))


def set_back_to(moment: datetime) -> None:
    """Fix the offset so that the clock reads `moment` now, for this process and all that start later.

    Only the loader of the demonstration calls this; sessions and tokens keep real time.
    """
    offset = moment - timezone.now()
    assert settings.CLOCK_OFFSET_FILE, "only the demonstration's clock can be set back"
    path = Path(settings.CLOCK_OFFSET_FILE)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(str(offset.total_seconds()))
    _offset.cache_clear()


def now() -> datetime:
    """The present moment in UTC."""
    return (timezone.now() + _offset()).astimezone(UTC)


def real_now() -> datetime:
    """Real time, for what must not follow the demonstration's clock: sessions, links, once-keys."""
    return timezone.now()


def today(zone: str) -> date:
    """The day on the wall of a shop in `zone` (IANA name)."""
    return now().astimezone(ZoneInfo(zone)).date()
