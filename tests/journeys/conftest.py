"""A browser for the journeys: Debian's chromium, driven by its executable path, with a fresh profile for each test.

`page` is a page on the server of the test, `page.goto("/counter/")`; whatever the page complained about (errors of a
script, refusals by the content security policy, answers of 500) fails the test at its end.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

FLAGS = [
    "--no-sandbox",  # chromium has none for root, and what it opens here is our own
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
NAMES = ("chromium", "chromium-browser", "google-chrome")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every test that asks for a page drives a browser."""
    for item in items:
        if "page" in getattr(item, "fixturenames", ()):
            item.add_marker("browser")


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One chromium for all journeys."""
    # playwright keeps an event loop in this thread, and the tests ask the database beside it
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    path = os.environ.get("CHROMIUM") or next(found for name in NAMES if (found := shutil.which(name)))
    with sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=path, args=FLAGS, headless=True)
        yield chromium
        chromium.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


def wait_for_server() -> None:
    """Let the server's threads be done with the database before it is emptied."""
    for thread in threading.enumerate():
        if "process_request_thread" in thread.name:
            thread.join(5)


@pytest.fixture
def complaints() -> list[str]:
    """What the pages of this test complained about; a test that expects a complaint empties it."""
    return []


@pytest.fixture
def page(browser: Browser, live_server: Any, complaints: list[str]) -> Iterator[Page]:
    """An empty page, 1280 by 800, US English, on the server of this test."""
    context = browser.new_context(base_url=live_server.url, viewport={"width": 1280, "height": 800}, locale="en-US")
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    opened.on("pageerror", lambda error: complaints.append(f"script: {error}"))
    opened.on("console", lambda said: said.type == "error" and complaints.append(f"console: {said.text}"))
    opened.on("response", lambda answer: answer.status >= 500 and complaints.append(f"{answer.status} {answer.url}"))
    yield opened
    context.close()
    wait_for_server()
    assert complaints == []
