"""Eight rounds of sending at once send a letter once; eight plannings at once plan one reminder with one letter.

The control takes the conditional move away and must see the letter leave more than once.
"""

from __future__ import annotations

import time

import pytest
from django.core import mail
from django.db import OperationalError

from shopserv.common import clock
from shopserv.outbox import post
from shopserv.outbox.models import Letter
from shopserv.reminders.models import Reminder
from shopserv.reminders.services import letters
from shopserv.shop.models import TrailEntry
from tests.engines.test_consent_races import AT_ONCE, race


def planned(cast) -> Reminder:
    reminder = letters.plan(["V-12"], actor=cast.tobin).reminders[0]
    Letter.objects.update(not_before=clock.now())
    return reminder


def send(cast):
    """The act: a round of sending by a process of its own."""
    actor = cast.clock

    def act(number: int) -> str:
        try:
            return f"sent {letters.send_due(actor=actor).sent}"
        except OperationalError:  # SQLite: somebody else writes; the next round of the clock comes in a minute
            return "sent 0"

    return act


def test_eight_rounds_at_once_send_one_letter(cast_for_races):
    reminder = planned(cast_for_races)

    outcomes = race(send(cast_for_races))

    assert outcomes == ["sent 0"] * (AT_ONCE - 1) + ["sent 1"]
    assert len(mail.outbox) == 1
    assert Reminder.objects.get(pk=reminder.pk).state == "sent"
    assert TrailEntry.objects.filter(what="letter sent").count() == 1


def test_eight_plannings_at_once_are_one_reminder_with_one_letter(cast_for_races):
    actor = cast_for_races.tobin

    def act(number: int) -> str:
        return f"planned {len(letters.plan(['V-12'], actor=actor).reminders)}"

    outcomes = race(act)

    assert outcomes == ["planned 0"] * (AT_ONCE - 1) + ["planned 1"]
    assert Reminder.objects.filter(state="planned").count() == Letter.objects.count() == 1


def test_withdrawing_and_sending_at_once_leave_no_letter_half_way(cast_for_races):
    reminder = planned(cast_for_races)
    point = reminder.customer.contact_points.get(pk=reminder.contact_point_key)
    sending, writer = send(cast_for_races), cast_for_races.tobin

    def act(number: int) -> str:
        if number:
            return sending(number)
        letters.permit(point, actor=writer, purpose="reminder", given=False, how="by telephone")
        return "withdrawn"

    race(act)

    outcome = (Reminder.objects.get(pk=reminder.pk).state, Letter.objects.get().state, len(mail.outbox))
    assert outcome in [("sent", "sent", 1), ("stopped", "canceled", 0)]


@pytest.mark.control
def test_control_without_the_conditional_move_the_letter_leaves_more_than_once(cast_for_races, monkeypatch):
    planned(cast_for_races)

    def unguarded(letter, act, moves, actor, **columns):
        """A read and a write that know nothing of each other."""
        time.sleep(0.05)
        type(letter).objects.filter(pk=letter.pk).update(state="sent", **columns)

    monkeypatch.setattr(post, "move", unguarded)
    monkeypatch.setattr(letters, "_mark_sent", lambda letter, actor: None)

    race(send(cast_for_races))

    assert len(mail.outbox) > 1
