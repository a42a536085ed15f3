"""Browsers of the people who open the pages of the office."""

from __future__ import annotations

import pytest
from django.test import Client


def browser(actor) -> Client:
    """A browser in which `actor` is signed in, at their shop."""
    client = Client()
    client.force_login(actor.staff)
    session = client.session
    session["shop"] = actor.house.code
    session.save()
    return client


@pytest.fixture
def maren(cast):
    return browser(cast.maren)


@pytest.fixture
def tobin(cast):
    return browser(cast.tobin)


@pytest.fixture
def lise(cast):
    return browser(cast.lise)
