"""What makes a planned reminder untrue stops it in the same deed, its waiting letter with it. No deed of its own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.db.models import QuerySet

from shopserv.outbox.post import cancel_about
from shopserv.reminders.models import Forecast, Reminder


def about(reminder: Reminder) -> str:
    """By what a letter knows its reminder."""
    return f"reminder {reminder.pk}"


def stop_planned(rows: QuerySet[Reminder], *, why: str) -> list[Reminder]:
    """Stop those of `rows` that are still planned, and cancel their letters; which they were."""
    stopped = []
    for reminder in rows.filter(state="planned").select_related("vehicle"):
        if Reminder.objects.filter(pk=reminder.pk, state="planned").update(state="stopped", why=why[:200]):
            cancel_about(about(reminder), why=why)
            stopped.append(reminder)
    return stopped


def follow(newer: Mapping[int, Forecast], due_before: Mapping[int, date | None]) -> None:
    """Take planned reminders along to a newer forecast of the same day; where the day is another, stop them.

    newer        row of the older forecast -> the one that counts now
    due_before   row of the older forecast -> the day that it said
    """
    for reminder in Reminder.objects.filter(forecast__in=list(newer), state="planned"):
        forecast = newer[reminder.forecast_id]
        if forecast.told_on is not None and forecast.told_on == due_before[reminder.forecast_id]:
            Reminder.objects.filter(pk=reminder.pk, state="planned").update(forecast=forecast)
        else:
            stop_planned(Reminder.objects.filter(pk=reminder.pk), why="a newer forecast says another day")
