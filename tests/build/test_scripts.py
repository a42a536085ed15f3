"""The scripts around the program stop with a sentence, before anything half works."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.once

ROOT = Path(__file__).parents[2]


@pytest.fixture
def prepare(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "scripts"))
    import prepare

    return prepare


def run(*command: str, **settings: str) -> subprocess.CompletedProcess[str]:
    env = {"PATH": os.environ["PATH"], **settings}
    return subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, check=False, timeout=60)


def test_a_command_without_its_settings_says_in_one_line_what_is_missing():
    done = run(sys.executable, "manage.py", "recompute")

    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert "SECRET_KEY is missing" in done.stderr
    assert done.stderr.strip().endswith("For the demonstration: SHOPSERV_ENV=demo manage.py recompute")


def test_a_port_in_use_gets_a_sentence_before_anything_is_done():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        number = taken.getsockname()[1]

        done = run(sys.executable, "scripts/demo.py", PORT=str(number))

    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith(f"Port {number} on 127.0.0.1 cannot be used (Address already in use).")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("typed", ["http", "0", "70000", "-1"])
def test_a_port_that_is_none_gets_a_sentence(typed):
    done = run(sys.executable, "scripts/demo.py", PORT=typed)

    assert (done.returncode, done.stderr) == (1, f"PORT is {typed!r}; it must be a number from 1 to 65535.\n")


def test_without_root_the_exact_command_is_printed_and_nothing_is_begun(prepare, monkeypatch, capsys):
    monkeypatch.setattr(prepare.os, "geteuid", lambda: 1000)
    monkeypatch.setattr(prepare.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(prepare.subprocess, "run", lambda *_, **__: pytest.fail("something was begun"))

    with pytest.raises(SystemExit) as end:
        prepare.install_packages(["python3-venv", "libpango-1.0-0"])

    assert end.value.code == 1
    assert "sudo apt-get install -y --no-install-recommends python3-venv libpango-1.0-0" in capsys.readouterr().err


def test_a_library_that_is_missing_is_named_by_its_package(prepare, monkeypatch):
    monkeypatch.setattr(prepare, "is_loadable", lambda library: "pango" not in library)

    missing = [name for name in prepare.missing_packages(for_tests=False) if name != "python3-venv"]

    assert missing == ["libpango-1.0-0", "libpangoft2-1.0-0"]


def test_what_drives_the_browser_is_asked_for_by_the_tests_alone(prepare, monkeypatch):
    monkeypatch.setattr(prepare, "is_loadable", lambda library: library != "libatomic.so.1")
    monkeypatch.setenv("CHROMIUM", "/usr/bin/true")

    assert "libatomic1" in prepare.missing_packages(for_tests=True)
    assert "libatomic1" not in prepare.missing_packages(for_tests=False)


def test_an_old_python_is_refused_with_its_number(prepare, monkeypatch, capsys):
    monkeypatch.setattr(prepare, "OLDEST", (9, 0))

    with pytest.raises(SystemExit):
        prepare.prepare()

    assert "shopserv needs Python" in capsys.readouterr().err


def test_a_server_on_a_database_older_than_the_program_does_not_start(tmp_path):
    settings = {
        "PYTHON": sys.executable,
        "SECRET_KEY": "k" * 60 + "abcdefghij",
        "ALLOWED_HOSTS": "shop.example",
        "VAR_DIR": str(tmp_path),
        "BIND": "127.0.0.1:0",
    }

    done = run("scripts/serve", **settings)

    assert done.returncode == 1
    assert "shopserv does not start: the database is older than the program. Run: manage.py migrate" in done.stderr
