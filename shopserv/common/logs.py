"""One JSON object a line, and nothing in it by which a person could be known."""

from __future__ import annotations

import logging
import traceback
from typing import Any

import structlog


class Unfilled(logging.Filter):
    """Keep the words of a record and drop what was put into them: paths hold tokens, errors hold what was typed."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every record through, emptied of its values."""
        if not isinstance(record.msg, dict):  # structlog's own events are dicts that we write ourselves
            record.args = ()
            record.msg = str(record.msg).replace("%s", "…").replace("%r", "…").replace("%d", "…")
        return True


def where_it_broke(_: Any, __: str, event: dict[str, Any]) -> dict[str, Any]:
    """Replace an exception by its class and the places it went through; its message may quote a person."""
    found = event.pop("exc_info", None)
    if isinstance(found, tuple) and found[0] is not None:
        event["error"] = found[0].__name__
        frames = traceback.extract_tb(found[2])
        event["places"] = [f"{frame.filename.rsplit('/', 3)[-1]}:{frame.lineno} {frame.name}" for frame in frames[-8:]]
    event.pop("stack_info", None)
    return event


def logging_config(level: str) -> dict[str, Any]:
    """The LOGGING dict of Django: JSON lines to standard error from `level` upwards."""
    before: list[Any] = [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.ExtraAdder(allow=["status_code"]),
        structlog.processors.TimeStamper(fmt="iso", utc=True),
    ]
    structlog.configure(
        processors=[*before, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )
    formatter = {
        "()": structlog.stdlib.ProcessorFormatter,
        "foreign_pre_chain": before,
        "processors": [
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            where_it_broke,
            structlog.processors.JSONRenderer(ensure_ascii=True),
        ],
    }
    handler = {"class": "logging.StreamHandler", "formatter": "json", "filters": ["unfilled"]}
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "filters": {"unfilled": {"()": Unfilled}},
        "formatters": {"json": formatter},
        "handlers": {"lines": handler},
        "root": {"handlers": ["lines"], "level": level},
        # Django's own handlers would print addresses and mail them
        "loggers": {
            "django": {"handlers": [], "level": level, "propagate": True},
            "django.server": {"propagate": True},
        },
    }
