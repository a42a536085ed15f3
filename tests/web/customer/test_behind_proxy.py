"""Behind the proxy of the house each visitor is counted alone: who guesses tokens shuts out nobody else."""

from __future__ import annotations

import pytest
from django.core.cache import cache
from django.test import Client

from shopserv.web.customer.door import MISSES_A_MINUTE


@pytest.fixture(autouse=True)
def no_misses_yet():
    cache.clear()
    yield
    cache.clear()


def status(address: str) -> int:
    return Client(headers={"x-forwarded-for": address}).get(f"/c/{'A' * 32}/").status_code


def test_who_guesses_shuts_out_nobody_else(cast, settings):
    settings.BEHIND_PROXY = True

    guessed = [status("203.0.113.7") for _ in range(MISSES_A_MINUTE + 1)]

    assert guessed[-1] == 429
    assert status("203.0.113.8") == 404
