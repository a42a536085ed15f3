"""Links that open one thing to a person without a sign-in. Only the hash of a token is kept."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from django.db import transaction
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import Refusal
from shopserv.shop import trail
from shopserv.shop.actors import Actor
from shopserv.shop.models import CustomerLink

BYTES = 32  # 256 bits


class LinkGone(Refusal):
    """A link that has expired or was withdrawn; the page says so with the shop's telephone number (410)."""

    status = 410

    def __init__(self, link: CustomerLink) -> None:
        super().__init__("This link is no longer open. Please call the shop.", code="link.gone")
        self.link = link


def token_hash(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode()).hexdigest()


@transaction.atomic
def make_link(
    *, actor: Actor, opens: str, subject: str, holder: str, expires_at: datetime, customer_key: int | None = None
) -> tuple[CustomerLink, str]:
    """Make a link for `holder`; its token is given back once and cannot be read again.

    opens        one of CustomerLink.OPENS
    subject      what it opens by its printed number: "BRW-Q-118/3", "V-01"
    expires_at   real time, as sessions and tokens keep it
    """
    actor.must("make link")
    token = secrets.token_urlsafe(BYTES)
    link = CustomerLink.objects.create(
        shop=actor.house,
        holder=holder,
        customer_key=customer_key,
        opens=opens,
        subject=subject,
        token_hash=token_hash(token),
        made_at=clock.real_now(),
        expires_at=expires_at,
    )
    trail.write(actor, "link made", link, opens=opens, about=subject, holder=holder, until=expires_at)
    return link, token


def link_by_token(token: str) -> CustomerLink:
    """The link that `token` opens.

    raises  Http404 for a token that was never made, LinkGone for one that has expired or was withdrawn
    """
    link = CustomerLink.objects.select_related("shop__business").filter(token_hash=token_hash(token)).first()
    if link is None:
        raise Http404("no such link")
    if link.withdrawn_at is not None or link.expires_at <= clock.real_now():
        raise LinkGone(link)
    return link


@transaction.atomic
def withdraw(link: CustomerLink, *, actor: Actor) -> None:
    """Shut a link for good; a second time changes nothing."""
    actor.must("make link")
    if link.shop_id != actor.house.pk:
        raise Http404("no such link")
    CustomerLink.objects.filter(pk=link.pk, withdrawn_at=None).update(withdrawn_at=clock.real_now())
    link.refresh_from_db()
    trail.write(actor, "link withdrawn", link, about=link.subject)
