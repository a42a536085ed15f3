"""Letters leave once, with permission asked again, and what became of them stands on the letter."""

from __future__ import annotations

import smtplib
from datetime import timedelta

import pytest
from django.core import mail
from django.core.mail import EmailMessage

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.outbox import post
from shopserv.outbox.models import Letter
from shopserv.shop.models import TrailEntry


def posted(cast, **more) -> Letter:
    said = {
        "shop": cast.brw,
        "once_key": "test/1",
        "purpose": "status",
        "contact_point_key": 1,
        "address": "ansel@example.com",
        "subject": "Your vehicle",
        "text": "It is ready.",
        "about": "BRW-V-311",
    }
    return post.post_letter(**{**said, **more})


def yes(letter: Letter) -> bool:
    return True


def test_posting_twice_under_one_key_is_one_letter(cast):
    first = posted(cast)

    again = posted(cast, text="Other words.")

    assert (again.pk, again.text, Letter.objects.count()) == (first.pk, "It is ready.", 1)


def test_a_letter_is_sent_once_and_says_so(cast):
    posted(cast)

    rounds = [post.send_waiting(actor=cast.clock, permitted=yes) for _ in range(2)]

    letter = Letter.objects.get()
    assert [one.sent for one in rounds] == [1, 0]
    assert (letter.state, letter.tries, letter.why) == ("sent", 1, "")
    assert [(m.to, m.subject, m.body) for m in mail.outbox] == [(["ansel@example.com"], "Your vehicle", "It is ready.")]
    assert TrailEntry.objects.filter(what="letter sent").count() == 1


def test_a_letter_waits_for_its_time(cast):
    posted(cast, not_before=clock.now() + timedelta(hours=1))

    assert post.send_waiting(actor=cast.clock, permitted=yes) == post.Sent()
    assert Letter.objects.get().state == "waiting"


def test_without_permission_at_that_moment_it_is_canceled_and_nothing_leaves(cast):
    posted(cast)

    sent = post.send_waiting(actor=cast.clock, permitted=lambda letter: False)

    assert sent == post.Sent(canceled=1)
    assert (Letter.objects.get().state, mail.outbox) == ("canceled", [])


def test_what_made_it_untrue_cancels_the_waiting_letter_alone(cast):
    posted(cast)
    sent = posted(cast, once_key="test/2")
    Letter.objects.filter(pk=sent.pk).update(state="sent")

    assert post.cancel_about("BRW-V-311", why="the work order was closed") == 1
    assert sorted(Letter.objects.values_list("state", flat=True)) == ["canceled", "sent"]


def test_a_mail_server_that_is_down_is_tried_again_later_and_at_last_given_up(cast, monkeypatch):
    posted(cast)
    monkeypatch.setattr(EmailMessage, "send", lambda self: (_ for _ in ()).throw(ConnectionRefusedError()))

    seen = []
    for _ in range(post.TRIES):
        Letter.objects.update(not_before=clock.now())
        seen.append(post.send_waiting(actor=cast.clock, permitted=yes))

    assert seen == [post.Sent(again=1)] * (post.TRIES - 1) + [post.Sent(came_back=1)]
    assert Letter.objects.get().state == "came back"


def test_an_address_that_is_refused_comes_back_at_once(cast, monkeypatch):
    posted(cast)
    refused = smtplib.SMTPRecipientsRefused({"ansel@example.com": (550, b"unknown")})
    monkeypatch.setattr(EmailMessage, "send", lambda self: (_ for _ in ()).throw(refused))

    assert post.send_waiting(actor=cast.clock, permitted=yes) == post.Sent(came_back=1)


def test_a_sending_that_was_broken_off_is_not_repeated_and_does_not_pass_as_sent(cast):
    letter = posted(cast)
    before = clock.now() - post.BROKEN_OFF_AFTER
    Letter.objects.filter(pk=letter.pk).update(state="sent", why=post.HANDING_OVER, sent_at=before)

    sent = post.send_waiting(actor=cast.clock, permitted=yes)

    letter.refresh_from_db()
    assert sent == post.Sent(came_back=1)
    assert (letter.state, letter.why, mail.outbox) == ("came back", post.NOT_KNOWN, [])


def test_a_subject_cannot_begin_another_header(cast):
    letter = posted(cast, subject="Ready\r\nBcc: all@example.com")

    assert post.message(letter).message()["Bcc"] is None
    assert letter.subject == "Ready Bcc: all@example.com"


def test_only_time_sends(cast):
    with pytest.raises(NotYours):
        post.send_waiting(actor=cast.tobin, permitted=yes)
