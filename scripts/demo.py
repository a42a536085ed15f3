#!/usr/bin/env python3
"""`make demo`: from a clone to a running shop, and in a few seconds when it has run before."""

from __future__ import annotations

import hashlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

from prepare import PYTHON, ROOT, prepare, run, stop

VAR = Path(os.environ.get("VAR_DIR", ROOT / "var"))
STAMP = VAR / "set-up.stamp"
SHIPPED = ("shopserv", "static", "templates", "locale", "fixtures", "requirements.txt")
SCENARIO = ("shopserv.sqlite3", "shopserv.sqlite3-wal", "shopserv.sqlite3-shm", "clock", "mail", "files")


def port() -> int:
    """The port to serve on, checked to be free before anything is done."""
    typed = os.environ.get("PORT", "8000")
    if not typed.isdigit() or not 1 <= int(typed) <= 65535:
        stop(f"PORT is {typed!r}; it must be a number from 1 to 65535.")
    with socket.socket() as tried:
        tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            tried.bind(("127.0.0.1", int(typed)))
        except OSError as error:
            stop(
                f"Port {typed} on 127.0.0.1 cannot be used ({error.strerror}). If the demonstration runs already, "
                f"open http://127.0.0.1:{typed}/; else choose another port: make demo PORT=8001"
            )
    return int(typed)


def fingerprint() -> str:
    """What the prepared database and static files depend on."""
    seen = hashlib.sha256()
    for name in SHIPPED:
        top = ROOT / name
        for path in sorted(top.rglob("*")) if top.is_dir() else [top]:
            if path.is_file() and "__pycache__" not in path.parts:
                stat = path.stat()
                seen.update(f"{path} {stat.st_size} {stat.st_mtime_ns}\n".encode())
    return seen.hexdigest()


def manage(*words: str) -> None:
    """Run one command of manage.py."""
    run([str(PYTHON), str(ROOT / "manage.py"), *words])


def load_scenario() -> None:
    """Load what is not loaded yet; the long tally goes to a file, its sum is printed."""
    tally = VAR / "loaded.txt"
    with tally.open("w") as file:
        done = subprocess.run([str(PYTHON), "manage.py", "load_demo"], cwd=ROOT, stdout=file)
    said = tally.read_text()
    if done.returncode:
        stop(f"The scenario could not be loaded:\n{said}")
    print(next((line for line in said.splitlines() if "new rows" in line), ""), f"Tally: {tally}", flush=True)


def set_up(fresh: bool) -> None:
    """Make the database and the static files, unless they stand as the code wants them."""
    VAR.mkdir(parents=True, exist_ok=True)
    if fresh:
        STAMP.unlink(missing_ok=True)
        for name in SCENARIO:
            path = VAR / name
            shutil.rmtree(path) if path.is_dir() else path.unlink(missing_ok=True)
    wanted = fingerprint()
    if STAMP.exists() and STAMP.read_text() == wanted:
        return
    manage("migrate", "--verbosity", "0")
    load_scenario()
    manage("collectstatic", "--noinput", "--verbosity", "0")
    STAMP.write_text(wanted)


def wait_until_it_answers(server: subprocess.Popen[bytes], address: str) -> None:
    """Return when the first page can be had."""
    for _ in range(300):
        if server.poll() is not None:
            stop("The web server ended before it answered; what it said stands above.")
        try:
            urllib.request.urlopen(f"{address}healthz", timeout=5)  # noqa: S310 (our own address)
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.1)
        else:
            return
    server.terminate()
    stop("The web server did not answer within 30 seconds.")


def serve(number: int, begun: float) -> int:
    """Serve until somebody presses Ctrl-C; print where and for whom."""
    address = f"http://127.0.0.1:{number}/"
    command = [str(PYTHON), "-m", "gunicorn", "-c", "scripts/gunicorn.conf.py", "--bind", f"127.0.0.1:{number}"]
    server = subprocess.Popen([*command, "shopserv.wsgi"], cwd=ROOT)
    signal.signal(signal.SIGTERM, lambda *_: server.terminate())
    try:
        manage("demo_signins")
        wait_until_it_answers(server, address)
        print(f"shopserv is at {address} after {time.monotonic() - begun:.1f} s. Ctrl-C ends it.", flush=True)
        return server.wait()
    except KeyboardInterrupt:
        return server.wait()
    finally:
        if server.poll() is None:
            server.terminate()


def main() -> int:
    """Check the port, set up, serve."""
    begun = time.monotonic()
    number = port()
    os.environ.update(SHOPSERV_ENV="demo", PORT=str(number), PYTHONUNBUFFERED="1")
    prepare()
    set_up(fresh="--fresh" in sys.argv)
    return serve(number, begun)


if __name__ == "__main__":
    raise SystemExit(main())
