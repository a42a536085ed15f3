"""What the tests of the records share: people signed in, files in a folder of their own."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client


@pytest.fixture(autouse=True)
def own_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path


@pytest.fixture
def signed_in(cast) -> Callable[[str], Client]:
    """A client signed in as one of the cast, at the shop of the actor."""

    def client_of(who: str) -> Client:
        actor = getattr(cast, who)
        client = Client()
        client.force_login(actor.staff)
        session = client.session
        session["shop"] = actor.shop.code
        session.save()
        return client

    return client_of


@pytest.fixture
def tobin(signed_in) -> Client:
    return signed_in("tobin")


def key_of(answer) -> str:
    """The once-key of the form on a page."""
    return re.search(r'name="once" value="([^"]+)"', answer.content.decode()).group(1)
