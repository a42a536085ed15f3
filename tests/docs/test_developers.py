"""DEVELOPERS.md describes every setting and every dependency, and none that is gone."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def part(head: str) -> str:
    """The text under one head."""
    return re.search(rf"^## {head}$(.*?)(?=^## |\Z)", TEXT, re.M | re.S).group(1)


def settings_read() -> set[str]:
    """The names that the settings, the web server and the scripts read."""
    files = [ROOT / "shopserv" / "settings.py", *(ROOT / "scripts").glob("*.py")]
    text = "\n".join(path.read_text("utf-8") for path in files)
    found = re.findall(r'(?:\benv\.\w+|environ\.get)\(\s*"([A-Z_]+)"', text)
    return set(found) - {"TEST_DATABASE_URL"}  # the tests set it for themselves


def test_every_setting_is_described_and_no_other():
    first_cells = [row.split("|")[1] for row in part("Settings").splitlines() if row.startswith("| `")]

    described = {name for cell in first_cells for name in re.findall(r"`([A-Z_]+)`", cell)}

    assert described == settings_read() | {"PYTHON", "CHROMIUM"}


def test_every_direct_dependency_has_its_reason():
    told = part("Why each dependency is there").lower()
    pinned = [
        line.split("==")[0].lower()
        for name in ("requirements.txt", "requirements-dev.txt")
        for line in (ROOT / name).read_text("utf-8").split("# needed by those above")[0].splitlines()
        if "==" in line
    ]
    plugins = {"psycopg-binary", "psycopg-pool", "django-stubs", "types-pyyaml", "axe-playwright-python"}

    missing = [name for name in pinned if name not in told and not name.startswith("pytest") and name not in plugins]
    assert missing == []
