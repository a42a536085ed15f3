"""Letters posted inside a deed, canceled inside another, and sent when their time has come: each of them once."""

from __future__ import annotations

import logging
import smtplib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from email.utils import formataddr

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction

from shopserv.common import clock
from shopserv.common.errors import StateRefusal
from shopserv.common.fields import sha256
from shopserv.common.moves import move
from shopserv.outbox.models import Letter
from shopserv.outbox.states import LETTER_MOVES
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import Shop

HANDING_OVER = "being handed to the mail server"
NOT_KNOWN = "nobody knows whether it left: the sending was broken off"
NOT_PERMITTED = "permission is not given any more"
BROKEN_OFF_AFTER = timedelta(minutes=10)
TRIES = 5
BATCH = 200
log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Sent:
    """What one round of sending came to, in letters."""

    sent: int = 0
    canceled: int = 0
    again: int = 0
    came_back: int = 0


def post_letter(
    *,
    shop: Shop,
    once_key: str,
    purpose: str,
    contact_point_key: int,
    address: str,
    subject: str,
    text: str,
    about: str,
    language: str = "en",
    not_before: datetime | None = None,
) -> Letter:
    """Post a letter inside the transaction of a deed; posted twice under one key it is one letter, the first.

    purpose             one of MessageConsent.PURPOSES; permission for it is asked again when the letter is sent
    contact_point_key   row of registry that `address` stands on
    about               number of what it carries, by which it is canceled: "reminder 12", "BRW-Q-118/3"
    """
    letter, _ = Letter.objects.get_or_create(
        once_key=once_key,
        defaults={
            "shop": shop,
            "purpose": purpose,
            "contact_point_key": contact_point_key,
            "address_kind": "e-mail",
            "address": address,
            "subject": one_line(subject),
            "text": text,
            "about": about,
            "language": language,
            "not_before": not_before or clock.now(),
        },
    )
    return letter


def one_line(text: str) -> str:
    """A subject without line ends: they would begin another header."""
    return " ".join(text.split())[:200]


def cancel_about(about: str, *, why: str) -> int:
    """Cancel every letter that waits and carries `about`, inside the deed that made it untrue; how many."""
    return Letter.objects.filter(about=about, state="waiting").update(state="canceled", why=why[:200])


def send_waiting(
    *,
    actor: Actor,
    permitted: Callable[[Letter], bool],
    on_sent: Callable[[Letter], None] = lambda letter: None,
    most: int = BATCH,
) -> Sent:
    """Send the letters whose time has come, each in a transaction of its own; two rounds at once share them.

    A letter is marked sent before it is handed over: where the sending breaks off, a customer is rather not written
    to than twice, and the letter comes back with these words instead of passing as sent.

    permitted   whether permission stands at this moment
    on_sent     what else belongs into the transaction that marks a letter sent
    """
    actor.must("tick")
    now = clock.now()
    came_back = _sweep(actor, now)
    counted = {"sent": 0, "canceled": 0, "again": 0, "came back": came_back}
    due = Letter.objects.filter(state="waiting", not_before__lte=now).order_by("not_before", "pk")
    for letter in due.select_related("shop")[:most]:
        here = replace(actor, shop=letter.shop)
        try:
            claimed = _claim(letter, here, permitted, on_sent)
        except StateRefusal:  # another round was faster, or it was canceled just now
            continue
        counted[_hand_over(letter, here) if claimed else "canceled"] += 1
    return Sent(counted["sent"], counted["canceled"], counted["again"], counted["came back"])


@transaction.atomic
def _claim(
    letter: Letter, actor: Actor, permitted: Callable[[Letter], bool], on_sent: Callable[[Letter], None]
) -> bool:
    """Mark a letter sent, or cancel it where permission is gone; whether it may be handed over."""
    if not permitted(letter):
        move(letter, "cancel", LETTER_MOVES, actor, why=NOT_PERMITTED)
        trail.write(actor, "letter canceled", letter, why=NOT_PERMITTED)
        return False
    move(letter, "send", LETTER_MOVES, actor, sent_at=clock.now(), tries=letter.tries + 1, why=HANDING_OVER)
    on_sent(letter)
    trail.write(actor, "letter sent", letter, purpose=letter.purpose, tries=letter.tries)
    return True


def _hand_over(letter: Letter, actor: Actor) -> str:
    """Give a claimed letter to the mail server, outside any transaction; what became of it."""
    try:
        message(letter).send()
    except smtplib.SMTPRecipientsRefused:
        return _returned(letter, actor, "the address is refused by the mail server")
    except (OSError, smtplib.SMTPException) as error:
        log.warning("a letter was not taken: %s", type(error).__name__)
        if letter.tries >= TRIES:
            return _returned(letter, actor, f"not taken by the mail server, tried {TRIES} times")
        later = clock.now() + timedelta(minutes=5 * 2**letter.tries)
        why = "the mail server did not take it; it is tried again"
        move(letter, "wait again", LETTER_MOVES, actor, not_before=later, sent_at=None, why=why)
        return "again"
    Letter.objects.filter(pk=letter.pk, why=HANDING_OVER).update(why="")
    return "sent"


@transaction.atomic
def _returned(letter: Letter, actor: Actor, why: str) -> str:
    move(letter, "come back", LETTER_MOVES, actor, why=why)
    trail.write(actor, "letter came back", letter, why=why)
    return "came back"


def _sweep(actor: Actor, now: datetime) -> int:
    """Bring back what was claimed by a process that ended before it could say what became of it."""
    lost = Letter.objects.filter(state="sent", why=HANDING_OVER, sent_at__lte=now - BROKEN_OFF_AFTER)
    count = 0
    for letter in lost.select_related("shop"):
        _returned(letter, replace(actor, shop=letter.shop), NOT_KNOWN)
        count += 1
    return count


def message(letter: Letter) -> EmailMessage:
    """The letter as mail: from the shop's name, to one address, with an identity that a second copy would share."""
    sender = formataddr((one_line(letter.shop.name), settings.DEFAULT_FROM_EMAIL))
    return EmailMessage(
        subject=one_line(letter.subject),
        body=letter.text,
        from_email=sender,
        to=[letter.address],
        reply_to=[letter.shop.email] if letter.shop.email else None,
        headers={"Message-ID": f"<{sha256(letter.once_key)[:32]}@shopserv>", "Content-Language": letter.language},
    )
