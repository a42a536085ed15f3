"""`manage.py tick` does what time alone brings, as often as it is run, and one failing step stops no other."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
from django.core import mail
from django.core.management import CommandError, call_command

from shopserv.common import clock
from shopserv.jobs.models import QuoteVersion
from shopserv.shop.models import TrailEntry
from shopserv.web.management.commands import tick
from tests.jobs import stage
from tests.reminders.test_letters import make_due_now, planned


def ticked() -> list[str]:
    said = StringIO()
    call_command("tick", stdout=said)
    return said.getvalue().splitlines()


def test_a_letter_leaves_and_the_trail_is_sealed(cast):
    make_due_now(planned(cast))

    said = ticked()

    assert "1 letters sent, 0 canceled, 0 came back" in said
    assert len(mail.outbox) == 1
    assert TrailEntry.objects.filter(own_hash="").count() == 0


def test_a_version_whose_time_is_over_expires(cast):
    version = stage.offered(cast)
    clock.set_back_to(version.good_until + timedelta(seconds=1))

    assert "1 quote versions expired" in ticked()
    assert QuoteVersion.objects.get(pk=version.pk).state == "expired"


def test_forecasts_are_made_anew_once_a_day(cast):
    clock.set_back_to(cast.morning + timedelta(days=1))

    first, second = ticked(), ticked()

    assert [line for line in first if line.endswith("forecasts changed")] != []
    assert "forecasts stand as of today" in second


def test_a_step_that_fails_is_named_and_the_others_are_done(cast, monkeypatch):
    make_due_now(planned(cast))

    def broken(actor):
        raise RuntimeError("out of order")

    monkeypatch.setattr(tick, "STEPS", (broken, *tick.STEPS))

    with pytest.raises(CommandError, match="not done: broken"):
        ticked()
    assert len(mail.outbox) == 1


def test_an_intake_names_the_reminder_that_brought_the_vehicle(cast):
    reminder = planned(cast)
    make_due_now(reminder)
    ticked()

    visit = stage.take_in(cast, "V-08")

    reminder.refresh_from_db()
    assert (visit.answers_reminder, reminder.state) == (reminder.pk, "booked")
