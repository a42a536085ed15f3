"""Links for people without a sign-in: 256 bits, only the hash is kept, expiring and withdrawable (B125)."""

from __future__ import annotations

import base64
from datetime import timedelta

import pytest
from django.http import Http404

from shopserv.common import clock
from shopserv.common.errors import NotYours
from shopserv.shop.links import LinkGone, link_by_token, make_link, withdraw
from shopserv.shop.models import CustomerLink, TrailEntry


def made(cast, days=14, actor=None):
    return make_link(
        actor=actor or cast.tobin,
        opens="quote version",
        subject="BRW-Q-1/1",
        holder="Ansel Thornby",
        expires_at=clock.real_now() + timedelta(days=days),
    )


def test_a_token_opens_its_link_and_stands_nowhere_in_the_records(cast):
    link, token = made(cast)

    assert link_by_token(token) == link
    assert len(base64.urlsafe_b64decode(token + "=")) == 32
    assert not CustomerLink.objects.filter(token_hash__contains=token).exists()
    assert all(token not in str(row) for row in TrailEntry.objects.values_list("after", flat=True))


def test_one_changed_letter_opens_nothing(cast):
    _, token = made(cast)
    wrong = token[:-2] + ("A" if token[-2] != "A" else "B") + token[-1]

    with pytest.raises(Http404):
        link_by_token(wrong)


def test_an_expired_and_a_withdrawn_link_say_that_they_are_gone(cast):
    _, expired = made(cast, days=-1)
    link, withdrawn = made(cast)
    withdraw(link, actor=cast.tobin)

    for token in (expired, withdrawn):
        with pytest.raises(LinkGone) as gone:
            link_by_token(token)
        assert gone.value.status == 410
        assert gone.value.link.shop.phone


def test_another_shops_link_is_not_there_to_be_withdrawn(cast):
    link, _ = made(cast)

    with pytest.raises(Http404):
        withdraw(link, actor=cast.lise)


@pytest.mark.parametrize("who", ["odo", "sam", "ansel", "rufus"])
def test_only_writer_owner_and_the_clock_make_links(cast, who):
    with pytest.raises(NotYours):
        made(cast, actor=getattr(cast, who))
