"""Every answer carries the headers that keep browsers strict (ASVS 5.0.0, 3.4), an unknown address included."""

from __future__ import annotations

import pytest
from django.test import override_settings

pytestmark = pytest.mark.django_db

EXPECTED = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' data:",
    "font-src 'self'",
    "connect-src 'self'",
    "form-action 'self'",
    "frame-ancestors 'none'",
    "base-uri 'none'",
}


@pytest.mark.parametrize("address", ["/no-such-page/", "/"])
def test_an_answer_carries_every_header(client, address):
    answer = client.get(address)

    assert {name: answer.headers.get(name) for name in EXPECTED} == EXPECTED
    assert set(answer.headers["Content-Security-Policy"].split("; ")) == POLICY
    assert "camera=()" in answer.headers["Permissions-Policy"]


def test_the_demonstration_without_tls_promises_none(client):
    assert "Strict-Transport-Security" not in client.get("/").headers


@override_settings(SECURE_HSTS_SECONDS=365 * 24 * 3600, SECURE_SSL_REDIRECT=True)
def test_with_tls_the_answer_asks_for_it_for_a_year(client):
    assert client.get("/", secure=True).headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert client.get("/").headers["Location"] == "https://testserver/"
