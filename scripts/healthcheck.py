#!/usr/bin/env python3
"""Whether a container is well: `web` asks its own /healthz, `worker` looks at the mark of its last round."""

from __future__ import annotations

import http.client
import os
import sys
import time
from pathlib import Path

OLDEST_MARK_S = 300


def web_answers() -> bool:
    """Whether /healthz says 200 to a caller on this machine."""
    port = int(os.environ.get("BIND", "127.0.0.1:8000").rsplit(":", 1)[1])
    host = os.environ.get("ALLOWED_HOSTS", "localhost").split(",")[0]
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", "/healthz", headers={"Host": host})
        return connection.getresponse().status == 200
    except OSError:
        return False


def worker_goes_round() -> bool:
    """Whether the worker's last whole round ended within five minutes."""
    mark = Path(os.environ.get("VAR_DIR", "var")) / "worker.mark"
    return mark.exists() and time.time() - mark.stat().st_mtime < OLDEST_MARK_S


if __name__ == "__main__":
    raise SystemExit(0 if {"web": web_answers, "worker": worker_goes_round}[sys.argv[1]]() else 1)
