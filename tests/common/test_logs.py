"""A line of the log is one JSON object and tells nobody's name, plate, path or token (ASVS 16.2.5, 16.4.1)."""

from __future__ import annotations

import json
import logging

import pytest
import structlog

from shopserv.common.logs import Unfilled, logging_config

pytestmark = pytest.mark.once


@pytest.fixture
def lines(monkeypatch):
    """Log as the program does, and read back what was written."""
    config = logging_config("INFO")
    formatter = structlog.stdlib.ProcessorFormatter(
        processors=config["formatters"]["json"]["processors"],
        foreign_pre_chain=config["formatters"]["json"]["foreign_pre_chain"],
    )
    written: list[str] = []
    before: dict[logging.Logger, int] = {}

    class Kept(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            written.append(self.format(record))

    handler = Kept()
    handler.setFormatter(formatter)
    handler.addFilter(Unfilled())
    for name in ("django.request", "shopserv.test"):
        logger = logging.getLogger(name)
        monkeypatch.setattr(logger, "handlers", [handler])
        monkeypatch.setattr(logger, "propagate", False)
        before[logger] = logger.level
        logger.setLevel(logging.INFO)  # setLevel forgets what the logger remembered of being switched off
    yield written
    for logger, level in before.items():
        logger.setLevel(level)


def test_a_path_with_a_token_is_not_written(lines):
    logging.getLogger("django.request").warning("%s: %s", "Not Found", "/c/canary-token/", extra={"status_code": 404})

    line = json.loads(lines[0])
    assert "canary" not in lines[0]
    assert (line["level"], line["logger"], line["status_code"]) == ("warning", "django.request", 404)


def test_an_error_leaves_its_class_and_place_and_not_its_words(lines):
    try:
        raise ValueError("canary name")
    except ValueError:
        logging.getLogger("django.request").exception("broken")

    line = json.loads(lines[0])
    assert "canary" not in lines[0]
    assert line["error"] == "ValueError"
    assert line["places"][-1].endswith("test_an_error_leaves_its_class_and_place_and_not_its_words")


def test_an_event_of_our_own_keeps_what_we_wrote_and_stays_one_line(lines):
    structlog.get_logger("shopserv.test").info("paper printed", pages=2, note="two\nlines")

    line = json.loads(lines[0])
    assert "\n" not in lines[0]
    assert (line["event"], line["pages"]) == ("paper printed", 2)
