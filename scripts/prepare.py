#!/usr/bin/env python3
"""Bring a machine to where shopserv runs: Python, the libraries of the papers, the virtual environment.

Imports only what a bare Python has. What is missing is installed with apt where this runs as root on a Debian system;
elsewhere the command is printed and nothing is begun.
"""

from __future__ import annotations

import ctypes
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / "bin" / "python"
OLDEST = (3, 11)
LIBRARIES = {  # what WeasyPrint loads -> the package of Debian that carries it
    "libgobject-2.0.so.0": "libglib2.0-0",
    "libpango-1.0.so.0": "libpango-1.0-0",
    "libpangoft2-1.0.so.0": "libpangoft2-1.0-0",
    "libharfbuzz.so.0": "libharfbuzz0b",
    "libharfbuzz-subset.so.0": "libharfbuzz-subset0",
    "libfontconfig.so.1": "libfontconfig1",
}
FOR_TESTS = {"libatomic.so.1": "libatomic1"}  # what the driver of the browser loads
BROWSERS = ("chromium", "chromium-browser", "google-chrome")


def stop(sentence: str) -> None:
    """End with a sentence instead of a trace."""
    print(sentence, file=sys.stderr)
    raise SystemExit(1)


def is_loadable(library: str) -> bool:
    """Whether the system finds this shared library."""
    try:
        ctypes.CDLL(library)
    except OSError:
        return False
    return True


def missing_packages(for_tests: bool) -> list[str]:
    """The packages of Debian that this machine still needs."""
    missing = [] if importlib.util.find_spec("ensurepip") else ["python3-venv"]
    if sys.platform.startswith("linux"):
        needed = LIBRARIES | (FOR_TESTS if for_tests else {})
        missing += [package for library, package in needed.items() if not is_loadable(library)]
    if for_tests and not any(shutil.which(name) for name in BROWSERS) and "CHROMIUM" not in os.environ:
        missing.append("chromium")
    return missing


def install_packages(missing: list[str]) -> None:
    """Install with apt as root; otherwise say the command and stop."""
    install = ["apt-get", "install", "-y", "--no-install-recommends", *missing]
    if not shutil.which("apt-get"):
        stop(
            f"Missing on this machine (names of Debian 12): {', '.join(missing)}. "
            "Install them with your system's package manager, then run this again."
        )
    if os.geteuid() != 0:
        stop(f"Missing on this machine: {', '.join(missing)}. Run this, then try again:\n  sudo {' '.join(install)}")
    print(f"Installing {', '.join(missing)} …", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["apt-get", "update", "-q"], install):
        done = subprocess.run(command, env=quiet, capture_output=True, text=True)
        if done.returncode:
            stop(f"`{' '.join(command)}` failed:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")


def install_requirements(name: str) -> None:
    """Make `.venv` hold what the file `name` pins, unless it does already."""
    wanted = hashlib.sha256(sys.version.encode())
    for path in sorted(ROOT.glob("requirements*.txt")):
        wanted.update(path.read_bytes())
    stamp = VENV / f".{name}.stamp"
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted.hexdigest():
        return
    print(f"Installing {name} into .venv …", flush=True)
    if not PYTHON.exists():
        run([sys.executable, "-m", "venv", str(VENV)])
    run([str(PYTHON), "-m", "pip", "install", "-q", "--disable-pip-version-check", "-r", str(ROOT / name)])
    stamp.write_text(wanted.hexdigest())


def run(command: list[str]) -> None:
    """Run a command of the set-up; stop with its own words where it fails."""
    if subprocess.run(command, cwd=ROOT).returncode:
        stop(f"The set-up stopped at: {' '.join(command)}")


def prepare(for_tests: bool = False) -> None:
    """Check, install, and leave a `.venv` that runs shopserv."""
    if sys.version_info < OLDEST:
        stop(f"shopserv needs Python 3.11 or newer; this is {sys.version.split()[0]}. Say which: make demo PYTHON=…")
    if missing := missing_packages(for_tests):
        install_packages(missing)
    install_requirements("requirements-dev.txt" if for_tests else "requirements.txt")


if __name__ == "__main__":
    prepare("--tests" in sys.argv)
