#!/usr/bin/env python3
"""`make test`: everything there is to check. Ends with pytest's closing line; fails when any step failed."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time

from prepare import ROOT, VENV, prepare

BIN = VENV / "bin"
PRODUCTION = {  # as a shop would set it; the key is made up here and thrown away
    "SHOPSERV_ENV": "production",
    "SECRET_KEY": os.urandom(40).hex(),
    "ALLOWED_HOSTS": "shop.example",
    "SITE_URL": "https://shop.example",
    "DATABASE_URL": "",
    "DEBUG": "",
}
LONGEST = 80  # lines of a failed check; its command prints the rest
ENGINES = ("sqlite", "postgres")
BOTH = ["--dist", "each", *(word for name in ENGINES for word in ("--tx", f"popen//id={name}//env:ENGINE={name}"))]


def steps(scratch: str) -> list[tuple[str, list[str], dict[str, str]]]:
    """Name, command and settings of every check but the tests."""
    production = {**PRODUCTION, "DATABASE_URL": f"sqlite:///{scratch}/check.sqlite3", "VAR_DIR": scratch}
    in_test = {"SHOPSERV_ENV": "test"}
    manage = [str(BIN / "python"), "-W", "error::DeprecationWarning:shopserv", "manage.py"]
    return [
        ("format", [str(BIN / "ruff"), "format", "--check", "--output-format", "concise", "."], {}),
        ("lint", [str(BIN / "ruff"), "check", "--output-format", "concise", "."], {}),
        ("types", [str(BIN / "mypy")], in_test),
        ("import order", [str(BIN / "lint-imports"), "--no-cache"], in_test),
        ("templates", [str(BIN / "djlint"), "templates", "--lint", "--quiet"], {}),
        ("production settings", [*manage, "check", "--deploy", "--fail-level", "WARNING"], production),
        ("missing migrations", [*manage, "makemigrations", "--check", "--dry-run"], in_test),
    ]


def passes(name: str, command: list[str], settings: dict[str, str]) -> bool:
    """Run one check; print its words only when it fails."""
    begun = time.monotonic()
    clean = {key: value for key, value in os.environ.items() if key != "DEBUG"}
    done = subprocess.run(
        command, cwd=ROOT, env=clean | settings, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    print(f"{name:<20} {'ok' if done.returncode == 0 else 'FAILED'}  {time.monotonic() - begun:.1f} s", flush=True)
    if done.returncode:
        print("\n".join(done.stdout.splitlines()[-LONGEST:]), flush=True)
    return done.returncode == 0


def main() -> int:
    """Prepare, check, test on both engines."""
    prepare(for_tests=True)
    with tempfile.TemporaryDirectory(prefix="shopserv-check-") as scratch:
        failed = [name for name, command, settings in steps(scratch) if not passes(name, command, settings)]
    if failed:
        print(f"Failed before the tests: {', '.join(failed)}.", flush=True)
    tests = subprocess.run([str(BIN / "python"), "-m", "pytest", *BOTH, *sys.argv[1:]], cwd=ROOT)
    return 1 if failed else tests.returncode


if __name__ == "__main__":
    raise SystemExit(main())
